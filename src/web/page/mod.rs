//! The pages: HTML made here, kept alive by the event stream and the API.
//!
//! Each page is whole when it arrives: what stands on it now is rendered from
//! the latest view. Its script moves digits, and asks for a part again when the
//! job in it has changed; state changes only through the API. Nothing inline:
//! no script, no style, no handler.

mod assets;
mod bench;
mod drawing;
mod jobs;
mod jobs_list;
mod jobs_log;
mod jobs_one;
mod jobs_signed;
mod marks;
mod jobs_traces;
mod meters;
mod review;
mod scale;
mod setup;
mod shell;
mod start;

use axum::Router;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::get;
use maud::Markup;

use super::routes::Api;
pub use jobs_log::JobsLog;
pub use jobs_traces::Traces;

/// The pages and what they are made of.
pub(super) fn router() -> Router<Api> {
    Router::new()
        .route("/", get(home))
        .route("/bench/{bench}", get(bench_page))
        .route("/bench/{bench}/job", get(bench_job))
        .route("/start", get(start::page))
        .route("/jobs", get(jobs::list))
        .route("/jobs/{job}", get(jobs::one))
        .route("/review", get(review::what_fails))
        .route("/review/values", get(review::values))
        .route("/review/chart", get(review::chart))
        .route("/review/meters", get(review::meters))
        .route("/review/insulation", get(review::insulation))
        .route("/review/rows", get(review::listed))
        .route("/meters", get(meters::list))
        .route("/meters/new", get(setup::page))
        .route("/assets/{name}", get(assets::asset))
}

/// The only bench, or the choice between several.
async fn home(State(api): State<Api>) -> Response {
    let view = api.view();
    let names = bench::names(&view);
    match names.as_slice() {
        [only] => Redirect::to(&bench::address(only)).into_response(),
        _ => html(bench::choice(&names, &view)),
    }
}

async fn bench_page(State(api): State<Api>, Path(name): Path<String>) -> Response {
    let view = api.view();
    if bench::names(&view).contains(&name) {
        return html(bench::page(&name, &view));
    }
    not_here(&format!("no bench is called {name}"))
}

/// The part of a bench's page that a change of its job makes anew.
async fn bench_job(State(api): State<Api>, Path(name): Path<String>) -> Response {
    html(bench::job(&name, &api.view()))
}

/// A page or a part of one.
fn html(markup: Markup) -> Response {
    Html(markup.into_string()).into_response()
}

/// A page that says what is not there.
fn not_here(what: &str) -> Response {
    let body = maud::html! {
        h1 { "Nothing is here" }
        p { (what) "." }
        p { a href="/" { "To the benches" } }
    };
    (
        StatusCode::NOT_FOUND,
        html(shell::page("Nothing is here", "", &body)),
    )
        .into_response()
}
