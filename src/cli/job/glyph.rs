//! Big digits from seven strokes, seven lines high, five columns wide.

/// Lines of a big reading.
pub(super) const HEIGHT: usize = 7;

/// The strokes of a sign, in the order a to g; `None` for what has no big form.
fn strokes(sign: char) -> Option<[bool; 7]> {
    let bits: u8 = match sign {
        '0' | 'O' => 0b111_1110,
        '1' => 0b011_0000,
        '2' => 0b110_1101,
        '3' => 0b111_1001,
        '4' => 0b011_0011,
        '5' => 0b101_1011,
        '6' => 0b101_1111,
        '7' => 0b111_0000,
        '8' => 0b111_1111,
        '9' => 0b111_1011,
        'L' => 0b000_1110,
        '-' => 0b000_0001,
        ' ' => 0,
        _ => return None,
    };
    Some(core::array::from_fn(|at| bits >> (6 - at) & 1 == 1))
}

/// Writes a reading big: its digits as strokes of `ink`, what has no big form
/// small behind them on the base line.
pub(super) fn big(reading: &str, ink: char) -> [String; HEIGHT] {
    let mut lines: [String; HEIGHT] = Default::default();
    let end = reading
        .char_indices()
        .find(|(_, sign)| *sign != '.' && strokes(*sign).is_none())
        .map_or(reading.len(), |(at, _)| at);
    for sign in reading[..end].trim_end().chars() {
        for (row, line) in lines.iter_mut().enumerate() {
            match strokes(sign) {
                Some(on) => (0..5).for_each(|column| {
                    line.push(if inked(on, row, column) { ink } else { ' ' });
                }),
                None => line.push(if row == HEIGHT - 1 { ink } else { ' ' }),
            }
            line.push(' ');
        }
    }
    lines[HEIGHT - 1].push_str(reading[end..].trim_start());
    lines
}

fn inked([a, b, c, d, e, f, g]: [bool; 7], row: usize, column: usize) -> bool {
    let level = match row {
        0 => a,
        3 => g,
        6 => d,
        _ => false,
    };
    let left = matches!(row, 0..=3) && f || matches!(row, 3..=6) && e;
    let right = matches!(row, 0..=3) && b || matches!(row, 3..=6) && c;
    level || (column == 0 && left) || (column == 4 && right)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_is_drawn_from_strokes_with_its_unit_behind() {
        let drawn = big("2.4 kΩ", '#').join("\n");
        let expected = "\
#####   #   # 
    #   #   # 
    #   #   # 
#####   ##### 
#           # 
#           # 
##### #     # kΩ";
        assert_eq!(drawn, expected);
    }

    #[test]
    fn words_stay_words() {
        let drawn = big("over-range", '#');
        assert_eq!(drawn[HEIGHT - 1], "over-range");
    }
}
