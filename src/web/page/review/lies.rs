//! How values of one model and point lie against their limits.

use maud::{Markup, html};

use super::plot::{self, Axis, n, ohms, plot};
use super::wanted::Wanted;
use crate::web::reviews::Lie;

/// The picture and its numbers.
pub(super) fn body(wanted: &Wanted, lie: Option<&Lie>) -> Markup {
    let which = &wanted.which;
    let name = format!("{} {} {}", which.model, which.test, which.point).replace('_', " ");
    html! {
        section aria-labelledby="lies" {
            h2 id="lies" { (name) ": how values lie" }
            @match lie {
                None => p { "No value fits: what is over-range or open has no number." },
                Some(lie) => (told(&name, lie)),
            }
            p {
                a href=(wanted.at("/review/chart")) { "The same in their order" } " · "
                a href=(wanted.at("/review/rows")) { "The rows" } " · "
                a href=(wanted.with("/review/values", &[("model", ""), ("test", ""), ("point", "")])) { "Another model or point" }
            }
        }
    }
}

fn told(name: &str, lie: &Lie) -> Markup {
    let [least, quarter, median, three, most] = lie.quarters;
    let lines: [(&str, String); 4] = [
        ("Values", lie.n.to_string()),
        ("Median", ohms(median)),
        (
            "Middle half",
            format!("{} to {}", ohms(quarter), ohms(three)),
        ),
        (
            "Least and greatest",
            format!("{} to {}", ohms(least), ohms(most)),
        ),
    ];
    html! {
        figure { (picture(name, lie)) }
        dl class="facts" {
            @for (what, words) in &lines { dt { (what) } dd { (words) } }
            dt { "Scatter" } dd { (ohms(lie.robust_sigma)) " (robust sigma, which outliers do not move)" }
            dt { "Limits" } dd { (limits(lie)) }
            @if let Some([below, within, above]) = lie.against {
                dt { "Below" } dd { (below) }
                dt { "Within" } dd { (within) }
                dt { "Above" } dd { (above) }
            }
        }
        p class="of" { "As they were judged, in ohms. The limits are those of the newest row; older rows may have been judged by others." }
        details {
            summary { "The bars as a table" }
            table {
                thead { tr { th scope="col" { "from" } th scope="col" { "to" } th scope="col" class="n" { "values" } } }
                tbody {
                    @if lie.beyond[0] > 0 { tr { td { "below" } td { (lie.bins.first().map(|bin| ohms(bin.from)).unwrap_or_default()) } td class="n" { (lie.beyond[0]) } } }
                    @for bin in &lie.bins { tr { td { (ohms(bin.from)) } td { (ohms(bin.to)) } td class="n" { (bin.n) } } }
                    @if lie.beyond[1] > 0 { tr { td { "above" } td { (lie.bins.last().map(|bin| ohms(bin.to)).unwrap_or_default()) } td class="n" { (lie.beyond[1]) } } }
                }
            }
        }
    }
}

fn limits(lie: &Lie) -> String {
    match lie.limits {
        (Some(lower), Some(upper)) => format!("{} to {}", ohms(lower), ohms(upper)),
        (Some(lower), None) => format!("at least {}", ohms(lower)),
        (None, Some(upper)) => format!("at most {}", ohms(upper)),
        (None, None) => String::from("none"),
    }
}

fn picture(name: &str, lie: &Lie) -> Markup {
    let (Some(first), Some(last)) = (lie.bins.first(), lie.bins.last()) else {
        return html! {};
    };
    let most = lie.bins.iter().map(|bin| bin.n).max().unwrap_or(1).max(1);
    let x = Axis::along_ohms((first.from, last.to), lie.log);
    let y = Axis::up((0.0, most as f64 * 1.25), false, |value| {
        if value.fract() == 0.0 {
            format!("{value}")
        } else {
            String::new()
        }
    });
    let floor = y.at(0.0);
    let inside = |at: f64| (first.from..=last.to).contains(&at);
    let bars = lie.bins.iter().filter(|bin| bin.n > 0).map(|bin| {
        let (left, right, top) = (x.at(bin.from), x.at(bin.to), y.at(bin.n as f64));
        (
            n(left),
            n((right - left - 0.6).max(0.4)),
            n(top),
            n(floor - top),
        )
    });
    let says = format!(
        "A bar diagram of {} values with the median {}; {}. The bars stand in the table below.",
        lie.n,
        ohms(lie.quarters[2]),
        match lie.against {
            Some([below, within, above]) =>
                format!("{below} below the limits, {within} within, {above} above"),
            None => String::from("there are no limits"),
        }
    );
    let drawn = html! {
        @for (left, wide, top, high) in bars { rect class="bin" x=(left) y=(top) width=(wide) height=(high) {} }
        (plot::post("median", x.at(lie.quarters[2])))
        (plot::above(x.at(lie.quarters[2]), "median", 0))
        @for (limit, words) in [(lie.limits.0, "lower limit"), (lie.limits.1, "upper limit")] {
            @if let Some(limit) = limit.filter(|limit| inside(*limit)) {
                (plot::post("limit", x.at(limit)))
                (plot::above(x.at(limit), words, 1))
            }
        }
    };
    plot(
        "values",
        [&format!("How values of {name} lie"), &says],
        &x,
        &y,
        &drawn,
    )
}
