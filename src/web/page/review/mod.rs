//! `/review`: what fails, how values lie, control charts, meters beside each
//! other, insulation over the years, and the rows behind each number.
//!
//! A page asks one question. Questions run beside the web's thread, one at a
//! time in the whole program, for a bounded time; who goes away ends theirs.

mod ask;
mod courses;
mod fails;
mod lies;
mod places;
mod plot;
mod rows;
mod wanted;
mod years;

use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};

use super::{html as answer, shell};
use crate::web::reviews::{By, Found};
use crate::web::routes::Api;
use ask::{Unanswered, ask};
use wanted::Wanted;

/// The pages: address, name of the entry.
const PAGES: [(&str, &str); 6] = [
    ("/review", "What fails"),
    ("/review/values", "Values"),
    ("/review/chart", "Control chart"),
    ("/review/meters", "Meters"),
    ("/review/insulation", "Insulation"),
    ("/review/rows", "Rows"),
];

/// Rows that a page lists (own: a few screens).
const ROWS: usize = 100;

/// Verdicts by group.
pub(super) async fn what_fails(State(api): State<Api>, uri: Uri) -> Response {
    const HERE: &str = "/review";
    let wanted = read(&api, &uri);
    if wanted.is_wrong() {
        return page(HERE, &wanted, &nothing());
    }
    let asked = wanted.clone();
    let found = ask(&api, move |reviews, beside| {
        reviews.counts(&asked.which, &asked.by(), beside)
    });
    match found.await {
        Ok(found) => told(HERE, &wanted, &found, |counted| {
            fails::body(&wanted, counted)
        }),
        Err(why) => unanswered(HERE, &uri, &wanted, &why),
    }
}

/// How values of one model and point lie.
pub(super) async fn values(State(api): State<Api>, uri: Uri) -> Response {
    const HERE: &str = "/review/values";
    let wanted = read(&api, &uri);
    if wanted.is_wrong() {
        return page(HERE, &wanted, &nothing());
    }
    if !wanted.is_one_point() {
        return choice(&api, &uri, HERE, &wanted).await;
    }
    let asked = wanted.clone();
    let found = ask(&api, move |reviews, beside| {
        reviews.lie(&asked.which, beside)
    });
    match found.await {
        Ok(found) => told(HERE, &wanted, &found, |lie| {
            lies::body(&wanted, lie.as_ref())
        }),
        Err(why) => unanswered(HERE, &uri, &wanted, &why),
    }
}

/// The control chart of one model and point.
pub(super) async fn chart(State(api): State<Api>, uri: Uri) -> Response {
    const HERE: &str = "/review/chart";
    let wanted = read(&api, &uri);
    if wanted.is_wrong() {
        return page(HERE, &wanted, &nothing());
    }
    if !wanted.is_one_point() {
        return choice(&api, &uri, HERE, &wanted).await;
    }
    let asked = wanted.clone();
    let found = ask(&api, move |reviews, beside| {
        reviews.chart(&asked.which, beside)
    });
    match found.await {
        Ok(found) => told(HERE, &wanted, &found, |course| {
            courses::one(&wanted, course.as_ref())
        }),
        Err(why) => unanswered(HERE, &uri, &wanted, &why),
    }
}

/// Each meter beside the others.
pub(super) async fn meters(State(api): State<Api>, uri: Uri) -> Response {
    const HERE: &str = "/review/meters";
    let wanted = read(&api, &uri);
    if wanted.is_wrong() {
        return page(HERE, &wanted, &nothing());
    }
    let asked = wanted.clone();
    let found = ask(&api, move |reviews, beside| {
        reviews.meters(&asked.which, beside)
    });
    match found.await {
        Ok(found) => told(HERE, &wanted, &found, |meters| courses::meters(meters)),
        Err(why) => unanswered(HERE, &uri, &wanted, &why),
    }
}

/// The insulation of one asset.
pub(super) async fn insulation(State(api): State<Api>, uri: Uri) -> Response {
    const HERE: &str = "/review/insulation";
    let wanted = read(&api, &uri);
    if wanted.is_wrong() {
        return page(HERE, &wanted, &nothing());
    }
    let mut asked = wanted.clone();
    asked.which.test = String::from("insulation");
    if wanted.which.asset.is_empty() {
        let found = ask(&api, move |reviews, beside| {
            reviews.counts(&asked.which, &[By::Asset], beside)
        });
        return match found.await {
            Ok(found) => told(HERE, &wanted, &found, |assets| {
                places::assets(&wanted, assets)
            }),
            Err(why) => unanswered(HERE, &uri, &wanted, &why),
        };
    }
    let found = ask(&api, move |reviews, beside| {
        reviews.years(&asked.which, beside)
    });
    match found.await {
        Ok(found) => told(HERE, &wanted, &found, |years| years::body(&wanted, years)),
        Err(why) => unanswered(HERE, &uri, &wanted, &why),
    }
}

/// The rows behind a number.
pub(super) async fn listed(State(api): State<Api>, uri: Uri) -> Response {
    const HERE: &str = "/review/rows";
    let wanted = read(&api, &uri);
    if wanted.is_wrong() {
        return page(HERE, &wanted, &nothing());
    }
    let asked = wanted.clone();
    let found = ask(&api, move |reviews, beside| {
        reviews.rows(&asked.which, asked.before, ROWS, beside)
    });
    match found.await {
        Ok(found) => told(HERE, &wanted, &found, |rows| rows::body(&wanted, rows)),
        Err(why) => unanswered(HERE, &uri, &wanted, &why),
    }
}

/// Which model and point, where none is chosen.
async fn choice(api: &Api, uri: &Uri, here: &'static str, wanted: &Wanted) -> Response {
    let asked = wanted.clone();
    let found = ask(api, move |reviews, beside| {
        reviews.counts(&asked.which, &[By::Model, By::Test, By::Point], beside)
    });
    match found.await {
        Ok(found) => told(here, wanted, &found, |places| {
            places::points(here, wanted, places)
        }),
        Err(why) => unanswered(here, uri, wanted, &why),
    }
}

fn read(api: &Api, uri: &Uri) -> Wanted {
    let reviews = api.reviews();
    Wanted::read(uri.query().unwrap_or_default(), |date| reviews.date(date))
}

/// A page with its answer, and what was wrong with the log.
fn told<T>(
    here: &str,
    wanted: &Wanted,
    found: &Found<T>,
    body: impl FnOnce(&T) -> Markup,
) -> Response {
    let body = html! {
        @if let Some(odd) = &found.odd { p class="banner" { (odd) } }
        (body(&found.of))
    };
    page(here, wanted, &body)
}

/// In place of an answer where something that is asked for cannot be read.
fn nothing() -> Markup {
    html! { p { "Nothing is asked until what is marked above is mended." } }
}

fn unanswered(here: &str, uri: &Uri, wanted: &Wanted, why: &Unanswered) -> Response {
    let status = match why {
        Unanswered::Busy | Unanswered::Long => StatusCode::SERVICE_UNAVAILABLE,
        Unanswered::Log(_) => StatusCode::INTERNAL_SERVER_ERROR,
    };
    let again = uri
        .path_and_query()
        .map_or(here, |address| address.as_str());
    let body = html! {
        section role="alert" aria-labelledby="unanswered" {
            h2 id="unanswered" { (why.title()) }
            p { (why) "." }
            p { a class="button" href=(again) { "Ask again" } }
        }
    };
    (status, page(here, wanted, &body)).into_response()
}

fn page(here: &str, wanted: &Wanted, body: &Markup) -> Response {
    answer(whole(here, wanted, body))
}

/// A page around its answer.
fn whole(here: &str, wanted: &Wanted, body: &Markup) -> Markup {
    let name = PAGES.iter().find(|(address, _)| *address == here);
    let name = name.map_or("Review", |(_, name)| name);
    let body = html! {
        link rel="stylesheet" href="/assets/jobs.css";
        link rel="stylesheet" href="/assets/review.css";
        div class="review" {
            h1 { "Review" }
            nav class="questions" aria-label="Questions" {
                @for (address, name) in PAGES {
                    a href=(wanted.at(address)) aria-current=[(address == here).then_some("page")] { (name) }
                }
            }
            (wanted.form(here))
            (body)
        }
    };
    shell::page(&format!("{name}, review"), "/review", &body)
}

#[cfg(test)]
mod tests;
