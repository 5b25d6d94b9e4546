//! Ratios and their bands (judging.md, section 4).

use super::d;
use crate::judge::{RatioError, ratio};
use crate::limits::profile::shipped_bands;
use crate::limits::{Bands, RatioKind};

fn bands(name: &str) -> Option<Bands> {
    (name != "-").then(|| {
        let found = shipped_bands()
            .into_iter()
            .find(|b| b.name.as_str() == name);
        found.unwrap_or_else(|| panic!("no bands {name}"))
    })
}

/// `pi trade 100 200` gives `2;2_to_4`, or what is wrong.
fn banded(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let kind = RatioKind::from_word(words[0]).expect("a ratio");
    match ratio(kind, bands(words[1]).as_ref(), d(words[2]), d(words[3])) {
        Ok(banded) => format!("{};{}", banded.number, banded.band),
        Err(e) => e.to_string(),
    }
}

#[track_caller]
fn check(text: &str, expected: &str) {
    assert_eq!(banded(text), expected, "{text}");
}

#[test]
fn a_boundary_belongs_to_the_band_above() {
    check("pi trade 100 99", "0.99;below_1");
    check("pi trade 100 100", "1;1_to_2");
    check("pi trade 100 199", "1.99;1_to_2");
    check("pi trade 100 200", "2;2_to_4");
    check("pi trade 100 400", "4;from_4");
    check("dar set-a 100 99", "0.99;below_1");
    check("dar set-a 100 124", "1.24;1_to_1.25");
    check("dar set-a 100 125", "1.25;1.25_to_1.4");
    check("dar set-a 100 140", "1.4;1.4_to_1.6");
    check("dar set-a 100 160", "1.6;from_1.6");
    check("dar set-b 100 124", "1.24;below_1.25");
    check("dar set-b 100 125", "1.25;1.25_to_1.6");
    check("dar set-b 100 160", "1.6;from_1.6");
    check("dar set-c 100 100", "1;1_to_1.25");
    check("dar set-c 100 139", "1.39;1.25_to_1.4");
    check("dar set-c 100 140", "1.4;from_1.4");
}

/// In binary 1.134 / 0.81 is below 1.4; as written it is 1.4, since 0.81 × 1.4
/// is 1.134 (worked by hand).
#[test]
fn boundaries_are_compared_as_they_are_written() {
    check("dar set-a 0.81 1.134", "1.3999999999999997;1.4_to_1.6");
    check("dar set-a 81e4 1134e3", "1.4;1.4_to_1.6");
    for early in ["0.05", "0.07", "0.09"] {
        let late = d(early).to_f64() * 1.6;
        let said = banded(&format!("dar set-b {early} {late:.3}"));
        assert!(said.ends_with(";from_1.6"), "{said}");
    }
    let said = banded("dar set-a 0.81 1.133999999999999");
    assert!(said.ends_with(";1.25_to_1.4"), "{said}");
}

/// Rows of the reference table insulation_ratios.csv.
#[test]
fn the_worked_rows_of_the_reference_hold() {
    check("pi trade 20000 150000", "7.5;not_judged");
    check("pi ieee43-a 120 180", "1.5;within");
    for class in ["b", "f", "h"] {
        check(&format!("pi ieee43-{class} 120 180"), "1.5;below_minimum");
        check(&format!("pi ieee43-{class} 5000 10000"), "2;within");
        check(&format!("pi ieee43-{class} 5001 10002"), "2;not_judged");
    }
    check("dar set-a 200 260", "1.3;1.25_to_1.4");
    assert!(banded("dar set-a 1.9 1.7").ends_with(";below_1"));
    // The limit of 5000 megohm is of the polarization index alone.
    check("dar set-b 20000 30000", "1.5;1.25_to_1.6");
}

#[test]
fn without_bands_or_with_the_wrong_ones_nothing_is_judged() {
    check("pi - 100 200", "2;not_judged");
    check("dar - 100 200", "2;not_judged");
    check(
        "pi set-a 100 200",
        "bands set-a are of dar, not of pi; name bands of pi",
    );
    check(
        "dar trade 100 200",
        "bands trade are of pi, not of dar; name bands of dar",
    );
    for early in ["0", "-1", "0e3"] {
        let said = banded(&format!("pi trade {early} 200"));
        assert!(
            said.starts_with("expected an early value above 0"),
            "{said}"
        );
    }
    check("pi trade 100 0", "0;below_1");
    let falling = ratio(RatioKind::Pi, None, d("1"), d("-0.1"));
    assert_eq!(falling, Err(RatioError::Late { found: d("-0.1") }));
}

/// No power of ten is too large to compare.
#[test]
fn extremes_keep_their_side() {
    let said = banded("dar set-a 1e-15 999999999999999999e15");
    assert!(said.ends_with(";from_1.6"), "{said}");
    let said = banded("dar set-a 999999999999999999e15 1e-15");
    assert!(said.ends_with(";below_1"), "{said}");
    let said = banded("dar set-a 999999999999999999e15 0");
    assert!(said.ends_with(";below_1"), "{said}");
}
