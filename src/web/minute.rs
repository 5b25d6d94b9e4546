//! The last minute of each bench, so that a page which opens has a trace at once.
//!
//! It is made of the views that are made for those who look. While nobody
//! looks there are none, it costs nothing, and that time stays blank.

use std::collections::VecDeque;

use serde::Serialize;

use crate::row::{Event, Recorded};
use crate::stamp::Stamp;
use crate::view::{MeterView, View};

/// How long something is kept, in seconds.
const SPAN: f64 = 61.0;
/// At most four samples a second.
const EVERY: f64 = 0.25;
/// A display older than this is not live, in seconds.
const FRESH: f64 = 2.0;
/// Samples and takes that are held, whatever comes (own: a minute of 60 meters).
const HELD: usize = 16_384;

/// The last minute of everything that was looked at.
#[derive(Debug, Default)]
pub(super) struct Minute {
    samples: VecDeque<Sample>,
    takes: VecDeque<Take>,
    /// Engine time of the latest view, and of the latest one that was kept.
    now: f64,
    kept: Option<f64>,
}

/// What a meter said, named as the page names it.
#[derive(Debug, Serialize)]
struct Sample {
    #[serde(skip)]
    bench: String,
    meter: String,
    t: f64,
    ohms: Option<f64>,
    over: bool,
    settle: &'static str,
    volts: Option<f64>,
    hold: bool,
}

/// A row that a meter's stream was settled for.
#[derive(Debug, Serialize)]
struct Take {
    #[serde(skip)]
    bench: String,
    t: f64,
    event: &'static str,
    shown: String,
    value_ohms: String,
    verdict: &'static str,
}

impl Minute {
    /// A view that somebody gets.
    pub(super) fn view(&mut self, view: &View) {
        self.now = view.at.seconds();
        if self.kept.is_some_and(|kept| self.now - kept < EVERY) {
            return;
        }
        self.kept = Some(self.now);
        let samples = view.meters.iter().map(|meter| sample(view.at, meter));
        self.samples.extend(samples);
        let oldest = self.now - SPAN;
        while self.samples.len() > HELD || self.samples.front().is_some_and(|s| s.t < oldest) {
            self.samples.pop_front();
        }
        while self.takes.front().is_some_and(|take| take.t < oldest) {
            self.takes.pop_front();
        }
    }

    /// A row that was acknowledged.
    pub(super) fn row(&mut self, recorded: &Recorded) {
        let row = &recorded.row;
        let taken = matches!(
            row.event,
            Event::Value | Event::Open | Event::OverRange | Event::Aborted
        );
        // Without a view there is no time to put it at.
        if !taken || self.kept.is_none() {
            return;
        }
        if self.takes.len() >= HELD {
            self.takes.pop_front();
        }
        self.takes.push_back(Take {
            bench: row.bench.clone(),
            t: self.now,
            event: row.event.word(),
            shown: row.shown.clone(),
            value_ohms: row.value_ohms.map(|v| v.to_string()).unwrap_or_default(),
            verdict: row.verdict.map_or("", |verdict| verdict.word()),
        });
    }

    /// That of one bench as JSON.
    pub(super) fn of(&self, bench: &str) -> String {
        let samples: Vec<&Sample> = self.samples.iter().filter(|s| s.bench == bench).collect();
        let takes: Vec<&Take> = self.takes.iter().filter(|t| t.bench == bench).collect();
        serde_json::json!({ "samples": samples, "takes": takes }).to_string()
    }
}

fn sample(at: Stamp, meter: &MeterView) -> Sample {
    let heard = meter.shown_at.map(|then| at.since(then).as_secs_f64());
    let fresh = meter.connected && heard.is_some_and(|age| age <= FRESH);
    Sample {
        bench: meter.bench.clone(),
        meter: meter.name.clone(),
        t: at.seconds(),
        ohms: meter.ohms.filter(|ohms| fresh && ohms.is_finite()),
        over: fresh && meter.over_range,
        settle: meter.settle,
        volts: meter.test_volts.filter(|volts| fresh && volts.is_finite()),
        hold: fresh && meter.hold.is_some(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Views `step` seconds apart, and what is kept of bench `a`: how many
    /// samples, from when, until when.
    fn check(views: usize, step: f64, expected: (usize, f64, f64)) {
        let mut minute = Minute::default();
        for n in 0..views {
            let at = Stamp::from_seconds(n as f64 * step);
            let meter = |bench: &str| MeterView {
                bench: bench.to_owned(),
                name: String::from("ohms"),
                protocol: String::new(),
                port: String::new(),
                calibration: String::new(),
                connected: true,
                trouble: String::new(),
                shown: String::new(),
                shown_at: Some(at),
                flags: Vec::new(),
                settle: "steady",
                progress: 0.0,
                hold: None,
                ohms: Some(n as f64),
                over_range: false,
                test_volts: None,
                good_frames: 0,
                bad_frames: 0,
                last_bad: String::new(),
                last_bad_bytes: String::new(),
                battery_percent: None,
            };
            minute.view(&View {
                at,
                meters: vec![meter("a"), meter("b")],
                ..View::default()
            });
        }
        let told: serde_json::Value = serde_json::from_str(&minute.of("a")).expect("JSON");
        let samples = told["samples"].as_array().expect("a list");
        let t = |at: usize| samples[at]["t"].as_f64().expect("a time");
        assert_eq!((samples.len(), t(0), t(samples.len() - 1)), expected);
    }

    #[test]
    fn a_minute_is_kept_at_four_a_second() {
        check(3, 0.5, (3, 0.0, 1.0));
        check(9, 0.125, (5, 0.0, 1.0));
        check(400, 0.25, (245, 38.75, 99.75));
    }

    #[test]
    fn a_row_stands_where_the_view_stood_and_only_if_one_was_looked_at() {
        let row = |bench: &str| {
            let mut row = crate::row::Row::new(Event::Open, crate::stamp::Wall(0));
            row.bench = bench.to_owned();
            Recorded {
                seq: 1,
                row,
                chain: String::new(),
            }
        };
        let mut minute = Minute::default();
        minute.row(&row("a"));
        minute.view(&View {
            at: Stamp::from_seconds(5.0),
            ..View::default()
        });
        minute.row(&row("a"));
        minute.row(&row("b"));
        let told: serde_json::Value = serde_json::from_str(&minute.of("a")).expect("JSON");
        let takes = told["takes"].as_array().expect("a list");
        assert_eq!(takes.len(), 1);
        assert_eq!(takes[0]["t"], 5.0);
        assert_eq!(takes[0]["event"], "open");
    }
}
