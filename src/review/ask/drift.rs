//! How each meter reads beside the others, week by week.
//!
//! A value is set against the mean of what all meters read at the same asset
//! and point; a week's figure is the median of these differences in percent,
//! so that a few bad motors do not move it. A meter that drifts stands out
//! against its own earlier weeks long before its calibration is due, if it
//! measures what others measure too.

use core::sync::atomic::AtomicU64;
use std::io;

use super::filter::Filter;
use super::groups::Groups;
use super::stages::Stages;
use super::values::number;
use crate::log::scan::{Gather, Line, Scan, Seen, column};
use crate::stamp::Wall;

/// Of a week: the day it begins, how many values, their median difference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Week {
    /// Its Monday, 00:00 UTC.
    pub begins: Wall,
    /// Values that others can be set beside.
    pub values: usize,
    /// Median difference to what all meters read there, in percent.
    pub percent: f64,
}

const WEEK: i64 = 7 * 86_400_000_000_000;
/// 1970-01-01 was a Thursday.
const MONDAY: i64 = 4 * 86_400_000_000_000;

/// Weeks of each meter, by its name.
pub type ByMeter = Vec<(String, Vec<Week>)>;

/// Billionths of an ohm, so that sums are the same in any order.
const NANO: f64 = 1e9;
/// Hundredths of a percent.
const STEPS: f64 = 100.0;

/// Weeks of each meter, in the order of their names.
///
/// # Errors
/// The disk's own.
pub fn drift(
    scan: &Scan,
    done: &AtomicU64,
    (filter, stages): (&Filter, &Stages),
) -> io::Result<(ByMeter, Seen)> {
    let which = Which { filter, stages };
    let (means, _) = scan.gather(done, || Means::new(which))?;
    let (found, seen) = scan.gather(done, || Weeks::new(which, &means.places))?;
    let mut meters = ByMeter::new();
    for (key, of) in found.weeks.sorted() {
        let (meter, week) = key.split_at(key.len() - 4);
        let meter = String::from_utf8_lossy(meter);
        let week = u32::from_be_bytes(week.try_into().unwrap_or_default());
        let Some((values, steps)) = of.median() else {
            continue;
        };
        let week = Week {
            begins: Wall(i64::from(week) * WEEK + MONDAY),
            values,
            percent: f64::from(steps) / STEPS,
        };
        match meters.last_mut() {
            Some((name, weeks)) if *name == meter => weeks.push(week),
            _ => meters.push((meter.into_owned(), vec![week])),
        }
    }
    Ok((meters, seen))
}

#[derive(Clone, Copy)]
struct Which<'q> {
    filter: &'q Filter,
    stages: &'q Stages,
}

impl Which<'_> {
    /// The ohms of a winding that is asked about; asset and point go to `place`.
    fn winding(self, line: &Line<'_>, place: &mut Vec<u8>) -> Option<f64> {
        let asset = line.cell(column::ASSET);
        if line.cell(column::TEST) != b"winding"
            || asset.is_empty()
            || !self.filter.holds(line)
            || !self.stages.hold(line)
        {
            return None;
        }
        place.clear();
        place.extend(asset);
        place.push(b',');
        place.extend(line.cell(column::POINT));
        number(line, column::JUDGED_OHMS).or_else(|| number(line, column::VALUE_OHMS))
    }

    fn last_column(self) -> usize {
        self.filter.last_column().max(column::JUDGED_OHMS)
    }
}

#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    nano_ohms: i128,
    n: u32,
}

/// What all meters read at each asset and point.
struct Means<'q> {
    which: Which<'q>,
    place: Vec<u8>,
    places: Groups<Sum>,
}

impl<'q> Means<'q> {
    fn new(which: Which<'q>) -> Self {
        Self {
            which,
            place: Vec::new(),
            places: Groups::default(),
        }
    }
}

impl Gather for Means<'_> {
    fn last_column(&self) -> usize {
        self.which.last_column()
    }

    fn wants(&self, event: &[u8]) -> bool {
        event == b"value"
    }

    fn row(&mut self, line: &Line<'_>) {
        if let Some(ohms) = self.which.winding(line, &mut self.place) {
            let sum = self.places.of(&self.place, Sum::default);
            sum.nano_ohms += (ohms * NANO).round() as i128;
            sum.n += 1;
        }
    }

    fn take_back(&mut self, line: &Line<'_>) {
        if let Some(ohms) = self.which.winding(line, &mut self.place) {
            let sum = self.places.of(&self.place, Sum::default);
            sum.nano_ohms -= (ohms * NANO).round() as i128;
            sum.n -= 1;
        }
    }

    fn merge(&mut self, other: Self) {
        other.places.drain(|key, of| {
            let sum = self.places.of(key, Sum::default);
            sum.nano_ohms += of.nano_ohms;
            sum.n += of.n;
        });
    }
}

/// Differences of a meter in a week, in hundredths of a percent.
#[derive(Clone, Debug, Default)]
struct Differences {
    all: Vec<i16>,
    back: Vec<i16>,
}

impl Differences {
    /// How many count, and the middle one.
    fn median(mut self) -> Option<(usize, i16)> {
        for gone in &self.back {
            if let Some(at) = self.all.iter().position(|step| step == gone) {
                self.all.swap_remove(at);
            }
        }
        let values = self.all.len();
        let (_, median, _) = self.all.select_nth_unstable(values.checked_sub(1)? / 2);
        Some((values, *median))
    }
}

struct Weeks<'q> {
    which: Which<'q>,
    means: &'q Groups<Sum>,
    key: Vec<u8>,
    /// A meter's name and the number of the week, in four bytes.
    weeks: Groups<Differences>,
}

impl<'q> Weeks<'q> {
    fn new(which: Which<'q>, means: &'q Groups<Sum>) -> Self {
        Self {
            which,
            means,
            key: Vec::new(),
            weeks: Groups::default(),
        }
    }

    /// Where a row belongs, and by how much it differs there.
    fn place(&mut self, line: &Line<'_>) -> Option<(&mut Differences, i16)> {
        let ohms = self.which.winding(line, &mut self.key)?;
        let all = self.means.get(&self.key).filter(|all| all.n > 1)?;
        let beside = all.nano_ohms as f64 / NANO / f64::from(all.n);
        let at = core::str::from_utf8(line.cell(column::RECORDED_AT)).ok()?;
        let week = (Wall::parse(at)?.0 - MONDAY).div_euclid(WEEK);
        if beside <= 0.0 {
            return None;
        }
        self.key.clear();
        self.key.extend(line.cell(column::METER));
        self.key.extend(u32::try_from(week).ok()?.to_be_bytes());
        let steps = (100.0 * STEPS * (ohms / beside - 1.0)).round() as i16;
        Some((self.weeks.of(&self.key, Differences::default), steps))
    }
}

impl Gather for Weeks<'_> {
    fn last_column(&self) -> usize {
        self.which.last_column()
    }

    fn wants(&self, event: &[u8]) -> bool {
        event == b"value"
    }

    fn row(&mut self, line: &Line<'_>) {
        if let Some((of, steps)) = self.place(line) {
            of.all.push(steps);
        }
    }

    fn take_back(&mut self, line: &Line<'_>) {
        if let Some((of, steps)) = self.place(line) {
            of.back.push(steps);
        }
    }

    fn merge(&mut self, other: Self) {
        other.weeks.drain(|key, of| {
            let into = self.weeks.of(key, Differences::default);
            into.all.extend(of.all);
            into.back.extend(of.back);
        });
    }
}
