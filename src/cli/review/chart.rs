//! `review chart` and `review drift`: control charts, as lines and as text.
//!
//! Limits come from the beginning of the log, whatever time is shown: what is
//! off shows against what was before.

use serde_json::json;

use super::filter::{Question, gone_through};
use crate::cli::table::{Form, Table};
use crate::cli::{Fail, Out};
use crate::log::scan::column;
use crate::review::ask::drift::drift;
use crate::review::ask::values::{Imports, values};
use crate::review::stats::chart::{ChartError, Limits, SETTLED, Signal, settled};

/// A point of a chart.
struct Mark {
    /// What it is called: a date, a row.
    name: String,
    /// How many values it stands for.
    values: usize,
    value: f64,
    /// Whether it is of the time that is asked about.
    shown: bool,
}

/// One chart.
struct Chart {
    name: String,
    unit: &'static str,
    marks: Vec<Mark>,
}

/// A chart of the values of one model and point, row by row.
///
/// # Errors
/// A question that cannot be asked, rows of several points, a log that cannot be read.
pub(super) fn values_chart(args: &Question) -> Result<(), Fail> {
    let scan = args.which.open()?;
    let (filter, dates) = args.which.filter()?.of_any_time();
    let stages = args.which.stages(&scan, false)?;
    let by = [column::MOTOR, column::TEST, column::POINT];
    let groups = gone_through(&scan, |done| {
        values(&scan, done, (&filter, &stages), &by, Imports::Out)
    })?;
    if groups.is_empty() {
        args.which.nothing(&scan)?;
    }
    let [(key, values)] = groups.as_slice() else {
        let names: Vec<_> = groups
            .iter()
            .take(6)
            .map(|(key, _)| String::from_utf8_lossy(key))
            .collect();
        return Err(Fail::asked(format!(
            "a chart is of one model and point, and here are {}{}; say --model, --test and --point",
            groups.len(),
            if names.is_empty() {
                String::new()
            } else {
                format!(" ({})", names.join("; "))
            },
        )));
    };
    let mark = |value: &crate::review::ask::values::Value| Mark {
        name: format!("{} row {}", &value.at.rfc3339()[..10], value.seq),
        values: 1,
        value: value.judged_ohms,
        shown: dates.hold(value.at.rfc3339().as_bytes()),
    };
    let chart = Chart {
        name: String::from_utf8_lossy(key).replace(',', " "),
        unit: "Ω",
        marks: values.iter().map(mark).collect(),
    };
    print(&[chart], args.form)
}

/// How each meter reads beside the others, week by week.
///
/// # Errors
/// A question that cannot be asked, a log that cannot be read.
pub(super) fn meters(args: &Question) -> Result<(), Fail> {
    let scan = args.which.open()?;
    let (filter, dates) = args.which.of_any_meter()?.of_any_time();
    let stages = args.which.stages(&scan, false)?;
    let meters = gone_through(&scan, |done| drift(&scan, done, (&filter, &stages)))?;
    let charts = meters
        .into_iter()
        .filter(|(meter, _)| args.which.has_meter(meter))
        .map(|(meter, weeks)| Chart {
            name: meter,
            unit: "%",
            marks: weeks
                .iter()
                .map(|week| Mark {
                    name: format!("week of {}", &week.begins.rfc3339()[..10]),
                    values: week.values,
                    value: week.percent,
                    shown: dates.hold(week.begins.rfc3339().as_bytes()),
                })
                .collect(),
        });
    let charts: Vec<_> = charts.collect();
    if charts.is_empty() {
        args.which.nothing(&scan)?;
    }
    print(&charts, args.form)
}

fn limits(marks: &[Mark]) -> Result<(Limits, Vec<Signal>), ChartError> {
    let values: Vec<f64> = marks.iter().map(|mark| mark.value).collect();
    settled(&values)
}

fn print(charts: &[Chart], form: Form) -> Result<(), Fail> {
    if form.is_text() {
        return text(charts);
    }
    let mut table = Table::new([
        "chart", "at", "values", "value", "center", "lower", "upper", "signals",
    ]);
    for chart in charts {
        let found = limits(&chart.marks);
        let marks = chart.marks.iter().enumerate();
        for (at, mark) in marks.filter(|(_, mark)| mark.shown) {
            let (center, lower, upper, words) = match &found {
                Ok((limits, signals)) => {
                    let here = signals.iter().filter(|signal| signal.at == at);
                    let words: Vec<&str> = here.map(|signal| signal.rule.word()).collect();
                    (
                        json!(limits.center),
                        json!(limits.lower),
                        json!(limits.upper),
                        words.join(" "),
                    )
                }
                Err(_) => (json!(null), json!(null), json!(null), String::new()),
            };
            table.row([
                json!(chart.name),
                json!(mark.name),
                json!(mark.values),
                json!(mark.value),
                center,
                lower,
                upper,
                json!(words),
            ]);
        }
    }
    table.print(form)
}

/// Points that are drawn; the newest, and every one that signals.
const DRAWN: usize = 60;
/// Columns of the drawing.
const WIDE: usize = 49;

fn text(charts: &[Chart]) -> Result<(), Fail> {
    let mut out = Out::new();
    for chart in charts {
        let unit = chart.unit;
        let (limits, signals) = match limits(&chart.marks) {
            Ok(found) => found,
            Err(why) => {
                out.line(format_args!("{}: no chart: {why}", chart.name))?;
                continue;
            }
        };
        let provisional = if limits.n < SETTLED {
            ", provisional: few values"
        } else {
            ""
        };
        out.line(format_args!(
            "{}: center {:.4} {unit}, limits {:.4} to {:.4} {unit} from the first {}{provisional}",
            chart.name, limits.center, limits.lower, limits.upper, limits.n
        ))?;
        let marks = chart.marks.iter().enumerate();
        let shown: Vec<(usize, &Mark)> = marks.filter(|(_, mark)| mark.shown).collect();
        let drawn = &shown[shown.len().saturating_sub(DRAWN)..];
        if drawn.len() < shown.len() {
            out.line(format_args!("  the newest {DRAWN} of {}:", shown.len()))?;
        }
        let names = drawn.iter().map(|(_, mark)| mark.name.chars().count());
        let wide = names.max().unwrap_or_default();
        for (at, mark) in drawn {
            let signal = signals.iter().find(|signal| signal.at == *at);
            let words = signal.map_or(String::new(), |signal| format!("  {}", signal.rule.words()));
            out.line(format_args!(
                "  {:<wide$}  {}  {:>10.4} {unit}{words}",
                mark.name,
                strip(mark.value, &limits),
                mark.value
            ))?;
        }
        let mut broken = signals.iter().filter(|signal| chart.marks[signal.at].shown);
        match broken.next() {
            None => out.line("  no rule is broken")?,
            Some(first) => out.line(format_args!(
                "  {} broken rules, the first at {}: {} (Western Electric 1956)",
                1 + broken.count(),
                chart.marks[first.at].name,
                first.rule.words()
            ))?,
        }
    }
    out.flush()
}

/// A value between its limits: `|    :  o :    |`, beyond them `<` or `>`.
fn strip(value: f64, limits: &Limits) -> String {
    let middle = WIDE / 2;
    let place = |value: f64| {
        let part = (value - limits.center) / (limits.upper - limits.center);
        (middle as f64 + part * 0.8 * middle as f64).round()
    };
    let mut line = vec![' '; WIDE];
    for (edge, sign) in [
        (limits.lower, '|'),
        (limits.center, ':'),
        (limits.upper, '|'),
    ] {
        line[place(edge) as usize] = sign;
    }
    let at = place(value);
    match at {
        at if at < 0.0 => line[0] = '<',
        at if at >= WIDE as f64 => line[WIDE - 1] = '>',
        at => line[at as usize] = 'o',
    }
    line.into_iter().collect()
}
