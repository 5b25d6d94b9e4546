//! A run: the value at each mark, and how it ends before the last.

use core::time::Duration;

use crate::quantity::Volts;
use crate::reading::{Abort, Got, Outcome, Sample, Take};
use crate::stamp::Stamp;

use super::{Hold, Holding, Press, Seen, rules, seconds};

/// Too little voltage, since when and with what current.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sag {
    began: Stamp,
    heard: Stamp,
    least: f64,
    /// Whether a reading showed no resistance.
    over: bool,
    /// The last voltage, and how many different ones came.
    volts: f64,
    count: u32,
    /// Least and most current since, in amperes, and readings that showed one.
    amperes: (f64, f64),
    shown: u32,
}

impl Sag {
    fn new(at: Stamp) -> Self {
        Self {
            began: at,
            heard: at,
            least: f64::INFINITY,
            over: false,
            volts: 0.0,
            count: 0,
            amperes: (f64::INFINITY, 0.0),
            shown: 0,
        }
    }

    /// When nothing more needs to be heard of it.
    pub(super) fn silent(&self) -> Stamp {
        self.heard.plus(seconds(rules::SAG_SILENT))
    }

    fn keep(&mut self, at: Stamp, ohms: Option<f64>, volts: f64) {
        self.heard = at;
        self.over |= ohms.is_none();
        self.least = self.least.min(volts);
        self.count += u32::from(volts != self.volts);
        self.volts = volts;
        if let Some(ohms) = ohms.filter(|ohms| *ohms > 0.0) {
            let (least, most) = self.amperes;
            let now = volts / ohms;
            self.amperes = (least.min(now), most.max(now));
            self.shown += 1;
        }
    }

    /// Seconds that it lasts: a burst brings readings of as many intervals.
    fn lasts(&self, usual: f64) -> f64 {
        let by_count = f64::from(self.count.saturating_sub(1)) * usual;
        self.heard.since(self.began).as_secs_f64().max(by_count)
    }

    /// Whether the tester gave all that it has: one current throughout.
    fn at_its_most(&self, leap: bool) -> bool {
        let (least, most) = self.amperes;
        let same = match leap {
            true => least >= rules::WEAK_AMPERES && most <= rules::LEAP_AMPERES * least,
            false => most <= rules::SAME_AMPERES * least,
        };
        self.shown >= 2 && !self.over && same
    }
}

impl Holding {
    pub(super) fn running(
        &mut self,
        at: Stamp,
        sample: &Sample,
        volts: f64,
        spec: &Hold,
    ) -> Option<Take> {
        let Press::Running {
            since,
            elapsed,
            next,
        } = self.press
        else {
            return None;
        };
        if volts < spec.sag_frac * self.nominal {
            return self.sags(at, sample, volts, spec);
        }
        self.sag = None;
        self.after.held(self.clock, volts);
        if let Some(why) = self.lead.off(self.clock, &sample.got, volts) {
            return Some(self.abort(at, why, spec));
        }
        let own = own_time(sample, elapsed);
        let held = own.unwrap_or_else(|| at.since(since));
        let mark = *spec.marks.get(next)?;
        if held < mark {
            return None;
        }
        if held > mark + seconds(rules::MARK_WAIT) {
            return Some(self.abort(at, Abort::Silent, spec));
        }
        let old = own.is_none() && self.may_be_old(held, mark, &sample.got);
        if old || self.unsettled(at, sample, volts) {
            return None;
        }
        let outcome = match sample.got {
            Got::Value(shown) => Outcome::Value(shown),
            // One over-range alone may be a change of range, or a lead.
            Got::Over { full_scale, .. } if !self.lead.over(full_scale, self.double) => {
                return None;
            }
            Got::Over { full_scale, .. } => Outcome::OverRange { full_scale },
            Got::Nothing => return None,
        };
        let measured = spec.voltage_measured.then_some(Volts(volts));
        let take = self.take(at, outcome, Some(held), measured, Some(sample));
        if next + 1 < spec.marks.len() {
            self.press = Press::Running {
                since,
                elapsed,
                next: next + 1,
            };
        } else {
            self.end(Press::Taken);
        }
        Some(take)
    }

    /// Whether a reading may have been held back for so long that the value has
    /// moved since. The next that comes at its pace is of its moment; where
    /// there is no time for it, the resistance tells as well as it can.
    fn may_be_old(&self, held: Duration, mark: Duration, got: &Got) -> bool {
        let most = rules::OLD_SECONDS.max(rules::OLD_PART * held.as_secs_f64());
        let left = (mark + seconds(rules::MARK_WAIT)).saturating_sub(held);
        let time = left.as_secs_f64() > rules::OLD_TIME * self.pace.usual();
        self.late > most && (time || !self.lead.goes_on(self.clock, got))
    }

    /// Whether the voltage dies away, or has just come back: a number beside
    /// it is none of the motor's, unless it is the motor that pulls it down.
    fn unsettled(&self, at: Stamp, sample: &Sample, volts: f64) -> bool {
        let dipped = self.dipped.map(|dipped| at.since(dipped).as_secs_f64());
        let pulled = match sample.got {
            Got::Value(shown) => self.lead.fell(shown.value.to_f64(), volts),
            _ => false,
        };
        self.after.falls() && !pulled || dipped.is_some_and(|since| since < rules::BACK_SECONDS)
    }

    /// Too little voltage: for about a second the run goes on.
    fn sags(&mut self, at: Stamp, sample: &Sample, volts: f64, spec: &Hold) -> Option<Take> {
        let seen = Seen {
            nominal: self.nominal,
            enough: spec.sag_frac,
            apart: self.apart(),
            numbers: !self.lead.over_before(),
        };
        if self.sag.is_none() {
            self.after.held(self.clock, volts);
        }
        self.after.low(self.clock, &sample.got, volts, &seen);
        self.dipped = Some(at);
        let mut sag = self.sag.unwrap_or_else(|| Sag::new(at));
        let ohms = match sample.got {
            Got::Value(shown) => Some(shown.value.to_f64()),
            _ => None,
        };
        sag.keep(at, ohms, volts);
        self.sag = Some(sag);
        let lasted = sag.lasts(self.pace.usual());
        // Gone is a release, however soon the next press comes.
        let gone = volts < rules::PRESSED * self.nominal;
        let gone = gone && lasted >= rules::GONE_SECONDS;
        if !gone && lasted < rules::SAG_SECONDS {
            return None;
        }
        Some(self.fell(at, sample, volts, &sag, spec))
    }

    /// The voltage stayed below what the hold needs.
    fn fell(&mut self, at: Stamp, sample: &Sample, volts: f64, sag: &Sag, spec: &Hold) -> Take {
        let together = match sample.got {
            Got::Value(shown) => {
                let ohms = shown.value.to_f64();
                let leap = self.lead.broke(ohms, volts);
                (leap || self.lead.fell(ohms, volts)) && sag.at_its_most(leap)
            }
            _ => false,
        };
        // What is nearly gone is let go.
        let on = sag.least >= 2.0 * rules::PRESSED * self.nominal;
        let take = if on && together {
            self.pulled_down(at, sample)
        } else {
            let why = self.lost();
            self.abort(at, why, spec)
        };
        self.ended(&sample.got, volts, spec);
        take
    }

    /// Whether too little voltage was a release or a sag.
    pub(super) fn lost(&self) -> Abort {
        if self.volts < 0.6 * self.nominal {
            Abort::Released
        } else {
            Abort::Sagged
        }
    }
}

/// The meter's own time, unless it runs on from an earlier press.
fn own_time(sample: &Sample, then: Option<Duration>) -> Option<Duration> {
    match (sample.elapsed, then) {
        (Some(now), Some(then)) if now >= then && then <= seconds(rules::MARK_WAIT) => Some(now),
        (Some(now), None) => Some(now),
        _ => None,
    }
}
