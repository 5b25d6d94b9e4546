//! Rates on traces of our own: a few hundred here, tens of thousands in the
//! example `settle_own`. The bars are the first ones asked for, with room for
//! the size of the sample; families that nobody could tell from a settled
//! value at their mild end (a slow walk, heat, pickup above the tolerance)
//! have bars of their own.

use super::scenes::{FAMILIES, trace};
use super::score::score;
use super::{Settle, drive};

/// Traces of each family.
const EACH: u64 = 24;
/// A seed that no constant was chosen with.
const SEED: u64 = 90_001;

/// Wrong traces allowed of `EACH`: none, but for what cannot be told.
fn allowed(family: &str) -> u32 {
    match family {
        "walk" => 5,
        "wander" | "thermal" | "mains" | "inductive" | "absorbing" | "fast drift" => 2,
        "swing" | "body" | "body free" => 1,
        _ => 0,
    }
}

#[test]
fn few_takes_are_wrong_few_contacts_are_missed_none_is_taken_twice() {
    let (mut required, mut missed) = (0, 0);
    for family in FAMILIES {
        let mut wrong = 0;
        for index in 0..EACH {
            let trace = trace(family, SEED + index);
            let got = score(&trace, &drive::captures(&trace));
            wrong += u32::from(got.wrong > 0);
            required += got.required;
            missed += got.missed;
            assert_eq!(got.doubles, 0, "{family} {}", SEED + index);
        }
        assert!(
            wrong <= allowed(family),
            "{family}: {wrong} of {EACH} wrong"
        );
    }
    assert!(required > 300, "the traces ask for something: {required}");
    assert!(
        100 * missed <= 3 * required,
        "{missed} of {required} missed"
    );
}

#[test]
fn a_settle_stays_small_and_allocates_nothing_by_its_size() {
    assert!(size_of::<Settle>() <= 4096, "{}", size_of::<Settle>());
}
