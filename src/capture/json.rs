//! The inputs that are not bytes, as JSON: one object or word a packet.
//!
//! Externally tagged: `"tick"`, `{"opened":{"port":0}}`, `{"begin":{…}}`. A
//! new kind of input is a new tag; a reader that does not know a tag refuses
//! the file instead of guessing. Floats are written so that they read back to
//! the same bits (serde_json's `float_roundtrip`): a replay depends on it.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

use crate::input::{Begin, Command, Settings, What};
use crate::meter::PortId;
use crate::stamp::Wall;
use crate::text::Text;

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Other<'a> {
    Begin(Cow<'a, Begin>),
    Opened {
        port: PortId,
    },
    Closed {
        port: PortId,
        why: Cow<'a, Text>,
    },
    Lost {
        port: PortId,
        count: u64,
        why: Cow<'a, Text>,
    },
    Tick,
    Command(Cow<'a, Command>),
    Clock {
        wall: Wall,
        moved: i64,
    },
    Settings(Cow<'a, Settings>),
    CaptureFailed {
        why: Cow<'a, Text>,
    },
    Expired {
        capture: Cow<'a, Text>,
        why: Cow<'a, Text>,
    },
    End {
        why: Cow<'a, Text>,
    },
}

/// Appends an input as JSON; `None` for bytes, which are packets of their port.
pub(super) fn write(what: &What, out: &mut Vec<u8>) -> Option<()> {
    use Cow::Borrowed;
    let other = match what {
        What::Bytes { .. } | What::Sent { .. } => return None,
        What::Begin(begin) => Other::Begin(Borrowed(begin)),
        What::Opened { port } => Other::Opened { port: *port },
        What::Closed { port, why } => Other::Closed {
            port: *port,
            why: Borrowed(why),
        },
        What::Lost { port, count, why } => Other::Lost {
            port: *port,
            count: *count,
            why: Borrowed(why),
        },
        What::Tick => Other::Tick,
        What::Command(command) => Other::Command(Borrowed(command)),
        What::Clock { wall, moved } => Other::Clock {
            wall: *wall,
            moved: *moved,
        },
        What::Settings(settings) => Other::Settings(Borrowed(settings)),
        What::CaptureFailed { why } => Other::CaptureFailed { why: Borrowed(why) },
        What::Expired { capture, why } => Other::Expired {
            capture: Borrowed(capture),
            why: Borrowed(why),
        },
        What::End { why } => Other::End { why: Borrowed(why) },
    };
    serde_json::to_writer(out, &other).expect("plain data with text keys always becomes JSON");
    Some(())
}

/// Reads what [`write`] wrote.
pub(super) fn read(bytes: &[u8]) -> Result<What, serde_json::Error> {
    Ok(match serde_json::from_slice(bytes)? {
        Other::Begin(begin) => What::Begin(Box::new(begin.into_owned())),
        Other::Opened { port } => What::Opened { port },
        Other::Closed { port, why } => What::Closed {
            port,
            why: why.into_owned(),
        },
        Other::Lost { port, count, why } => What::Lost {
            port,
            count,
            why: why.into_owned(),
        },
        Other::Tick => What::Tick,
        Other::Command(command) => What::Command(Box::new(command.into_owned())),
        Other::Clock { wall, moved } => What::Clock { wall, moved },
        Other::Settings(settings) => What::Settings(Box::new(settings.into_owned())),
        Other::CaptureFailed { why } => What::CaptureFailed {
            why: why.into_owned(),
        },
        Other::Expired { capture, why } => What::Expired {
            capture: capture.into_owned(),
            why: why.into_owned(),
        },
        Other::End { why } => What::End {
            why: why.into_owned(),
        },
    })
}
