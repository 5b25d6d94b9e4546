//! Jobs: those that are there, and one whole.

use axum::extract::{Path, State};
use axum::response::Response;
use maud::html;

use super::{html as answer, not_here, shell};
use crate::web::routes::Api;

pub(super) async fn list(State(api): State<Api>) -> Response {
    let view = api.view();
    let body = html! {
        h1 { "Jobs" }
        ul { @for job in &view.jobs { li { a href={ "/jobs/" (job.job) } { (job.job) " " (job.asset) } } } }
    };
    answer(shell::page("Jobs", "/jobs", &body))
}

pub(super) async fn one(State(_api): State<Api>, Path(job): Path<String>) -> Response {
    not_here(&format!("no job is called {job}"))
}
