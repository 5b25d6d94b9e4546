//! Limits and where a value lies in them, as a picture.
//!
//! The strip is [`WIDTH`] units long and begins at [`LEFT`]. The marker
//! `g.live` has what a script needs to place the live value: `data-axis`, the
//! ends of the axis `data-from` and `data-to` in ohms, and the limits
//! `data-lower` and `data-upper` where there are any. How far along the strip
//! a value lies, 0 to 1:
//! - `linear`: (ohms − from) / (to − from);
//! - `log`: log(ohms / from) / log(to / from), and 0 for no ohms and less.
//!
//! Beyond an end it is held to that end. The script then sets the attribute
//! `transform` of the marker to `translate(X 0)` with X = 20 + 440 × that, and
//! its `visibility` to `visible`; to `hidden` when there is no live value.
//! Over-range is 1. The picture says where a number lies and judges nothing.

use maud::{Markup, html};

use crate::view::PointView;

/// Where the strip begins, and how long it is.
const LEFT: f64 = 20.0;
const WIDTH: f64 = 440.0;

/// What an end of the strip stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Axis {
    log: bool,
    from: f64,
    to: f64,
}

impl Axis {
    /// The axis of a pair of limits; none where they give no picture.
    ///
    /// Both: as much room on each side as between them, and none below zero.
    /// At most: from 0 to twice that. At least: two decades below, three above,
    /// since such a value may be thousands of times its minimum.
    fn of(lower: Option<f64>, upper: Option<f64>) -> Option<Self> {
        let limit = |l: f64| l.is_finite() && l >= 0.0;
        match (lower, upper) {
            (Some(lower), Some(upper)) if limit(lower) && limit(upper) && lower <= upper => {
                let room = match upper - lower {
                    0.0 => upper / 10.0,
                    between => between,
                };
                let axis = Self {
                    log: false,
                    from: (lower - room).max(0.0),
                    to: upper + room,
                };
                (axis.from < axis.to).then_some(axis)
            }
            (None, Some(upper)) if limit(upper) && upper > 0.0 => Some(Self {
                log: false,
                from: 0.0,
                to: 2.0 * upper,
            }),
            (Some(lower), None) if limit(lower) && lower > 0.0 => Some(Self {
                log: true,
                from: lower / 100.0,
                to: lower * 1000.0,
            }),
            _ => None,
        }
    }

    /// How far along the strip a value lies, 0 to 1, held to the ends.
    fn part(self, ohms: f64) -> f64 {
        let part = match self.log {
            true if ohms <= 0.0 => 0.0,
            true => libm::log(ohms / self.from) / libm::log(self.to / self.from),
            false => (ohms - self.from) / (self.to - self.from),
        };
        part.clamp(0.0, 1.0)
    }

    fn x(self, ohms: f64) -> f64 {
        tenth(LEFT + WIDTH * self.part(ohms))
    }
}

/// A coordinate needs no more digits.
fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}

/// The picture of a point with limits; nothing without.
pub(super) fn point(point: &PointView) -> Markup {
    let (lower, upper) = (point.lower_ohms, point.upper_ohms);
    let Some(axis) = Axis::of(lower, upper) else {
        return html! {};
    };
    let judged = point.judged_ohms.filter(|j| j.is_finite());
    let (left, right) = (
        lower.map_or(LEFT, |l| axis.x(l)),
        upper.map_or(LEFT + WIDTH, |u| axis.x(u)),
    );
    html! {
        svg class="scale" viewBox="0 0 480 158" role="img" fill="none" stroke="currentColor"
            stroke-width="3" stroke-linecap="round" stroke-linejoin="round" {
            title { (title(lower, upper, judged)) }
            path d=(format!("M{LEFT} 84H{}", LEFT + WIDTH)) {}
            rect class="band" x=(left) y="66" width=(tenth(right - left)) height="36" fill="currentColor" fill-opacity=".25" {}
            @for limit in [lower, upper].into_iter().flatten() {
                path d=(format!("M{} 58V110", axis.x(limit))) stroke-width="5" {}
                (number(axis.x(limit), 146, &ohms(limit)))
            }
            @if axis.log {
                (number(LEFT, 146, &ohms(axis.from)))
                (number(LEFT + WIDTH, 146, &ohms(axis.to)))
            } @else if lower.is_none() {
                (number(LEFT, 146, "0 Ω"))
            }
            @if let Some(judged) = judged {
                g class="judged" transform=(format!("translate({} 0)", axis.x(judged))) {
                    path d="M0 62l-11 -24h22z" fill="currentColor" {}
                    path d="M0 62V102" {}
                }
                (number(axis.x(judged), 26, &format!("{} {}", ohms(judged), lies(lower, upper, judged))))
            }
            g class="live" visibility="hidden" data-axis=(if axis.log { "log" } else { "linear" })
                data-from=(axis.from) data-to=(axis.to) data-lower=[lower] data-upper=[upper] {
                path d="M0 68V100" stroke-width="4" stroke-dasharray="5 6" {}
                path d="M0 100l-10 18h20z" {}
            }
        }
    }
}

/// A number beside the strip, held inside the picture.
/// The limits of a point in words, each with its prefix.
pub(super) fn limits(point: &PointView) -> String {
    match (point.lower_ohms, point.upper_ohms) {
        (Some(lower), Some(upper)) => format!("{} to {}", whole(lower), whole(upper)),
        (Some(lower), None) => format!("at least {}", whole(lower)),
        (None, Some(upper)) => format!("at most {}", whole(upper)),
        (None, None) => String::new(),
    }
}

/// Ohms that no line break takes from their unit.
fn whole(value: f64) -> String {
    ohms(value).replace(' ', "\u{a0}")
}

fn number(x: f64, y: u32, say: &str) -> Markup {
    let (x, anchor) = match x {
        x if x < 120.0 => (x - 14.0, "start"),
        x if x > 360.0 => (x + 14.0, "end"),
        x => (x, "middle"),
    };
    html! {
        text x=(tenth(x)) y=(y) text-anchor=(anchor) fill="currentColor" stroke="none" font-size="24" { (say) }
    }
}

/// The same in words.
fn title(lower: Option<f64>, upper: Option<f64>, judged: Option<f64>) -> String {
    let mut words = match (lower, upper) {
        (Some(lower), Some(upper)) => {
            let (lower, upper) = (ohms(lower), ohms(upper));
            match (lower.split_once(' '), upper.split_once(' ')) {
                (Some((least, unit)), Some((_, same))) if unit == same => {
                    format!("between {least} and {upper}")
                }
                _ => format!("between {lower} and {upper}"),
            }
        }
        (Some(lower), None) => format!("at least {}", ohms(lower)),
        (None, Some(upper)) => format!("at most {}", ohms(upper)),
        (None, None) => return String::new(),
    };
    if let Some(judged) = judged {
        words += &format!("; {} is {}", ohms(judged), lies(lower, upper, judged));
    }
    words
}

/// Where a number lies; whether it passes is another question.
fn lies(lower: Option<f64>, upper: Option<f64>, judged: f64) -> &'static str {
    if lower.is_some_and(|l| judged < l) {
        "below"
    } else if upper.is_some_and(|u| judged > u) {
        "above"
    } else {
        "inside"
    }
}

/// Ohms with a prefix and at most six digits, as a person reads them.
fn ohms(value: f64) -> String {
    const PREFIXES: [(f64, &str); 6] = [
        (1e-3, "m"),
        (1.0, ""),
        (1e3, "k"),
        (1e6, "M"),
        (1e9, "G"),
        (1e12, "T"),
    ];
    if value == 0.0 {
        return String::from("0 Ω");
    }
    // What rounds to a thousand belongs to the next prefix.
    let (unit, prefix) = PREFIXES
        .into_iter()
        .find(|(unit, _)| value.abs() / unit < 999.9995)
        .unwrap_or((1e12, "T"));
    let number = value / unit;
    let digits = match number.abs() {
        n if n < 9.999995 => 5,
        n if n < 99.99995 => 4,
        _ => 3,
    };
    let written = format!("{number:.digits$}");
    let short = written.trim_end_matches('0').trim_end_matches('.');
    format!("{short} {prefix}Ω")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view(lower: Option<f64>, upper: Option<f64>, judged: Option<f64>) -> PointView {
        PointView {
            test: String::from("winding"),
            point: String::from("main"),
            meter: String::new(),
            state: "now",
            shown: String::new(),
            verdict: None,
            finding: None,
            reason: String::new(),
            seq: None,
            limits: String::new(),
            lower_ohms: lower,
            upper_ohms: upper,
            judged_ohms: judged,
        }
    }

    /// The title and the places of what is drawn: the band's ends, the value's.
    #[track_caller]
    fn check(
        (lower, upper, judged): (Option<f64>, Option<f64>, Option<f64>),
        words: &str,
        band: [f64; 2],
        value: Option<f64>,
    ) {
        let drawn = point(&view(lower, upper, judged)).0;
        assert!(
            drawn.contains(&format!("<title>{words}</title>")),
            "{drawn}"
        );
        let rect = format!(
            r#"x="{}" y="66" width="{}""#,
            band[0],
            tenth(band[1] - band[0])
        );
        assert!(drawn.contains(&rect), "{rect} in {drawn}");
        match value {
            Some(x) => assert!(
                drawn.contains(&format!(r#"class="judged" transform="translate({x} 0)""#)),
                "{drawn}"
            ),
            None => assert!(!drawn.contains("judged"), "{drawn}"),
        }
    }

    /// By hand: 4.6 to 5.4 stands on 3.8 to 6.2, 2.4 Ω on 440 units; its band
    /// is the middle third, 20 + 440/3 to 20 + 880/3; 4.2 lies at 0.4/2.4,
    /// 5.0 in the middle.
    #[test]
    fn a_value_lies_where_it_does_between_two_limits() {
        let (lower, upper) = (Some(4.6), Some(5.4));
        let band = [166.7, 313.3];
        check(
            (lower, upper, Some(4.2)),
            "between 4.6 and 5.4 Ω; 4.2 Ω is below",
            band,
            Some(93.3),
        );
        check(
            (lower, upper, Some(5.0)),
            "between 4.6 and 5.4 Ω; 5 Ω is inside",
            band,
            Some(240.0),
        );
        check(
            (lower, upper, Some(1e6)),
            "between 4.6 and 5.4 Ω; 1 MΩ is above",
            band,
            Some(460.0),
        );
        check(
            (lower, upper, Some(-1.0)),
            "between 4.6 and 5.4 Ω; -1 Ω is below",
            band,
            Some(20.0),
        );
        check((lower, upper, None), "between 4.6 and 5.4 Ω", band, None);
    }

    /// By hand: 1 MΩ stands on 10 kΩ to 1 GΩ, five decades of 88 units; it lies
    /// two of them along, 100 kΩ one, 100 MΩ four.
    #[test]
    fn a_minimum_stands_on_decades() {
        let least = Some(1e6);
        check(
            (least, None, Some(1e5)),
            "at least 1 MΩ; 100 kΩ is below",
            [196.0, 460.0],
            Some(108.0),
        );
        check(
            (least, None, Some(1e8)),
            "at least 1 MΩ; 100 MΩ is inside",
            [196.0, 460.0],
            Some(372.0),
        );
        check(
            (least, None, Some(0.0)),
            "at least 1 MΩ; 0 Ω is below",
            [196.0, 460.0],
            Some(20.0),
        );
    }

    /// By hand: at most 1 Ω stands on 0 to 2 Ω; 0.25 lies an eighth along.
    #[test]
    fn a_maximum_stands_on_twice_itself() {
        check(
            (None, Some(1.0), Some(0.25)),
            "at most 1 Ω; 250 mΩ is inside",
            [20.0, 240.0],
            Some(75.0),
        );
        check(
            (None, Some(1.0), Some(1.5)),
            "at most 1 Ω; 1.5 Ω is above",
            [20.0, 240.0],
            Some(350.0),
        );
    }

    #[test]
    fn the_live_marker_has_all_that_places_it() {
        let drawn = point(&view(Some(1e6), None, None)).0;
        assert!(drawn.contains(r#"<g class="live" visibility="hidden" data-axis="log" data-from="10000" data-to="1000000000" data-lower="1000000">"#), "{drawn}");
        let drawn = point(&view(None, Some(1.0), None)).0;
        assert!(
            drawn.contains(r#"data-axis="linear" data-from="0" data-to="2" data-upper="1">"#),
            "{drawn}"
        );
    }

    #[test]
    fn no_limits_no_picture() {
        for (lower, upper) in [
            (None, None),
            (Some(0.0), None),
            (None, Some(0.0)),
            (Some(5.0), Some(4.0)),
            (Some(f64::NAN), None),
            (Some(0.0), Some(0.0)),
        ] {
            assert_eq!(
                point(&view(lower, upper, Some(1.0))).0,
                "",
                "{lower:?} {upper:?}"
            );
        }
        assert_ne!(point(&view(Some(5.0), Some(5.0), Some(5.0))).0, "");
    }

    #[test]
    fn ohms_read_as_a_person_writes_them() {
        for (value, expected) in [
            (0.0004, "0.4 mΩ"),
            (0.25, "250 mΩ"),
            (4.6, "4.6 Ω"),
            (999.9999, "1 kΩ"),
            (22_700.0, "22.7 kΩ"),
            (0.1 + 0.2, "300 mΩ"),
            (5e5, "500 kΩ"),
            (2e15, "2000 TΩ"),
            (-4.25, "-4.25 Ω"),
        ] {
            assert_eq!(ohms(value), expected);
        }
    }
}
