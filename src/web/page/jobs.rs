//! Jobs: those that are there, and one whole.

use std::sync::Arc;

use axum::extract::{Extension, Path, State};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use maud::html;

use super::jobs_list::{self, Wanted};
use super::{html as answer, jobs_one, jobs_traces, not_here, shell};
use crate::log::jobs::number;
use crate::row::Recorded;
use crate::web::doors::MayAct;
use crate::web::routes::Api;

/// Jobs that a page shows (own: a few screens).
const PAGE: usize = 50;

/// Those that the address asks for, the newest first.
pub(super) async fn list(State(api): State<Api>, uri: Uri) -> Response {
    let wanted = Wanted::read(uri.query().unwrap_or_default());
    let (view, asked) = (api.view(), wanted.clone());
    // Those that run are told from the view.
    let running: Vec<String> = view.jobs.iter().map(|job| job.job.clone()).collect();
    let found = api.jobs().ask(move |log| {
        log.list(asked.before, PAGE, |job| {
            !running.contains(&job.start.row.job) && asked.fits(job)
        })
    });
    match found.await {
        Ok(found) => answer(jobs_list::page(&wanted, &view, &found)),
        Err(e) => unread(&e),
    }
}

/// A job whole, by its name.
pub(super) async fn one(
    State(api): State<Api>,
    Extension(MayAct(may_act)): Extension<MayAct>,
    Path(name): Path<String>,
) -> Response {
    let there = match number(&name) {
        Some(number) => api.jobs().ask(move |log| log.rows(number)).await,
        None => Ok(Vec::new()),
    };
    match there {
        Ok(mut rows) => {
            api.hub().keep_acknowledged(&mut rows);
            if rows.is_empty() {
                return not_here(&format!("no job is called {name}"));
            }
            let rows: Arc<[Recorded]> = rows.into();
            let traces = jobs_traces::of(api.traces(), Arc::clone(&rows)).await;
            answer(jobs_one::page(&name, &rows, &traces, &api.view(), may_act))
        }
        Err(e) => unread(&e),
    }
}

/// The log cannot be read: said, and never taken for a log without jobs.
fn unread(e: &std::io::Error) -> Response {
    let body = html! {
        h1 { "The log cannot be read" }
        p { (e) "." }
        p { "What is recorded stands in the files of the data folder; this page shows it when they can be read again." }
    };
    let page = answer(shell::page("The log cannot be read", "/jobs", &body));
    (StatusCode::INTERNAL_SERVER_ERROR, page).into_response()
}

#[cfg(test)]
#[path = "jobs_tests.rs"]
mod tests;
