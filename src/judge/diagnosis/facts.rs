//! Facts: what the rows of a job said, in their order, as the patterns read it.
//!
//! The same function takes rows as they go out and rows of the log, so a
//! diagnosis is the same after a restart. A take that was repeated stays as
//! history; one that was withdrawn is gone. Nothing here judges.

use crate::limits::Test;
use crate::quantity::{Decimal, Unit};
use crate::row::{Event, Finding, Row, Verdict};

/// What the reason of a row says where no column does; a test holds these
/// words to those of the rules that write them.
pub(super) mod cue {
    pub(in super::super) const HELD: &str = "in hold, min, max or average";
    pub(in super::super) const PULLED_DOWN: &str = "cannot hold its voltage";
    pub(in super::super) const BATTERY: &str = "battery is low";
    pub(in super::super) const TEMPERATURE: &str = "enter the winding's temperature";
}

/// The name of a reading that shows the contact of another: no point of its own.
const CONTACT: &str = "contact";

/// Everything that a job's rows said of its points.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    heard: Vec<Heard>,
    /// Rows that show a contact, and the rows whose contact they show.
    contacts: Vec<(u64, u64)>,
}

/// One row that measured or judged something.
#[derive(Clone, Debug)]
pub(super) struct Heard {
    pub(super) seq: u64,
    /// The latest row that judged it anew.
    judged: Option<u64>,
    pub(super) event: Event,
    pub(super) test: Option<Test>,
    pub(super) name: String,
    pub(super) meter: String,
    pub(super) shown: String,
    pub(super) unit: Option<Unit>,
    pub(super) value: Option<f64>,
    /// As shown, in ohms.
    pub(super) ohms: Option<f64>,
    /// After leads, cable and correction, in ohms.
    pub(super) net: Option<f64>,
    pub(super) resolution: f64,
    pub(super) lower: Option<f64>,
    pub(super) upper: Option<f64>,
    pub(super) test_voltage: Option<f64>,
    pub(super) elapsed: Option<f64>,
    pub(super) verdict: Option<Verdict>,
    pub(super) finding: Option<Finding>,
    pub(super) reason: String,
    withdrawn: bool,
    latest: bool,
}

impl Facts {
    /// Takes one row of the job.
    pub fn row(&mut self, seq: u64, row: &Row) {
        match row.event {
            Event::Value | Event::Open | Event::OverRange | Event::Aborted => {
                if row.point == CONTACT {
                    self.contacts.extend(row.of_seq.map(|of| (seq, of)));
                } else {
                    self.take(Heard::of(seq, row));
                }
            }
            Event::Judged => {
                let again = self.heard.iter_mut().find(|h| h.judged_by(row));
                match again {
                    Some(heard) => heard.again(seq, row),
                    None => self.take(Heard::of(seq, row)),
                }
            }
            Event::Attested => self.contacts.extend(row.of_seq.map(|of| (seq, of))),
            Event::Withdrawn => self.withdraw(row.of_seq),
            _ => {}
        }
    }

    fn take(&mut self, mut heard: Heard) {
        // A hold that ended early leaves what was read before as it is.
        heard.latest = heard.event != Event::Aborted && heard.test.is_some();
        if heard.latest {
            for earlier in self.heard.iter_mut().filter(|h| h.is_same(&heard)) {
                earlier.latest = false;
            }
        }
        self.heard.push(heard);
    }

    fn withdraw(&mut self, of: Option<u64>) {
        let Some(of) = of else { return };
        let shown = self.contacts.iter().find(|(seq, _)| *seq == of);
        let shown = shown.map(|(_, of)| *of);
        for heard in &mut self.heard {
            heard.withdrawn |= heard.seq == of
                || heard.judged == Some(of)
                || (shown == Some(heard.seq) && heard.judged.is_some());
        }
    }

    /// Everything that was not withdrawn, repeated takes too.
    pub(super) fn all(&self) -> impl Iterator<Item = &Heard> {
        self.heard.iter().filter(|h| !h.withdrawn)
    }

    /// What stands: the last take of each point.
    pub(super) fn standing(&self) -> impl Iterator<Item = &Heard> {
        self.all().filter(|h| h.latest)
    }

    /// What stands of a test; for windings without what holds over several.
    pub(super) fn of(&self, test: Test) -> impl Iterator<Item = &Heard> {
        self.standing()
            .filter(move |h| h.test == Some(test) && h.name != "set")
    }

    /// What stands at a point.
    pub(super) fn at(&self, test: Test, name: &str) -> Option<&Heard> {
        self.standing()
            .find(|h| h.test == Some(test) && h.name == name)
    }

    /// What stands that tells winding from ground.
    pub(super) fn to_ground(&self) -> impl Iterator<Item = &Heard> {
        self.standing()
            .filter(|h| matches!(h.test, Some(Test::Ground | Test::Insulation)))
    }

    /// All takes of the point of `heard` with the same meter, in order.
    pub(super) fn takes<'a>(&'a self, heard: &'a Heard) -> impl Iterator<Item = &'a Heard> {
        self.all()
            .filter(|h| h.event != Event::Aborted && h.is_same(heard) && h.meter == heard.meter)
    }
}

impl Heard {
    fn of(seq: u64, row: &Row) -> Self {
        let number = |d: Option<Decimal>| d.map(Decimal::to_f64);
        let ohms = number(row.value_ohms);
        let left = |d: Option<Decimal>| number(d).unwrap_or(0.0);
        Self {
            seq,
            judged: None,
            event: row.event,
            test: Test::from_word(&row.test),
            name: row.point.clone(),
            meter: row.meter.clone(),
            shown: row.shown.clone(),
            unit: row.unit,
            value: number(row.value),
            ohms,
            net: number(row.judged_ohms)
                .or_else(|| ohms.map(|o| o - left(row.leads_ohms) - left(row.cable_ohms))),
            resolution: left(row.resolution_ohms),
            lower: number(row.lower_ohms),
            upper: number(row.upper_ohms),
            test_voltage: number(row.test_voltage_v),
            elapsed: number(row.elapsed_s),
            verdict: row.verdict,
            finding: row.finding,
            reason: row.reason.clone(),
            withdrawn: false,
            latest: false,
        }
    }

    fn again(&mut self, seq: u64, row: &Row) {
        self.judged = Some(seq);
        (self.verdict, self.finding) = (row.verdict, row.finding);
        self.reason.clone_from(&row.reason);
    }

    fn judged_by(&self, row: &Row) -> bool {
        Some(self.seq) == row.of_seq
            && self.name == row.point
            && self.test == Test::from_word(&row.test)
    }

    fn is_same(&self, other: &Self) -> bool {
        let leads = self.test == Some(Test::Leads);
        self.test.is_some()
            && self.test == other.test
            && self.name == other.name
            && (!leads || self.meter == other.meter)
    }

    /// Whether it is beyond the range.
    pub(super) fn is_over(&self) -> bool {
        matches!(self.event, Event::Open | Event::OverRange)
    }

    pub(super) fn found(&self, finding: Finding) -> bool {
        self.finding == Some(finding)
    }

    pub(super) fn failed(&self) -> bool {
        self.verdict == Some(Verdict::Fail)
    }

    pub(super) fn passed(&self) -> bool {
        self.verdict == Some(Verdict::Pass)
    }

    pub(super) fn says(&self, words: &str) -> bool {
        self.reason.contains(words)
    }
}
