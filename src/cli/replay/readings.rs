//! Every reading of a file, a line a frame.

use super::super::readings::{self, HEADER, Line};
use super::super::{Fail, Out};
use super::{Refused, Replayed};
use crate::description::Heard;
use crate::input::Input;
use crate::review::frames::Frames;
use crate::stamp::Stamp;

/// Lines are handed on in pieces of about this many bytes.
const PIECE: usize = 64 * 1024;

/// Prints the header and a line for each frame that is understood.
pub(super) fn print(inputs: &mut Replayed, out: &mut Out) -> Result<(), Fail> {
    let mut any = false;
    let mut lines = Lines {
        frames: Frames::default(),
        page: Page {
            meters: Vec::new(),
            lines: readings::Lines::default(),
            text: Vec::with_capacity(2 * PIECE),
            refused: Refused::default(),
        },
    };
    lines.page.text.extend_from_slice(HEADER.as_bytes());
    while let Some(input) = inputs.next()? {
        lines.input(&input)?;
        let text = &mut lines.page.text;
        if text.len() >= PIECE {
            any = true;
            out.bytes(text)?;
            text.clear();
        }
    }
    any |= lines.page.text.len() > HEADER.len();
    inputs.refused = Refused {
        all: !any,
        ..lines.page.refused
    };
    out.bytes(&lines.page.text)
}

struct Lines {
    frames: Frames,
    page: Page,
}

/// What is to be printed.
struct Page {
    /// The meters' names, quoted where CSV needs it.
    meters: Vec<String>,
    lines: readings::Lines,
    text: Vec<u8>,
    refused: Refused,
}

impl Lines {
    fn input(&mut self, input: &Input) -> Result<(), Fail> {
        let page = &mut self.page;
        let settings = self
            .frames
            .input(input, &mut |at, heard| page.line(at, &heard))
            .map_err(|e| Fail::No(e.to_string()))?;
        if let Some(settings) = settings {
            let name = |meter: &crate::meter::Meter| quoted(meter.name.as_str());
            self.page.meters = settings.meters.iter().map(name).collect();
        }
        Ok(())
    }
}

impl Page {
    fn line(&mut self, at: Stamp, heard: &Heard<'_>) {
        match heard {
            Heard::Bad { why, .. } => {
                self.refused.count += 1;
                (*why).clone_into(&mut self.refused.last);
            }
            Heard::Frame(readings) => {
                let Some(first) = readings.first() else {
                    return;
                };
                let meter = self.meters.get(usize::from(first.meter.0));
                let line = Line::new(at, readings);
                self.lines
                    .write(&line, meter.map_or("", String::as_str), &mut self.text);
            }
        }
    }
}

pub(in crate::cli) fn quoted(name: &str) -> String {
    if name.contains([',', '"']) {
        return format!("\"{}\"", name.replace('"', "\"\""));
    }
    name.to_owned()
}
