//! What an asset read before: the values of its last ended job at a place.
//!
//! The log is searched from its end, block by block, newest file first, for
//! the bytes of the asset's name; only lines that hold them are read as rows,
//! and the search ends with the first job that has a value. Nothing here
//! judges, and a log that cannot be read gives nothing: a job does not wait for
//! what is only compared with. `verify` names such a file.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use memchr::{memchr, memmem, memrchr};
use serde::Deserialize;

use crate::disk::Disk;
use crate::judge::correction;
use crate::limits;
use crate::limits::{Baseline, Cable, Conductor, MeasuredAt, Point, Test, Was};
use crate::log::back::backwards;
use crate::log::cells;
use crate::log::files::FileName;
use crate::quantity::{Celsius, Decimal, Unit, Volts};
use crate::row::{Event, Finding, Recorded, Row, Verdict};
use crate::text::Text;

/// How a row that takes another back is marked; one after its job's end names no asset.
const WITHDRAWN: &[u8] = b",withdrawn,";
/// U of a value whose row has none: 1 % of it and two counts (own).
const UNKNOWN_PART: f64 = 0.01;
/// What leads that nobody subtracted may add, in ohms.
const LEADS_MOST: f64 = 1.0;

/// What an asset read in its last ended job at this place, if there is one
/// with a value that counts. `dir` is the folder of the log.
pub fn last<D: Disk>(disk: &D, dir: &Path, asset: &str, at: MeasuredAt) -> Option<Baseline> {
    if asset.is_empty() {
        return None;
    }
    let mut search = Search {
        asset,
        at,
        withdrawn: BTreeSet::new(),
        jobs: Vec::new(),
    };
    let needle = cell(asset);
    let needles = [
        memmem::Finder::new(needle.as_bytes()),
        memmem::Finder::new(WITHDRAWN),
    ];
    let files = FileName::list(disk, dir).ok()?;
    for name in files.iter().rev() {
        let path = dir.join(name.to_string());
        // A file that cannot be read gives nothing.
        let found = backwards(disk, &path, |lines| search.block(lines, &needles));
        if let Ok(Some(found)) = found {
            return Some(found);
        }
    }
    // The oldest rows are gone: what begins before them is not known.
    None
}

/// The name as a row holds it, commas around: RFC 4180.
fn cell(asset: &str) -> String {
    if asset.contains([',', '"', '\n', '\r']) {
        format!(",\"{}\",", asset.replace('"', "\"\""))
    } else {
        format!(",{asset},")
    }
}

struct Search<'a> {
    asset: &'a str,
    at: MeasuredAt,
    withdrawn: BTreeSet<u64>,
    /// Jobs whose end was seen, the last one first.
    jobs: Vec<Ended>,
}

/// A job whose end was seen, gathered backwards.
struct Ended {
    job: String,
    ended: String,
    rows: Vec<Recorded>,
    /// What it gives, once its beginning was seen.
    gives: Option<Option<Baseline>>,
}

impl Search<'_> {
    /// Looks through whole lines, the last one first.
    fn block(&mut self, lines: &[u8], needles: &[memmem::Finder<'_>; 2]) -> Option<Baseline> {
        let mut begins = BTreeSet::new();
        for needle in needles {
            for at in needle.find_iter(lines) {
                begins.insert(memrchr(b'\n', &lines[..at]).map_or(0, |feed| feed + 1));
            }
        }
        for begin in begins.into_iter().rev() {
            let line = &lines[begin..];
            let end = memchr(b'\n', line).map_or(line.len(), |feed| feed + 1);
            // A torn end, or a line that only quotes the name, is no row of it.
            let Ok(recorded) = cells::recorded(&line[..end]) else {
                continue;
            };
            if let Some(found) = self.row(recorded) {
                return Some(found);
            }
        }
        None
    }

    fn row(&mut self, recorded: Recorded) -> Option<Baseline> {
        let row = &recorded.row;
        if row.event == Event::Withdrawn {
            self.withdrawn.extend(row.of_seq);
        }
        if row.asset != self.asset {
            return None;
        }
        if row.event == Event::JobEnd {
            self.jobs.push(Ended {
                job: row.job.clone(),
                ended: row.recorded_at.rfc3339(),
                rows: Vec::new(),
                gives: None,
            });
            return None;
        }
        let job = self
            .jobs
            .iter_mut()
            .find(|job| job.job == row.job && job.gives.is_none())?;
        if row.event != Event::JobStart {
            job.rows.push(recorded);
            return None;
        }
        job.gives = Some(job.values(row, self.at, &self.withdrawn));
        // The last that ended comes first, whichever began first.
        while self.jobs.first().is_some_and(|job| job.gives.is_some()) {
            let given = self.jobs.remove(0).gives.flatten();
            if given.is_some() {
                return given;
            }
        }
        None
    }
}

/// What a `job_start` row says in its note, as far as it is needed here.
#[derive(Deserialize)]
struct Start {
    measured_at: MeasuredAt,
    cable: Option<Cable>,
    motor: StartMotor,
}

#[derive(Deserialize)]
struct StartMotor {
    conductor: Conductor,
    reference_c: Option<Celsius>,
}

impl Ended {
    /// The values that count, if it was measured at this place.
    fn values(&self, start: &Row, at: MeasuredAt, withdrawn: &BTreeSet<u64>) -> Option<Baseline> {
        let said: Start = serde_json::from_str(&start.note).ok()?;
        if said.measured_at != at {
            return None;
        }
        let context = Context {
            planned: start.temperature_c.map(|t| Celsius(t.to_f64())),
            said,
            rows: &self.rows,
            withdrawn,
        };
        let mut seen: BTreeSet<(String, String)> = BTreeSet::new();
        let mut judged: BTreeMap<u64, &Recorded> = BTreeMap::new();
        let mut values = Vec::new();
        // Backwards: the last row of a point decides.
        for recorded in &self.rows {
            let row = &recorded.row;
            if row.event == Event::Judged
                && let Some(of) = row.of_seq
            {
                judged.entry(of).or_insert(recorded);
            }
            let taken = matches!(row.event, Event::Value | Event::Open | Event::OverRange)
                && row.method.is_some()
                && row.of_seq.is_none();
            let later = judged.get(&recorded.seq).copied().unwrap_or(recorded);
            let back = withdrawn.contains(&recorded.seq) || withdrawn.contains(&later.seq);
            if !taken || back || !seen.insert((row.test.clone(), row.point.clone())) {
                continue;
            }
            if counts(&later.row) {
                values.extend(context.was(recorded));
            }
        }
        values.reverse();
        (!values.is_empty()).then(|| Baseline {
            job: Text::clean(&self.job),
            recorded_at: Text::clean(&self.ended),
            values,
        })
    }
}

/// Whether what a value was judged to be lets it stand for the motor: not
/// failed, and no doubt about what was on the clips.
fn counts(row: &Row) -> bool {
    matches!(
        row.verdict,
        Some(Verdict::Pass | Verdict::Undecided | Verdict::NotJudged)
    ) && matches!(
        row.finding,
        None | Some(
            Finding::Within
                | Finding::Changed
                | Finding::Low
                | Finding::High
                | Finding::LimitsTooNarrow
        )
    )
}

/// What a job says about each of its values.
struct Context<'a> {
    /// The winding's temperature as the job began with it.
    planned: Option<Celsius>,
    said: Start,
    rows: &'a [Recorded],
    withdrawn: &'a BTreeSet<u64>,
}

impl Context<'_> {
    fn was(&self, recorded: &Recorded) -> Option<Was> {
        let row = &recorded.row;
        let test = Test::from_word(&row.test)
            .filter(|test| matches!(test, Test::Winding | Test::Insulation))?;
        let shown = row.value_ohms.filter(|_| row.unit == Some(Unit::Ohm))?;
        let ohms = shown
            .checked_sub(row.leads_ohms.unwrap_or_default())?
            .checked_sub(row.cable_ohms.unwrap_or_default())?;
        // Leads in any order are numbered anew each time, and a short's loop is no winding.
        let stands = ohms > Decimal::ZERO
            && !row.point.starts_with("lead_")
            && row.point != limits::Search::LOOP;
        stands.then(|| Was {
            point: Point::new(test, &row.point),
            seq: recorded.seq,
            ohms,
            u: Decimal::rounded(self.u(recorded, test, ohms), ohms.exp().max(-12) - 2)
                .unwrap_or(ohms),
            temperature: self.temperature(recorded.seq),
            test_voltage: row.test_voltage_v.map(|v| Volts(v.to_f64())),
            held_s: row.elapsed_s,
            cable: row.cable_ohms,
            conductor: self.said.motor.conductor,
        })
    }

    /// The winding's temperature for a row: as it was read in this job before
    /// it, else as the job began with it.
    fn temperature(&self, seq: u64) -> Option<Celsius> {
        let read = self.rows.iter().find(|r| {
            r.seq < seq
                && r.row.event == Event::Value
                && r.row.test == Test::Temperature.word()
                && r.row.point == "winding"
                && r.row.temperature_c.is_some()
                && !self.withdrawn.contains(&r.seq)
        });
        let read = read.and_then(|r| r.row.temperature_c);
        read.map(|t| Celsius(t.to_f64())).or(self.planned)
    }

    /// U of the meter and its leads: the row's without what the temperature
    /// and the cable add to it, and never below one count.
    fn u(&self, recorded: &Recorded, test: Test, ohms: Decimal) -> f64 {
        let row = &recorded.row;
        let count = row.resolution_ohms.map_or(0.0, Decimal::to_f64);
        let value = ohms.to_f64();
        let Some(total) = row.uncertainty_ohms.map(Decimal::to_f64) else {
            return UNKNOWN_PART * value + 2.0 * count + self.leads_left_in(row, test);
        };
        if test == Test::Insulation {
            return total;
        }
        let judged = row.judged_ohms.unwrap_or(ohms).to_f64();
        let conductor = self.said.motor.conductor;
        let temperature = match (self.temperature(recorded.seq), self.said.motor.reference_c) {
            (Some(at), Some(_)) => judged * correction::doubt(conductor, at, correction::DOUBT_K),
            _ => value * correction::doubt(conductor, Celsius(20.0), correction::UNKNOWN_K),
        };
        let percent = self
            .said
            .cable
            .as_ref()
            .map_or(0.0, |c| c.doubt_percent.to_f64());
        let cable =
            row.cable_ohms.map_or(0.0, Decimal::to_f64) * percent / 100.0 * 2.0 / 3.0_f64.sqrt();
        let left = total * total - temperature * temperature - cable * cable;
        left.max(0.0).sqrt().max(count) + self.leads_left_in(row, test)
    }

    /// A winding read without a proof of its meter's leads has them in it. With
    /// one, leads that were not subtracted need not be: four wires, or relative.
    fn leads_left_in(&self, row: &Row, test: Test) -> f64 {
        let proven = || {
            self.rows.iter().any(|r| {
                r.row.test == Test::Leads.word()
                    && r.row.meter == row.meter
                    && r.row.verdict == Some(Verdict::Pass)
            })
        };
        if test == Test::Winding && row.leads_ohms.is_none() && !proven() {
            LEADS_MOST
        } else {
            0.0
        }
    }
}

#[cfg(test)]
#[path = "baseline_tests.rs"]
mod tests;
