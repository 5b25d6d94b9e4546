//! Over random windings: what a limit, a doubt and a unit may change, and what not.

use proptest::prelude::*;

use super::{Bench, Decimal, Judgement, Outcome, Verdict, cases, d};
use crate::limits::Acceptance;

/// A winding read with four wires; values in hundredths of an ohm.
#[derive(Clone, Debug)]
struct Winding {
    value: i64,
    limits: [i64; 2],
    guarded: bool,
    percent: f64,
    cable: Option<(i64, i64)>,
    temperature: Option<i64>,
    /// The power of ten of everything.
    scale: i8,
}

impl Winding {
    fn judge(&self) -> Judgement {
        let at = |count: i64| Decimal::new(count, self.scale - 2).expect("in range");
        let mut bench = Bench::read(&format!(
            "winding main; shown 1; terminals 4; ref 20; accuracy {} 2",
            self.percent
        ));
        let Outcome::Value(shown) = &mut bench.take.outcome else {
            panic!("a value");
        };
        let cable = self.cable.map_or(0, |(ohms, _)| ohms);
        (shown.value, shown.resolution) = (at(self.value + cable), at(1));
        let [lower, upper] = self.limits.map(|count| Some(at(count)));
        bench.motor.main = crate::limits::Range { lower, upper };
        bench.around.cable = self.cable.map(|(ohms, doubt)| crate::limits::Cable {
            ohms: at(ohms),
            doubt_percent: Decimal::new(doubt, 0).expect("in range"),
            from: crate::text::Text::clean("as given"),
            laid: None,
        });
        bench.around.temperature = self.temperature.map(|t| super::Celsius(t as f64));
        bench.around.acceptance = if self.guarded {
            Acceptance::Guarded
        } else {
            Acceptance::Simple
        };
        bench.judge()
    }

    fn with(&self, change: impl FnOnce(&mut Self)) -> Self {
        let mut other = self.clone();
        change(&mut other);
        other
    }
}

prop_compose! {
    fn any_winding()(
        lower in 100..5000_i64, width in 0..4000_i64, at in -300..1300_i64,
        guarded in any::<bool>(), percent in 0.0..8.0_f64,
        cable in prop::option::of((1..2000_i64, 1..30_i64)),
        temperature in prop::option::of(-10..60_i64),
    ) -> Winding {
        Winding {
            value: (lower + width * at / 1000).max(1), limits: [lower, lower + width],
            guarded, percent, cable, temperature, scale: 0,
        }
    }
}

proptest! {
    #![proptest_config(cases(3000))]

    #[test]
    fn rule_06_a_verdict_does_not_depend_on_the_unit(winding in any_winding()) {
        let said = |scale: i8| {
            let judgement = winding.with(|w| w.scale = scale).judge();
            (judgement.verdict, judgement.finding)
        };
        let here = said(0);
        for scale in [-3, -1, 1] {
            prop_assert_eq!(here, said(scale), "{}", winding.judge().reason);
        }
    }

    #[test]
    fn rule_06_a_value_further_inside_never_turns_from_pass_to_undecided(winding in any_winding(), part in 0..1000_i64) {
        // Without a correction, whose rounding is not that of the limits.
        let winding = winding.with(|w| w.temperature = None);
        if winding.judge().verdict == Verdict::Pass {
            let middle = (winding.limits[0] + winding.limits[1]) / 2;
            let inner = winding.with(|w| w.value += (middle - w.value) * part / 1000);
            prop_assert_eq!(inner.judge().verdict, Verdict::Pass, "{}", inner.judge().reason);
        }
    }

    #[test]
    fn rule_06_guarded_passes_only_what_simple_passes_and_fails_only_what_it_fails(winding in any_winding()) {
        let simple = winding.with(|w| w.guarded = false).judge().verdict;
        let guarded = winding.with(|w| w.guarded = true).judge().verdict;
        prop_assert!(guarded == Verdict::Undecided || guarded == simple, "{}", winding.judge().reason);
    }

    #[test]
    fn rule_06_more_doubt_never_turns_undecided_into_pass(winding in any_winding(), percent in 0.0..5.0_f64, doubt in 0..20_i64) {
        let more = winding.with(|w| {
            w.percent += percent;
            w.cable = w.cable.map(|(ohms, had)| (ohms, had + doubt));
        });
        if more.judge().verdict == Verdict::Pass {
            prop_assert_eq!(winding.judge().verdict, Verdict::Pass, "{}", winding.judge().reason);
        }
        let u = |w: &Winding| w.judge().uncertainty_ohms;
        if let (Some(had), Some(has)) = (u(&winding), u(&more)) {
            prop_assert!(has >= had, "{has} below {had}");
        }
    }

    #[test]
    fn rule_06_guarded_passes_what_lies_inside_by_more_than_u_and_nothing_else(winding in any_winding()) {
        let winding = winding.with(|w| w.guarded = true);
        let judgement = winding.judge();
        let (Some(value), Some(u)) = (judgement.judged_ohms, judgement.uncertainty_ohms) else {
            return Ok(());
        };
        let [lower, upper] = winding.limits.map(|count| Decimal::new(count, -2).expect("in range").to_f64());
        let (value, u) = (value.to_f64(), u.to_f64());
        let room = (value - lower).min(upper - value) - u;
        // A billionth of slack for f64.
        if room > 1e-9 {
            prop_assert_eq!(judgement.verdict, Verdict::Pass, "{}", judgement.reason);
        } else if room < -1e-9 {
            prop_assert!(judgement.verdict != Verdict::Pass, "{}", judgement.reason);
        }
    }
}

#[test]
fn a_winding_of_the_generator_is_what_it_says() {
    let winding = Winding {
        value: 200,
        limits: [180, 220],
        guarded: true,
        percent: 0.5,
        cable: Some((50, 10)),
        temperature: Some(20),
        scale: 0,
    };
    let judgement = winding.judge();
    assert_eq!(judgement.judged_ohms, Some(d("2")));
    assert_eq!(judgement.verdict, Verdict::Pass, "{}", judgement.reason);
}
