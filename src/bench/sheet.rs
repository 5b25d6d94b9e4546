//! The sheet of a job: its points in the order they are measured, and what
//! each has come to.
//!
//! A sheet is made from the motor and the meters of the bench, and filled by
//! rows only (see `ledger`), so that it can be rebuilt from the log.

use serde::{Deserialize, Serialize};

use crate::judge::may_insulation_test;
use crate::limits::{Kind, Motor, Point, Test};
use crate::quantity::Volts;
use crate::row::{Finding, Row, Verdict};
use crate::text::Text;

/// What part a point plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    Dead,
    LeadsBefore,
    GroundPath,
    Winding,
    /// What holds over the three lines: judged, never measured.
    Set,
    Ground,
    Insulation,
    LeadsAfter,
}

/// A point of the sheet.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    pub(super) point: Point,
    pub(super) role: Role,
    /// The meter it is measured with; none: no meter is needed, or the bench has none for it.
    pub(super) meter: Option<Text>,
    /// Whether it waits to be measured, again or for the first time.
    pub(super) due: bool,
    /// Why it was left out.
    pub(super) skipped: Option<String>,
    /// What it last came to.
    pub(super) taken: Option<Taken>,
    /// Whether nothing is or was measured with these leads, so that they need no proof.
    pub(super) needless: bool,
    /// Whether what was taken waits for its contact and the second proof of the leads.
    pub(super) pending: bool,
    /// Whether it read kilohms where ohms are expected before, in this job.
    pub(super) suspect: bool,
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
    fn new(test: Test, name: &str, role: Role, meter: Option<&Text>) -> Self {
        Self {
            point: Point::new(test, name),
            role,
            meter: meter.cloned(),
            due: role != Role::Set,
            skipped: None,
            taken: None,
            needless: false,
            pending: false,
            suspect: false,
        }
    }

    /// Whether it is measured on the motor, so that the leads matter.
    pub(super) fn on_motor(&self) -> bool {
        matches!(
            self.role,
            Role::GroundPath | Role::Winding | Role::Ground | Role::Insulation
        )
    }

    /// Whether it tells winding from ground, where a fallen clip would look perfect.
    pub(super) fn to_ground(&self) -> bool {
        matches!(self.role, Role::Ground | Role::Insulation)
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

/// The windings of a motor by the names of its default sheet.
pub(super) fn windings(motor: &Motor) -> Vec<&str> {
    match motor.kind {
        Kind::TwoWire => vec!["main"],
        Kind::ThreeWire => vec!["main", "start", "total"],
        Kind::ThreePhase => vec!["line_12", "line_23", "line_31"],
        Kind::Other => motor.points.iter().map(|(name, _)| name.as_str()).collect(),
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

/// Whether this motor has an insulation test with these meters.
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

/// The default sheet.
pub(super) fn sheet(motor: &Motor, planned: Option<Volts>, meters: &Meters) -> Vec<Entry> {
    let insulation = insulation(motor, planned, meters);
    let ohms = Some(&meters.ohms);
    let mut used = vec![&meters.ohms];
    if let Some(tester) = meters
        .insulation
        .as_ref()
        .filter(|_| insulation == Insulation::Asked)
        && *tester != meters.ohms
    {
        used.push(tester);
    }
    let mut entries = vec![Entry::new(Test::Dead, "before", Role::Dead, None)];
    for meter in &used {
        entries.push(Entry::new(
            Test::Leads,
            "before",
            Role::LeadsBefore,
            Some(meter),
        ));
    }
    entries.push(Entry::new(Test::GroundPath, "path", Role::GroundPath, ohms));
    for name in windings(motor) {
        entries.push(Entry::new(Test::Winding, name, Role::Winding, ohms));
    }
    if matches!(motor.kind, Kind::ThreeWire | Kind::ThreePhase) {
        entries.push(Entry::new(Test::Winding, "set", Role::Set, None));
    }
    entries.push(Entry::new(
        Test::Ground,
        "all_to_ground",
        Role::Ground,
        ohms,
    ));
    if insulation != Insulation::Forbidden {
        let mut entry = Entry::new(
            Test::Insulation,
            "all_to_ground",
            Role::Insulation,
            meters.insulation.as_ref(),
        );
        if let Insulation::Missing(why) = insulation {
            entry.due = false;
            entry.skipped = Some(why.to_owned());
        }
        entries.push(entry);
    }
    for meter in &used {
        entries.push(Entry::new(
            Test::Leads,
            "after",
            Role::LeadsAfter,
            Some(meter),
        ));
    }
    entries
}
