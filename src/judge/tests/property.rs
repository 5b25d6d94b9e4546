//! Over random cases: what may never pass, and what must.

use proptest::prelude::*;

use super::{
    Bench, Contact, Flags, GroundPath, GroundReference, LeadProof, Outcome, Test, Verdict, cases,
    d, insulation_minimum, judge, profile as shipped, proven_after, shown,
};
use crate::limits::{Electronics, InsulationTest};
use crate::quantity::{Celsius, Decimal, Volts};

fn pick<T: Clone + core::fmt::Debug + 'static>(of: &[T]) -> impl Strategy<Value = T> + use<T> {
    prop::sample::select(of.to_vec())
}

prop_compose! {
    /// A ground or insulation case, with anything that can be wrong with it.
    fn any_case()(
        (ground, point) in (any::<bool>(), pick(&["all_to_ground", "line_1_to_ground", "between_12"])),
        (outcome, count, prefix) in (0..4, 0..9999_i64, pick(&["", "k", "M", "G"])),
        (profile, condition) in pick(&[
            (None, None), (Some("ieee43"), None), (Some("kv-plus-one"), None), (Some("machinery"), None),
            (Some("pump-a"), Some("installed-used")), (Some("pump-b"), Some("bench-unused")), (Some("pump-a"), None),
        ]),
        (leads, contact, path) in (
            pick(&[LeadProof::Unproven, LeadProof::Before, LeadProof::BeforeAndAfter]),
            pick(&[Contact::Unproven, Contact::SecondLead, Contact::Attested]),
            pick(&[GroundPath::Unproven, GroundPath::Metal, GroundPath::Earth]),
        ),
        (reference, electronics, allowed) in (
            pick(GroundReference::ALL), pick(Electronics::ALL), pick(InsulationTest::ALL),
        ),
        (flags, blocked) in (
            pick(&[Flags::NONE, Flags::NONE, Flags::NONE, Flags::LOW_BATTERY, Flags::FROZEN, Flags::AVG, Flags::RELATIVE]),
            prop::bool::weighted(0.1),
        ),
        (volts, max, elapsed, temp) in (
            pick(&[None, Some(500.0), Some(250.0), Some(1000.0)]),
            pick(&[None, Some(250.0), Some(500.0)]),
            pick(&[None, Some(10.0), Some(60.0)]),
            pick(&[None, Some(20.0), Some(40.0), Some(-10.0)]),
        ),
    ) -> Bench {
        let test = if ground { Test::Ground } else { Test::Insulation };
        let mut bench = Bench::new(test, point);
        let reading = shown(&format!("{count}{prefix}"));
        bench.take.outcome = match outcome {
            0 | 1 => Outcome::Value(reading),
            2 => Outcome::OverRange { full_scale: Some(reading.value) },
            _ => Outcome::Open { full_scale: None },
        };
        bench.around.profile = profile.map(shipped);
        bench.around.condition = condition.map(str::to_owned);
        (bench.around.leads, bench.around.contact, bench.around.ground_path) = (leads, contact, path);
        bench.around.ground_reference = reference;
        (bench.motor.electronics, bench.motor.insulation_test) = (electronics, allowed);
        bench.take.flags = flags;
        bench.around.meter_blocked = blocked;
        bench.around.planned_v = Some(Volts(500.0));
        bench.take.test_voltage = if ground { None } else { volts.map(Volts) };
        bench.motor.max_test_v = max.map(Volts);
        bench.take.elapsed = elapsed.map(core::time::Duration::from_secs_f64);
        bench.around.temperature = temp.map(Celsius);
        bench
    }
}

/// The minimum and U written anew, from the words of the rules.
fn clears_the_minimum(bench: &Bench) -> bool {
    let around = &bench.around;
    let Some(profile) = around.profile.as_ref() else {
        return false;
    };
    let Ok(minimum) = insulation_minimum(profile, bench.motor.rated_v, around.condition.as_deref())
    else {
        return false;
    };
    let value = match bench.take.outcome {
        Outcome::Value(shown) => shown.value,
        Outcome::OverRange {
            full_scale: Some(f),
        } => f,
        _ => return false,
    };
    let corrected = profile.correct_to_c.is_some();
    // Halving is the smaller factor at each of the temperatures used here.
    let factor = match around.temperature.map(|t| t.0 as i64) {
        _ if !corrected => 1.0,
        Some(40) => 1.0,
        Some(20) => 0.25,
        Some(-10) | None => 1.0 / 32.0,
        Some(other) => panic!("no factor for {other}"),
    };
    value.to_f64() * 0.7 * factor >= minimum.ohms.to_f64() * 0.999_999
}

proptest! {
    #![proptest_config(cases(4000))]

    #[test]
    fn nothing_passes_that_was_not_proven(bench in any_case()) {
        let judgement = bench.judge();
        if judgement.verdict == Verdict::Pass {
            let around = &bench.around;
            let insulation = bench.point.test == Test::Insulation;
            let over = !matches!(bench.take.outcome, Outcome::Value(_));
            prop_assert!(around.leads != LeadProof::Unproven);
            prop_assert!(!over || around.leads == LeadProof::BeforeAndAfter);
            prop_assert!(!over || around.contact == Contact::SecondLead || insulation && around.contact == Contact::Attested);
            prop_assert!(bench.take.flags == Flags::NONE);
            prop_assert!(!around.meter_blocked);
            prop_assert!(around.ground_path != GroundPath::Unproven
                || around.ground_reference == GroundReference::Frame
                || bench.point.name.as_str().starts_with("between"));
            prop_assert!(clears_the_minimum(&bench), "{}", judgement.reason);
            if insulation {
                let joined = bench.point.name.as_str() == "all_to_ground";
                let allowed = match bench.motor.insulation_test {
                    InsulationTest::Forbidden => false,
                    InsulationTest::LeadsJoinedOnly => joined,
                    InsulationTest::Allowed => bench.motor.electronics == Electronics::No,
                };
                prop_assert!(allowed);
                prop_assert!(bench.take.test_voltage.is_none_or(|v| v.0 == 500.0));
                prop_assert!(bench.motor.max_test_v.is_none_or(|most| most.0 >= 500.0));
            }
        }
        prop_assert!(judgement.finding != Some(crate::row::Finding::Within) || judgement.verdict != Verdict::Fail);
    }

    #[test]
    fn a_motor_that_clears_everything_passes(mut bench in any_case(), megohms in 600_000..9_999_999_i64) {
        bench.around.leads = LeadProof::BeforeAndAfter;
        bench.around.contact = Contact::SecondLead;
        bench.around.ground_path = GroundPath::Metal;
        (bench.motor.electronics, bench.motor.insulation_test) = (Electronics::No, InsulationTest::Allowed);
        (bench.take.flags, bench.around.meter_blocked) = (Flags::NONE, false);
        (bench.take.test_voltage, bench.motor.max_test_v) = (Some(Volts(510.0)), None);
        bench.around.profile.get_or_insert_with(|| shipped("machinery"));
        if bench.around.profile.as_ref().is_some_and(|p| p.name.as_str() == "pump-a") {
            bench.around.condition = Some(String::from("bench-unused"));
        }
        let value = Decimal::new(megohms, 3).expect("in range");
        bench.take.outcome = match bench.take.outcome {
            Outcome::Value(_) => {
                let mut reading = shown("1M");
                reading.value = value;
                Outcome::Value(reading)
            }
            _ => Outcome::OverRange { full_scale: Some(value) },
        };
        prop_assert_eq!(bench.judge().verdict, Verdict::Pass, "{}", bench.judge().reason);
        bench.around.leads = LeadProof::Before;
        prop_assert_eq!(proven_after(&bench.case(), Contact::SecondLead).verdict, Verdict::Pass);
    }

    #[test]
    fn a_fault_that_was_read_is_never_a_pass_whatever_the_proofs(mut bench in any_case(), kilohms in 0..499_i64) {
        let mut reading = shown("1k");
        reading.value = Decimal::new(kilohms, 3).expect("in range");
        bench.take.outcome = Outcome::Value(reading);
        bench.around.temperature = Some(Celsius(40.0));
        let judgement = bench.judge();
        prop_assert!(judgement.verdict != Verdict::Pass, "{}", judgement.reason);
    }

    #[test]
    fn a_winding_inside_by_more_than_u_passes_and_one_outside_does_not(count in 100..4000_i64, guarded in any::<bool>()) {
        let value = Decimal::new(count, -1).expect("in range");
        let guard = if guarded { "; guarded" } else { "" };
        let within = judge(&format!(
            "winding main; shown {value}; terminals 4; temp 20; ref 20; limits {} {}{guard}",
            value.to_f64() * 0.8, value.to_f64() * 1.2,
        ));
        prop_assert_eq!(within.verdict, Verdict::Pass, "{}", within.reason);
        let outside = judge(&format!(
            "winding main; shown {value}; terminals 4; temp 20; ref 20; limits {} {}{guard}",
            value.to_f64() * 1.1, value.to_f64() * 1.3,
        ));
        prop_assert_eq!(outside.verdict, Verdict::Fail, "{}", outside.reason);
        prop_assert_eq!(outside.judged_ohms.unwrap_or(d("0")), value);
    }

    #[test]
    fn within_u_of_the_minimum_nothing_passes(part in 0..1000_i64, over in any::<bool>(), insulation in any::<bool>(), (profile, condition) in pick(&[
        ("machinery", None), ("ieee43", None), ("pump-a", Some("installed-used")), ("pump-b", Some("bench-unused")),
    ])) {
        let mut bench = Bench::new(if insulation { Test::Insulation } else { Test::Ground }, "all_to_ground");
        bench.around.profile = Some(shipped(profile));
        bench.around.condition = condition.map(str::to_owned);
        bench.take.elapsed = Some(core::time::Duration::from_secs(60));
        let minimum = insulation_minimum(&shipped(profile), bench.motor.rated_v, condition).expect("a minimum").ohms;
        // U is 30 % of reading: from the minimum to 1/0.7 of it. At an unknown temperature more.
        let milliohms = minimum.to_f64() * 1000.0 * (1.0 + 0.428 * part as f64 / 1000.0);
        let value = Decimal::new(milliohms as i64, -3).expect("in range");
        let mut reading = shown("1M");
        reading.value = value;
        bench.take.outcome = if over {
            Outcome::OverRange { full_scale: Some(value) }
        } else {
            Outcome::Value(reading)
        };
        let judgement = bench.judge();
        prop_assert_eq!(judgement.verdict, Verdict::Undecided, "{}", judgement.reason);
        let clear = Decimal::new((minimum.to_f64() * 1000.0 * 1.43) as i64, -3).expect("in range");
        bench.take.outcome = Outcome::OverRange { full_scale: Some(clear) };
        let passes = bench.judge().verdict == Verdict::Pass;
        prop_assert_eq!(passes, profile != "ieee43");
    }
}
