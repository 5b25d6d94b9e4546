//! Fewer points that look the same: of each column the lowest and the highest.

use super::{At, Point};

/// Columns of a picture (own: finer than a line is thick).
pub(super) const COLUMNS: usize = 90;
/// A longer silence parts a line, in seconds (own).
const SILENCE: f64 = 2.0;

/// What one reading is to a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Piece {
    /// A place on it.
    At(f64),
    /// It ends here.
    Break,
    /// Nothing.
    Skip,
}

fn column(t: f64, from: f64, until: f64) -> usize {
    let part = (t - from) / (until - from).max(f64::MIN_POSITIVE);
    // A float that is too large becomes the largest number, and is cut here.
    ((part * COLUMNS as f64) as usize).min(COLUMNS - 1)
}

/// Lines through points, each parted where nothing is known between two. A
/// column gives its lowest and its highest, in the order of their times.
pub(super) fn lines(
    points: impl Iterator<Item = (f64, Piece)>,
    from: f64,
    until: f64,
) -> Vec<Vec<(f64, f64)>> {
    let mut found: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut parted = true;
    let mut last = f64::NEG_INFINITY;
    let mut gathered: Option<Column> = None;
    for (t, piece) in points {
        let y = match piece {
            Piece::At(y) => y,
            Piece::Break => {
                parted = true;
                continue;
            }
            Piece::Skip => continue,
        };
        parted |= t - last > SILENCE;
        last = t;
        let here = column(t, from, until);
        match &mut gathered {
            // A line that breaks within a column is no wider than the column.
            Some(column) if column.number == here => column.add((t, y)),
            other => {
                if let Some(column) = other.take() {
                    column.give(&mut found);
                }
                *other = Some(Column {
                    number: here,
                    parted,
                    low: (t, y),
                    high: (t, y),
                });
            }
        }
        parted = false;
    }
    if let Some(column) = gathered {
        column.give(&mut found);
    }
    found
}

struct Column {
    number: usize,
    parted: bool,
    low: (f64, f64),
    high: (f64, f64),
}

impl Column {
    fn add(&mut self, (t, y): (f64, f64)) {
        if y < self.low.1 {
            self.low = (t, y);
        }
        if y > self.high.1 {
            self.high = (t, y);
        }
    }

    fn give(self, found: &mut Vec<Vec<(f64, f64)>>) {
        if self.parted || found.is_empty() {
            found.push(Vec::new());
        }
        if let Some(line) = found.last_mut() {
            let (first, second) = if self.low.0 <= self.high.0 {
                (self.low, self.high)
            } else {
                (self.high, self.low)
            };
            line.push(first);
            if second != first {
                line.push(second);
            }
        }
    }
}

/// Where the display said over-range: from and until, by columns.
pub(super) fn over(points: &[Point], from: f64, until: f64) -> Vec<(f64, f64)> {
    let wide = (until - from) / COLUMNS as f64;
    let mut found: Vec<(f64, f64)> = Vec::new();
    for (at, point) in points.iter().enumerate() {
        if point.at != At::Over {
            continue;
        }
        let next = points.get(at + 1).map_or(point.t, |next| next.t);
        let end = if next - point.t > SILENCE {
            point.t
        } else {
            next
        };
        match found.last_mut() {
            Some((_, until)) if point.t - *until <= wide => *until = end,
            _ => found.push((point.t, end)),
        }
    }
    found
}
