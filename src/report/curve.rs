//! The trace of a value as a small picture: resistance over time, its limits,
//! where it was taken, and the test voltage below it.
//!
//! Shapes without a style of their own: classes say what is what, so it is
//! right on a dark page, a light one and on paper.

use maud::Markup;

use super::{brief, limits, ohms};
use crate::quantity::Decimal;
use crate::reading::Method;
use crate::row::{Event, Recorded, Row};

mod axis;
mod drawing;
mod thin;

pub use drawing::{Anchor, Drawing, Shape};

use axis::Axis;
use drawing::n;
use thin::{Piece, lines, over};

/// The readings around a value, in time relative to its take.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// What the meter said, in order.
    pub points: Vec<Point>,
    /// Whether nothing more will come to it.
    pub whole: bool,
}

/// One frame of a meter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Seconds from the take.
    pub t: f64,
    /// What its display said.
    pub at: At,
    /// The test voltage, if it sent one.
    pub volts: Option<f64>,
}

/// What a display said of resistance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum At {
    /// A number of ohms.
    Ohms(f64),
    /// More than its range.
    Over,
    /// No number of ohms.
    Nothing,
    /// The frame was of something else.
    Aside,
}

/// A trace, or why there is none.
pub type Traced = Result<Trace, NoTrace>;

/// Why a value has no trace.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoTrace {
    /// A person typed it.
    Typed,
    /// Its row names no capture.
    NoCapture,
    /// The file was deleted, or never came along.
    Gone,
    /// The file ends before the value.
    Cut,
    /// The file cannot be read.
    Unread,
    /// The file has nothing of this meter there.
    Silent,
}

impl NoTrace {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Typed => "No trace: a person typed it.",
            Self::NoCapture => "No trace: no capture was written then.",
            Self::Gone => "No trace: its capture is not there any more.",
            Self::Cut => "No trace: its capture ends before this value.",
            Self::Unread => "No trace: its capture cannot be read.",
            Self::Silent => "No trace: its capture has no reading of this meter here.",
        }
    }
}

/// Whether a row is one that a meter's stream was settled for.
pub fn is_taken(row: &Row) -> bool {
    matches!(
        row.event,
        Event::Value | Event::Open | Event::OverRange | Event::Aborted
    )
}

const WIDTH: f64 = 400.0;
const LEFT: f64 = 66.0;
const RIGHT: f64 = 394.0;
/// The band of over-range, from 0.
const BAND: f64 = 16.0;
const TOP: f64 = 40.0;
const BOTTOM: f64 = 150.0;
/// The test voltage's strip below it.
const VOLTS_TOP: f64 = 164.0;
const VOLTS_BOTTOM: f64 = 204.0;
/// A line of text.
const LINE: f64 = 14.0;

/// A mark of a hold before the one that is shown.
struct Mark {
    t: f64,
    words: String,
}

struct Picture<'a> {
    trace: &'a Trace,
    row: &'a Row,
    axis: Axis,
    from: f64,
    until: f64,
    marks: Vec<Mark>,
    /// The highest test voltage, if any was sent.
    volts: Option<f64>,
}

/// The trace of a row among the rows of its job, as SVG.
pub fn svg(trace: &Trace, of: &Recorded, rows: &[Recorded]) -> Markup {
    drawing(trace, of, rows).svg(of.seq)
}

/// The trace of a row among the rows of its job.
pub fn drawing(trace: &Trace, of: &Recorded, rows: &[Recorded]) -> Drawing {
    let row = &of.row;
    let from = trace.points.first().map_or(-1.0, |p| p.t).min(-0.5);
    let until = trace.points.last().map_or(1.0, |p| p.t).max(0.5);
    let volts = trace.points.iter().filter_map(|p| p.volts);
    // A tester that only joins its clips sends zeros.
    let picture = Picture {
        trace,
        row,
        axis: Axis::of(trace, row, TOP, BOTTOM),
        from,
        until,
        marks: marks(of, rows),
        volts: volts.reduce(f64::max).filter(|most| *most >= 1.0),
    };
    picture.drawing()
}

/// Earlier marks of the same hold: told by the time that passed between rows.
fn marks(of: &Recorded, rows: &[Recorded]) -> Vec<Mark> {
    let row = &of.row;
    let Some(held) = row.elapsed_s.map(Decimal::to_f64) else {
        return Vec::new();
    };
    let same = |other: &&Recorded| {
        let other_row = &other.row;
        other.seq < of.seq
            && other_row.method == Some(Method::Timed)
            && (&other_row.meter, &other_row.test) == (&row.meter, &row.test)
    };
    let mark = |other: &Recorded| {
        let mark = other.row.elapsed_s?.to_f64();
        let apart = (row.recorded_at.0 - other.row.recorded_at.0) as f64 / 1e9;
        let t = mark - held;
        // Rows of another press are further apart than their marks are.
        ((apart + t).abs() < 2.0).then(|| Mark {
            t,
            words: format!("{mark:.0} s"),
        })
    };
    rows.iter().filter(same).filter_map(mark).collect()
}

impl Picture<'_> {
    fn x(&self, t: f64) -> f64 {
        LEFT + (t - self.from) / (self.until - self.from) * (RIGHT - LEFT)
    }

    fn foot(&self) -> f64 {
        if self.volts.is_some() {
            VOLTS_BOTTOM
        } else {
            BOTTOM
        }
    }

    fn drawing(&self) -> Drawing {
        let mut shapes = Vec::new();
        self.grid(&mut shapes);
        self.limits(&mut shapes);
        for (a, b) in over(&self.trace.points, self.from, self.until) {
            shapes.push(Shape::Over {
                x: self.x(a),
                width: (self.x(b) - self.x(a)).max(2.0),
                height: BAND,
            });
        }
        self.plateau(&mut shapes);
        shapes.push(path("ohms", self.path(f64::NEG_INFINITY, f64::INFINITY)));
        self.test_voltage(&mut shapes);
        self.takes(&mut shapes);
        Drawing {
            width: WIDTH,
            height: self.foot() + 1.5 * LINE,
            words: self.words(),
            shapes,
        }
    }

    fn grid(&self, shapes: &mut Vec<Shape>) {
        let foot = self.foot();
        for tick in &self.axis.ticks {
            let y = self.axis.y(*tick);
            shapes.push(path("grid", format!("M{LEFT} {}H{RIGHT}", n(y))));
            shapes.push(axis(LEFT - 4.0, y + 4.0, Anchor::End, size(*tick)));
        }
        shapes.push(axis(LEFT - 4.0, 13.0, Anchor::End, "over"));
        for t in self.times() {
            let x = self.x(t);
            shapes.push(path("grid", format!("M{} {BAND}V{}", n(x), n(foot))));
            let words = if t.abs() < 1e-9 {
                String::from("taken")
            } else {
                format!("−{} s", -t)
            };
            let x = x.min(RIGHT - 10.0);
            shapes.push(axis(x, foot + LINE, Anchor::Middle, words));
        }
    }

    /// Times that are written below: the take, and few round ones before it.
    fn times(&self) -> Vec<f64> {
        let rough = (self.until - self.from) / 4.0;
        let step = [1.0, 2.0, 5.0, 10.0, 20.0, 60.0, 120.0, 300.0, 600.0, 1200.0]
            .into_iter()
            .find(|step| *step >= rough)
            .unwrap_or(3600.0);
        let times = core::iter::successors(Some(0.0), |t| Some(t - step));
        times.take_while(|t| *t >= self.from).take(8).collect()
    }

    fn limits(&self, shapes: &mut Vec<Shape>) {
        let both = [
            (self.row.lower_ohms, "at least", LINE - 2.0),
            (self.row.upper_ohms, "at most", -4.0),
        ];
        for (limit, says, beside) in both {
            let Some(limit) = limit else { continue };
            let y = self.axis.y(limit.to_f64());
            shapes.push(path("limit", format!("M{LEFT} {}H{RIGHT}", n(y))));
            let y = (y + beside).clamp(TOP, BOTTOM - 2.0);
            let said = format!("{says} {}", ohms(limit));
            shapes.push(words("words", LEFT + 4.0, y, Anchor::Start, said));
        }
    }

    /// The readings between two times as a line.
    fn path(&self, from: f64, until: f64) -> String {
        let height = |point: &Point| match point.at {
            At::Ohms(ohms) => Piece::At(self.axis.y(ohms)),
            At::Over | At::Nothing => Piece::Break,
            At::Aside => Piece::Skip,
        };
        let inside = |p: &&Point| p.t >= from && p.t <= until;
        let points = self.trace.points.iter().filter(inside);
        self.drawn(points.map(|p| (p.t, height(p))))
    }

    fn drawn(&self, points: impl Iterator<Item = (f64, Piece)>) -> String {
        let mut d = String::new();
        for line in lines(points, self.from, self.until) {
            for (at, (t, y)) in line.iter().enumerate() {
                d += if at == 0 { "M" } else { "L" };
                d += &format!("{} {}", n(self.x(*t)), n(*y));
            }
            if line.len() == 1 {
                d += "h0";
            }
        }
        d
    }

    fn plateau(&self, shapes: &mut Vec<Shape>) {
        let window = self.row.window_s.map_or(0.0, Decimal::to_f64);
        if window > 0.0 && self.row.event == Event::Value {
            shapes.push(path("plateau", self.path(-window - 0.001, 0.001)));
        }
    }

    fn test_voltage(&self, shapes: &mut Vec<Shape>) {
        let Some(most) = self.volts else {
            return;
        };
        let y = |v: f64| {
            VOLTS_BOTTOM - (v.max(0.0) / most.max(10.0)) * (VOLTS_BOTTOM - VOLTS_TOP - LINE)
        };
        let piece = |p: &Point| (p.t, p.volts.map_or(Piece::Skip, |v| Piece::At(y(v))));
        let edge = VOLTS_TOP - 4.0;
        shapes.push(path("grid", format!("M{LEFT} {edge}H{RIGHT}")));
        shapes.push(axis(LEFT - 4.0, VOLTS_BOTTOM - 14.0, Anchor::End, "test V"));
        let said = format!("{} V at most", n(most));
        let (x, y) = (LEFT + 4.0, VOLTS_TOP + 8.0);
        shapes.push(words("words", x, y, Anchor::Start, said));
        shapes.push(path(
            "volts",
            self.drawn(self.trace.points.iter().map(piece)),
        ));
    }

    /// The take and the marks before it, each a shape with its words.
    fn takes(&self, shapes: &mut Vec<Shape>) {
        let x = self.x(0.0);
        let y = match self.row.value_ohms {
            Some(value) => self.axis.y(value.to_f64()),
            None => BAND / 2.0,
        };
        let said = match self.row.event {
            Event::Aborted => String::from("broke off"),
            _ => self.row.shown.clone(),
        };
        let (rise, above) = (TOP - 6.0, TOP - 10.0);
        for mark in &self.marks {
            let at = self.x(mark.t);
            shapes.push(path("mark-line", format!("M{} {rise}V{BOTTOM}", n(at))));
            let said = mark.words.clone();
            shapes.push(words("words", at, above, Anchor::Middle, said));
        }
        shapes.push(path("mark-line", format!("M{} {rise}V{}", n(x), n(y))));
        let take = format!("M{} {}h12l-6 8z", n(x - 6.0), n(y - 6.0));
        shapes.push(path("take", take));
        shapes.push(words("words at-take", x + 4.0, above, Anchor::End, said));
        let judged = self.row.judged_ohms.map(Decimal::to_f64);
        if let Some(judged) = judged.filter(|j| (self.axis.y(*j) - y).abs() > 6.0) {
            let y = self.axis.y(judged);
            let diamond = format!("M{} {}l5 5-5 5-5-5z", n(x), n(y - 5.0));
            shapes.push(path("judged", diamond));
            shapes.push(words("words", x - 9.0, y + 4.0, Anchor::End, "judged"));
        }
    }

    /// What the picture shows, for those who do not see it.
    fn words(&self) -> String {
        let row = self.row;
        let ohm = |p: &Point| match p.at {
            At::Ohms(ohms) => Some(ohms),
            _ => None,
        };
        let points = &self.trace.points;
        let seen: Vec<f64> = points.iter().filter_map(ohm).collect();
        let place = format!("{} {}", row.test, row.point).replace('_', " ");
        let mut said = vec![format!(
            "Trace of {}, {:.1} s before to {:.1} s after it was taken",
            place.trim(),
            -self.from,
            self.until
        )];
        let (low, high) = (
            seen.iter().copied().reduce(f64::min),
            seen.iter().copied().reduce(f64::max),
        );
        if let (Some(low), Some(high)) = (low, high) {
            said.push(format!(
                "{} readings from {} to {}",
                seen.len(),
                size(low),
                size(high)
            ));
        }
        if points.iter().any(|p| p.at == At::Over) {
            said.push(String::from("over-range in part of it"));
        }
        let off = |ohms: &&f64| self.axis.is_off(**ohms);
        if seen.iter().any(|ohms| off(&ohms)) {
            said.push(String::from("a part is beyond the scale"));
        }
        match (row.event, row.window_s.map(Decimal::to_f64)) {
            (Event::Value, Some(window)) if window > 0.0 => {
                said.push(format!("steady for {window:.1} s at {}", row.shown));
            }
            (Event::Aborted, _) => said.push(String::from("it broke off")),
            _ => said.push(format!("taken: {}", row.shown)),
        }
        for mark in &self.marks {
            said.push(format!("a mark at {}", mark.words));
        }
        if let Some(judged) = row.judged_ohms {
            said.push(format!("judged {}", ohms(brief(judged, 4))));
        }
        let limits = limits(row);
        if !limits.is_empty() {
            said.push(format!("limits {limits}"));
        }
        if let Some(volts) = self.volts {
            said.push(format!("test voltage at most {} V", n(volts)));
        }
        said.join("; ") + "."
    }
}

fn path(class: &'static str, d: String) -> Shape {
    Shape::Path { class, d }
}

fn axis(x: f64, y: f64, anchor: Anchor, said: impl Into<String>) -> Shape {
    words("axis", x, y, anchor, said)
}

fn words(class: &'static str, x: f64, y: f64, anchor: Anchor, said: impl Into<String>) -> Shape {
    let words = said.into();
    Shape::Text {
        class,
        x,
        y,
        anchor,
        words,
    }
}

/// Ohms in three digits with the prefix of their size.
fn size(ohms: f64) -> String {
    let (by, unit) = [(1e9, "GΩ"), (1e6, "MΩ"), (1e3, "kΩ")]
        .into_iter()
        .find(|(by, _)| ohms.abs() >= *by * 0.999_9)
        .unwrap_or((1.0, "Ω"));
    let value = ohms / by;
    let digits = match value.abs() {
        v if v >= 99.95 => 0,
        v if v >= 9.995 => 1,
        v if v >= 0.1 => 2,
        _ => 3,
    };
    let text = format!("{value:.digits$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    format!("{} {unit}", if text == "-0" { "0" } else { text })
}

#[cfg(test)]
#[path = "curve_tests.rs"]
mod tests;
