//! The start of a job: which motor, where, by whom.

use axum::extract::State;
use axum::response::Response;
use maud::html;

use super::{html as answer, shell};
use crate::web::routes::Api;

pub(super) async fn page(State(_api): State<Api>) -> Response {
    let body = html! { h1 { "Start a job" } };
    answer(shell::page("Start a job", "/", &body))
}
