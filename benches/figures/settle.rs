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
    // Noise of several tolerances, and one that beats: the longest ways through.
    let noisy = untaken((0..4_000).map(|n: i64| 10_000 + n * n % 151));
    let beats = untaken((0..4_000).map(|n: i64| 10_000 + (n % 40 - 20).abs() * 3));
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
        Figure::at_most("settle: a sample, beating", beats, 60.0, "ns"),
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
