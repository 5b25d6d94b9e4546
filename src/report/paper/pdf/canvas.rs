//! Pages to draw on, in points from the top left corner, and the file they make.

use std::collections::BTreeSet;
use std::io::Write as _;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

use super::font::{Font, Weight};
use super::image::Image;

/// How a line is drawn.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pen {
    /// How thick.
    pub(super) width: f64,
    /// From 0, black, to 1, white.
    pub(super) gray: f64,
    /// Dash and gap; none: a whole line.
    pub(super) dash: Option<(f64, f64)>,
}

impl Pen {
    pub(super) const fn solid(width: f64, gray: f64) -> Self {
        Self {
            width,
            gray,
            dash: None,
        }
    }
}

/// A text that is drawn.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ink {
    /// Its weight.
    pub(super) weight: Weight,
    /// Its size.
    pub(super) size: f64,
    /// From 0, black, to 1, white.
    pub(super) gray: f64,
}

impl Ink {
    pub(super) const fn regular(size: f64) -> Self {
        Self {
            weight: Weight::Regular,
            size,
            gray: 0.0,
        }
    }

    pub(super) const fn bold(size: f64) -> Self {
        Self {
            weight: Weight::Bold,
            size,
            gray: 0.0,
        }
    }

    pub(super) const fn gray(self, gray: f64) -> Self {
        Self { gray, ..self }
    }
}

/// The pages of a file.
pub(super) struct Canvas {
    pub(super) width: f64,
    pub(super) height: f64,
    regular: Font,
    bold: Font,
    pages: Vec<Content>,
    /// The page that is drawn on.
    at: usize,
    image: Option<Image>,
}

/// Numbers of a file's parts; those of pages come behind them.
const CATALOG: i32 = 1;
const PAGES: i32 = 2;
const INFO: i32 = 3;
const REGULAR: i32 = 4;
const BOLD: i32 = 9;
const IMAGE: i32 = 14;
const ALPHA: i32 = 15;
const FIRST_PAGE: i32 = 16;

impl Canvas {
    pub(super) fn new(width: f64, height: f64, image: Option<Image>) -> Self {
        Self {
            width,
            height,
            regular: Font::new(Weight::Regular),
            bold: Font::new(Weight::Bold),
            pages: vec![Content::new()],
            at: 0,
            image,
        }
    }

    pub(super) fn image(&self) -> Option<&Image> {
        self.image.as_ref()
    }

    pub(super) fn new_page(&mut self) {
        self.pages.push(Content::new());
        self.at = self.pages.len() - 1;
    }

    pub(super) fn pages(&self) -> usize {
        self.pages.len()
    }

    /// Draws on another page from here on.
    pub(super) fn turn_to(&mut self, page: usize) {
        self.at = page.min(self.pages.len() - 1);
    }

    fn font(&self, weight: Weight) -> &Font {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }

    pub(super) fn text_width(&self, text: &str, ink: Ink) -> f64 {
        self.font(ink.weight).width(text, ink.size)
    }

    /// A text whose base line begins there.
    pub(super) fn text(&mut self, x: f64, y: f64, ink: Ink, text: &str) {
        let (font, name) = match ink.weight {
            Weight::Regular => (&mut self.regular, Name(b"R")),
            Weight::Bold => (&mut self.bold, Name(b"B")),
        };
        let codes = font.codes(text);
        let y = self.height - y;
        self.pages[self.at]
            .set_fill_gray(ink.gray as f32)
            .begin_text()
            .set_font(name, ink.size as f32)
            .set_text_matrix([1.0, 0.0, 0.0, 1.0, x as f32, y as f32])
            .show(Str(&codes))
            .end_text();
    }

    pub(super) fn lines(&mut self, pen: Pen, lines: &[Vec<(f64, f64)>]) {
        let height = self.height;
        let page = &mut self.pages[self.at];
        page.save_state()
            .set_line_width(pen.width as f32)
            .set_stroke_gray(pen.gray as f32)
            .set_line_cap(LineCapStyle::RoundCap)
            .set_line_join(LineJoinStyle::RoundJoin);
        if let Some((dash, gap)) = pen.dash {
            page.set_line_cap(LineCapStyle::ButtCap)
                .set_dash_pattern([dash as f32, gap as f32], 0.0);
        }
        for line in lines {
            trace(page, height, line);
        }
        page.stroke().restore_state();
    }

    pub(super) fn line(&mut self, pen: Pen, from: (f64, f64), to: (f64, f64)) {
        self.lines(pen, &[vec![from, to]]);
    }

    /// A closed shape in one gray.
    pub(super) fn fill(&mut self, gray: f64, shape: &[(f64, f64)]) {
        let height = self.height;
        let page = &mut self.pages[self.at];
        page.set_fill_gray(gray as f32);
        trace(page, height, shape);
        page.fill_nonzero();
    }

    /// Rectangles in black: `x`, `y`, width, height.
    pub(super) fn squares(&mut self, squares: &[(f64, f64, f64, f64)]) {
        let height = self.height;
        let page = &mut self.pages[self.at];
        page.set_fill_gray(0.0);
        for (x, y, wide, high) in squares {
            let y = height - y - high;
            page.rect(*x as f32, y as f32, *wide as f32, *high as f32);
        }
        page.fill_nonzero();
    }

    pub(super) fn outline(&mut self, pen: Pen, x: f64, y: f64, wide: f64, high: f64) {
        let corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)];
        let mut line = corners.to_vec();
        line.extend([corners[0], corners[1]]);
        self.lines(pen, &[line]);
    }

    /// The image of the file, its top left corner there.
    pub(super) fn picture(&mut self, x: f64, y: f64, wide: f64, high: f64) {
        let y = self.height - y - high;
        self.pages[self.at]
            .save_state()
            .transform([wide as f32, 0.0, 0.0, high as f32, x as f32, y as f32])
            .x_object(Name(b"Logo"))
            .restore_state();
    }

    /// Characters that the font does not have.
    pub(super) fn missing(&self) -> BTreeSet<char> {
        let both = self.regular.missing.union(&self.bold.missing);
        both.copied().collect()
    }

    /// The file.
    pub(super) fn done(self, title: &str) -> Vec<u8> {
        let mut pdf = Pdf::new();
        let id = Ref::new;
        let numbers = (FIRST_PAGE..).step_by(2).take(self.pages.len());
        let pages: Vec<i32> = numbers.collect();
        pdf.catalog(id(CATALOG))
            .pages(id(PAGES))
            .lang(TextStr("en"));
        pdf.document_info(id(INFO))
            .title(TextStr(title))
            .producer(TextStr(concat!("stillohm ", env!("CARGO_PKG_VERSION"))));
        pdf.pages(id(PAGES))
            .kids(pages.iter().copied().map(id))
            .count(i32::try_from(pages.len()).unwrap_or(i32::MAX));
        let sheet = Rect::new(0.0, 0.0, self.width as f32, self.height as f32);
        for (page, content) in pages.into_iter().zip(self.pages) {
            let mut written = pdf.page(id(page));
            written
                .media_box(sheet)
                .parent(id(PAGES))
                .contents(id(page + 1));
            let mut resources = written.resources();
            resources
                .fonts()
                .pair(Name(b"R"), id(REGULAR))
                .pair(Name(b"B"), id(BOLD));
            if self.image.is_some() {
                resources.x_objects().pair(Name(b"Logo"), id(IMAGE));
            }
            resources.finish();
            written.finish();
            pdf.stream(id(page + 1), &deflated(&content.finish()))
                .filter(Filter::FlateDecode);
        }
        self.regular.write(&mut pdf, REGULAR, "STILLO+NotoSans");
        self.bold.write(&mut pdf, BOLD, "STILLO+NotoSans-Bold");
        if let Some(image) = &self.image {
            image.write(&mut pdf, id(IMAGE), id(ALPHA));
        }
        pdf.finish()
    }
}

fn trace(page: &mut Content, height: f64, line: &[(f64, f64)]) {
    for (at, (x, y)) in line.iter().enumerate() {
        let (x, y) = (*x as f32, (height - y) as f32);
        if at == 0 {
            page.move_to(x, y);
        } else {
            page.line_to(x, y);
        }
    }
}

/// Packed as a PDF's streams are.
pub(super) fn deflated(bytes: &[u8]) -> Vec<u8> {
    let mut packer = ZlibEncoder::new(Vec::new(), Compression::default());
    // A vector takes everything.
    _ = packer.write_all(bytes);
    packer.finish().unwrap_or_default()
}
