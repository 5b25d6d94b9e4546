//! What every page has around it.

use maud::{DOCTYPE, Markup, html};

/// A whole page. `here` is the address of the entry of the menu that it is.
pub(super) fn page(title: &str, here: &str, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="dark light";
                title { (title) " · Stillohm" }
                link rel="icon" href="/assets/icon.svg";
                link rel="stylesheet" href="/assets/style.css";
                script src="/assets/page.js" defer {}
            }
            body {
                a class="skip" href="#main" { "To the work" }
                header class="top" {
                    a class="name" href="/" { "Stillohm" }
                    nav aria-label="Pages" {
                        @for (address, name) in [("/", "Bench"), ("/jobs", "Jobs"), ("/meters", "Meters"), ("/review", "Review")] {
                            a href=(address) aria-current=[(here == address).then_some("page")] { (name) }
                        }
                    }
                    p id="recording" role="status" class="recording" { "…" }
                }
                main id="main" tabindex="-1" { (body) }
            }
        }
    }
}
