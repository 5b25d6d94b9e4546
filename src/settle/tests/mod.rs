//! Tests of settling: plain cases, holds, properties, and rates on traces of our own.

mod drive;
mod hold;
mod interval;
mod label;
mod press_drive;
mod press_labels;
mod press_rates;
mod press_score;
mod press_tester;
mod presses;
mod property;
mod rates;
mod scenes;
mod score;
mod simple;
mod steady;
mod traces;
mod weak;

use core::time::Duration;

use crate::quantity::{Decimal, Shown, Unit, Volts};
use crate::reading::{Abort, Flags, Got, Outcome, Sample, Take};
use crate::stamp::Stamp;

use super::{Hold, Reset, Settle, Spec, Steady};

fn at(seconds: f64) -> Stamp {
    Stamp::from_seconds(seconds)
}

fn d(text: &str) -> Decimal {
    text.parse().expect("a decimal")
}

/// A sample as a text line gives it: the last digit is one count, no range known.
fn text(shown: &str, unit: Unit) -> Sample {
    let got = match shown {
        "OL" => Got::Over {
            unit,
            full_scale: None,
        },
        "" => Got::Nothing,
        value => Got::Value(Shown::plain(d(value), unit)),
    };
    Sample::alone(got, Flags::NONE)
}

fn steady() -> Settle {
    Settle::new(Spec::Steady(Steady::default()))
}

/// A clock that feeds samples at a rate and collects what is taken, as words.
struct Bench {
    settle: Settle,
    now: f64,
    rate: f64,
    unit: Unit,
    takes: Vec<Take>,
}

impl Bench {
    fn new(settle: Settle, rate: f64) -> Self {
        Self {
            settle,
            now: 1.0,
            rate,
            unit: Unit::Ohm,
            takes: Vec::new(),
        }
    }

    /// Feeds the words in turn for `seconds`.
    fn feed(&mut self, seconds: f64, words: &[&str]) -> &mut Self {
        let readings = (seconds * self.rate).round() as usize;
        for word in words.iter().cycle().take(readings) {
            let sample = text(word, self.unit);
            self.push(&sample);
        }
        self
    }

    fn push(&mut self, sample: &Sample) {
        self.takes.extend(self.settle.push(at(self.now), sample));
        self.now += 1.0 / self.rate;
    }

    /// What was taken so far, and forgets it.
    fn taken(&mut self) -> String {
        let words: Vec<String> = self.takes.drain(..).map(|t| word(&t.outcome)).collect();
        words.join(" ")
    }
}

fn word(outcome: &Outcome) -> String {
    match outcome {
        Outcome::Value(shown) => shown.value.to_string(),
        Outcome::Open { .. } => String::from("open"),
        Outcome::OverRange { .. } => String::from("over"),
        Outcome::PulledDown { last, .. } => {
            format!(
                "pulled:{}",
                last.map_or(String::from("-"), |s| s.value.to_string())
            )
        }
        Outcome::Aborted(why) => format!("{why:?}").to_lowercase(),
    }
}
