//! How each meter reads beside the others, week by week.
//!
//! A value is set against the median of what the other meters read at the same
//! asset and point; a week's figure is the median of these differences in
//! percent, so that bad motors move neither. A meter that drifts stands out
//! against its own earlier weeks long before its calibration is due, if it
//! measures what others measure too.

use core::sync::atomic::AtomicU64;
use std::collections::BTreeMap;
use std::io;

use super::filter::Filter;
use super::groups::Groups;
use super::imported;
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
    /// Median difference to the median of the other meters there, in percent.
    pub percent: f64,
}

const WEEK: i64 = 7 * 86_400_000_000_000;
/// 1970-01-01 was a Thursday.
const MONDAY: i64 = 4 * 86_400_000_000_000;

/// Weeks of each meter, by its name.
pub type ByMeter = Vec<(String, Vec<Week>)>;

/// Weeks of each meter over all of the log, in the order of their names: what
/// is off shows against what was before, so nothing may be left out by its date.
///
/// # Errors
/// The disk's own.
pub fn drift(
    scan: &Scan,
    done: &AtomicU64,
    (filter, stages): (&Filter, &Stages),
) -> io::Result<(ByMeter, Seen)> {
    let make = || Places {
        filter,
        stages,
        place: Vec::new(),
        meters: Groups::default(),
        places: Groups::default(),
        back: Vec::new(),
    };
    let (found, seen) = scan.gather(done, make)?;
    Ok((found.weeks(), seen))
}

/// One value of a winding.
#[derive(Clone, Copy, Debug, PartialEq)]
struct One {
    meter: u16,
    /// Since 1970.
    week: u16,
    ohms: f32,
}

/// What was read at each asset and point.
struct Places<'q> {
    filter: &'q Filter,
    stages: &'q Stages,
    place: Vec<u8>,
    /// Numbers of the meters, as they come.
    meters: Groups<u16>,
    places: Groups<Vec<One>>,
    back: Vec<(Vec<u8>, One)>,
}

impl Places<'_> {
    /// A value that is asked about; its place goes to `self.place`.
    fn one(&mut self, line: &Line<'_>) -> Option<One> {
        let asset = line.cell(column::ASSET);
        if line.cell(column::TEST) != b"winding"
            || asset.is_empty()
            || !self.filter.holds(line)
            || !self.stages.hold(line)
            || imported(line).is_some()
        {
            return None;
        }
        let ohms = number(line, column::JUDGED_OHMS).or_else(|| number(line, column::VALUE_OHMS));
        let at = core::str::from_utf8(line.cell(column::RECORDED_AT)).ok()?;
        let week = (Wall::parse(at)?.0 - MONDAY).div_euclid(WEEK);
        self.place.clear();
        self.place.extend(asset);
        self.place.push(b',');
        self.place.extend(line.cell(column::POINT));
        let next = u16::try_from(self.meters.len()).ok()?;
        Some(One {
            meter: *self.meters.of(line.cell(column::METER), || next),
            week: u16::try_from(week).ok()?,
            ohms: ohms? as f32,
        })
    }

    fn weeks(mut self) -> ByMeter {
        for (place, gone) in core::mem::take(&mut self.back) {
            let all = self.places.of(&place, Vec::new);
            if let Some(at) = all.iter().position(|one| *one == gone) {
                all.swap_remove(at);
            }
        }
        let mut names = vec![String::new(); self.meters.len()];
        self.meters.drain(|name, number| {
            names[usize::from(number)] = String::from_utf8_lossy(name).into_owned();
        });
        let mut weeks: BTreeMap<(&str, u16), Vec<f32>> = BTreeMap::new();
        self.places.drain(|_, all| {
            for (meter, name) in (0..).zip(&names) {
                let (own, others): (Vec<&One>, Vec<&One>) =
                    all.iter().partition(|one| one.meter == meter);
                let beside = median(others.iter().map(|one| one.ohms).collect());
                for one in own {
                    if let Some(beside) = beside.filter(|beside| *beside > 0.0) {
                        let percent = 100.0 * (one.ohms / beside - 1.0);
                        weeks.entry((name, one.week)).or_default().push(percent);
                    }
                }
            }
        });
        let mut meters = ByMeter::new();
        for ((meter, week), differences) in weeks {
            let values = differences.len();
            let week = Week {
                begins: Wall(i64::from(week) * WEEK + MONDAY),
                values,
                percent: hundredths(median(differences).unwrap_or_default()),
            };
            match meters.last_mut() {
                Some((name, weeks)) if name == meter => weeks.push(week),
                _ => meters.push((meter.to_owned(), vec![week])),
            }
        }
        meters
    }
}

/// The middle one, or the mean of the two in the middle; the same in any order.
fn median(mut values: Vec<f32>) -> Option<f32> {
    let half = values.len().checked_sub(1)? / 2;
    let even = values.len().is_multiple_of(2);
    let (_, middle, above) = values.select_nth_unstable_by(half, f32::total_cmp);
    let next = above
        .iter()
        .copied()
        .min_by(f32::total_cmp)
        .filter(|_| even);
    Some(next.map_or(*middle, |next| f32::midpoint(*middle, next)))
}

/// To a hundredth of a percent: a week's figure is no finer.
fn hundredths(percent: f32) -> f64 {
    f64::from((percent * 100.0).round()) / 100.0
}

impl Gather for Places<'_> {
    fn last_column(&self) -> usize {
        self.filter.last_column().max(column::FINDING)
    }

    fn wants(&self, event: &[u8]) -> bool {
        event == b"value"
    }

    fn row(&mut self, line: &Line<'_>) {
        if let Some(one) = self.one(line) {
            self.places.of(&self.place, Vec::new).push(one);
        }
    }

    fn take_back(&mut self, line: &Line<'_>) {
        if let Some(one) = self.one(line) {
            self.back.push((self.place.clone(), one));
        }
    }

    fn merge(&mut self, other: Self) {
        let mut numbers = vec![0; other.meters.len()];
        other.meters.drain(|name, number| {
            let next = self.meters.len() as u16;
            numbers[usize::from(number)] = *self.meters.of(name, || next);
        });
        let renamed = |one: One| One {
            meter: numbers[usize::from(one.meter)],
            ..one
        };
        other.places.drain(|place, all| {
            let into = self.places.of(place, Vec::new);
            into.extend(all.into_iter().map(renamed));
        });
        let back = other.back.into_iter();
        self.back
            .extend(back.map(|(place, one)| (place, renamed(one))));
    }
}
