//! A job as its terminal knows it, and what can be asked for it.

use serde_json::{Map, Value, json};

use super::super::Fail;
use super::super::core::{Core, News, Said, Seen, SeenJob, SeenMeter};
use super::object;
use crate::row::{COLUMNS, Recorded};

/// A view this much later than an answer shows what the answer did.
const SETTLED_NANOS: u64 = 300_000_000;

/// What is known of the job.
pub(super) struct State {
    pub(super) job: String,
    /// The words behind `--go-on JOB` that find the same place again.
    place: String,
    pub(super) seen: Seen,
    /// What the last command came to, or what was last recorded.
    pub(super) message: String,
    /// Engine time from which a view shows what was last asked for.
    settled: u64,
    /// Whether a view showed it at work: before that, one that was parked shows as it was.
    was_active: bool,
    /// Its rows, as they came.
    pub(super) rows: Vec<Recorded>,
}

/// What news mean for the job.
pub(super) enum Meaning {
    /// Something to show.
    Show,
    /// A row of this job: to be said.
    Said(Map<String, Value>),
    /// Its last row.
    Ended(Map<String, Value>),
    /// It was set aside.
    Aside,
    /// Nothing.
    Nothing,
}

impl State {
    pub(super) fn new(job: String, place: String) -> Self {
        Self {
            job,
            place,
            seen: Seen::default(),
            message: String::new(),
            settled: 0,
            was_active: false,
            rows: Vec::new(),
        }
    }

    /// What is typed to go on with it.
    pub(super) fn go_on(&self) -> String {
        format!("stillohm job --go-on {}{}", self.job, self.place)
    }

    pub(super) fn view(&self) -> Option<&SeenJob> {
        self.seen.jobs.iter().find(|job| job.job == self.job)
    }

    /// The meter that the next point is measured with, else the bench's first.
    pub(super) fn meter(&self) -> Option<&SeenMeter> {
        let job = self.view()?;
        let named = self.seen.meters.iter().find(|m| m.name == job.ask.meter);
        named.or_else(|| self.seen.meters.iter().find(|m| m.bench == job.bench))
    }

    /// Whether the view shows what was last asked for.
    pub(super) fn is_settled(&self) -> bool {
        self.was_active && self.seen.at >= self.settled && self.view().is_some()
    }

    pub(super) fn take(&mut self, news: News) -> Result<Meaning, Fail> {
        match news {
            News::View(seen) => {
                self.seen = *seen;
                let state = self.view().map(|job| job.state.clone());
                self.was_active |= state.as_deref() == Some("active");
                if self.is_settled() && state.as_deref() == Some("parked") {
                    return Ok(Meaning::Aside);
                }
                Ok(Meaning::Show)
            }
            News::Row(row) if row["job"] == self.job.as_str() => {
                self.rows.extend(recorded(&row));
                match row["event"].as_str() {
                    Some("job_end") => Ok(Meaning::Ended(row)),
                    _ => Ok(Meaning::Said(row)),
                }
            }
            News::Row(_) | News::Key(_) | News::Line(_) | News::TypedAll => Ok(Meaning::Nothing),
            News::Stop(why) => Err(Fail::No(format!(
                "{why}: {} is interrupted; go on with: {}",
                self.job,
                self.go_on()
            ))),
            News::Gone(why) => Err(Fail::around(format!(
                "{why}: {} is interrupted; start the daemon again and go on with: {}",
                self.job,
                self.go_on()
            ))),
        }
    }

    /// Confirms what is asked now: whatever it is, one key.
    pub(super) fn confirm(&mut self, core: &Core) -> Result<(), Fail> {
        let ask = self.view().map(|job| job.ask.clone()).unwrap_or_default();
        match (ask.confirm, ask.clips_on) {
            (Some(what), _) => self.act(core, "confirm", json!({ "what": what })),
            (None, true) => self.act(core, "clips_on", json!({})),
            (None, false) => {
                self.message = String::from("nothing is to be confirmed now");
                Ok(())
            }
        }
    }

    /// Asks for something of this job and remembers what it came to.
    pub(super) fn act(&mut self, core: &Core, name: &str, said: Value) -> Result<(), Fail> {
        let mut said = object(said);
        if !matches!(name, "again" | "withdraw") {
            said.insert(String::from("job"), self.job.as_str().into());
        }
        match core.act(name, &said) {
            Ok(Said::Done { .. }) => {
                self.message.clear();
                self.settled = self.seen.at + SETTLED_NANOS;
            }
            Ok(Said::Refused(why)) => self.message = why,
            // Typed wrongly: said, and typed again.
            Err(Fail::Asked(e)) => self.message = format!("{e:#}"),
            Err(other) => return Err(other),
        }
        Ok(())
    }
}

/// The row of the log that an object of its columns was made from.
fn recorded(row: &Map<String, Value>) -> Option<Recorded> {
    let cells: Vec<String> = COLUMNS
        .iter()
        .map(|column| match row.get(*column) {
            Some(Value::String(text)) => text.clone(),
            None | Some(Value::Null) => String::new(),
            Some(other) => other.to_string(),
        })
        .collect();
    Recorded::from_cells(cells.iter().map(String::as_str)).ok()
}

/// A row of a point in one line: `winding main 2.41 Ω pass within`.
pub(super) fn point_line(row: &Map<String, Value>) -> Option<String> {
    let cell = |column: &str| row[column].as_str().unwrap_or_default();
    let event = cell("event");
    if !matches!(
        event,
        "value" | "open" | "over_range" | "aborted" | "judged"
    ) {
        return None;
    }
    let shown = match (event, cell("shown")) {
        ("aborted" | "open" | "over_range", "") => event,
        (_, shown) => shown,
    };
    let words = [
        cell("test"),
        cell("point"),
        shown,
        cell("verdict"),
        cell("finding"),
    ];
    let words: Vec<&str> = words.into_iter().filter(|w| !w.is_empty()).collect();
    Some(words.join(" "))
}
