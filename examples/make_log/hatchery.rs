//! What is measured at an invented fish hatchery over two years.

use stillohm::limits::Acceptance;
use stillohm::quantity::{Decimal, Unit};
use stillohm::reading::Method;
use stillohm::row::{Event, Finding, Row, Verdict};
use stillohm::stamp::Wall;

/// 2025-01-01 in nanoseconds, and the time that is told of.
const BEGIN: i64 = 1_735_689_600_000_000_000;
const SPAN: i64 = 22 * 30 * DAY;
const DAY: i64 = 86_400_000_000_000;
const SECOND: i64 = 1_000_000_000;
/// 2026-03-01: from here on `ohms-5` reads too high.
const OFF_SINCE: i64 = 1_772_323_200_000_000_000;

/// Name, ohms of a winding, how many windings.
const MODELS: [(&str, f64, usize); 12] = [
    ("HB-AB 7", 5.0, 3),
    ("HB-AB 11", 2.4, 3),
    ("HB-AB 22", 0.9, 3),
    ("HB-BL 3", 12.0, 3),
    ("HB-BL 5", 7.5, 3),
    ("HB-CP 40", 41.0, 1),
    ("HB-CP 55", 28.0, 1),
    ("HB-CP 75", 19.0, 1),
    ("HB-WP 2", 3.3, 3),
    ("HB-WP 4", 1.7, 3),
    ("HB-RF 1", 66.0, 1),
    ("HB-RF 2", 52.0, 1),
];
const TESTERS: [&str; 5] = ["A. Weir", "B. Brook", "C. Linn", "D. Tarn", "E. Beck"];
const ASSETS: u64 = 2400;

pub(super) struct Hatchery {
    chance: u64,
    at: i64,
    /// The usual time from one job to the next.
    pace: i64,
    /// An insulation row that may be judged again, long after its job.
    old: Option<(u64, Row)>,
}

/// A motor of the hatchery, and today's meter and person.
struct Work {
    job: String,
    bench: String,
    ohms: String,
    megohms: String,
    asset: String,
    motor: &'static str,
    tester: &'static str,
}

impl Hatchery {
    pub(super) fn new(seed: u64, rows: u64) -> Self {
        let jobs = i64::try_from(rows / 10).unwrap_or(i64::MAX).max(1);
        Self {
            chance: seed,
            at: BEGIN,
            pace: SPAN / jobs,
            old: None,
        }
    }

    /// The rows of a job whose first has the number `seq`.
    pub(super) fn job(&mut self, seq: u64, rows: &mut Vec<Row>) {
        self.at += self.below(2 * self.pace.unsigned_abs() + 1).cast_signed();
        let number = self.below(ASSETS);
        let (motor, nominal, windings) = MODELS[number as usize % MODELS.len()];
        let bench = 1 + self.below(6);
        let work = Work {
            job: format!("J{seq}"),
            bench: format!("bench-{bench}"),
            ohms: format!("ohms-{bench}"),
            megohms: format!("megs-{bench}"),
            asset: format!("{}-{number:04}", &motor[3..5]),
            motor,
            tester: TESTERS[self.below(5) as usize],
        };
        let mut at = self.at;
        let mut worst = false;
        let first = rows.len();
        let stage = ["arrival", "after_repair", "installed"][self.below(3) as usize];
        let mut start = work.row(Event::JobStart, at);
        start.acceptance = Some(Acceptance::Simple);
        let kind = if windings == 3 {
            "three_phase"
        } else {
            "two_wire"
        };
        start.note = format!(
            "{{\"stage\":\"{stage}\",\"measured_at\":\"motor\",\"ground_reference\":\"frame\",\"motor\":{{\"kind\":\"{kind}\",\"electronics\":\"no\",\"in_catalogue\":true}}}}"
        );
        rows.push(start);
        at += 9 * SECOND;
        let mut dead = work.point(Event::Attested, at, "dead", "before");
        dead.reason = String::from("dead: off, locked out, proven dead");
        rows.push(dead);
        let leads = 0.1 + 0.1 * self.unit();
        rows.push(self.near_nothing(&work, "leads", "before", leads, &mut at));
        rows.push(self.near_nothing(&work, "ground_path", "path", 0.05 + leads, &mut at));
        let points: &[&str] = match windings {
            3 => &["line_12", "line_23", "line_31"],
            _ => &["main"],
        };
        let own = 1.0 + 0.02 * f64::from((number % 7) as u32) / 7.0;
        for point in points {
            let before = rows.len();
            rows.push(self.winding(&work, point, nominal * own, leads, &mut at));
            worst |= rows[before].verdict == Some(Verdict::Fail);
        }
        if windings == 3 {
            let mut set = work.point(Event::Judged, at, "winding", "set");
            set.of_seq = Some(seq + (rows.len() - first) as u64 - 1);
            set.verdict = Some(if worst { Verdict::Fail } else { Verdict::Pass });
            set.finding = Some(if worst {
                Finding::Unbalanced
            } else {
                Finding::Within
            });
            set.reason =
                String::from("unbalance as read; limit 2 % (ANSI/EASA AR100-2020, random-wound)");
            rows.push(set);
        }
        let read = seq + (rows.len() - first) as u64;
        let held = self.insulation(&work, number, &mut at);
        worst |= held.verdict == Some(Verdict::Fail);
        let waits = self.below(8) == 0;
        let verdict = (held.verdict, held.finding);
        rows.push(held.clone());
        if let Some(row) = rows.last_mut().filter(|_| waits) {
            (row.verdict, row.finding) = (Some(Verdict::Undecided), Some(Finding::LeadsUnproven));
        }
        rows.push(self.near_nothing(&work, "leads", "after", leads, &mut at));
        if waits {
            rows.push(judged(&held, read, at + SECOND, verdict));
        }
        if self.below(33) == 0 {
            at += 5 * SECOND;
            let mut back = work.row(Event::Withdrawn, at);
            back.of_seq = Some(seq + 4);
            back.reason = String::from("clip on paint");
            rows.push(back);
        }
        let mut end = work.row(Event::JobEnd, at + 3 * SECOND);
        end.reason = String::from(match worst {
            true => "fault_found: see the rows; DO NOT ENERGIZE",
            false => "no_fault_found: these tests cannot show everything",
        });
        rows.push(end);
        match self.below(400) {
            0 => self.old = Some((read, held)),
            1 => rows.extend(self.old.take().map(|(of, held)| {
                let verdict = (Some(Verdict::Fail), Some(Finding::BelowMinimum));
                judged(&held, of, at + 9 * SECOND, verdict)
            })),
            2 => rows.push(imported(held, at + 9 * SECOND)),
            _ => {}
        }
    }

    /// Joined clips, or metal to metal.
    fn near_nothing(
        &mut self,
        work: &Work,
        test: &str,
        point: &str,
        ohms: f64,
        at: &mut i64,
    ) -> Row {
        *at += 6 * SECOND;
        let mut row = work.point(Event::Value, *at, test, point);
        let ohms = ohms + 0.004 * self.unit();
        taken(&mut row, ohms, -3);
        row.judged_ohms = row.value_ohms;
        row.verdict = Some(Verdict::Pass);
        row.finding = Some(Finding::Within);
        row.reason = format!("{test} {}, at most 1 Ω: proven", row.shown);
        row
    }

    fn winding(&mut self, work: &Work, point: &str, nominal: f64, leads: f64, at: &mut i64) -> Row {
        *at += (4 + self.below(6)).cast_signed() * SECOND;
        let mut row = work.point(Event::Value, *at, "winding", point);
        let off = if work.ohms == "ohms-5" && *at >= OFF_SINCE {
            1.012
        } else {
            1.0
        };
        let shorted = if self.below(60) == 0 { 0.86 } else { 1.0 };
        let noise = 1.0 + 0.012 * (self.unit() + self.unit() + self.unit() - 1.5);
        taken(&mut row, (nominal * shorted * noise + leads) * off, -2);
        let leads = Decimal::rounded(leads * off, -3);
        let judged = leads.and_then(|leads| row.value_ohms?.checked_sub(leads));
        let limit = |of: f64| Decimal::rounded(nominal * of, -2);
        row.leads_ohms = leads;
        row.judged_ohms = judged;
        (row.lower_ohms, row.upper_ohms) = (limit(0.94), limit(1.06));
        row.limits_from = String::from("hatchery sheet 4 (invented)");
        row.acceptance = Some(Acceptance::Simple);
        row.uncertainty_ohms = Decimal::rounded(0.006 * nominal + 0.02, -4);
        let (verdict, finding) = match (judged, row.lower_ohms, row.upper_ohms) {
            (Some(value), Some(lower), _) if value < lower => (Verdict::Fail, Finding::Low),
            (Some(value), _, Some(upper)) if value > upper => (Verdict::Fail, Finding::High),
            _ => (Verdict::Pass, Finding::Within),
        };
        (row.verdict, row.finding) = (Some(verdict), Some(finding));
        let number = |value: Option<Decimal>| value.map_or(String::new(), |v| v.to_string());
        row.reason = format!(
            "shown {} − leads {} = {} Ω; at 20 °C as read; U {} Ω (k = 2: meter, leads, temperature); limits {} to {} Ω; simple; {}",
            row.shown,
            number(leads),
            number(judged),
            number(row.uncertainty_ohms),
            number(row.lower_ohms),
            number(row.upper_ohms),
            verdict.word(),
        );
        row
    }

    /// Insulation falls over the years, faster where the asset's number says so.
    fn insulation(&mut self, work: &Work, number: u64, at: &mut i64) -> Row {
        *at += 75 * SECOND;
        let mut row = work.point(Event::Value, *at, "insulation", "all_to_ground");
        row.meter.clone_from(&work.megohms);
        row.protocol = String::from("insulation-line");
        let days = (*at - BEGIN) as f64 / DAY as f64;
        let celsius = 12.0 + 14.0 * self.unit();
        let halves = days * (number % 11) as f64 / 1500.0 + (celsius - 40.0) / 10.0;
        let megohms = 240.0 * libm::exp2(-halves) * (0.85 + 0.3 * self.unit());
        let value = Decimal::rounded(megohms, -1).and_then(|m| m.shifted(6));
        row.shown = format!("{megohms:.1} MΩ");
        (row.value, row.value_ohms, row.unit) = (value, value, Some(Unit::Ohm));
        row.resolution_ohms = Decimal::new(1, 5).ok();
        row.method = Some(Method::Timed);
        row.elapsed_s = Decimal::new(60, 0).ok();
        row.test_voltage_v = Decimal::new(500 + self.below(12).cast_signed(), 0).ok();
        row.temperature_c = Decimal::rounded(celsius, -1);
        let at_40 = megohms * libm::exp2((celsius - 40.0) / 10.0);
        row.judged_ohms = Decimal::rounded(at_40 * 10.0, 0).and_then(|m| m.shifted(5));
        row.lower_ohms = Decimal::new(5, 6).ok();
        row.limits_from = String::from("IEEE 43-2013, Table 3");
        row.acceptance = Some(Acceptance::Guarded);
        row.uncertainty_ohms = row
            .judged_ohms
            .and_then(|j| Decimal::rounded(j.to_f64() * 0.1, 4));
        let low = at_40 < 5.5;
        row.verdict = Some(if low { Verdict::Fail } else { Verdict::Pass });
        row.finding = Some(if low {
            Finding::BelowMinimum
        } else {
            Finding::NoFaultSeen
        });
        row.reason = format!(
            "held 60 s at 500 V; {} at {celsius:.1} °C is {at_40:.1} MΩ at 40 °C (halves each 10 K); minimum 5 MΩ; guarded",
            row.shown
        );
        row
    }

    /// SplitMix64 (public domain, Steele, Lea and Flood 2014).
    fn next(&mut self) -> u64 {
        self.chance = self.chance.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.chance;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn below(&mut self, end: u64) -> u64 {
        self.next() % end
    }

    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}

impl Work {
    fn row(&self, event: Event, at: i64) -> Row {
        let mut row = Row::new(event, Wall(at));
        row.bench.clone_from(&self.bench);
        row.job.clone_from(&self.job);
        row.tester = self.tester.to_owned();
        row.asset.clone_from(&self.asset);
        row.motor = self.motor.to_owned();
        row
    }

    fn point(&self, event: Event, at: i64, test: &str, point: &str) -> Row {
        let mut row = self.row(event, at);
        row.meter.clone_from(&self.ohms);
        row.protocol = String::from("text-line");
        row.test = test.to_owned();
        row.point = point.to_owned();
        row
    }
}

/// A later verdict on the row `of`.
fn judged(held: &Row, of: u64, at: i64, verdict: (Option<Verdict>, Option<Finding>)) -> Row {
    let mut row = Row::new(Event::Judged, Wall(at));
    for (cell, from) in [
        (&mut row.bench, &held.bench),
        (&mut row.meter, &held.meter),
        (&mut row.job, &held.job),
        (&mut row.tester, &held.tester),
        (&mut row.asset, &held.asset),
        (&mut row.motor, &held.motor),
        (&mut row.test, &held.test),
        (&mut row.point, &held.point),
    ] {
        cell.clone_from(from);
    }
    row.of_seq = Some(of);
    row.judged_ohms = held.judged_ohms;
    row.lower_ohms = held.lower_ohms;
    (row.verdict, row.finding) = verdict;
    row.reason = format!("judged with what came after row {of}");
    row
}

/// The same reading a year before, as an import tells of it.
fn imported(held: Row, at: i64) -> Row {
    let mut row = Row::new(Event::Value, Wall(at));
    row.reason = format!(
        "imported from megs.csv line 7, read at {} by its own account: not seen to settle, not judged",
        Wall(held.recorded_at.0 - 365 * DAY).rfc3339()
    );
    row.verdict = Some(Verdict::NotJudged);
    row.method = Some(Method::Manual);
    Row {
        meter: held.meter,
        tester: held.tester,
        asset: held.asset,
        motor: held.motor,
        test: held.test,
        point: held.point,
        shown: held.shown,
        value: held.value,
        unit: held.unit,
        value_ohms: held.value_ohms,
        resolution_ohms: held.resolution_ohms,
        temperature_c: held.temperature_c,
        ..row
    }
}

fn taken(row: &mut Row, ohms: f64, last_digit: i8) {
    let value = Decimal::rounded(ohms, last_digit);
    row.shown = value.map_or(String::new(), |value| format!("{value} Ω"));
    (row.value, row.value_ohms, row.unit) = (value, value, Some(Unit::Ohm));
    row.resolution_ohms = Some(Decimal::one(last_digit));
    row.method = Some(Method::Steady);
    row.samples = Some(23);
    row.window_s = Decimal::new(2419, -3).ok();
    row.spread_ohms = row.resolution_ohms;
}
