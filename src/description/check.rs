//! Looking a description over: problems with their place, examples run, bytes tried.

use core::fmt;
use core::ops::Range;
use std::sync::Arc;

use crate::frame::att;
use crate::meter::MeterId;
use crate::reading::Reading;
use crate::stamp::Stamp;

use super::compile;
use super::framer::Bus;
use super::{Heard, Plan, Stream, hex, say};

/// Something wrong with a description, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The line, from 1.
    pub line: usize,
    /// The column in characters, from 1.
    pub column: usize,
    /// What was expected, what was found.
    pub message: String,
}

impl Problem {
    pub(super) fn at(text: &str, (span, message): (Range<usize>, String)) -> Self {
        let before = text.get(..span.start).unwrap_or(text);
        let start = before.rfind('\n').map_or(0, |n| n + 1);
        Self {
            line: before.matches('\n').count() + 1,
            column: before[start..].chars().count() + 1,
            message,
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "line {}, column {}: {}",
            self.line, self.column, self.message
        )
    }
}

/// Bytes of a description, and what they must give.
#[derive(Clone, Debug)]
pub struct Example {
    /// The message that they answer.
    pub answer_to: Option<String>,
    /// The unit that answers.
    pub unit: Option<u8>,
    /// Chunks that were heard before; a read of a Bluetooth meter's value was sent.
    pub before: Vec<Vec<u8>>,
    /// The bytes.
    pub bytes: Vec<u8>,
    /// The readings, in words.
    pub readings: Vec<String>,
    /// Words of the reason for which the bytes are refused.
    pub bad: Option<String>,
    place: Range<usize>,
}

/// The examples of a description.
///
/// # Errors
/// The description cannot be read, or an example has no bytes.
pub fn examples(name: &str, text: &str) -> Result<Vec<Example>, super::DescriptionError> {
    let error = |problem: Problem| super::DescriptionError {
        message: format!("{name}: {problem}"),
    };
    let written = compile::read(text).map_err(error)?;
    written
        .example
        .into_iter()
        .map(|example| {
            let place = example.span();
            let example = example.into_inner();
            let bytes = match (example.hex, example.text) {
                (Some(hex), None) => hex.0,
                (None, Some(text)) => text.into_bytes(),
                _ => {
                    let message = String::from("expected one of `hex` and `text` in an example");
                    return Err(error(Problem::at(text, (place, message))));
                }
            };
            Ok(Example {
                answer_to: example.answer_to.map(|name| name.into_inner()),
                unit: example.unit,
                before: example.before.into_iter().map(|hex| hex.0).collect(),
                bytes,
                readings: example.readings,
                bad: example.bad,
                place,
            })
        })
        .collect()
}

/// Everything wrong with a description: what is written, then each example.
pub fn check(name: &str, text: &str) -> Vec<Problem> {
    let plan = match compile::compile(name, text) {
        Ok(plan) => Arc::new(plan),
        Err(problem) => return vec![problem],
    };
    match examples(name, text) {
        Ok(examples) => examples
            .iter()
            .filter_map(|example| {
                let message = run(&plan, example).err()?;
                Some(Problem::at(text, (example.place.clone(), message)))
            })
            .collect(),
        Err(error) => vec![Problem::at(text, (0..0, error.message))],
    }
}

/// Runs an example.
///
/// # Errors
/// Says what was expected and what was found.
pub fn run(plan: &Arc<Plan>, example: &Example) -> Result<(), String> {
    let asked = example.answer_to.as_deref();
    let mut chunks: Vec<&[u8]> = example.before.iter().map(Vec::as_slice).collect();
    chunks.push(&example.bytes);
    let (readings, bad) = hear(plan, &chunks, example.unit, asked, |_| {});
    let found: Vec<String> = readings.iter().map(say::line).collect();
    if found != example.readings {
        return Err(format!(
            "expected readings {:?}, found {found:?}{}",
            example.readings,
            bad.first()
                .map(|why| format!("; refused: {why}"))
                .unwrap_or_default()
        ));
    }
    match (&example.bad, bad.first()) {
        (None, None) => Ok(()),
        (Some(words), Some(_)) if bad.iter().any(|why| why.contains(words.as_str())) => Ok(()),
        (Some(words), _) => Err(format!(
            "expected a refusal that says {words:?}, found {bad:?}"
        )),
        (None, Some(why)) => Err(format!("expected no refusal, found {why:?}")),
    }
}

/// What these bytes give, and why the rest is refused. The stream begins with a whole frame.
/// They answer the message named, or for want of a name the first that fits. Without a unit
/// whichever answers was asked, and so was the transaction.
pub fn try_bytes(
    plan: &Arc<Plan>,
    bytes: &[u8],
    unit: Option<u8>,
    asked: Option<&str>,
) -> (Vec<Reading>, Vec<String>) {
    let bus = plan.framer.bus();
    let found = match bus {
        Bus::None => None,
        Bus::Rtu => bytes.first().copied(),
        Bus::Tcp => bytes.get(6).copied(),
    };
    hear(plan, &[bytes], unit.or(found), asked, |request| {
        if let (Bus::Tcp, [t1, t0, ..], Some([t1_asked, t0_asked])) =
            (bus, bytes, request.first_chunk_mut())
        {
            (*t1_asked, *t0_asked) = (*t1, *t0);
        }
    })
}

/// What these bytes give after a request as `change` makes it.
fn hear(
    plan: &Arc<Plan>,
    chunks: &[&[u8]],
    unit: Option<u8>,
    asked: Option<&str>,
    change: impl Fn(&mut [u8]),
) -> (Vec<Reading>, Vec<String>) {
    let requests = plan.requests(&[unit]);
    let mut asked: Vec<Option<&super::Request>> = match asked {
        Some(name) => vec![requests.iter().find(|r| r.name.as_str() == name)],
        None => requests.iter().map(Some).collect(),
    };
    if asked.is_empty() {
        asked.push(None);
    }
    let mut best = (Vec::new(), Vec::new());
    for (index, request) in asked.into_iter().enumerate() {
        let mut stream = Stream::new(Arc::clone(plan), &[(MeterId(0), unit)]);
        if let Some(request) = request {
            let mut data = request.data.to_vec();
            change(&mut data);
            stream.sent(Stamp::ZERO, &data);
        }
        let (mut readings, mut bad) = (Vec::new(), Vec::new());
        let mut sink = |heard: Heard<'_>| match heard {
            Heard::Frame(frame) => readings.extend_from_slice(frame),
            Heard::Bad { why, bytes, .. } => bad.push(format!("{why}: {}", hex::show(bytes))),
        };
        for chunk in chunks {
            match plan.gatt().and(att::asks_for(chunk)) {
                Some(_) => stream.sent(Stamp::ZERO, chunk),
                None => stream.bytes(Stamp::ZERO, chunk, &mut sink),
            }
        }
        stream.end(&mut sink);
        if index == 0 || !readings.is_empty() {
            let done = !readings.is_empty();
            best = (readings, bad);
            if done {
                break;
            }
        }
    }
    best
}

/// The same for bytes typed as hex.
///
/// # Errors
/// What is typed is no hex.
pub fn try_hex(
    plan: &Arc<Plan>,
    typed: &str,
    unit: Option<u8>,
) -> Result<(Vec<Reading>, Vec<String>), String> {
    Ok(try_bytes(plan, &hex::parse(typed)?, unit, None))
}
