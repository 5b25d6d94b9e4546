//! A text as a QR code (ISO/IEC 18004).

use qrcodegen::{QrCode, QrCodeEcc};

/// Which squares are dark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Qr {
    side: usize,
    dark: Vec<bool>,
}

/// Light squares around it: the standard asks for four.
pub const QUIET: usize = 4;

impl Qr {
    /// The code of a text, readable with up to 15 % of it lost; none: the text
    /// is too long for any.
    pub fn of(text: &str) -> Option<Self> {
        let code = QrCode::encode_text(text, QrCodeEcc::Medium).ok()?;
        let side = usize::try_from(code.size()).ok()?;
        let squares = (0..code.size()).flat_map(|y| (0..code.size()).map(move |x| (x, y)));
        Some(Self {
            side,
            dark: squares.map(|(x, y)| code.get_module(x, y)).collect(),
        })
    }

    /// Squares on a side, without those around it.
    pub const fn side(&self) -> usize {
        self.side
    }

    /// Runs of dark squares: `x`, `y`, how many, from the top left corner.
    pub fn runs(&self) -> Vec<(usize, usize, usize)> {
        let mut runs = Vec::new();
        for (y, line) in self.dark.chunks(self.side.max(1)).enumerate() {
            let mut x = 0;
            for run in line.chunk_by(|a, b| a == b) {
                if run[0] {
                    runs.push((x, y, run.len()));
                }
                x += run.len();
            }
        }
        runs
    }
}
