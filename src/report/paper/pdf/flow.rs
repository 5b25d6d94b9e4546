//! Blocks one below the other, page after page.

use super::canvas::{Canvas, Ink, Pen};
use super::{MM, curve, table, wrap};
use crate::report::paper::qr::{QUIET, Qr};
use crate::report::paper::{Block, Picture, Seal, Shop, Signer};

/// A line's height beside its letters.
const LEADING: f64 = 1.35;
/// What is read, in points.
pub(super) const BODY: Ink = Ink::regular(9.5);
/// The side of a code on a sheet.
const CODE: f64 = 30.0 * MM;

/// Where the next block goes.
pub(super) struct Flow<'a> {
    pub(super) canvas: &'a mut Canvas,
    pub(super) y: f64,
    pub(super) left: f64,
    pub(super) right: f64,
    top: f64,
    foot: f64,
}

impl<'a> Flow<'a> {
    pub(super) fn new(canvas: &'a mut Canvas) -> Self {
        let (left, top) = (15.0 * MM, 15.0 * MM);
        Self {
            y: top,
            left,
            right: canvas.width - left,
            top,
            foot: canvas.height - 18.0 * MM,
            canvas,
        }
    }

    pub(super) fn width(&self) -> f64 {
        self.right - self.left
    }

    fn new_page(&mut self) {
        self.canvas.new_page();
        self.y = self.top;
    }

    /// Whether so much still fits on this page.
    pub(super) fn has(&self, height: f64) -> bool {
        self.y + height <= self.foot
    }

    /// Turns the page if so much does not fit on this one; says whether it did.
    pub(super) fn room(&mut self, height: f64) -> bool {
        let turn = !self.has(height) && self.y > self.top;
        if turn {
            self.new_page();
        }
        turn
    }

    /// Lines of a text between two sides.
    pub(super) fn words(&mut self, text: &str, ink: Ink, left: f64, right: f64) {
        let leading = ink.size * LEADING;
        for line in wrap::lines(self.canvas, text, ink, right - left) {
            self.room(leading);
            self.y += leading;
            self.canvas.text(left, self.y - ink.size * 0.32, ink, &line);
        }
    }

    /// How high these words will be.
    fn height(&self, text: &str, ink: Ink, width: f64) -> f64 {
        wrap::lines(self.canvas, text, ink, width).len() as f64 * ink.size * LEADING
    }

    pub(super) fn shop(&mut self, shop: &Shop) {
        let mut left = self.left;
        let top = self.y;
        let mut foot = self.y;
        if let Some(image) = self.canvas.image() {
            let (wide, high) = (
                f64::from(image.width.max(1)),
                f64::from(image.height.max(1)),
            );
            let scale = (42.0 * MM / wide).min(18.0 * MM / high);
            self.canvas.picture(left, top, wide * scale, high * scale);
            left += wide * scale + 5.0 * MM;
            foot = top + high * scale;
        }
        if !shop.name.is_empty() {
            self.words(&shop.name, Ink::bold(12.0), left, self.right);
        }
        for line in &shop.address {
            self.words(line, BODY, left, self.right);
        }
        self.y = self.y.max(foot);
        if self.y > top {
            self.y += 7.0 * MM;
        }
    }

    pub(super) fn block(&mut self, block: &Block) {
        let (left, right) = (self.left, self.right);
        match block {
            Block::Title { words, under } => {
                self.words(words, Ink::bold(17.0), left, right);
                if !under.is_empty() {
                    self.words(under, Ink::regular(11.0), left, right);
                }
                self.y += 3.0 * MM;
            }
            Block::Head(words) => {
                // A head alone at the foot of a page heads nothing.
                self.y += 4.0 * MM;
                self.room(22.0 * MM);
                let y = self.y;
                self.canvas
                    .line(Pen::solid(1.1, 0.0), (left, y), (right, y));
                self.y += 1.5 * MM;
                self.words(words, Ink::bold(11.5), left, right);
                self.y += 1.0 * MM;
            }
            Block::Sub(words) => {
                self.y += 2.5 * MM;
                self.room(16.0 * MM);
                self.words(words, Ink::bold(10.0), left, right);
                self.y += 0.5 * MM;
            }
            Block::Banner(words) => self.banner(words),
            Block::Text(words) => {
                self.words(words, BODY, left, right);
                self.y += 1.5 * MM;
            }
            Block::Large(words) => {
                self.words(words, Ink::bold(11.0), left, right);
                self.y += 1.5 * MM;
            }
            Block::Facts(facts) => self.facts(facts),
            Block::List { title, items } => self.list(title, items),
            Block::Table(rows) => table::draw(self, rows),
            Block::Traces(pictures) => self.traces(pictures),
            Block::Seal(seal) => self.seal(seal),
            Block::Sign(signers) => self.sign(signers),
            // A label is a sheet of its own.
            Block::Tag(_) => {}
            Block::Break => self.new_page(),
        }
    }

    fn banner(&mut self, words: &str) {
        let (ink, inside) = (Ink::bold(12.0), 3.0 * MM);
        let width = self.width() - 2.0 * inside;
        let high = self.height(words, ink, width) + 2.0 * 1.8 * MM;
        self.room(high);
        let (x, y, wide) = (self.left, self.y, self.width());
        self.canvas.outline(Pen::solid(2.2, 0.0), x, y, wide, high);
        self.y += 1.8 * MM;
        self.words(words, ink, x + inside, self.right - inside);
        self.y = y + high + 2.5 * MM;
    }

    fn facts(&mut self, facts: &[(String, String)]) {
        let half = (self.width() - 8.0 * MM) / 2.0;
        let label = 26.0 * MM;
        let ink = Ink::bold(9.5);
        for pair in facts.chunks(2) {
            let value = |(_, value): &(String, String)| value.clone();
            let heights = pair
                .iter()
                .map(|f| self.height(&value(f), ink, half - label));
            let high = heights.fold(0.0, f64::max);
            self.room(high);
            let top = self.y;
            for (at, (name, value)) in pair.iter().enumerate() {
                let x = self.left + at as f64 * (half + 8.0 * MM);
                self.y = top;
                self.words(name, BODY.gray(0.25), x, x + label);
                self.y = top;
                self.words(value, ink, x + label, x + half);
            }
            self.y = top + high;
        }
        self.y += 1.5 * MM;
    }

    fn list(&mut self, title: &str, items: &[String]) {
        if !title.is_empty() {
            self.y += 0.8 * MM;
            self.room(10.0 * MM);
            self.words(title, Ink::bold(9.5), self.left, self.right);
        }
        for item in items {
            let inside = self.left + 4.0 * MM;
            let high = self.height(item, BODY, self.right - inside);
            // A short item stays whole.
            self.room(high.min(20.0 * MM));
            let y = self.y + BODY.size * (LEADING - 0.32);
            self.canvas.text(self.left + 1.2 * MM, y, BODY, "•");
            self.words(item, BODY, inside, self.right);
        }
        self.y += 1.5 * MM;
    }

    fn traces(&mut self, pictures: &[Picture]) {
        let gap = 6.0 * MM;
        let wide = (self.width() - gap) / 2.0;
        let caption = Ink::bold(8.5);
        for pair in pictures.chunks(2) {
            let scaled = |p: &Picture| p.drawing.height * wide / p.drawing.width;
            let high = pair.iter().map(scaled).fold(0.0, f64::max) + 4.5 * MM;
            self.room(high + 3.0 * MM);
            for (at, picture) in pair.iter().enumerate() {
                let x = self.left + at as f64 * (wide + gap);
                let words = wrap::cut(self.canvas, &picture.caption, caption, wide);
                self.canvas.text(x, self.y + 3.0 * MM, caption, &words);
                let y = self.y + 4.5 * MM;
                curve::draw(self.canvas, &picture.drawing, x, y, wide);
            }
            self.y += high + 3.0 * MM;
        }
    }

    fn seal(&mut self, seal: &Seal) {
        self.room(CODE);
        let (x, y) = (self.left, self.y);
        code(self.canvas, &seal.qr, x, y, CODE);
        let left = x + CODE + 4.0 * MM;
        self.y = y + 6.0 * MM;
        self.words(&seal.text, Ink::bold(9.5), left, self.right);
        self.y += 1.0 * MM;
        self.words(&seal.words, BODY, left, self.right);
        self.y = self.y.max(y + CODE) + 1.5 * MM;
    }

    fn sign(&mut self, signers: &[Signer]) {
        let high = 12.0 * MM;
        self.y += 5.0 * MM;
        self.room(5.0 * MM + signers.len() as f64 * high);
        let columns = [0.0, 0.2, 0.48, 0.66].map(|part| self.left + part * self.width());
        let small = Ink::bold(8.5);
        let y = self.y + 3.5 * MM;
        for (x, title) in columns.into_iter().zip(["", "name", "date", "signature"]) {
            self.canvas.text(x, y, small, title);
        }
        self.y += 5.0 * MM;
        for signer in signers {
            self.y += high;
            let y = self.y - 1.5 * MM;
            self.canvas.text(columns[0], y, small, &signer.role);
            let room = columns[2] - columns[1] - 2.0 * MM;
            let name = wrap::cut(self.canvas, &signer.name, BODY, room);
            self.canvas.text(columns[1], y, BODY, &name);
            let (left, right, y) = (self.left, self.right, self.y);
            self.canvas
                .line(Pen::solid(0.8, 0.0), (left, y), (right, y));
        }
    }
}

/// A code with the light squares around it.
pub(super) fn code(canvas: &mut Canvas, qr: &Qr, x: f64, y: f64, side: f64) {
    let square = side / (qr.side() + 2 * QUIET) as f64;
    let place = |n: usize| (n + QUIET) as f64 * square;
    let runs = qr.runs().into_iter();
    let squares: Vec<_> = runs
        .map(|(at, line, run)| (x + place(at), y + place(line), run as f64 * square, square))
        .collect();
    canvas.squares(&squares);
}
