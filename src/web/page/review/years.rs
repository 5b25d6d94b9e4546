//! Insulation of one asset over the years: values at 40 °C on a logarithmic
//! scale, the robust line with its doubt, the minimum, and what is said of when
//! it is reached.

use maud::{Markup, html};

use super::plot::{self, Axis, date, n, ohms, plot};
use super::wanted::Wanted;
use crate::web::reviews::{Line, Years};

/// The page's part.
pub(super) fn body(wanted: &Wanted, years: &[Years]) -> Markup {
    let asset = &wanted.which.asset;
    html! {
        section aria-labelledby="years" {
            h2 id="years" { (asset) ": insulation over the years" }
            @if years.is_empty() { p { "No value of an insulation test fits: over-range has no number." } }
            @for (at, point) in years.iter().enumerate() { (told(asset, at, point)) }
            p {
                a href=(wanted.with("/review/rows", &[("test", "insulation")])) { "The rows" } " · "
                a href=(wanted.with("/review/insulation", &[("asset", "")])) { "Another asset" }
            }
        }
    }
}

fn told(asset: &str, at: usize, years: &Years) -> Markup {
    let point = years.point.replace('_', " ");
    let newest = years.values.last();
    html! {
        section aria-labelledby={ "point-" (at) } {
            h3 id={ "point-" (at) } { (point) }
            @if !years.values.is_empty() { figure { (picture(asset, &point, at, years)) } }
            dl class="facts" {
                @if let Some((day, value)) = newest { dt { "Newest at 40 °C" } dd { (ohms(*value)) ", " (date(*day, 10)) } }
                @if let Some(line) = &years.line {
                    dt { "Changes a year" }
                    dd { (a_year(line)) }
                }
                dt { "Minimum" } dd { @match years.minimum { Some(ohm) => (ohms(ohm)), None => "none is known" } }
                dt { "Reaches it" } dd { (years.forecast) }
                dt { "Values" } dd { (years.values.len()) }
                @if years.no_temperature > 0 { dt { "Left out" } dd { (years.no_temperature) " without a temperature" } }
                @if years.over_range > 0 { dt { "Over-range" } dd { (years.over_range) ", which have no number: a fall may hide behind them" } }
            }
            details {
                summary { "The values as a table" }
                table {
                    thead { tr { th scope="col" { "date" } th scope="col" class="n" { "at 40 °C" } } }
                    tbody { @for (day, value) in &years.values { tr { td { (date(*day, 10)) } td class="n" { (ohms(*value)) } } } }
                }
            }
        }
    }
}

fn a_year(line: &Line) -> String {
    let [middle, least, most] = line.percent_a_year;
    format!("{middle:+.1} % ({least:+.1} to {most:+.1} with 95 %)")
}

fn picture(asset: &str, point: &str, at: usize, years: &Years) -> Markup {
    let seen = years.values.iter().filter(|(_, value)| *value > 0.0);
    let days = seen.clone().map(|(day, _)| *day);
    let (first, last) = (
        days.clone().fold(f64::INFINITY, f64::min),
        days.fold(f64::NEG_INFINITY, f64::max),
    );
    if first > last {
        return html! {};
    }
    let values = seen.clone().map(|(_, value)| *value).chain(years.minimum);
    let low = values.clone().fold(f64::INFINITY, f64::min);
    let high = values.fold(f64::NEG_INFINITY, f64::max);
    let pad = ((last - first) * 0.03).max(5.0);
    let (from, to) = (first - pad, last + pad);
    let x = Axis::along_days((from, to));
    let y = Axis::up((low / 1.6, high * 1.6), true, ohms);
    let on = |line: &Line, slope: f64, day: f64| {
        y.at(libm::exp10(line.through.1 + slope * (day - line.through.0)))
    };
    let says = format!(
        "{} values from {} to {} on a logarithmic scale{}. {}. The values stand in the table below.",
        years.values.len(),
        date(first, 10),
        date(last, 10),
        years
            .line
            .as_ref()
            .map(|line| format!(", changing {} a year", a_year(line)))
            .unwrap_or_default(),
        years.forecast
    );
    let drawn = html! {
        @if let Some(line) = &years.line {
            @let [middle, least, most] = line.slopes;
            @let middle_day = line.through.0;
            @let corner = |slope: f64, day: f64| (x.at(day), on(line, slope, day));
            @for (one, other) in [(from, middle_day), (middle_day, to)] {
                path class="band" d={ (plot::through([corner(least, one), corner(least, other), corner(most, other), corner(most, one)].into_iter())) "Z" } {}
            }
            path class="robust" d=(plot::through([corner(middle, from), corner(middle, to)].into_iter())) {}
        }
        @if let Some(minimum) = years.minimum.filter(|minimum| *minimum > 0.0) {
            (plot::level("limit", y.at(minimum)))
            (plot::beside(y.at(minimum), "minimum"))
        }
        @for (day, value) in seen { circle class="mark" cx=(n(x.at(*day))) cy=(n(y.at(*value))) r="2.4" {} }
    };
    let title = format!("Insulation of {asset}, {point}, at 40 °C over the years");
    plot(&format!("years-{at}"), [&title, &says], &x, &y, &drawn)
}
