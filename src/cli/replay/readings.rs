//! Every reading of a file, a line a frame.

use super::super::readings::{HEADER, Line};
use super::super::{Fail, Out};
use super::{Refused, Replayed};
use crate::description::Heard;
use crate::engine::Ports;
use crate::input::{Input, Settings, What};
use crate::stamp::Stamp;

/// Lines are handed on in pieces of about this many bytes.
const PIECE: usize = 64 * 1024;

/// Prints the header and a line for each frame that is understood.
pub(super) fn print(inputs: &mut Replayed, out: &mut Out) -> Result<(), Fail> {
    let mut any = false;
    let mut lines = Lines {
        ports: Ports::default(),
        meters: Vec::new(),
        text: Vec::with_capacity(2 * PIECE),
        refused: Refused::default(),
    };
    lines.text.extend_from_slice(HEADER.as_bytes());
    while let Some(input) = inputs.next()? {
        lines.input(&input)?;
        if lines.text.len() >= PIECE {
            any = true;
            out.bytes(&lines.text)?;
            lines.text.clear();
        }
    }
    any |= lines.text.len() > HEADER.len();
    inputs.refused = Refused {
        all: !any,
        ..lines.refused
    };
    out.bytes(&lines.text)
}

struct Lines {
    ports: Ports,
    /// The meters' names, quoted where CSV needs it.
    meters: Vec<String>,
    text: Vec<u8>,
    refused: Refused,
}

impl Lines {
    fn input(&mut self, input: &Input) -> Result<(), Fail> {
        self.expire(input.at);
        let (meters, text, refused) = (&self.meters, &mut self.text, &mut self.refused);
        match &input.what {
            What::Begin(begin) if !begin.continues => self.begin(&begin.settings)?,
            What::Settings(settings) => self.begin(settings)?,
            What::Bytes { port, data } => {
                self.ports.bytes(*port, input.at, data, &mut |at, heard| {
                    line(at, &heard, meters, text, refused)
                });
            }
            What::Sent { port, data } => self.ports.sent(*port, input.at, data),
            What::Opened { port } => {
                self.ports.opened(*port);
            }
            What::Closed { port, why } => {
                self.ports.closed(*port, input.at, why.as_str());
            }
            What::Lost { port, why, .. } => self.ports.lost(*port, why.as_str()),
            _ => {}
        }
        Ok(())
    }

    /// Ends the frames that had ended by silence before `at`.
    fn expire(&mut self, at: Stamp) {
        let mut last = None;
        while let Some(due) = self
            .ports
            .deadline()
            .filter(|due| *due <= at && last != Some(*due))
        {
            let (meters, text, refused) = (&self.meters, &mut self.text, &mut self.refused);
            self.ports.expire(due, &mut |at, heard| {
                line(at, &heard, meters, text, refused)
            });
            last = Some(due);
        }
    }

    fn begin(&mut self, settings: &Settings) -> Result<(), Fail> {
        self.ports = Ports::new(settings).map_err(|e| Fail::No(e.to_string()))?;
        let name = |meter: &crate::meter::Meter| quoted(meter.name.as_str());
        self.meters = settings.meters.iter().map(name).collect();
        Ok(())
    }
}

fn line(
    at: Stamp,
    heard: &Heard<'_>,
    meters: &[String],
    text: &mut Vec<u8>,
    refused: &mut Refused,
) {
    if let Heard::Bad { why, .. } = heard {
        refused.count += 1;
        (*why).clone_into(&mut refused.last);
    }
    if let Heard::Frame(readings) = heard
        && let Some(first) = readings.first()
    {
        let meter = meters
            .get(usize::from(first.meter.0))
            .map_or("", String::as_str);
        Line::new(at, readings).write(meter, text);
    }
}

pub(super) fn quoted(name: &str) -> String {
    if name.contains([',', '"']) {
        return format!("\"{}\"", name.replace('"', "\"\""));
    }
    name.to_owned()
}
