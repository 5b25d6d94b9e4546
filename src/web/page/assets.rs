//! What pages are made of beside their HTML: one style, a few scripts, an icon.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

use crate::web::routes::refused;

/// Name, kind and text of each.
const ASSETS: [(&str, &str, &str); 12] = [
    (
        "style.css",
        "text/css; charset=utf-8",
        include_str!("assets/style.css"),
    ),
    (
        "start.css",
        "text/css; charset=utf-8",
        include_str!("assets/start.css"),
    ),
    (
        "jobs.css",
        "text/css; charset=utf-8",
        include_str!("assets/jobs.css"),
    ),
    (
        "page.js",
        "text/javascript; charset=utf-8",
        include_str!("assets/page.js"),
    ),
    (
        "bench.js",
        "text/javascript; charset=utf-8",
        include_str!("assets/bench.js"),
    ),
    (
        "strip.js",
        "text/javascript; charset=utf-8",
        include_str!("assets/strip.js"),
    ),
    (
        "sound.js",
        "text/javascript; charset=utf-8",
        include_str!("assets/sound.js"),
    ),
    (
        "start.js",
        "text/javascript; charset=utf-8",
        include_str!("assets/start.js"),
    ),
    (
        "jobs.js",
        "text/javascript; charset=utf-8",
        include_str!("assets/jobs.js"),
    ),
    (
        "meters.js",
        "text/javascript; charset=utf-8",
        include_str!("assets/meters.js"),
    ),
    (
        "setup.js",
        "text/javascript; charset=utf-8",
        include_str!("assets/setup.js"),
    ),
    ("icon.svg", "image/svg+xml", include_str!("assets/icon.svg")),
];

pub(super) async fn asset(Path(name): Path<String>) -> Response {
    match ASSETS.iter().find(|(known, _, _)| *known == name) {
        Some((_, kind, text)) => ([(header::CONTENT_TYPE, *kind)], *text).into_response(),
        None => {
            refused(StatusCode::NOT_FOUND, format!("no asset is called {name}")).into_response()
        }
    }
}
