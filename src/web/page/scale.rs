//! Limits and where the value lies in them, as a picture.

use maud::{Markup, html};

use crate::view::PointView;

/// The picture of a point with limits; nothing without.
pub(super) fn point(point: &PointView) -> Markup {
    let _ = point;
    html! {}
}
