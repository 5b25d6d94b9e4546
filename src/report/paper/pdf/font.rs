//! The font of a PDF: how wide words are, which of its glyphs are used, and
//! those alone in the file.

use std::collections::{BTreeMap, BTreeSet};

use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Finish, Name, Pdf, Rect, Ref, Str};
use subsetter::GlyphRemapper;
use ttf_parser::Face;

use super::canvas::deflated;

/// A weight of the font.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Weight {
    /// For what is read.
    Regular,
    /// For what must not be missed.
    Bold,
}

/// Identity: a code in a text is the number of a glyph.
const IDENTITY: SystemInfo<'_> = SystemInfo {
    registry: Str(b"Adobe"),
    ordering: Str(b"Identity"),
    supplement: 0,
};

/// One weight and what is used of it.
pub(super) struct Font {
    data: &'static [u8],
    face: Option<Face<'static>>,
    remapper: GlyphRemapper,
    /// The characters of the glyphs that are used, by their new numbers.
    said: BTreeMap<u16, char>,
    /// Characters that the font does not have.
    pub(super) missing: BTreeSet<char>,
}

impl Font {
    pub(super) fn new(weight: Weight) -> Self {
        let data = match weight {
            Weight::Regular => notosans::REGULAR_TTF,
            Weight::Bold => notosans::BOLD_TTF,
        };
        Self {
            data,
            // It is part of the program and read in a test.
            face: Face::parse(data, 0).ok(),
            remapper: GlyphRemapper::new(),
            said: BTreeMap::new(),
            missing: BTreeSet::new(),
        }
    }

    fn em(&self) -> f64 {
        self.face
            .as_ref()
            .map_or(1000.0, |f| f64::from(f.units_per_em()))
    }

    fn glyph(&self, c: char) -> Option<u16> {
        Some(self.face.as_ref()?.glyph_index(c)?.0)
    }

    fn advance(&self, glyph: u16) -> f64 {
        let advance = self
            .face
            .as_ref()
            .and_then(|f| f.glyph_hor_advance(ttf_parser::GlyphId(glyph)));
        f64::from(advance.unwrap_or(0)) / self.em()
    }

    /// How wide a text is at a size.
    pub(super) fn width(&self, text: &str, size: f64) -> f64 {
        let chars = text.chars();
        size * chars
            .map(|c| self.advance(self.glyph(c).unwrap_or(0)))
            .sum::<f64>()
    }

    /// A text in the codes of the file: a character that is not there is a box.
    pub(super) fn codes(&mut self, text: &str) -> Vec<u8> {
        let mut codes = Vec::with_capacity(text.len() * 2);
        for c in text.chars() {
            let code = match self.glyph(c) {
                Some(glyph) => {
                    let code = self.remapper.remap(glyph);
                    self.said.entry(code).or_insert(c);
                    code
                }
                None => {
                    self.missing.insert(c);
                    0
                }
            };
            codes.extend(code.to_be_bytes());
        }
        codes
    }

    /// Writes the font; `id` and the four numbers behind it are its own.
    pub(super) fn write(&self, pdf: &mut Pdf, id: i32, name: &str) {
        let [outer, inner, about, cmap, file] = [0, 1, 2, 3, 4].map(|n| Ref::new(id + n));
        // A font that is not whole after all says everything in boxes.
        let data = subsetter::subset(self.data, 0, &self.remapper).unwrap_or_default();
        let name = Name(name.as_bytes());
        pdf.type0_font(outer)
            .base_font(name)
            .encoding_predefined(Name(b"Identity-H"))
            .descendant_font(inner)
            .to_unicode(cmap);
        let mut cid = pdf.cid_font(inner);
        cid.subtype(CidFontType::Type2)
            .base_font(name)
            .system_info(IDENTITY)
            .font_descriptor(about)
            .default_width(0.0)
            .cid_to_gid_map_predefined(Name(b"Identity"));
        let widths = self.remapper.remapped_gids();
        cid.widths()
            .consecutive(0, widths.map(|g| (self.advance(g) * 1000.0) as f32));
        cid.finish();
        let scaled = |units: i16| (f64::from(units) / self.em() * 1000.0) as f32;
        let face = self.face.as_ref();
        let bounds = face.map(Face::global_bounding_box);
        let bounds = bounds.map_or(Rect::new(0.0, 0.0, 0.0, 0.0), |b| {
            Rect::new(
                scaled(b.x_min),
                scaled(b.y_min),
                scaled(b.x_max),
                scaled(b.y_max),
            )
        });
        pdf.font_descriptor(about)
            .name(name)
            .flags(FontFlags::SYMBOLIC)
            .bbox(bounds)
            .italic_angle(0.0)
            .ascent(face.map_or(0.0, |f| scaled(f.ascender())))
            .descent(face.map_or(0.0, |f| scaled(f.descender())))
            .cap_height(face.and_then(Face::capital_height).map_or(0.0, scaled))
            .stem_v(90.0)
            .font_file2(file);
        let mut said = UnicodeCmap::new(Name(b"Words"), IDENTITY);
        for (code, c) in &self.said {
            said.pair(*code, *c);
        }
        pdf.cmap(cmap, &said.finish());
        let packed = deflated(&data);
        pdf.stream(file, &packed)
            .filter(pdf_writer::Filter::FlateDecode)
            .pair(
                Name(b"Length1"),
                i32::try_from(data.len()).unwrap_or(i32::MAX),
            );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Everything outside ASCII that rows, terms and prints say themselves.
    const OURS: &str = "Ωµ°±≤≥→−×…–²√·•τΦΔéäöü";

    #[test]
    fn both_weights_have_every_sign_that_the_program_says() {
        for weight in [Weight::Regular, Weight::Bold] {
            let mut font = Font::new(weight);
            assert!(font.face.is_some());
            let ascii: String = (' '..='~').collect();
            let codes = font.codes(&format!("{ascii}{OURS}"));
            assert!(font.missing.is_empty(), "{:?}", font.missing);
            assert_eq!(codes.len(), 2 * (95 + OURS.chars().count()));
            // A wide letter is wider than a narrow one, and twice as large is twice as wide.
            assert!(font.width("M", 10.0) > font.width("i", 10.0));
            assert!((font.width("Mi", 20.0) - 2.0 * font.width("Mi", 10.0)).abs() < 1e-9);
        }
    }
}
