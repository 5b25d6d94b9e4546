//! Checking a meter on known resistors (rule 20).
//!
//! *a* is the most by which the meter may be off at a reading: its configured
//! percent and counts, else the careful default of rule 19. A meter within *a*
//! of the true value, on a resistor within its tolerance, reads within *a*,
//! the tolerance and half a count of each reading: all of these must pass. A
//! resistor whose tolerance is larger than *a* shows nothing by a value that
//! fits: such a check is undecided, and neither blocks nor clears.

use super::leads::Leads;
use super::uncertainty::{Reading, limit};
use super::words::{LIVE, Ohm, Terms, brief, hundredth, minus, plus};
use super::{Judgement, Null, leads_before};
use crate::input::Known;
use crate::meter::{Measures, Meter};
use crate::quantity::{Decimal, Unit};
use crate::reading::{Flags, Outcome, Take};
use crate::row::{Finding, Verdict};

/// What a reading of a known resistor comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Proved {
    /// The verdict of its row.
    pub judgement: Judgement,
    /// Whether the resistor is to be read again, since this reading says
    /// nothing of the meter.
    pub again: bool,
}

/// Whether the leads of a meter are read first and subtracted: an ohmmeter
/// with two terminals. A tester's leads are nothing beside a megohm.
pub fn wants_leads(meter: &Meter) -> bool {
    meter.terminals != 4 && meter.measures(Measures::Ohms)
}

/// The clips joined, before the resistors: as before a job.
pub fn joined(meter: &Meter, take: &Take) -> Leads {
    leads_before(meter, take)
}

/// Judges what a meter reads on a known resistor.
pub fn known(meter: &Meter, known: &Known, null: Option<Null>, take: &Take) -> Proved {
    let resistor = named(known);
    let again = |finding, why: String| Proved {
        judgement: Judgement {
            limits_from: resistor.clone(),
            ..Judgement::bare(Verdict::Undecided, Some(finding), why)
        },
        again: true,
    };
    let shown = match take.outcome {
        _ if take.flags.has(Flags::LIVE) => {
            return again(Finding::VoltagePresent, String::from(LIVE));
        }
        _ if take.flags.has(Flags::RELATIVE) => {
            let why =
                "the meter is in relative and subtracts by itself: leave relative, read it again";
            return again(Finding::NullSuspect, String::from(why));
        }
        _ if take.flags.has(Flags::LOW_BATTERY) => {
            let why = "the meter's battery is low: change it, read it again";
            return again(Finding::Unstable, String::from(why));
        }
        Outcome::Value(shown) if shown.unit == Unit::Ohm && !take.flags.not_now() => shown,
        Outcome::Value(shown) => {
            let why = format!("shown {shown}: expected a live value in ohms, read it again");
            return again(Finding::RangeSuspect, why);
        }
        Outcome::Open { .. } | Outcome::OverRange { .. } => {
            let why = format!(
                "over-range on {resistor}; fail; are the clips on it, does the range reach so far?"
            );
            return Proved {
                judgement: Judgement {
                    limits_from: resistor,
                    ..Judgement::bare(Verdict::Fail, Some(Finding::Open), why)
                },
                again: false,
            };
        }
        Outcome::PulledDown { .. } | Outcome::Aborted(_) => {
            return again(
                Finding::Unstable,
                String::from("no value was held: read it again"),
            );
        }
    };
    let reading = if meter.measures(Measures::Ohms) {
        Reading::Winding
    } else {
        Reading::Insulation
    };
    let (a, configured) = limit(meter, shown.value, shown.resolution, None, reading);
    let tolerance = known.ohms.to_f64() * known.percent.to_f64() / 100.0;
    let halves = [Some(shown.resolution), null.map(|n| n.resolution)];
    let halves = halves.into_iter().flatten().map(|r| r.to_f64() / 2.0);
    let (half, squares) = halves.fold((0.0, 0.0), |(sum, sq), h| (sum + h, sq + h * h));
    // On one range what the counts stand for is in both readings; a null of
    // another range may be off by its own.
    let other = null.filter(|null| null.resolution != shown.resolution);
    let apart = other.map_or(0.0, |null| {
        limit(meter, null.ohms, null.resolution, None, reading).0
    });
    let most = a + apart + tolerance + half;
    // GUM type B, rectangular: the resistor and the readings, without the
    // meter's accuracy, which is what is asked.
    let u = 2.0 * ((tolerance * tolerance + squares) / 3.0).sqrt();

    let net = null.map_or(shown.value, |null| minus(shown.value, null.ohms));
    let off = minus(net, known.ohms);
    let mut terms = Terms::new();
    terms.term(format_args!("shown {shown}"));
    if let Some(null) = null {
        terms.more(format_args!(" − leads {} = {}", null.ohms, Ohm(net)));
    }
    terms.term(format_args!("known {resistor}"));
    terms.term(format_args!("off by {}", Ohm(off)));
    terms.term(format_args!(
        "at most {} (meter {}, resistor {}, half a count {})",
        Ohm(brief(most)),
        Ohm(brief(a + apart)),
        Ohm(brief(tolerance)),
        Ohm(brief(half))
    ));
    if !configured {
        terms.term(format_args!(
            "accuracy not configured, a wide one is assumed"
        ));
    }
    // A float that is equal but for its last bits is within.
    let within = off.to_f64().abs() <= most * (1.0 + 1e-12);
    let (verdict, finding) = if !within {
        let high = off > Decimal::ZERO;
        (
            Verdict::Fail,
            if high { Finding::High } else { Finding::Low },
        )
    } else if tolerance > a {
        terms.term(format_args!(
            "the resistor is coarser than the meter, so that it fits shows nothing: use a finer one"
        ));
        (Verdict::Undecided, Finding::LimitsTooNarrow)
    } else {
        (Verdict::Pass, Finding::Within)
    };
    terms.term(format_args!("{verdict}"));
    if verdict == Verdict::Fail && !near(net, known.ohms) {
        terms.term(format_args!(
            "far from it: is this the resistor on the clips, do both clips hold?"
        ));
    }
    let width = hundredth(most, shown.resolution);
    Proved {
        judgement: Judgement {
            verdict,
            finding: Some(finding),
            reason: terms.done(),
            leads_ohms: null.map(|n| n.ohms),
            cable_ohms: None,
            judged_ohms: Some(net),
            lower_ohms: Some(minus(known.ohms, width)),
            upper_ohms: Some(plus(known.ohms, width)),
            limits_from: resistor,
            acceptance: None,
            uncertainty_ohms: Some(hundredth(u, shown.resolution)),
        },
        again: false,
    }
}

/// A resistor in words: `100 Ω 0.1 %`.
pub fn named(known: &Known) -> String {
    format!("{} {} %", Ohm(known.ohms), known.percent)
}

/// Whether a value is at least of the size of a resistor: within a factor of
/// two (own). Further off, the wrong resistor is as likely as a wrong meter.
pub fn near(net: Decimal, known: Decimal) -> bool {
    let (net, known) = (net.to_f64(), known.to_f64());
    net >= known / 2.0 && net <= known * 2.0
}

/// Whether a check at `known` says something of a value of the size of
/// `other`: within a factor of ten (own).
pub fn covers(known: Decimal, other: Decimal) -> bool {
    let (known, other) = (known.to_f64(), other.to_f64());
    other >= known / 10.0 && other <= known * 10.0
}

/// The meter's configured ranges in which none of `known` lies, in words.
pub fn not_checked(meter: &Meter, known: &[Decimal]) -> Vec<String> {
    let mut below = Decimal::ZERO;
    let mut found = Vec::new();
    for range in meter.accuracy.iter().filter(|a| a.unit == Unit::Ohm) {
        let inside = |ohms: &&Decimal| **ohms > below && range.up_to.is_none_or(|to| **ohms <= to);
        if known.iter().find(inside).is_none() {
            found.push(match range.up_to {
                Some(to) if below.is_zero() => format!("up to {}", Ohm(to)),
                Some(to) => format!("{} to {}", Ohm(below), Ohm(to)),
                None => format!("above {}", Ohm(below)),
            });
        }
        below = range.up_to.unwrap_or(below);
    }
    found
}

#[cfg(test)]
mod tests {
    use core::time::Duration;

    use super::*;
    use crate::input::Read;
    use crate::meter::{Accuracy, PortId};
    use crate::quantity::{Ohms, Shown};
    use crate::reading::Method;
    use crate::stamp::Stamp;
    use crate::text::Text;

    fn d(text: &str) -> Decimal {
        text.parse().expect("a decimal")
    }

    fn meter(accuracy: &[(Option<&str>, f64, f64)]) -> Meter {
        let mut meter = Meter::plain(Text::clean("ohms-1"), PortId(0));
        let ranges = accuracy.iter().map(|(up_to, percent, counts)| Accuracy {
            up_to: up_to.map(d),
            unit: Unit::Ohm,
            percent: *percent,
            counts: *counts,
        });
        meter.accuracy = ranges.collect();
        meter
    }

    fn resistor(ohms: &str, percent: &str) -> Known {
        Known {
            ohms: d(ohms),
            percent: d(percent),
            read: Read::Live,
        }
    }

    fn read(outcome: Outcome) -> Take {
        Take {
            at: Stamp::ZERO,
            outcome,
            method: Method::Steady,
            samples: 12,
            window: Duration::from_secs(2),
            spread: Ohms(0.0),
            elapsed: None,
            test_voltage: None,
            leakage: None,
            temperature: None,
            flags: Flags::NONE,
        }
    }

    fn value(shown: &str) -> Take {
        read(Outcome::Value(Shown::plain(d(shown), Unit::Ohm)))
    }

    #[track_caller]
    fn check(meter: &Meter, of: (&str, &str), shown: &str, leads: Option<&str>, expected: &str) {
        let take = match shown {
            "OL" => read(Outcome::Open { full_scale: None }),
            shown => value(shown),
        };
        let null = leads.map(|ohms| Null {
            ohms: d(ohms),
            resolution: d("0.1"),
        });
        let found = known(meter, &resistor(of.0, of.1), null, &take).judgement;
        let words = format!(
            "{} {}",
            found.verdict,
            found.finding.map_or("", Finding::word)
        );
        assert_eq!(words, expected, "{}", found.reason);
    }

    /// 0.5 % and 2 counts at 100.x Ω: a = 0.5 + 0.2 = 0.7 (a little more as the
    /// reading grows); a resistor of 0.1 %: 0.1; half a count of the reading and
    /// of the null: 0.05 and 0.05. In all 0.90 a little above 100 and less than
    /// 0.90 below, by hand.
    #[test]
    fn rule_20_a_meter_within_its_accuracy_holds_and_one_beyond_it_fails() {
        let m = meter(&[(None, 0.5, 2.0)]);
        let hundred = ("100", "0.1");
        check(&m, hundred, "100.2", Some("0.2"), "pass within");
        check(&m, hundred, "101.1", Some("0.2"), "pass within");
        check(&m, hundred, "101.2", Some("0.2"), "fail high");
        check(&m, hundred, "99.4", Some("0.2"), "pass within");
        check(&m, hundred, "99.3", Some("0.2"), "fail low");
        // Without leads half a count less may be off: 0.5 + 0.2 + 0.1 + 0.05.
        check(&m, hundred, "100.8", None, "pass within");
        check(&m, hundred, "100.9", None, "fail high");
    }

    #[test]
    fn a_slipped_clip_a_wrong_resistor_and_a_wrong_range_do_not_hold() {
        let m = meter(&[(None, 0.5, 2.0)]);
        check(&m, ("100", "0.1"), "OL", None, "fail open");
        check(&m, ("10000", "0.1"), "100.2", None, "fail low");
        check(&m, ("100", "0.1"), "10020", None, "fail high");
        check(&m, ("100", "0.1"), "0.2", None, "fail low");
        // A null of 0.2 read to 0.1 beside a reading to 10: 50 + 20 + 10 + 5.05,
        // and 0.2 + 0.001 of its own.
        check(&m, ("10000", "0.1"), "1009e1", Some("0.2"), "fail high");
        check(&m, ("10000", "0.1"), "1008e1", Some("0.2"), "pass within");
        assert!(near(d("101"), d("100")) && !near(d("201"), d("100")));
    }

    /// A resistor of 5 % at 100 Ω is 5; the meter may be off by 0.7.
    #[test]
    fn a_resistor_coarser_than_the_meter_proves_nothing_but_can_still_fail_it() {
        let m = meter(&[(None, 0.5, 2.0)]);
        check(
            &m,
            ("100", "5"),
            "101.0",
            None,
            "undecided limits_too_narrow",
        );
        check(&m, ("100", "5"), "107.0", None, "fail high");
        // 1 % and two counts at 100.0, a resistor of 1 %: 1.2 is not below 1.
        check(&meter(&[]), ("100", "1"), "102.0", None, "pass within");
    }

    /// IEC 61557-2 allows 30 % of reading: 0.3 × 1.3 = 0.39 and more than 0.3.
    #[test]
    fn rule_19_a_tester_without_accuracy_is_checked_by_the_ceiling() {
        let mut m = meter(&[]);
        m.measures = vec![Measures::Insulation];
        check(&m, ("1000000", "1"), "1300000", None, "pass within");
        check(&m, ("1000000", "1"), "1500000", None, "fail high");
        check(&m, ("1000000", "1"), "700000", None, "fail low");
        assert!(!wants_leads(&m));
    }

    #[test]
    fn a_value_that_says_nothing_of_the_meter_is_read_again() {
        let m = meter(&[]);
        let volts = read(Outcome::Value(Shown::plain(d("5"), Unit::Volt)));
        assert!(known(&m, &resistor("100", "1"), None, &volts).again);
        for flag in [Flags::RELATIVE, Flags::LOW_BATTERY, Flags::LIVE] {
            let take = Take {
                flags: flag,
                ..value("100.0")
            };
            let found = known(&m, &resistor("100", "1"), None, &take);
            assert!(found.again && found.judgement.verdict == Verdict::Undecided);
        }
    }

    #[test]
    fn ranges_without_a_resistor_are_named() {
        let m = meter(&[
            (Some("400"), 0.5, 2.0),
            (Some("4000"), 0.5, 2.0),
            (None, 1.0, 2.0),
        ]);
        assert_eq!(
            not_checked(&m, &[d("100")]),
            ["400 Ω to 4 kΩ", "above 4 kΩ"]
        );
        assert_eq!(not_checked(&m, &[d("400"), d("4700")]), ["400 Ω to 4 kΩ"]);
        assert_eq!(not_checked(&meter(&[]), &[d("1")]), [""; 0]);
    }

    #[test]
    fn leads_are_wanted_of_an_ohmmeter_with_two_terminals_alone() {
        let plain = meter(&[]);
        let mut four = plain.clone();
        four.terminals = 4;
        let mut tester = plain.clone();
        tester.measures = vec![Measures::Insulation];
        assert!(wants_leads(&plain) && !wants_leads(&four) && !wants_leads(&tester));
    }

    /// 35.5 counts of 0.01, 0.1 Ω of the resistor and half a count: 0.46 Ω, which
    /// the sum of the floats misses by its last bit.
    #[test]
    fn rule_20_off_by_all_that_is_allowed_still_holds() {
        let m = meter(&[(None, 0.0, 35.5)]);
        check(&m, ("100", "0.1"), "100.46", None, "pass within");
        check(&m, ("100", "0.1"), "100.47", None, "fail high");
        check(&m, ("100", "0.1"), "99.54", None, "pass within");
        check(&m, ("100", "0.1"), "99.53", None, "fail low");
        // A resistor as fine as the meter is fine enough: 0.1 Ω and a count of 0.1 Ω.
        let m = meter(&[(None, 0.0, 1.0)]);
        check(&m, ("100", "0.1"), "100.0", None, "pass within");
        check(
            &m,
            ("100", "0.11"),
            "100.0",
            None,
            "undecided limits_too_narrow",
        );
    }

    /// A null of whole ohms may be off by 0.0045 + 2 and half a count of it, 0.5.
    /// The reading: 0.5 % of 104.2 and 2 counts, 0.721; 0.1 and 0.05 beside it.
    #[test]
    fn rule_20_a_null_of_another_range_is_off_by_its_own() {
        let m = meter(&[(None, 0.5, 2.0)]);
        let at = |shown: &str| {
            let null = Null {
                ohms: d("0.9"),
                resolution: d("1"),
            };
            let judged = known(&m, &resistor("100", "0.1"), Some(null), &value(shown)).judgement;
            judged.verdict
        };
        // 3.3755 allowed at 104.2, where it is off by 3.3; at 104.3 by 3.4.
        assert_eq!((at("104.2"), at("104.3")), (Verdict::Pass, Verdict::Fail));
    }

    #[test]
    fn the_doubt_of_a_check_is_that_of_the_resistor_and_the_counts() {
        let u = |leads: Option<&str>| {
            let null = leads.map(|ohms| Null {
                ohms: d(ohms),
                resolution: d("0.1"),
            });
            let of = known(&meter(&[]), &resistor("100", "0.1"), null, &value("100.2"));
            of.judgement.uncertainty_ohms.map(|u| u.to_f64())
        };
        // 2 √((0.1² + 0.05²)/3) = 0.1291; with the half count of a null 0.1414.
        assert_eq!(u(None), Some(0.129));
        assert_eq!(u(Some("0.2")), Some(0.141));
    }

    #[test]
    fn a_check_says_what_it_rests_on_and_when_it_is_far_off() {
        let said = |m: &Meter, shown: &str| {
            known(m, &resistor("100", "0.1"), None, &value(shown))
                .judgement
                .reason
        };
        let configured = meter(&[(None, 0.5, 2.0)]);
        let wide = "accuracy not configured";
        assert!(said(&meter(&[]), "100.0").contains(wide));
        assert!(!said(&configured, "100.0").contains(wide));
        assert!(said(&configured, "100.0").contains("known 100 Ω 0.1 %"));
        let far = "far from it: is this the resistor";
        for (shown, is_far) in [
            ("49.9", true),
            ("50.0", false),
            ("100.0", false),
            ("200.0", false),
            ("200.1", true),
        ] {
            assert_eq!(said(&configured, shown).contains(far), is_far, "{shown}");
        }
    }

    #[test]
    fn rule_20_a_check_covers_values_within_a_factor_of_ten() {
        for (other, covered) in [
            ("9.99", false),
            ("10", true),
            ("1000", true),
            ("1001", false),
        ] {
            assert_eq!(covers(d("100"), d(other)), covered, "{other}");
        }
    }

    #[test]
    fn a_meter_that_was_not_checked_has_all_its_ranges_named() {
        let m = meter(&[(Some("400"), 0.5, 2.0), (Some("4000"), 0.5, 2.0)]);
        assert_eq!(not_checked(&m, &[]), ["up to 400 Ω", "400 Ω to 4 kΩ"]);
    }
}
