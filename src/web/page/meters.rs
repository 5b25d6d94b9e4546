//! Meters and how they are.

use axum::extract::State;
use axum::response::Response;
use maud::html;

use super::{html as answer, shell};
use crate::web::routes::Api;

pub(super) async fn list(State(api): State<Api>) -> Response {
    let view = api.view();
    let body = html! {
        h1 { "Meters" }
        ul { @for meter in &view.meters { li { (meter.name) } } }
    };
    answer(shell::page("Meters", "/meters", &body))
}
