//! What pages are made of beside their HTML: one style, a few scripts, an icon.

use std::sync::LazyLock;

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

use crate::web::routes::refused;

/// Name, kind and text of each.
const ASSETS: [(&str, &str, &str); 13] = [
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
        "review.css",
        "text/css; charset=utf-8",
        include_str!("assets/review.css"),
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

/// What is sent: without indentation and lines that are all comment, since a
/// first paint waits for every byte. No script has a string of several lines.
static LEAN: LazyLock<Vec<String>> = LazyLock::new(|| {
    let lean = |(_, _, text): &(&str, &str, &str)| {
        let lines = text.lines().map(str::trim_start);
        let kept: Vec<&str> = lines.filter(|line| !line.starts_with("//")).collect();
        kept.join("\n")
    };
    ASSETS.iter().map(lean).collect()
});

pub(super) async fn asset(Path(name): Path<String>) -> Response {
    let found = ASSETS.iter().zip(LEAN.iter());
    let mut named = found.filter(|((known, _, _), _)| *known == name);
    match named.next() {
        Some(((_, kind, _), text)) => {
            ([(header::CONTENT_TYPE, *kind)], text.as_str()).into_response()
        }
        None => {
            refused(StatusCode::NOT_FOUND, format!("no asset is called {name}")).into_response()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_script_has_a_string_of_several_lines() {
        for (name, _, text) in ASSETS.iter().filter(|(name, _, _)| name.ends_with(".js")) {
            for (at, line) in text.lines().enumerate() {
                let ticks = line.matches('`').count();
                assert!(ticks % 2 == 0, "{name}:{}: {line}", at + 1);
                assert!(!line.ends_with('\\'), "{name}:{}: {line}", at + 1);
            }
        }
    }

    #[test]
    fn what_is_sent_is_less_and_says_the_same() {
        for ((name, _, text), lean) in ASSETS.iter().zip(LEAN.iter()) {
            assert!(lean.len() <= text.len(), "{name}");
            let code = |text: &str| -> String {
                let lines = text.lines().map(str::trim);
                lines.filter(|line| !line.starts_with("//")).collect()
            };
            assert_eq!(code(text), code(lean), "{name}");
        }
    }
}
