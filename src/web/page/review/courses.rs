//! Control charts: values of one point in their order, and each meter beside
//! the others. A signal has a shape and a name, not only a colour.

use maud::{Markup, html};

use super::plot::{self, Axis, date, days, n, ohms, plot};
use super::wanted::Wanted;
use crate::web::reviews::{Course, Mark, Rule};

/// Signals that are listed (own: a screen or two).
const LISTED: usize = 60;

/// The chart of one model and point.
pub(super) fn one(wanted: &Wanted, course: Option<&Course>) -> Markup {
    html! {
        section aria-labelledby="course" {
            @match course {
                None => { h2 id="course" { "Control chart" } p { "No value fits: what is over-range or open has no number." } },
                Some(course) => {
                    h2 id="course" { (course.name.replace('_', " ")) ": in their order" }
                    (told(course, "course", None))
                },
            }
            p {
                a href=(wanted.at("/review/values")) { "How the same values lie" } " · "
                a href=(wanted.at("/review/rows")) { "The rows" } " · "
                a href=(wanted.with("/review/chart", &[("model", ""), ("test", ""), ("point", "")])) { "Another model or point" }
            }
        }
    }
}

/// A chart a meter, all to one scale.
pub(super) fn meters(courses: &[Course]) -> Markup {
    let shared = Shared::of(courses);
    html! {
        section aria-labelledby="meters" {
            h2 id="meters" { "Meters beside each other" }
            p { "Week by week: the median of how far each winding that a meter read lies from the median of what the others read there. A meter that drifts leaves its own earlier weeks." }
            @if courses.is_empty() { p { "No winding that fits was read more than once." } }
            div class="side-by-side" {
                @for (at, course) in courses.iter().enumerate() {
                    section aria-labelledby={ "meter-" (at) } {
                        h3 id={ "meter-" (at) } { (course.name) }
                        (told(course, &format!("meter-{at}-course"), shared.as_ref()))
                    }
                }
            }
        }
    }
}

/// What charts have in common that stand beside each other.
struct Shared {
    days: (f64, f64),
    values: (f64, f64),
}

impl Shared {
    fn of(courses: &[Course]) -> Option<Self> {
        let marks = || courses.iter().flat_map(|course| &course.marks);
        let span = |of: &mut dyn Iterator<Item = f64>| {
            of.fold(None, |span: Option<(f64, f64)>, value| {
                let (low, high) = span.unwrap_or((value, value));
                Some((low.min(value), high.max(value)))
            })
        };
        Some(Self {
            days: span(&mut marks().map(|mark| days(mark.at)))?,
            values: span(&mut courses.iter().flat_map(reach))?,
        })
    }
}

/// All that a chart must have room for.
fn reach(course: &Course) -> Vec<f64> {
    let mut all: Vec<f64> = course.marks.iter().map(|mark| mark.value).collect();
    if let Ok(limits) = &course.limits {
        all.extend([limits.lower, limits.upper]);
    }
    all
}

fn told(course: &Course, id: &str, shared: Option<&Shared>) -> Markup {
    let mut rules: Vec<Rule> = course
        .marks
        .iter()
        .flat_map(|mark| mark.signals.clone())
        .collect();
    rules.sort_unstable();
    rules.dedup();
    html! {
        figure {
            (picture(course, id, shared))
            @if !rules.is_empty() {
                figcaption { ul class="legend" {
                    @for rule in &rules { li { svg class="shape" viewBox="-6 -6 12 12" aria-hidden="true" focusable="false" { (shape(rule.word, 0.0, 0.0)) } (rule.says) } }
                } }
            }
        }
        p { (in_words(course)) }
        (signals(course))
        details {
            summary { "The points as a table" }
            table {
                thead { tr {
                    th scope="col" { @if course.unit == "%" { "week of" } @else { "date" } }
                    th scope="col" class="n" { "value" }
                    @if course.unit == "%" { th scope="col" class="n" { "from values" } } @else { th scope="col" { "row" } }
                    th scope="col" { "signals" }
                } }
                tbody { @for mark in &course.marks { (line(course, mark)) } }
            }
        }
    }
}

fn line(course: &Course, mark: &Mark) -> Markup {
    let said: Vec<&str> = mark.signals.iter().map(|rule| rule.says).collect();
    html! {
        tr {
            td { (date(days(mark.at), 10)) }
            td class="n" { (value(course, mark.value)) }
            @match mark.row { Some(_) => td { (row(mark)) }, None => td class="n" { (mark.values) } }
            td { (said.join("; ")) }
        }
    }
}

fn row(mark: &Mark) -> Markup {
    html! {
        @match mark.row {
            Some((seq, Some(job))) => a href={ "/jobs/J" (job) "#row-" (seq) } { "J" (job) ", row " (seq) },
            Some((seq, None)) => { "row " (seq) },
            None => {}
        }
    }
}

fn value(course: &Course, value: f64) -> String {
    match course.unit {
        "%" => format!("{value:+.2} %"),
        _ => ohms(value),
    }
}

fn in_words(course: &Course) -> String {
    let [earlier, signalling] = course.earlier;
    let before = match earlier {
        0 => String::new(),
        _ => format!(" {earlier} earlier ones are not drawn, {signalling} of them signal."),
    };
    let limits = match &course.limits {
        Err(why) => format!("No limits: {why}."),
        Ok(limits) => format!(
            "Centre {}, three sigma from {} to {}, from the first {} values{}.",
            value(course, limits.center),
            value(course, limits.lower),
            value(course, limits.upper),
            limits.n,
            if limits.provisional {
                "; provisional, these are few"
            } else {
                ""
            }
        ),
    };
    limits + &before
}

fn signals(course: &Course) -> Markup {
    let found: Vec<&Mark> = course
        .marks
        .iter()
        .filter(|mark| !mark.signals.is_empty())
        .collect();
    html! {
        @if course.limits.is_ok() && found.is_empty() { p { "No rule is broken (Western Electric 1956)." } }
        @if !found.is_empty() {
            details open[found.len() <= 8] {
                summary { (found.len()) (if found.len() == 1 { " signal" } else { " signals" }) " (Western Electric 1956), the newest first" }
                ul class="signals" {
                    @for mark in found.iter().rev().take(LISTED) {
                        li {
                            (date(days(mark.at), 10)) @if mark.row.is_some() { ", " (row(mark)) } ": " (value(course, mark.value)) ", "
                            (mark.signals.iter().map(|rule| rule.says).collect::<Vec<_>>().join("; "))
                        }
                    }
                }
            }
        }
    }
}

fn picture(course: &Course, id: &str, shared: Option<&Shared>) -> Markup {
    let all = reach(course);
    let least = all.iter().copied().fold(f64::INFINITY, f64::min);
    let most = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (least, most) = shared.map_or((least, most), |shared| shared.values);
    let pad = ((most - least) * 0.08).max(most.abs() * 1e-3).max(1e-6);
    let y = Axis::up((least - pad, most + pad), false, |at| match course.unit {
        "%" => format!("{at:.1} %"),
        _ => ohms(at),
    });
    let (x, places): (Axis, Vec<f64>) = match shared {
        Some(shared) => (
            Axis::along_days(shared.days),
            course.marks.iter().map(|mark| days(mark.at)).collect(),
        ),
        None => by_order(&course.marks),
    };
    let points: Vec<(f64, f64, &Mark)> = course
        .marks
        .iter()
        .zip(places)
        .map(|(mark, place)| (x.at(place), y.at(mark.value), mark))
        .collect();
    let count = course
        .marks
        .iter()
        .filter(|mark| !mark.signals.is_empty())
        .count();
    let says = format!(
        "A control chart of {} points, {count} of them with a signal. {} The points stand in the table below.",
        course.marks.len(),
        in_words(course)
    );
    let title = format!("Control chart of {}", course.name.replace('_', " "));
    let drawn = html! {
        @if let Ok(limits) = &course.limits {
            (plot::level("center", y.at(limits.center)))
            (plot::level("limit", y.at(limits.upper)))
            (plot::level("limit", y.at(limits.lower)))
        }
        path class="course" d=(plot::through(points.iter().map(|(x, y, _)| (*x, *y)))) {}
        @for (x, y, mark) in &points {
            @match mark.signals.first() {
                None => circle class="mark" cx=(n(*x)) cy=(n(*y)) r="1.6" {},
                Some(rule) => (shape(rule.word, *x, *y)),
            }
        }
        // Where the lines are close their words would lie on the values.
        @if let Some(limits) = course.limits.as_ref().ok().filter(|limits| y.at(limits.lower) - y.at(limits.upper) > 40.0) {
            (plot::beside(y.at(limits.upper), "+3 sigma"))
            (plot::beside(y.at(limits.lower), "-3 sigma"))
        }
    };
    plot(id, [&title, &says], &x, &y, &drawn)
}

/// One after the other, whatever time lies between them; dates below some.
fn by_order(marks: &[Mark]) -> (Axis, Vec<f64>) {
    let last = marks.len().saturating_sub(1);
    let mut at = [10, 37, 64, 90].map(|part| last * part / 100).to_vec();
    // A date must not run into the one before it.
    let apart = plot::DATE_WIDE * (last + 1) as f64;
    let mut before: Option<usize> = None;
    at.retain(|at| {
        let fits = before.is_none_or(|before| (at - before) as f64 >= apart);
        before = if fits { Some(*at) } else { before };
        fits
    });
    let tick = |at: usize| (at as f64, date(days(marks[at].at), 10));
    let ticks = at.into_iter().filter(|at| *at < marks.len()).map(tick);
    let axis = Axis::along((-0.5, last as f64 + 0.5), false, ticks.collect());
    (axis, (0..marks.len()).map(|at| at as f64).collect())
}

/// A rule's own shape.
fn shape(rule: &str, x: f64, y: f64) -> Markup {
    let at = |dx: f64, dy: f64| format!("{} {}", n(x + dx), n(y + dy));
    let path = match rule {
        "beyond" => format!(
            "M{}L{}L{}L{}Z",
            at(0.0, -5.0),
            at(5.0, 0.0),
            at(0.0, 5.0),
            at(-5.0, 0.0)
        ),
        "two_of_three" => format!("M{}L{}L{}Z", at(0.0, -4.5), at(4.5, 3.5), at(-4.5, 3.5)),
        "four_of_five" => format!("M{}L{}L{}Z", at(0.0, 4.5), at(4.5, -3.5), at(-4.5, -3.5)),
        "eight_in_a_row" => format!(
            "M{}L{}L{}L{}Z",
            at(-3.2, -3.2),
            at(3.2, -3.2),
            at(3.2, 3.2),
            at(-3.2, 3.2)
        ),
        _ => format!(
            "M{}L{}M{}L{}",
            at(-3.5, -3.5),
            at(3.5, 3.5),
            at(-3.5, 3.5),
            at(3.5, -3.5)
        ),
    };
    html! { path class={ "signal " (rule.replace('_', "-")) } d=(path) {} }
}
