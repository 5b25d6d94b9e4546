//! A picture as shapes with classes, so that page and paper draw the same one.

use maud::{Markup, html};

/// The whole picture, its top left corner at 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// Its width, a unit as large as a CSS pixel.
    pub width: f64,
    /// Its height.
    pub height: f64,
    /// What it shows, for those who do not see it.
    pub words: String,
    /// What is drawn, the hindmost first.
    pub shapes: Vec<Shape>,
}

/// One thing of a picture. Its class says what it is; a style says how it looks.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A path in SVG's own words, of `M L H V h l z` alone.
    Path {
        /// What it is.
        class: &'static str,
        /// Its way.
        d: String,
    },
    /// A hatched band.
    Over {
        /// Its left side.
        x: f64,
        /// How wide it is.
        width: f64,
        /// How high it is, from 0.
        height: f64,
    },
    /// A line of text.
    Text {
        /// What it is.
        class: &'static str,
        /// Where its anchor stands.
        x: f64,
        /// Its base line.
        y: f64,
        /// Which part of it stands at `x`.
        anchor: Anchor,
        /// What it says.
        words: String,
    },
}

/// The part of a text that stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Start,
    /// Its middle.
    Middle,
    /// Its right end.
    End,
}

impl Anchor {
    /// SVG's word; none where it is what SVG assumes.
    const fn word(self) -> Option<&'static str> {
        match self {
            Self::Start => None,
            Self::Middle => Some("middle"),
            Self::End => Some("end"),
        }
    }
}

/// A length or a place, to a tenth.
pub(super) fn n(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

impl Drawing {
    /// As SVG; `name` tells its pattern from those of other pictures on the page.
    pub fn svg(&self, name: u64) -> Markup {
        let hatch = format!("hatch-{name}");
        html! {
            svg class="curve" viewBox={ "0 0 " (self.width) " " (n(self.height)) } role="img" aria-label=(self.words) xmlns="http://www.w3.org/2000/svg" {
                defs { pattern id=(hatch) width="6" height="6" patternUnits="userSpaceOnUse" { path class="hatch" d="M-1 7 7 -1M-1 1 1 -1M5 7 7 5" {} } }
                @for shape in &self.shapes {
                    @match shape {
                        Shape::Path { class, d } => path class=(class) d=(d) {},
                        Shape::Over { x, width, height } => rect class="over" x=(n(*x)) y="0" width=(n(*width)) height=(n(*height)) fill={ "url(#" (hatch) ")" } {},
                        Shape::Text { class, x, y, anchor, words } => text class=(class) x=(n(*x)) y=(n(*y)) text-anchor=[anchor.word()] { (words) },
                    }
                }
            }
        }
    }
}
