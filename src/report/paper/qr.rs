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

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO/IEC 18004: version 3 has 29 squares a side and holds 42 bytes at
    /// medium correction; three corners have a finder, which begins with seven
    /// dark squares.
    #[test]
    fn a_seal_makes_a_small_code_with_a_finder_in_three_corners() {
        let qr = Qr::of("19:32434ea0bf27514c7b0b86016ba626f9").expect("fits");
        assert_eq!(qr.side(), 29);
        let runs = qr.runs();
        for corner in [(0, 0, 7), (22, 0, 7), (0, 22, 7)] {
            assert!(runs.contains(&corner), "{corner:?}");
        }
        assert!(
            !runs
                .iter()
                .any(|run| run.0 == 22 && run.1 == 22 && run.2 == 7)
        );
        assert!(runs.iter().all(|(x, y, run)| x + run <= 29 && *y < 29));
    }

    #[test]
    fn a_text_too_long_for_any_code_has_none() {
        assert_eq!(Qr::of(&"x".repeat(4000)), None);
    }
}
