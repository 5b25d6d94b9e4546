//! From what a request says to what is asked: each field named, each refusal whole.
//!
//! The one place where a job's words are checked: the API and the commands of
//! the terminal come through here. Everything that is missing or wrong is said
//! at once, so that nobody has to try again and again.

mod cable;
mod connection;
mod fields;
mod heat;
mod job;
mod prove;
mod typed;

use serde_json::{Map, Value};

use crate::input::{Act, Attestation, Entered};
use crate::limits::{Point, Test};
use crate::quantity::Volts;
use crate::text::{Text, instead};
pub(super) use connection::CONNECTIONS;
pub use fields::Field;
use fields::Fields;
pub use job::job_plan;
pub use typed::{analog, shown};

/// What can be asked for besides starting a job.
const ACTS: [&str; 13] = [
    "confirm", "clips_on", "again", "redo", "skip", "withdraw", "park", "go_on", "end", "enter",
    "note", "prove", "review",
];

/// Why something asked for cannot even be put to the engine.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Wrong {
    /// The body is not JSON by its own account.
    #[error("expected JSON")]
    Kind,
    /// The body is not a JSON object.
    #[error("expected a JSON object: {0}")]
    Json(String),
    /// No such act.
    #[error("{act:?} cannot be asked for; {instead}")]
    Act {
        /// As asked for.
        act: String,
        /// What there is instead.
        instead: String,
    },
    /// The page that asks only watches the bench.
    #[error(
        "{0} is being worked on from another page: take it over there first, and tell whoever works on it"
    )]
    Watching(String),
    /// A page's name for itself is none.
    #[error(
        "expected the page's own name, 16 to 64 letters, digits or -, in the header Stillohm-Page or as page=…"
    )]
    Page,
    /// Fields that are missing or wrong.
    #[error("{}", said(missing, wrong))]
    Fields {
        /// The names of what is missing.
        missing: Vec<String>,
        /// What is there and wrong.
        wrong: Vec<Field>,
    },
}

impl Wrong {
    pub(super) fn missing(field: &str) -> Self {
        Self::Fields {
            missing: vec![field.to_owned()],
            wrong: Vec::new(),
        }
    }
}

fn said(missing: &[String], wrong: &[Field]) -> String {
    let mut parts = Vec::new();
    if !missing.is_empty() {
        parts.push(format!("missing: {}", missing.join(", ")));
    }
    parts.extend(wrong.iter().map(|f| format!("{}: {}", f.field, f.message)));
    parts.join("; ")
}

/// What is asked, and who asks.
///
/// # Errors
/// No such act, or fields that are missing or wrong.
pub fn act(
    name: &str,
    job: Option<&str>,
    said: &Map<String, Value>,
) -> Result<(Option<Text>, Act), Wrong> {
    if !ACTS.contains(&name) {
        return Err(Wrong::Act {
            act: name.to_owned(),
            instead: instead(name, ACTS.into_iter()),
        });
    }
    let mut fields = Fields::new(said);
    let by = fields.text("by");
    let act = read(name, job, &mut fields);
    fields.done(act).map(|act| (by, act))
}

/// `None` only when something that is needed is missing or wrong.
fn read(name: &str, job: Option<&str>, fields: &mut Fields<'_>) -> Option<Act> {
    let path = job.map(Text::clean);
    let needed =
        |fields: &mut Fields<'_>| path.clone().or_else(|| fields.need("job", Fields::text));
    match name {
        "confirm" => {
            let job = needed(fields);
            let what = fields.need("what", |f, key| {
                f.choice(key, Attestation::ALL, Attestation::word)
            });
            Some(Act::Confirm {
                job: job?,
                what: what?,
            })
        }
        "clips_on" => Some(Act::ClipsOn {
            job: needed(fields)?,
        }),
        "again" => {
            let meter = fields.need("meter", Fields::text)?;
            Some(Act::Again { meter })
        }
        "redo" => {
            let job = needed(fields);
            let point = fields.need("point", point);
            Some(Act::Redo {
                job: job?,
                point: point?,
            })
        }
        "skip" => {
            let job = needed(fields);
            let at = point(fields, "point");
            let reason = fields.need("reason", Fields::text);
            Some(Act::Skip {
                job: job?,
                point: at,
                reason: reason?,
            })
        }
        "withdraw" => {
            let seq = fields.need("seq", Fields::whole);
            let reason = fields.need("reason", Fields::text);
            Some(Act::Withdraw {
                seq: seq?,
                reason: reason?,
            })
        }
        "review" => {
            let seq = fields.need("seq", Fields::whole);
            let words = fields.need("words", Fields::text);
            Some(Act::Review {
                seq: seq?,
                words: words?,
            })
        }
        "park" => {
            let job = needed(fields);
            let reason = fields.need("reason", Fields::text);
            Some(Act::Park {
                job: job?,
                reason: reason?,
            })
        }
        "go_on" => Some(Act::GoOn {
            job: needed(fields)?,
        }),
        "end" => Some(Act::EndJob {
            job: needed(fields)?,
        }),
        "note" => {
            let job = path.clone().or_else(|| fields.text("job"));
            let note = fields.need("note", Fields::text)?;
            Some(Act::Note { job, note })
        }
        "prove" => prove::prove(fields).map(|asked| Act::Prove(Box::new(asked))),
        _ => entered(path, fields).map(|e| Act::Enter(Box::new(e))),
    }
}

fn entered(path: Option<Text>, fields: &mut Fields<'_>) -> Option<Entered> {
    let job = path.or_else(|| fields.text("job"));
    let meter = fields.need("meter", Fields::text);
    let at = point(fields, "point");
    let shown = value(fields);
    let full_scale = fields.number("full_scale_ohms");
    let test_voltage = fields.number("test_voltage_v").map(|v| Volts(v.to_f64()));
    let elapsed_s = fields.number("elapsed_s");
    Some(Entered {
        job,
        point: at,
        meter: meter?,
        shown: shown?,
        full_scale,
        test_voltage,
        elapsed_s,
    })
}

/// `shown` as on the display, or `scale` with `multiplier` of an analog
/// instrument. The inner `None` is over-range.
fn value(fields: &mut Fields<'_>) -> Option<Option<crate::quantity::Shown>> {
    let words = fields.words("shown");
    let scale = fields.number("scale");
    let multiplier = fields.number("multiplier");
    let read = match (words, scale, multiplier) {
        (Some(words), None, None) => shown(&words),
        (None, Some(scale), Some(multiplier)) => analog(scale, multiplier).map(Some),
        (None, Some(_), None) => {
            fields.miss("multiplier");
            return None;
        }
        (None, None, None) => {
            fields.miss("shown");
            return None;
        }
        _ => Err(String::from(
            "expected either what is shown, or scale and multiplier of an analog instrument",
        )),
    };
    read.map_err(|e| fields.wrong("shown", e)).ok()
}

/// A point as people and the log write it: `winding main`.
fn point(fields: &mut Fields<'_>, key: &'static str) -> Option<Point> {
    let words = fields.words(key)?;
    let parsed = parse_point(&words);
    parsed.map_err(|e| fields.wrong(key, e)).ok()
}

/// Reads a point such as `winding main`.
///
/// # Errors
/// What was expected, with the nearest test.
pub fn parse_point(words: &str) -> Result<Point, String> {
    let Some((test, name)) = words.trim().split_once(' ') else {
        return Err(format!(
            "expected a test and a place such as \"winding main\", found {words:?}"
        ));
    };
    let Some(test) = Test::from_word(test) else {
        let instead = instead(test, Test::ALL.iter().map(|t| t.word()));
        return Err(format!("{test:?} is no test; {instead}"));
    };
    let name = Text::new(name.trim()).map_err(|e| e.to_string())?;
    Ok(Point { test, name })
}

#[cfg(test)]
mod tests;
