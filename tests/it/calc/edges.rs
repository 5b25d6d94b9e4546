//! `calc` where digits are lost and where it is asked for help. Expected by hand.

use super::asked::{gives, one, refuses};
use crate::run::Folder;

/// One number, to nine digits.
fn near(args: &str, expected: f64) {
    let (code, stdout, stderr) = one(args);
    assert_eq!(code, Some(0), "{args}: {stderr}");
    let object: serde_json::Value = serde_json::from_str(&stdout).expect("an object");
    let got = object["result"].as_f64().expect("a number");
    assert!((got / expected - 1.0).abs() < 1e-9, "{args}: {got}");
}

#[test]
fn near_values_keep_the_digits_of_their_difference() {
    // Of a mean of 1 + 1e-8/3 the first is 2e-8/3 away.
    near("unbalance r1=1.00000001 r2=1 r3=1", 2e-6 / (3.0 + 1e-8));
    near(
        "unbalance r1=1.000000000001 r2=1 r3=1",
        2e-10 / (3.0 + 1e-12),
    );
    gives("unbalance r1=-1 r2=2 r3=3", "175");
    gives("unbalance r1=1e308 r2=1e308 r3=1e308", "0");
    gives(
        "wye-phases r12=1000000.3 r23=1000000.2 r31=0.2",
        "\"0.15;1000000.15;0.05\"",
    );
    gives("wye-phases r12=.5 r23=2.6 r31=2.4", "\"0.15;0.35;2.25\"");
    gives(
        "wye-phases r12=1e-12 r23=1e-12 r31=2e-12",
        "\"1e-12;0;1e-12\"",
    );
    // a = 0.15, b = 100000.15, c = 0.05 in the wye, as above.
    let (ab, bc, ca) = (
        100_000.3 + 0.15 * 100_000.15 / 0.05,
        100_000.2 + 0.05 * 100_000.15 / 0.15,
        0.2 + 0.05 * 0.15 / 100_000.15,
    );
    let (code, stdout, stderr) = one("delta-phases r12=100000.3 r23=100000.2 r31=0.2");
    assert_eq!(code, Some(0), "{stderr}");
    let object: serde_json::Value = serde_json::from_str(&stdout).expect("an object");
    let words = object["result"].as_str().expect("three").split(';');
    for (word, expected) in words.zip([ab, bc, ca]) {
        let got: f64 = word.parse().expect("a number");
        assert!((got / expected - 1.0).abs() < 1e-9, "{word}, {expected}");
    }
}

#[test]
fn small_probabilities_and_uncertainties_keep_their_digits() {
    // A narrow slice holds the density there times its width: 1/√(2π) of it at the middle.
    let density = 0.398_942_280_401_432_7;
    near(
        "conformity value=0 u=1 lower=-1e-10 upper=1e-10",
        2e-10 * density,
    );
    near(
        "conformity value=5 u=1 lower=5.0000000001 upper=5.0000000002",
        1e-10 * density,
    );
    near(
        "conformity value=3.46 u=1e12 lower=3.2 upper=3.5",
        3e-13 * density,
    );
    // One rectangle of ±a: a/√3.
    near(
        "meter-uncertainty value=1e-200 resolution=0 percent=100",
        5.773_502_691_9e-201,
    );
    near(
        "meter-uncertainty value=1e300 resolution=1e200 percent=1",
        5.773_502_691_9e297,
    );
}

#[test]
fn guard_bands_may_meet_and_not_cross() {
    gives("guarded-limits u=0.1 lower=0.3 upper=0.7", "\"0.5;0.5\"");
    gives("guarded-limits u=0.15 lower=0.1 upper=0.7", "\"0.4;0.4\"");
    gives("guarded-limits u=0.05 lower=1.8 upper=2.2", "\"1.9;2.1\"");
    gives(
        "guarded-limits u=0.05 lower=0.1 upper=0.266 w_factor=0.83",
        "\"0.183;0.183\"",
    );
    refuses(
        "guarded-limits u=0.1000001 lower=0.3 upper=0.7",
        "lower 0.5000002 is above upper 0.4999998",
    );
}

#[test]
fn a_name_with_help_says_what_it_asks_for() {
    let told =
        ran!([] "calc" "conductor" "--help" => 0, stdout "conductor length_m=… [area_mm2=…]");
    assert_eq!(told.stdout.lines().count(), 3, "{}", told.stdout);
    ran!([] "calc" "conductor" "-h" => 0, stdout "[stranding=solid|stranded]");
    ran!([] "calc" "--help" => 0, stdout "Calculate what the judge calculates");
    ran!([] "calc" "list" "--help" => 0, stdout "Usage: stillohm calc");
    ran!([] "calc" "conducter" "--help" => 2, stderr "nearest: conductor");
}

#[test]
fn a_folder_is_no_table() {
    ran!([] "calc" "conductor" "--rows" "." => 2, stderr "is a folder; expected a CSV file");
    let ran = Folder::new(&[]).run(&["calc", "ratio", "early_megohm=1e-300", "late_megohm=1"]);
    assert_eq!(ran.code, Some(1));
    assert!(
        ran.stderr.contains("no insulation has 1e-300 megohm"),
        "{}",
        ran.stderr
    );
}
