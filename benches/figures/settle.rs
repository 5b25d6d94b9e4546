//! One sample through settling: while the value moves, and when it was taken
//! and stands still.

use std::hint::black_box;

use stillohm::quantity::{Decimal, Shown, Unit};
use stillohm::reading::{Flags, Got, Sample};
use stillohm::settle::{Settle, Spec, Steady};
use stillohm::stamp::Stamp;

use crate::Figure;
use crate::replay::own_nanos;

const SAMPLES: u64 = 4_000_000;
/// Twenty samples a second.
const STEP: u64 = 50_000_000;

pub(crate) fn figures() -> Vec<Figure> {
    let moving = untaken((0..4_000).map(|n| 10_000 + n * 7 % 4_000));
    // Noise of many tolerances; and two swings of a tolerance that never fit
    // each other, which go the longest way.
    let noise = (0..4_000).scan(1_u64, |state, _| {
        *state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        Some(9_600 + i64::try_from((*state >> 33) % 800).unwrap_or(0))
    });
    let noisy = untaken(noise);
    let swing = |n: i64, period: i64| ((n % period) * 100 / period - 50).abs();
    let swings = untaken((0..4_000).map(|n| 10_000 + swing(n, 57) + swing(n, 133)));
    let same = sample(10_000);
    let mut settle = Settle::new(Spec::Steady(Steady::default()));
    let taken = (0..200)
        .filter_map(|n| settle.push(Stamp::from_nanos(n * STEP), &same))
        .count();
    assert_eq!(taken, 1, "a value that stands is taken once");
    let unchanged = best(|| {
        for n in 200..SAMPLES {
            black_box(
                settle
                    .push(Stamp::from_nanos(n * STEP), black_box(&same))
                    .is_some(),
            );
        }
    });
    vec![
        Figure::at_most("settle: a sample, moving", moving, 60.0, "ns"),
        Figure::at_most("settle: a sample, noisy", noisy, 60.0, "ns"),
        Figure::at_most("settle: a sample, two swings", swings, 60.0, "ns"),
        Figure::at_most(
            "settle: a sample, taken and unchanged",
            unchanged,
            5.0,
            "ns",
        ),
    ]
}

/// Nanoseconds a sample of counts that go round and that nothing is taken from.
fn untaken(counts: impl Iterator<Item = i64>) -> f64 {
    let path: Vec<Sample> = counts.map(sample).collect();
    best(|| {
        let mut settle = Settle::new(Spec::Steady(Steady::default()));
        for (n, sample) in (0..SAMPLES).zip(path.iter().cycle()) {
            let take = settle.push(Stamp::from_nanos(n * STEP), black_box(sample));
            assert!(black_box(take).is_none(), "nothing settles");
        }
    })
}

/// Nanoseconds of CPU a sample, the better of two.
fn best(mut run: impl FnMut()) -> f64 {
    let mut once = || {
        let before = own_nanos();
        run();
        (own_nanos() - before) as f64 / SAMPLES as f64
    };
    once().min(once())
}

fn sample(count: i64) -> Sample {
    let value = Decimal::new(count, -3).expect("in range");
    Sample {
        got: Got::Value(Shown::plain(value, Unit::Ohm)),
        flags: Flags::NONE,
        test_voltage: None,
        elapsed: None,
        leakage: None,
        temperature: None,
    }
}
