//! Readings in, what stands in the picture out.

use proptest::prelude::*;

use super::thin::{COLUMNS, Piece, lines};
use super::*;
use crate::quantity::Unit;
use crate::stamp::Wall;

fn d(text: &str) -> Decimal {
    text.parse().expect("a decimal")
}

fn row(event: Event) -> Recorded {
    let mut row = Row::new(event, Wall(0));
    row.test = String::from("winding");
    row.point = String::from("main");
    row.unit = Some(Unit::Ohm);
    Recorded {
        seq: 7,
        row,
        chain: String::new(),
    }
}

/// Ten readings a second for so long before the take and a second after it.
fn trace(seconds: i32, ohms: impl Fn(f64) -> At) -> Trace {
    let points = (-seconds * 10..=10).map(|n| {
        let t = f64::from(n) / 10.0;
        Point {
            t,
            at: ohms(t),
            volts: None,
        }
    });
    Trace {
        points: points.collect(),
        whole: true,
    }
}

/// The picture, held to being XML and small.
fn drawn(trace: &Trace, of: &Recorded, rows: &[Recorded]) -> String {
    let text = svg(trace, of, rows).into_string();
    assert!(text.len() <= 6 * 1024, "{} bytes", text.len());
    let xml = roxmltree::Document::parse(&text).expect("XML");
    for node in xml.descendants() {
        for attribute in node.attributes() {
            assert!(attribute.name() != "style" && !attribute.name().starts_with("on"));
            assert!(
                !attribute.value().contains("NaN") && !attribute.value().contains("inf"),
                "{attribute:?}"
            );
        }
    }
    assert_eq!(
        xml.descendants()
            .filter(|n| n.has_tag_name("script"))
            .count(),
        0
    );
    text
}

#[test]
fn a_value_has_its_limits_its_plateau_and_words() {
    let mut of = row(Event::Value);
    of.row.shown = String::from("5.00 Ω");
    (of.row.value_ohms, of.row.window_s) = (Some(d("5.00")), Some(d("2.4")));
    (of.row.lower_ohms, of.row.upper_ohms) = (Some(d("4.6")), Some(d("5.4")));
    let trace = trace(6, |t| match t {
        t if t < -4.0 => At::Over,
        t if t < -3.0 => At::Ohms(5000.0),
        _ => At::Ohms(5.0),
    });
    let text = drawn(&trace, &of, &[]);
    for words in [
        "at least 4.6 Ω",
        "at most 5.4 Ω",
        "class=\"plateau\"",
        "class=\"take\"",
        "class=\"over\"",
        "Trace of winding main, 6.0 s before to 1.0 s after it was taken; 51 readings from 5 Ω to 5 kΩ; over-range in part of it; a part is beyond the scale; steady for 2.4 s at 5.00 Ω; limits 4.6 to 5.4 Ω.",
    ] {
        assert!(text.contains(words), "{words} is not in {text}");
    }
}

#[test]
fn a_hold_shows_its_minimum_its_marks_and_its_voltage() {
    let mark = |seq: u64, held: &str| {
        let mut of = row(Event::Value);
        of.seq = seq;
        of.row.test = String::from("insulation");
        of.row.method = Some(Method::Timed);
        of.row.recorded_at = Wall((d(held).to_f64() * 1e9) as i64);
        (of.row.elapsed_s, of.row.value_ohms) = (Some(d(held)), Some(d("900e6")));
        (of.row.lower_ohms, of.row.shown) = (Some(d("1e6")), String::from("900 MΩ"));
        of
    };
    let rows = [mark(1, "30"), mark(2, "60"), mark(3, "600")];
    let mut long = trace(602, |t| At::Ohms(9e8 + (t + 602.0) * 1e6));
    for point in &mut long.points {
        point.volts = Some(if point.t < -600.0 { 0.0 } else { 512.0 });
    }
    let text = drawn(&long, &rows[2], &rows);
    for words in [
        "at least 1 MΩ",
        ">30 s<",
        ">60 s<",
        "512 V at most",
        "class=\"volts\"",
        "100 MΩ",
    ] {
        assert!(text.contains(words), "{words} is not in {text}");
    }
    // Another press an hour before has no mark here.
    let mut before = mark(1, "30");
    before.row.recorded_at = Wall(-3_600_000_000_000);
    assert!(!drawn(&long, &rows[2], &[before, rows[2].clone()]).contains(">30 s<"));
}

#[test]
fn hostile_words_are_words() {
    let hostile = "\"><script>alert(1)</script>&'";
    let mut of = row(Event::Value);
    of.row.shown = hostile.to_owned();
    (of.row.test, of.row.point) = (hostile.to_owned(), hostile.to_owned());
    of.row.value_ohms = Some(d("1"));
    of.row.window_s = Some(d("1"));
    let text = drawn(&trace(3, |_| At::Ohms(1.0)), &of, &[]);
    assert!(text.contains("&lt;script&gt;"));
}

#[test]
fn whatever_was_read_it_draws() {
    for at in [
        At::Nothing,
        At::Over,
        At::Aside,
        At::Ohms(0.0),
        At::Ohms(-5.0),
        At::Ohms(1e300),
    ] {
        for event in [Event::Value, Event::Open, Event::OverRange, Event::Aborted] {
            drawn(&trace(3, |_| at), &row(event), &[]);
        }
    }
    let none = Trace {
        points: Vec::new(),
        whole: true,
    };
    drawn(&none, &row(Event::Value), &[]);
    // Each reading the opposite of the one before it.
    let chatter = trace(600, |t| {
        if (t * 10.0).round() as i64 % 2 == 0 {
            At::Over
        } else {
            At::Ohms(t.abs())
        }
    });
    drawn(&chatter, &row(Event::Open), &[]);
}

#[test]
fn sizes_have_their_prefix() {
    for (ohms, expected) in [
        (0.0, "0 Ω"),
        (0.184, "0.18 Ω"),
        (5.15, "5.15 Ω"),
        (999.96, "1 kΩ"),
        (84_000.0, "84 kΩ"),
        (1.78e9, "1.78 GΩ"),
        (-2.0, "-2 Ω"),
        (500.0, "500 Ω"),
    ] {
        assert_eq!(size(ohms), expected, "{ohms}");
    }
}

proptest! {
    #[test]
    fn thinning_keeps_lowest_and_highest_and_is_bounded(
        ys in prop::collection::vec(prop_oneof![9 => (0.0..1e6_f64).prop_map(Some), 1 => Just(None)], 1..3000),
    ) {
        let piece = |y: &Option<f64>| y.map_or(Piece::Break, Piece::At);
        let points = ys.iter().enumerate().map(|(n, y)| (n as f64 / 10.0, piece(y)));
        let kept: Vec<(f64, f64)> = lines(points, 0.0, ys.len() as f64 / 10.0).concat();
        prop_assert!(kept.len() <= 2 * COLUMNS);
        prop_assert!(kept.is_sorted_by(|a, b| a.0 < b.0));
        let some = || ys.iter().flatten().copied();
        let kept = || kept.iter().map(|(_, y)| *y);
        prop_assert_eq!(kept().reduce(f64::min), some().reduce(f64::min));
        prop_assert_eq!(kept().reduce(f64::max), some().reduce(f64::max));
    }
}
