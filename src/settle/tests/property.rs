//! What must hold for any readings.

use proptest::prelude::*;

use super::*;

/// Takes of `(seconds, shown)` in ohms.
fn takes(readings: &[(f64, String)]) -> Vec<(f64, String)> {
    let mut settle = steady();
    readings
        .iter()
        .filter_map(|(now, shown)| settle.push(at(*now), &text(shown, Unit::Ohm)))
        .map(|take| (take.at.seconds(), word(&take.outcome)))
        .collect()
}

/// Open, a contact of any noise about any value, open again.
fn contact() -> impl Strategy<Value = (f64, Vec<i64>, usize)> {
    (
        2.0_f64..20.0,
        prop::collection::vec(-3_i64..=3, 20..200),
        0_usize..5000,
    )
}

fn shown(rate: f64, noise: &[i64], level: usize, place: i8) -> Vec<(f64, String)> {
    let open = (2.0 * rate) as usize;
    let digits = noise.iter().map(|n| {
        let counts = i64::try_from(level).expect("small") + n;
        Decimal::new(counts, place).expect("small").to_string()
    });
    let ol = || std::iter::repeat_n(String::from("OL"), open);
    ol().chain(digits)
        .chain(ol())
        .enumerate()
        .map(|(index, shown)| (1.0 + index as f64 / rate, shown))
        .collect()
}

proptest! {
    #[test]
    fn nothing_is_taken_before_contact_or_after_release((rate, noise, level) in contact()) {
        let readings = shown(rate, &noise, level, -1);
        let values: Vec<f64> = readings.iter().filter(|r| r.1 != "OL").map(|r| r.0).collect();
        for (now, _) in takes(&readings) {
            prop_assert!(now >= values[0] - 1e-6 && now <= values[values.len() - 1] + 1e-6);
        }
    }

    #[test]
    fn a_contact_is_taken_at_most_once((rate, noise, level) in contact()) {
        prop_assert!(takes(&shown(rate, &noise, level, -1)).len() <= 1);
    }

    #[test]
    fn the_prefix_changes_only_the_digits((rate, noise, level) in contact()) {
        let ohms = takes(&shown(rate, &noise, level, -1));
        let kilohms = takes(&shown(rate, &noise, level, -4));
        prop_assert_eq!(ohms.len(), kilohms.len());
        for (ohm, kilohm) in ohms.iter().zip(&kilohms) {
            prop_assert_eq!(ohm.0, kilohm.0);
            prop_assert_eq!(d(&ohm.1).shifted(-3), Some(d(&kilohm.1)));
        }
    }

    #[test]
    fn a_reading_doubled_within_a_chunk_adds_no_dwell((rate, noise, level) in contact()) {
        let flat: Vec<i64> = noise.iter().map(|_| 0).collect();
        let once = shown(rate, &flat, level, -1);
        let twice: Vec<_> = once.iter().flat_map(|r| [r.clone(), r.clone()]).collect();
        let (once, twice) = (takes(&once), takes(&twice));
        // More readings may meet the least number of them sooner, never the dwell.
        for (one, two) in once.iter().zip(&twice) {
            prop_assert_eq!(&one.1, &two.1);
            prop_assert!(two.0 >= 1.0 + 2.0 + 1.7 - 2.0 / rate);
        }
        prop_assert!(twice.len() >= once.len());
    }

    #[test]
    fn three_flat_seconds_at_20_lines_a_second_are_taken_once(
        noise in prop::collection::vec(-1_i64..=1, 60..=60),
        level in 2_usize..20_000,
        jitter in prop::collection::vec(-0.008_f64..0.008, 150..=150),
    ) {
        let mut readings = shown(20.0, &noise, level, -2);
        readings.drain(..10);
        for (reading, jitter) in readings.iter_mut().zip(jitter) {
            reading.0 += jitter;
        }
        prop_assert_eq!(takes(&readings).len(), 1);
    }
}
