//! A plot's frame: two axes with their ticks, words beside it, shapes by class.
//!
//! Colours stand in the style; what is drawn is said in its description, and a
//! table below has the numbers.

use maud::{Markup, html};

use crate::quantity::Decimal;
use crate::report;
use crate::stamp::Wall;

pub(super) const WIDTH: f64 = 440.0;
pub(super) const HEIGHT: f64 = 210.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 432.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 184.0;
/// What a date takes of the axis along the bottom, with a gap.
pub(super) const DATE_WIDE: f64 = 0.22;
/// Nanoseconds of a day.
const DAY: f64 = 86_400e9;

/// One axis: from numbers to places on the page.
#[derive(Clone, Debug)]
pub(super) struct Axis {
    low: f64,
    high: f64,
    log: bool,
    from: f64,
    to: f64,
    /// Where it is written, and what.
    pub(super) ticks: Vec<(f64, String)>,
}

impl Axis {
    fn new((low, high): (f64, f64), log: bool, from: f64, to: f64) -> Self {
        let flat = |value: f64| if log { libm::log10(value) } else { value };
        let (low, high) = (flat(low), flat(high));
        let high = if high > low { high } else { low + 1.0 };
        Self {
            low,
            high,
            log,
            from,
            to,
            ticks: Vec::new(),
        }
    }

    /// Upwards, written by `words`.
    pub(super) fn up(span: (f64, f64), log: bool, words: impl Fn(f64) -> String) -> Self {
        let mut axis = Self::new(span, log, BOTTOM, TOP);
        let at = if log { axis.decades() } else { axis.even() };
        axis.ticks = at.into_iter().map(|value| (value, words(value))).collect();
        axis
    }

    /// Along the bottom, written at these places.
    pub(super) fn along(span: (f64, f64), log: bool, ticks: Vec<(f64, String)>) -> Self {
        Self {
            ticks,
            ..Self::new(span, log, LEFT, RIGHT)
        }
    }

    /// Along the bottom, of ohms.
    pub(super) fn along_ohms(span: (f64, f64), log: bool) -> Self {
        let mut axis = Self::new(span, log, LEFT, RIGHT);
        let mut at = if log { axis.decades() } else { axis.even() };
        // Four fit beside each other.
        while at.len() > 5 {
            let mut keep = false;
            at.retain(|_| {
                keep = !keep;
                keep
            });
        }
        axis.ticks = at.into_iter().map(|value| (value, ohms(value))).collect();
        axis
    }

    /// Along the bottom, of days since 1970.
    pub(super) fn along_days((low, high): (f64, f64)) -> Self {
        let wide = (high - low).max(1.0);
        let length = if wide > 120.0 { 7 } else { 10 };
        let tick = |part: f64| {
            let day = low + wide * part;
            (day, date(day, length))
        };
        let ticks = [0.08, 0.36, 0.64, 0.92].map(tick).to_vec();
        Self::along((low, low + wide), false, ticks)
    }

    /// Where a number lies; what is beyond the axis at its edge.
    pub(super) fn at(&self, value: f64) -> f64 {
        let value = if self.log { libm::log10(value) } else { value };
        let part = (value - self.low) / (self.high - self.low);
        let part = if part.is_nan() {
            0.0
        } else {
            part.clamp(0.0, 1.0)
        };
        self.from + part * (self.to - self.from)
    }

    fn even(&self) -> Vec<f64> {
        let rough = (self.high - self.low) / 4.0;
        let power = libm::exp10(libm::log10(rough).floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|nice| nice * power)
            .find(|step| *step >= rough)
            .unwrap_or(rough);
        let first = (self.low / step).ceil();
        (0..8)
            .map(|at| (first + f64::from(at)) * step)
            .filter(|value| *value <= self.high)
            .collect()
    }

    fn decades(&self) -> Vec<f64> {
        let wide = self.high - self.low;
        let every = (wide / 4.0).ceil().max(1.0);
        let mut ticks = Vec::new();
        let mut exponent = self.low.floor();
        while exponent <= self.high {
            let factors: &[f64] = if wide < 2.0 { &[1.0, 2.0, 5.0] } else { &[1.0] };
            ticks.extend(factors.iter().map(|factor| factor * libm::exp10(exponent)));
            exponent += every;
        }
        ticks.retain(|tick| (self.low..=self.high).contains(&libm::log10(*tick)));
        ticks
    }
}

/// A plot: its name, what it shows in a sentence, and what is drawn in it.
pub(super) fn plot(
    id: &str,
    [title, says]: [&str; 2],
    x: &Axis,
    y: &Axis,
    inside: &Markup,
) -> Markup {
    html! {
        svg class="plot" viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img" aria-labelledby={ (id) "-title " (id) "-says" } {
            title id={ (id) "-title" } { (title) }
            desc id={ (id) "-says" } { (says) }
            @for (value, words) in &y.ticks {
                (level("grid", y.at(*value)))
                text class="axis" x=(n(LEFT - 5.0)) y=(n(y.at(*value) + 4.0)) text-anchor="end" { (words) }
            }
            @for (value, words) in &x.ticks {
                (upright("tick", x.at(*value), BOTTOM, BOTTOM + 4.0))
                text class="axis" x=(n(x.at(*value))) y=(n(BOTTOM + 18.0)) text-anchor=(if x.at(*value) > RIGHT - 24.0 { "end" } else { "middle" }) { (words) }
            }
            (inside)
            path class="edge" d={ "M" (LEFT) " " (TOP) "V" (BOTTOM) "H" (RIGHT) } {}
        }
    }
}

/// A line from edge to edge.
pub(super) fn level(class: &str, y: f64) -> Markup {
    html! { path class=(class) d={ "M" (LEFT) " " (n(y)) "H" (RIGHT) } {} }
}

/// A line from top to bottom.
pub(super) fn post(class: &str, x: f64) -> Markup {
    upright(class, x, TOP, BOTTOM)
}

fn upright(class: &str, x: f64, from: f64, to: f64) -> Markup {
    html! { path class=(class) d={ "M" (n(x)) " " (n(from)) "V" (n(to)) } {} }
}

/// Words at a level's right end.
pub(super) fn beside(y: f64, words: &str) -> Markup {
    html! { text class="words" x=(n(RIGHT - 2.0)) y=(n(y - 3.0)) text-anchor="end" { (words) } }
}

/// Words at a post's top.
pub(super) fn above(x: f64, words: &str, line: u8) -> Markup {
    let (anchor, x) = if x > (LEFT + RIGHT) / 2.0 {
        ("end", x - 3.0)
    } else {
        ("start", x + 3.0)
    };
    html! { text class="words" x=(n(x)) y=(n(TOP + 10.0 + 13.0 * f64::from(line))) text-anchor=(anchor) { (words) } }
}

/// The path through places.
pub(super) fn through(places: impl Iterator<Item = (f64, f64)>) -> String {
    let mut path = String::new();
    for (x, y) in places {
        let letter = if path.is_empty() { 'M' } else { 'L' };
        path += &format!("{letter}{} {}", n(x), n(y));
    }
    path
}

/// A place to a tenth: finer is not seen.
pub(super) fn n(value: f64) -> String {
    let text = format!("{value:.1}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Ohms to four digits.
pub(super) fn ohms(value: f64) -> String {
    digits(value).map_or_else(|| format!("{value} Ω"), report::ohms)
}

fn digits(value: f64) -> Option<Decimal> {
    if value == 0.0 {
        return Decimal::rounded(0.0, 0);
    }
    let exponent = libm::log10(value.abs()).floor() - 3.0;
    Decimal::rounded(value, exponent as i8)
}

/// A day since 1970 as a date, or the beginning of one.
pub(super) fn date(day: f64, length: usize) -> String {
    let at = Wall((day * DAY) as i64).rfc3339();
    at.get(..length).unwrap_or(&at).to_owned()
}

/// A moment as days since 1970.
pub(super) fn days(at: Wall) -> f64 {
    at.0 as f64 / DAY
}
