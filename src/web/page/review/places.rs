//! What can be chosen, where a page is of one model and point, or of one asset.

use maud::{Markup, html};

use super::wanted::Wanted;
use crate::web::reviews::Counted;

/// So many are listed (own: a few screens; a filter finds the others).
const LISTED: usize = 300;

/// Models and points, each a link.
pub(super) fn points(here: &str, wanted: &Wanted, places: &[Counted]) -> Markup {
    let named = |place: &&Counted| place.names.iter().all(|name| !name.is_empty());
    let named: Vec<&Counted> = places.iter().filter(named).collect();
    let address = |place: &Counted| {
        let [model, test, point] = [0, 1, 2].map(|at| place.names[at].as_str());
        wanted.with(here, &[("model", model), ("test", test), ("point", point)])
    };
    html! {
        section aria-labelledby="choose" {
            h2 id="choose" { "Of which model and point?" }
            @if named.is_empty() { p { "No row fits. Names are written as in the log, letter by letter." } }
            ul class="choices" {
                @for place in named.iter().take(LISTED) {
                    li {
                        a href=(address(place)) { (place.names[0]) ", " (place.names[1..].join(" ").replace('_', " ")) }
                        " " (rows(place))
                    }
                }
            }
            (more(named.len()))
        }
    }
}

/// Assets, each a link to its insulation.
pub(super) fn assets(wanted: &Wanted, assets: &[Counted]) -> Markup {
    let named: Vec<&Counted> = assets.iter().filter(|a| !a.names[0].is_empty()).collect();
    html! {
        section aria-labelledby="choose" {
            h2 id="choose" { "The insulation of which asset?" }
            @if named.is_empty() { p { "No row of an insulation test fits." } }
            ul class="choices" {
                @for asset in named.iter().take(LISTED) {
                    li {
                        a href=(wanted.with("/review/insulation", &[("asset", &asset.names[0]), ("test", "")])) { (asset.names[0]) }
                        " " (rows(asset))
                    }
                }
            }
            (more(named.len()))
        }
    }
}

fn rows(of: &Counted) -> String {
    match of.pass + of.fail + of.undecided + of.not_judged {
        1 => String::from("1 row"),
        n => format!("{n} rows"),
    }
}

fn more(all: usize) -> Markup {
    html! {
        @if all > LISTED {
            p { (all - LISTED) " more are not listed; say which with the fields above." }
        }
    }
}
