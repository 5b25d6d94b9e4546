//! A logo in a PDF: the pixels of a PNG, and how much each covers.

use std::io::Cursor;

use pdf_writer::{Filter, Finish, Pdf, Ref};

use super::canvas::deflated;

/// The most pixels that a logo may have (own: far more than a print shows).
const PIXELS: u64 = 16_000_000;

/// Pixels in colour, and how much each covers if not all do.
pub(super) struct Image {
    pub(super) width: u32,
    pub(super) height: u32,
    colour: Vec<u8>,
    cover: Option<Vec<u8>>,
}

/// Why a PNG is none.
#[derive(Debug, thiserror::Error)]
pub enum ImageError {
    /// The file is no PNG, or a broken one.
    #[error("not a whole PNG file")]
    Png(#[from] png::DecodingError),
    /// Too many pixels.
    #[error("expected at most 16 million pixels, found {width} x {height}")]
    Large {
        /// Pixels in a line.
        width: u32,
        /// Lines.
        height: u32,
    },
}

impl Image {
    pub(super) fn of(png: &[u8]) -> Result<Self, ImageError> {
        let mut decoder = png::Decoder::new(Cursor::new(png));
        decoder.set_transformations(png::Transformations::normalize_to_color8());
        let mut reader = decoder.read_info()?;
        let (width, height) = reader.info().size();
        let room = reader.output_buffer_size();
        let Some(room) = room.filter(|_| u64::from(width) * u64::from(height) <= PIXELS) else {
            return Err(ImageError::Large { width, height });
        };
        let mut pixels = vec![0; room];
        let frame = reader.next_frame(&mut pixels)?;
        pixels.truncate(frame.buffer_size());
        let samples = frame.color_type.samples();
        let mut colour = Vec::new();
        let mut cover = Vec::new();
        for pixel in pixels.chunks_exact(samples.max(1)) {
            match *pixel {
                [gray] => colour.extend([gray; 3]),
                [gray, covers] => {
                    colour.extend([gray; 3]);
                    cover.push(covers);
                }
                [r, g, b, covers] => {
                    colour.extend([r, g, b]);
                    cover.push(covers);
                }
                _ => colour.extend(pixel),
            }
        }
        Ok(Self {
            width,
            height,
            colour,
            cover: (!cover.is_empty()).then_some(cover),
        })
    }

    /// Writes it under two numbers of its own.
    pub(super) fn write(&self, pdf: &mut Pdf, id: Ref, cover: Ref) {
        let width = i32::try_from(self.width).unwrap_or(i32::MAX);
        let height = i32::try_from(self.height).unwrap_or(i32::MAX);
        let packed = deflated(&self.colour);
        let mut image = pdf.image_xobject(id, &packed);
        image.filter(Filter::FlateDecode);
        image.width(width).height(height).bits_per_component(8);
        image.color_space().device_rgb();
        if self.cover.is_some() {
            image.s_mask(cover);
        }
        image.finish();
        if let Some(covers) = &self.cover {
            let packed = deflated(covers);
            let mut mask = pdf.image_xobject(cover, &packed);
            mask.filter(Filter::FlateDecode);
            mask.width(width).height(height).bits_per_component(8);
            mask.color_space().device_gray();
        }
    }
}
