//! The sheet of a job: its points in the order they are measured, and what
//! each has come to.
//!
//! It is made from a sheet of the shop or the default one, the motor and the
//! meters of the bench, and filled by rows only (see `ledger`), so that it can
//! be rebuilt from the log.

use core::time::Duration;

use serde::{Deserialize, Serialize};

use crate::judge::may_insulation_test;
use crate::judge::pairs::{Group, Rule, groups};
use crate::judge::sheet::{ratio_marks, ratio_of, steps, windings};
use crate::limits::{Kind, Motor, Point, Search, Sheet, SheetStep, SkipBy, Test};
use crate::quantity::Volts;
use crate::row::{Finding, Row, Verdict};
use crate::text::Text;

use super::guided;

/// What part a point plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    Dead,
    LeadsBefore,
    GroundPath,
    Winding,
    /// What holds over several windings: judged, never measured.
    Set,
    Sensor,
    Temperature,
    Ground,
    Insulation,
    /// What holds over two marks of a hold: judged, never measured.
    Ratio,
    LeadsAfter,
}

/// A point of the sheet.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    pub(super) point: Point,
    pub(super) role: Role,
    /// The meter it is measured with; none: no meter is needed, or the bench has none for it.
    pub(super) meter: Option<Text>,
    /// How its sheet wants it.
    pub(super) wants: Wants,
    /// Whether it waits to be measured, again or for the first time.
    pub(super) due: bool,
    /// Why it was left out.
    pub(super) skipped: Option<String>,
    /// What it last came to.
    pub(super) taken: Option<Taken>,
    /// Other rows of the same hold, at its other marks.
    pub(super) beside: Vec<u64>,
    /// What it came to before it was measured again, the oldest first.
    pub(super) before: Vec<u64>,
    /// Whether the judged mark of this hold was read.
    pub(super) read: bool,
    /// Whether nothing is or was measured with these leads, so that they need no proof.
    pub(super) needless: bool,
    /// Whether what was taken waits for its contact and the second proof of the leads.
    pub(super) pending: bool,
    /// Whether it read kilohms where ohms are expected before, in this job.
    pub(super) suspect: bool,
    /// Whether a reading that is there was asked for again, or lost its proof.
    pub(super) again: bool,
    /// Whether what was taken was read after another reading of the same.
    pub(super) twice: bool,
}

/// How a sheet wants a point.
#[derive(Clone, Debug, Default)]
pub(super) struct Wants {
    /// Its test voltage, if the sheet names one.
    pub(super) volts: Option<Volts>,
    /// When its hold is read, in seconds; of a ratio, its two marks.
    pub(super) marks: Vec<u32>,
    /// Which of them is judged: the first that is not before the profile's.
    pub(super) judged_at: usize,
    /// Whether nobody may leave it out.
    pub(super) kept: bool,
    /// The sheet's own words.
    pub(super) say: Text,
    /// The bands of a ratio.
    pub(super) bands: Option<Text>,
    /// What is judged together: the windings of a set, the insulation point of a ratio.
    pub(super) of: Vec<Text>,
    /// What holds over them; none: what the motor's kind says.
    pub(super) rule: Option<Rule>,
    /// The search that chooses whether it is due, or that it ends.
    pub(super) search: Option<Search>,
}

impl Wants {
    fn step(step: &SheetStep, mark: Duration) -> Self {
        let reaches = |m: &u32| Duration::from_secs(u64::from(*m)) >= mark;
        let last = step.marks_s.len().saturating_sub(1);
        Self {
            volts: step.test_voltage,
            marks: step.marks_s.clone(),
            judged_at: step.marks_s.iter().position(reaches).unwrap_or(last),
            kept: step.skip == SkipBy::Nobody,
            say: step.say.clone(),
            bands: step.bands.clone(),
            ..Self::default()
        }
    }

    /// The place of the mark that a hold of so many seconds has reached last.
    pub(super) fn mark_of(&self, elapsed_s: f64) -> Option<usize> {
        self.marks.iter().rposition(|m| f64::from(*m) <= elapsed_s)
    }

    /// What is judged together, as `judge` takes it.
    pub(super) fn group(&self, point: &Point) -> Option<Group> {
        Some(Group {
            name: point.name.to_string(),
            rule: self.rule?,
            members: self.of.clone(),
        })
    }
}

/// What a point came to: its row, with the latest verdict on it.
#[derive(Clone, Debug)]
pub(super) struct Taken {
    pub(super) seq: u64,
    /// The latest row that judged it anew.
    pub(super) judged: Option<u64>,
    /// The row that shows or attests its contact.
    pub(super) contact: Option<u64>,
    pub(super) row: Row,
}

impl Taken {
    pub(super) fn verdict(&self) -> Option<Verdict> {
        self.row.verdict
    }

    pub(super) fn finding(&self) -> Option<Finding> {
        self.row.finding
    }
}

/// The meters that a job uses, by name: part of its `job_start` row, so that
/// a job goes on with the meters it began with.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Meters {
    /// For everything at an ohmmeter's low voltage.
    pub(super) ohms: Text,
    /// For the test voltage; none: this bench has none, or the motor must not have one.
    pub(super) insulation: Option<Text>,
}

impl Entry {
    pub(super) fn new(test: Test, name: &str, role: Role, meter: Option<&Text>) -> Self {
        Self {
            point: Point::new(test, name),
            role,
            meter: meter.cloned(),
            wants: Wants::default(),
            due: !matches!(role, Role::Set | Role::Ratio),
            skipped: None,
            taken: None,
            beside: Vec::new(),
            before: Vec::new(),
            read: false,
            needless: false,
            pending: false,
            suspect: false,
            again: false,
            twice: false,
        }
    }

    /// Whether it is measured on the motor, so that the leads matter.
    pub(super) fn on_motor(&self) -> bool {
        matches!(
            self.role,
            Role::GroundPath | Role::Winding | Role::Sensor | Role::Ground | Role::Insulation
        )
    }

    /// Whether it tells winding from ground, where a fallen clip would look perfect.
    pub(super) fn to_ground(&self) -> bool {
        matches!(self.role, Role::Ground | Role::Insulation)
    }

    /// Whether it is judged from other points and never measured.
    pub(super) fn judged_only(&self) -> bool {
        matches!(self.role, Role::Set | Role::Ratio)
    }

    /// Whether a search chooses when it is measured.
    pub(super) fn searched(&self) -> bool {
        self.wants.search.is_some() && !self.judged_only()
    }

    /// Whether it is the loop of a short along the cable.
    pub(super) fn is_loop(&self) -> bool {
        self.searched() && self.role == Role::Winding
    }

    /// Whether nothing more is asked here.
    pub(super) fn done(&self) -> bool {
        !self.due && !self.pending && self.taken.is_some()
    }

    /// Whether `meter` and the point are the ones a row names.
    pub(super) fn is(&self, test: &str, point: &str, meter: &str) -> bool {
        self.point.test.word() == test
            && self.point.name.as_str() == point
            && (!matches!(self.role, Role::LeadsBefore | Role::LeadsAfter)
                || self.meter.as_ref().is_some_and(|m| m.as_str() == meter))
    }
}

/// Whether a sheet has an insulation test.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Insulation {
    /// It is asked for.
    Asked,
    /// It stays missing, for this reason.
    Missing(&'static str),
    /// The motor must not have one.
    Forbidden,
}

/// Whether this motor has an insulation test with these meters, at `planned`.
pub(super) fn insulation(motor: &Motor, planned: Option<Volts>, meters: &Meters) -> Insulation {
    if may_insulation_test(motor).is_err() {
        Insulation::Forbidden
    } else if meters.insulation.is_none() {
        Insulation::Missing("no meter on this bench measures insulation at a test voltage")
    } else if planned.is_none() {
        Insulation::Missing(
            "no test voltage can be planned: the rated voltage is unknown or no tester step is allowed",
        )
    } else {
        Insulation::Asked
    }
}

/// What the profile asks of an insulation test of this motor.
#[derive(Clone, Copy, Debug)]
pub(super) struct Usual {
    /// Its test voltage.
    pub(super) planned: Option<Volts>,
    /// When the value is read.
    pub(super) mark: Duration,
}

/// The entries of a job: its sheet's steps, the default ones without a sheet,
/// with what holds over several of them, between the proofs of the leads.
pub(super) fn entries(
    sheet: Option<&Sheet>,
    motor: &Motor,
    usual: Usual,
    meters: &Meters,
) -> Vec<Entry> {
    let steps = steps(sheet, motor);
    let asked = |step: &SheetStep| insulation(motor, step.test_voltage.or(usual.planned), meters);
    let mut used = vec![&meters.ohms];
    if let Some(tester) = &meters.insulation
        && *tester != meters.ohms
        && steps
            .iter()
            .any(|s| s.point.test == Test::Insulation && asked(s) == Insulation::Asked)
    {
        used.push(tester);
    }
    let leads = |name: &str, role: Role| -> Vec<Entry> {
        let of = |meter: &&Text| Entry::new(Test::Leads, name, role, Some(meter));
        used.iter().map(of).collect()
    };
    let mut entries = vec![Entry::new(Test::Dead, "before", Role::Dead, None)];
    entries.extend(leads("before", Role::LeadsBefore));
    let search = sheet.and_then(|s| s.search);
    let mut sets = sets(motor, &steps);
    if let Some(search) = search {
        let points = steps.iter().filter(|s| search.takes(&s.point));
        let of = points.map(|s| s.point.name.clone()).collect();
        sets.push(guided::finds(search, of));
    }
    for (at, step) in steps.iter().enumerate() {
        let asked = asked(step);
        let (role, meter) = match step.point.test {
            Test::GroundPath => (Role::GroundPath, Some(&meters.ohms)),
            Test::Winding => (Role::Winding, Some(&meters.ohms)),
            Test::Sensor => (Role::Sensor, Some(&meters.ohms)),
            Test::Ground => (Role::Ground, Some(&meters.ohms)),
            Test::Temperature => (Role::Temperature, None),
            Test::Insulation if asked == Insulation::Forbidden => continue,
            Test::Insulation => (Role::Insulation, meters.insulation.as_ref()),
            Test::Ratio if may_insulation_test(motor).is_err() => continue,
            Test::Ratio => (Role::Ratio, None),
            // They stand around every sheet.
            Test::Dead | Test::Leads => continue,
        };
        let mut entry = Entry::new(step.point.test, step.point.name.as_str(), role, meter);
        entry.wants = Wants::step(step, usual.mark);
        entry.wants.search = search.filter(|s| s.takes(&step.point));
        match (role, asked) {
            (Role::Insulation, Insulation::Missing(why)) => {
                entry.due = false;
                entry.skipped = Some(why.to_owned());
            }
            (Role::Ratio, _) => {
                entry.wants.marks = ratio_marks(step).map(Vec::from).unwrap_or_default();
                entry.wants.of = ratio_of(&steps, at).cloned().into_iter().collect();
            }
            _ => {}
        }
        entries.push(entry);
        // A set follows the last of its points.
        let there = |name: &Text| {
            entries
                .iter()
                .any(|e| matches!(e.role, Role::Winding | Role::Ground) && e.point.name == *name)
        };
        let (whole, later): (Vec<Entry>, Vec<Entry>) = sets
            .into_iter()
            .partition(|set| set.wants.of.iter().all(there));
        entries.extend(whole);
        sets = later;
    }
    entries.extend(leads("after", Role::LeadsAfter));
    entries
}

/// What holds over several windings of the sheet. A set of which a point is
/// not on the sheet is not judged.
fn sets(motor: &Motor, steps: &[SheetStep]) -> Vec<Entry> {
    let of_kind = match motor.kind {
        Kind::ThreeWire | Kind::ThreePhase => &windings(motor)[..3],
        Kind::TwoWire | Kind::Other => &[],
    };
    let points: Vec<Text> = steps
        .iter()
        .filter(|s| s.point.test == Test::Winding)
        .map(|s| s.point.name.clone())
        .collect();
    let mut sets = Vec::new();
    if !of_kind.is_empty() {
        let mut set = Entry::new(Test::Winding, "set", Role::Set, None);
        set.wants.of = of_kind.iter().copied().map(Text::clean).collect();
        sets.push(set);
    }
    for group in groups(motor, &points) {
        let mut set = Entry::new(Test::Winding, &group.name, Role::Set, None);
        set.wants.rule = Some(group.rule);
        set.wants.of = group.members;
        sets.push(set);
    }
    sets
}
