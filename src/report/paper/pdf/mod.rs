//! A print as a PDF, made here: text in a font that is part of the program,
//! lines and squares, nothing that runs and nothing from elsewhere.

mod canvas;
mod curve;
mod flow;
mod font;
mod image;
mod table;
mod tag;
mod wrap;

use std::collections::BTreeSet;

use super::{Block, Logo, Paper, Size};
use canvas::{Canvas, Ink};
use flow::Flow;
use image::Image;

pub use image::ImageError;

/// A file, and what it could not show.
#[derive(Debug)]
pub struct File {
    /// The file.
    pub bytes: Vec<u8>,
    /// Characters that the font does not have: a box stands for each.
    pub missing: BTreeSet<char>,
    /// Whether the logo is an SVG, which is left out.
    pub without_logo: bool,
}

/// Points in a millimetre.
const MM: f64 = 72.0 / 25.4;

/// The whole file.
///
/// # Errors
/// The logo is no picture that can be read.
pub fn pdf(paper: &Paper) -> Result<File, ImageError> {
    let image = match &paper.shop.logo {
        Some(Logo::Png(bytes)) => Some(Image::of(bytes)?),
        Some(Logo::Svg(_)) | None => None,
    };
    let (width, height) = paper.size.mm();
    let mut canvas = Canvas::new(width * MM, height * MM, image);
    if paper.size == Size::Label {
        tags(&mut canvas, paper);
    } else {
        let mut flow = Flow::new(&mut canvas);
        flow.shop(&paper.shop);
        for block in &paper.blocks {
            flow.block(block);
        }
        feet(&mut canvas, &paper.foot);
    }
    Ok(File {
        missing: canvas.missing(),
        without_logo: matches!(paper.shop.logo, Some(Logo::Svg(_))),
        bytes: canvas.done(&paper.title),
    })
}

/// Labels, one a page.
fn tags(canvas: &mut Canvas, paper: &Paper) {
    let tags = paper.blocks.iter().filter_map(|block| match block {
        Block::Tag(tag) => Some(tag),
        _ => None,
    });
    for (at, tag) in tags.enumerate() {
        if at > 0 {
            canvas.new_page();
        }
        tag::draw(canvas, tag, &paper.shop);
    }
}

/// What each page says at its foot, once it is known how many there are.
fn feet(canvas: &mut Canvas, foot: &str) {
    let ink = Ink::regular(8.0);
    let (left, right) = (15.0 * MM, canvas.width - 15.0 * MM);
    let y = canvas.height - 10.0 * MM;
    let pages = canvas.pages();
    for page in 0..pages {
        canvas.turn_to(page);
        let number = format!("page {} of {pages}", page + 1);
        let wide = canvas.text_width(&number, ink);
        canvas.text(right - wide, y, ink, &number);
        let words = wrap::cut(canvas, foot, ink, right - left - wide - 12.0);
        canvas.text(left, y, ink, &words);
    }
}
