//! What a person may look at now: live digits, jobs, the one next action.
//!
//! A view is the latest state only and promises nothing: a value in it is on
//! the display, not in the log. Whatever is taken arrives as a row, after its sync.

use serde::{Deserialize, Serialize};

use crate::input::Attestation;
use crate::row::{Finding, JobOutcome, Verdict};
use crate::stamp::Stamp;

/// The live state.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct View {
    /// Engine time of this view.
    pub at: Stamp,
    /// Whether what is taken reaches the disk.
    pub recording: bool,
    /// Why it does not: then nothing shown is recorded until a restart.
    pub trouble: String,
    /// Each meter, in the order of the settings.
    pub meters: Vec<MeterView>,
    /// Each job that has no end, the oldest first.
    pub jobs: Vec<JobView>,
    /// Assets whose job has ended and whose winding stays shorted.
    pub discharging: Vec<Discharging>,
    /// Meters that are being checked on known resistors.
    pub proving: Vec<Proving>,
}

/// A meter that is being checked.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Proving {
    /// Its name.
    pub meter: String,
    /// The one next thing to do.
    pub say: String,
}

/// An asset whose winding must stay shorted to ground.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Discharging {
    /// The machine.
    pub asset: String,
    /// Engine time until which it stays shorted.
    pub until: Stamp,
}

/// A meter, live.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct MeterView {
    /// Its name.
    pub name: String,
    /// Its bench.
    pub bench: String,
    /// Its description.
    pub protocol: String,
    /// Its port, as a person names it.
    pub port: String,
    /// What is configured of its accuracy and calibration, in words.
    pub calibration: String,
    /// Whether the port is open now.
    pub connected: bool,
    /// Why it is not, or what was last lost.
    pub trouble: String,
    /// What the display says: `22.7 kΩ`, `over-range`, or nothing yet.
    pub shown: String,
    /// When it said so; a value whose age is over 2 s is not shown as live.
    pub shown_at: Option<Stamp>,
    /// The words of the flags beside it.
    pub flags: Vec<&'static str>,
    /// Settling, in words: `no contact`, `moving`, `steady`, `taken`, `remove the clips`, `press`, `holding`.
    pub settle: &'static str,
    /// How far settling or the hold has come, 0 to 1.
    pub progress: f32,
    /// A hold: seconds held and seconds to hold.
    pub hold: Option<(f32, f32)>,
    /// What it says in ohms, if it is a number of ohms.
    pub ohms: Option<f64>,
    /// Whether it says over-range.
    pub over_range: bool,
    /// The test voltage beside it, in volts.
    pub test_volts: Option<f64>,
    /// Frames understood.
    pub good_frames: u64,
    /// Frames refused.
    pub bad_frames: u64,
    /// Why the last one was refused.
    pub last_bad: String,
    /// Its first bytes, as hex.
    pub last_bad_bytes: String,
    /// Its battery in percent, if it tells that.
    pub battery_percent: Option<f64>,
}

/// Where a job stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum JobState {
    /// It is being worked on.
    Active,
    /// It was set aside.
    Parked,
    /// The program stopped under it; going on is a command.
    Interrupted,
}

/// A job, live.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JobView {
    /// Its name: `J` and the `seq` of its first row.
    pub job: String,
    /// Its bench.
    pub bench: String,
    /// The machine.
    pub asset: String,
    /// The motor's model.
    pub motor: String,
    /// Who tests.
    pub tester: String,
    /// Where it stands.
    pub state: JobState,
    /// The one next thing.
    pub ask: Ask,
    /// Its points, in the order of the sheet.
    pub points: Vec<PointView>,
    /// What it would come to if it ended now.
    pub outcome: JobOutcome,
    /// What is missing, or what was found, in words.
    pub why: String,
    /// Warnings that hold all the time: `DO NOT ENERGIZE`, meter not calibrated.
    pub banners: Vec<String>,
    /// Discharge: engine time until which the winding stays shorted.
    pub discharge_until: Option<Stamp>,
    /// What its points mean together, so far; what can hurt first.
    pub diagnosis: Vec<Diagnosis>,
}

/// What points of a job mean together.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Diagnosis {
    /// The pattern's name.
    pub name: String,
    /// What was seen, in a sentence.
    pub says: String,
    /// The `seq` of each row that it rests on.
    pub rows: Vec<u64>,
    /// What may have caused it, the likeliest first.
    pub causes: Vec<String>,
    /// What to check next, the cheapest first.
    pub next_checks: Vec<String>,
    /// What to mind.
    pub cautions: Vec<String>,
    /// Where this comes from: `common practice`, or a standard.
    pub source: String,
}

/// The one next thing a person does.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Ask {
    /// The test of the point it is for.
    pub test: String,
    /// The point it is for.
    pub point: String,
    /// The meter it is measured with.
    pub meter: String,
    /// What to do, in one sentence.
    pub say: String,
    /// The cautions that come before it.
    pub cautions: Vec<String>,
    /// What a key, a foot switch or a button confirms now.
    pub confirm: Option<Attestation>,
    /// Whether "the clips are on" is an answer now, so that over-range counts.
    pub clips_on: bool,
}

/// A point of a job's sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PointView {
    /// The test.
    pub test: String,
    /// The place.
    pub point: String,
    /// The meter it is measured with, if one is.
    pub meter: String,
    /// `due`, `now`, `done`, `skipped`.
    pub state: &'static str,
    /// What was shown.
    pub shown: String,
    /// How it was judged.
    pub verdict: Option<Verdict>,
    /// Why, in one word.
    pub finding: Option<Finding>,
    /// Why, with its terms.
    pub reason: String,
    /// The row.
    pub seq: Option<u64>,
    /// Limits in ohms, as text.
    pub limits: String,
    /// The same as numbers, and what was judged by them, for a picture.
    pub lower_ohms: Option<f64>,
    /// The upper limit.
    pub upper_ohms: Option<f64>,
    /// What was judged.
    pub judged_ohms: Option<f64>,
}
