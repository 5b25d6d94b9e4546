//! The bar: the minimum that a ground or insulation value must clear, guarded.
//!
//! Always guarded: a value passes only with its U to spare and fails below the
//! minimum. Where the profile asks for a correction to 40 °C and the
//! temperature is not known, the worst assumed temperature decides a pass and
//! the best one a fail.

use super::profile::{FLOOR_OHMS, Mark, insulation_minimum};
use super::uncertainty::{Reading, of_reading};
use super::words::{In, Ohm, Terms, brief, hundredth, minus, plus};
use super::{Case, correction};
use crate::limits::{Profile, Test};
use crate::quantity::{Celsius, Decimal};
use crate::text::Text;

/// What must be cleared, and how values come to it.
#[derive(Debug)]
pub(super) struct Bar {
    /// In ohms.
    pub(super) minimum: Decimal,
    /// Where it comes from.
    pub(super) source: Text,
    /// Whether a value above it can pass: not without a profile.
    pub(super) clears: bool,
    /// Why it cannot.
    pub(super) why_not: String,
    /// When the value is to be read.
    pub(super) mark: Mark,
    factor: Factor,
}

/// From a reading to 40 °C.
#[derive(Clone, Copy, Debug)]
enum Factor {
    /// As read.
    One,
    /// At a known temperature.
    Known {
        at: Celsius,
        by: f64,
        /// Said of the factor where the insulation is not known.
        kind: &'static str,
    },
    /// At a temperature that is assumed to lie between two.
    Assumed { worst: f64, best: f64 },
}

/// Where a value stands to the bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stand {
    /// Below the minimum.
    Below,
    /// From the minimum to U above it.
    Within,
    /// It depends on the temperature, which nobody entered.
    Temperature,
    /// At least U above the minimum.
    Above,
}

/// A value brought to the bar.
#[derive(Clone, Copy, Debug)]
pub(super) struct Brought {
    /// Corrected where that is asked and known.
    pub(super) judged: Decimal,
    /// U of it.
    pub(super) u: Decimal,
    /// Whether U rests on a configured accuracy.
    configured: bool,
    /// Where it stands.
    pub(super) stand: Stand,
    /// Whether it is below a tenth of the minimum: no hold will mend that (own).
    pub(super) hopeless: bool,
}

impl Bar {
    pub(super) fn of(case: &Case<'_>) -> Self {
        let around = case.around;
        let condition = around.condition.as_deref().filter(|c| !c.is_empty());
        let floor = |why_not| Self {
            minimum: Decimal::new(FLOOR_OHMS, 0).unwrap_or_default(),
            source: Text::clean("0.5 megohm, the floor without a profile (own)"),
            clears: false,
            why_not,
            mark: Mark::Spot,
            factor: Factor::One,
        };
        let Some(profile) = &around.profile else {
            return floor(String::from(
                "no insulation profile: name one to have it judged",
            ));
        };
        match insulation_minimum(profile, case.motor.rated_v, condition) {
            // A profile of one's own may be of slip rings or heaters: of a motor
            // that nobody listed the ground test keeps its floor.
            Ok(minimum)
                if case.point.test == Test::Ground
                    && !case.motor.in_catalogue
                    && minimum.ohms < floor(String::new()).minimum =>
            {
                Self {
                    clears: true,
                    source: Text::clean("0.5 megohm, the floor of an unlisted motor (own)"),
                    ..floor(String::new())
                }
            }
            Ok(minimum) => Self {
                minimum: minimum.ohms,
                source: minimum.source,
                clears: true,
                why_not: String::new(),
                mark: Mark::of(Some(profile)),
                factor: Factor::of(case, profile),
            },
            Err(why) => floor(why.to_string()),
        }
    }

    /// Brings a reading to the bar.
    pub(super) fn bring(
        &self,
        case: &Case<'_>,
        value: Decimal,
        resolution: Decimal,
        full_scale: Option<Decimal>,
    ) -> Brought {
        let (u_meter, configured) = of_reading(
            case.meter,
            value,
            resolution,
            full_scale,
            Reading::Insulation,
        );
        let v = value.to_f64();
        let scaled = |by: f64| hundredth(v * by, resolution);
        let clear = |judged, u| minus(judged, u) >= self.minimum;
        let (judged, u, stand) = match self.factor {
            Factor::One => {
                let u = hundredth(u_meter, resolution);
                (value, u, self.stand(value, clear(value, u)))
            }
            Factor::Known { by, .. } => {
                let doubt = correction::factor_doubt() * v;
                let u = hundredth((u_meter * u_meter + doubt * doubt).sqrt() * by, resolution);
                let judged = scaled(by);
                (judged, u, self.stand(judged, clear(judged, u)))
            }
            Factor::Assumed { worst, best } => {
                let clears = clear(scaled(worst), hundredth(u_meter * worst, resolution));
                let stand = self.stand(scaled(best), clears);
                let stand = if stand == Stand::Within {
                    Stand::Temperature
                } else {
                    stand
                };
                (value, hundredth(u_meter, resolution), stand)
            }
        };
        let best = match self.factor {
            Factor::Assumed { best, .. } => scaled(best),
            _ => judged,
        };
        // Ten times an exact decimal is exact; one that does not fit is not below anything.
        let hopeless = best
            .shifted(1)
            .is_some_and(|tenfold| tenfold < self.minimum);
        Brought {
            judged,
            u,
            configured,
            stand,
            hopeless,
        }
    }

    fn stand(&self, best: Decimal, clears: bool) -> Stand {
        if clears {
            Stand::Above
        } else if best < self.minimum {
            Stand::Below
        } else {
            Stand::Within
        }
    }

    /// Whether even the reading and its U together stay below the minimum: a
    /// tester whose voltage is pulled down has then found a fault.
    pub(super) fn under_with_u(
        &self,
        case: &Case<'_>,
        value: Decimal,
        resolution: Decimal,
    ) -> bool {
        let (u, _) = of_reading(case.meter, value, resolution, None, Reading::Insulation);
        let most = plus(value, hundredth(u, resolution));
        let best = match self.factor {
            Factor::One => most,
            Factor::Known { by, .. } => hundredth(
                most.to_f64() * by * (1.0 + correction::factor_doubt()),
                resolution,
            ),
            Factor::Assumed { best, .. } => hundredth(most.to_f64() * best, resolution),
        };
        best < self.minimum
    }

    /// The terms of a value that was brought.
    pub(super) fn terms(&self, terms: &mut Terms, brought: &Brought) {
        match self.factor {
            Factor::One => {}
            Factor::Known { at, by, kind } => {
                terms.term(format_args!(
                    "at 40 °C {} (read at {} °C, × {}{kind})",
                    Ohm(brought.judged),
                    at.0,
                    brief(by)
                ));
            }
            Factor::Assumed { worst, best } => terms.term(format_args!(
                "temperature unknown, -10 to 80 °C assumed: at 40 °C it is × {} to × {}",
                brief(worst),
                brief(best)
            )),
        }
        terms.term(format_args!("U {} (k = 2", Ohm(brief(brought.u.to_f64()))));
        if !brought.configured {
            terms.more(format_args!(
                "; the meter's accuracy is not configured for it: 30 % of reading"
            ));
        }
        terms.more(format_args!(")"));
        self.minimum_term(terms);
    }

    /// The minimum with its source.
    pub(super) fn minimum_term(&self, terms: &mut Terms) {
        terms.term(format_args!(
            "minimum {} MΩ ({}); guarded",
            In(self.minimum, 6),
            self.source
        ));
    }
}

impl Factor {
    fn of(case: &Case<'_>, profile: &Profile) -> Self {
        let kind = case.motor.insulation;
        if profile.correct_to_c.is_none() {
            return Self::One;
        }
        match case.around.temperature.filter(|t| t.0.is_finite()) {
            Some(at) => Self::Known {
                at,
                by: correction::careful(kind, at),
                kind: match kind {
                    Some(_) => "",
                    None => ", the smaller factor, since the kind of insulation is not known",
                },
            },
            None => Self::Assumed {
                worst: correction::careful(kind, correction::COLDEST),
                best: correction::generous(kind, correction::HOTTEST),
            },
        }
    }
}
