//! How a serial line is cut into chunks changes no row: the stamp of a frame is
//! the one of the chunk that completes it.

use proptest::prelude::*;
use stillohm::input::What;

use crate::led_by_bytes::{Day, OHMS};

/// The rows of lines 50 ms apart, cut where `cuts` says: what lies before a cut
/// comes with the line before it. A line ends with its carriage return.
fn rows(lines: &[String], cuts: &[usize]) -> Vec<String> {
    let mut day = Day::begin(1, Vec::new());
    let mut rest = String::new();
    for (at, line) in lines.iter().enumerate() {
        day.millis += 50;
        let next = lines.get(at + 1).map_or("", |next| {
            let cut = cuts.get(at).copied().unwrap_or(0).min(next.len() - 2);
            &next[..cut]
        });
        let data = [rest.as_str(), next].concat();
        let data = match at {
            0 => [line.as_str(), next].concat(),
            _ => data,
        };
        day.input(What::Bytes {
            port: OHMS,
            data: data.into(),
        });
        rest = lines
            .get(at + 1)
            .map_or(String::new(), |line| line[next.len()..].to_owned());
    }
    let rows = day.output.rows.iter();
    rows.map(|row| {
        format!(
            "{:?} {} {:?} {:?}",
            row.event, row.shown, row.window_s, row.recorded_at
        )
    })
    .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn how_a_line_is_cut_into_chunks_changes_no_row(
        level in 10_i64..9000,
        noise in prop::collection::vec(-1_i64..=1, 80..160),
        cuts in prop::collection::vec(0_usize..8, 0..240),
    ) {
        let open = || std::iter::repeat_n(String::from("OL\r\n"), 40);
        let values = noise.iter().map(|n| format!("{:.2}\r\n", (level + n) as f64 / 100.0));
        let lines: Vec<String> = open().chain(values).chain(open()).collect();
        let whole = rows(&lines, &[]);
        prop_assert!(whole.iter().any(|row| row.starts_with("Value")), "{whole:?}");
        prop_assert_eq!(rows(&lines, &cuts), whole);
    }
}
