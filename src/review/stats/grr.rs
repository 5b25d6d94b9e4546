//! Repeatability and reproducibility: how much of what differs comes from the
//! instrument, how much from who or what measures, how much from the parts.
//!
//! A crossed study by analysis of variance: every appraiser (a tester, or a
//! meter) measures every part equally often (AIAG, Measurement Systems
//! Analysis, 4th edition, chapter III section B and appendix A). An interaction
//! that does not show is pooled with the repeatability: at p above 0.25
//! (common practice, after Bancroft 1964, Biometrics 20, 427; from memory).

use std::collections::BTreeMap;

use super::beta::f_tail;
use super::{NumbersError, mean, usable};

/// Above this p the interaction is pooled.
pub const POOLED_ABOVE: f64 = 0.25;

/// One measurement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured<'a> {
    /// What was measured.
    pub part: &'a str,
    /// Who or what measured.
    pub appraiser: &'a str,
    /// What it read.
    pub value: f64,
}

/// A line of the analysis of variance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Degrees of freedom.
    pub df: usize,
    /// Sum of squares.
    pub ss: f64,
    /// Mean square.
    pub ms: f64,
}

/// A part of the variation.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Component {
    /// As a standard deviation.
    pub sigma: f64,
    /// Of the total variation, in percent. The squares of these add up, not they.
    pub percent: f64,
}

/// What a study shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Grr {
    /// How many parts.
    pub parts: usize,
    /// How many appraisers.
    pub appraisers: usize,
    /// How often each measured each.
    pub trials: usize,
    /// Between parts.
    pub by_part: Line,
    /// Between appraisers.
    pub by_appraiser: Line,
    /// Parts that some appraisers read otherwise than others do.
    pub by_both: Line,
    /// Within the trials.
    pub within: Line,
    /// F of the interaction over the trials; none: the trials are all alike.
    pub interaction_f: Option<f64>,
    /// Its p; none with its F.
    pub interaction_p: Option<f64>,
    /// Whether the interaction was pooled with the repeatability.
    pub pooled: bool,
    /// Repeatability, or equipment variation.
    pub ev: Component,
    /// Reproducibility, or appraiser variation.
    pub av: Component,
    /// The interaction; 0 when pooled.
    pub interaction: Component,
    /// All of the measuring.
    pub grr: Component,
    /// Between parts.
    pub pv: Component,
    /// The total.
    pub tv: Component,
    /// Categories that can be told apart, 1.41 PV / GRR cut to a whole number
    /// and 1 at least; none: the measuring does not vary at all.
    pub ndc: Option<u32>,
}

/// Why values are no study.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum GrrError {
    /// The values cannot be looked at.
    #[error(transparent)]
    Numbers(#[from] NumbersError),
    /// Not enough to tell anything apart.
    #[error("expected at least 2 {what}, found {found}")]
    Few {
        /// Of what.
        what: &'static str,
        /// How many.
        found: usize,
    },
    /// Not everyone measured everything equally often.
    #[error(
        "the study is not balanced: {part} by {appraiser} was measured {found} times, where {expected} times is the rule: measure what is missing, or leave that part or appraiser out"
    )]
    Unbalanced {
        /// The part.
        part: String,
        /// The appraiser.
        appraiser: String,
        /// How often most were measured.
        expected: usize,
        /// How often this one was.
        found: usize,
    },
    /// Nothing varies.
    #[error("all {0} values are alike: there is no variation to share out")]
    NoVariation(usize),
}

/// Analyses a crossed study, its measurements in any order.
///
/// # Errors
/// Fewer than two parts, appraisers or trials, not everyone measured everything
/// equally often, a value that is not finite, or no variation.
pub fn crossed(measured: &[Measured<'_>]) -> Result<Grr, GrrError> {
    let values: Vec<f64> = measured.iter().map(|m| m.value).collect();
    usable(&values, 1)?;
    let study = Study::of(measured)?;
    let (by_part, by_appraiser, by_both, within) = study.lines(mean(&values));
    if by_part.ss + by_appraiser.ss + by_both.ss + within.ss <= 0.0 {
        return Err(GrrError::NoVariation(values.len()));
    }
    let [p, a, r] = [study.parts, study.appraisers, study.trials].map(|n| n as f64);
    let f = (within.ms > 0.0).then(|| by_both.ms / within.ms);
    let interaction_p = f.map(|f| f_tail(f, by_both.df as f64, within.df as f64));
    // Trials that are all alike leave nothing to pool an interaction with.
    let pooled = match interaction_p {
        Some(p) => p > POOLED_ABOVE,
        None => by_both.ms <= 0.0,
    };
    let df = (by_both.df + within.df) as f64;
    let error = match pooled {
        true => (by_both.ss + within.ss) / df,
        false => within.ms,
    };
    // What appraisers and parts are held against.
    let beside = if pooled { error } else { by_both.ms };
    // A variance that comes out below 0 is 0 (AIAG).
    let over = |ms: f64, less: f64, times: f64| ((ms - less) / times).max(0.0);
    let interaction = match pooled {
        true => 0.0,
        false => over(by_both.ms, within.ms, r),
    };
    let av = over(by_appraiser.ms, beside, p * r);
    let pv = over(by_part.ms, beside, a * r);
    let grr = error + av + interaction;
    let tv = grr + pv;
    let part = |variance: f64| Component {
        sigma: variance.sqrt(),
        percent: 100.0 * (variance / tv).sqrt(),
    };
    let ndc = (grr > 0.0).then(|| ((1.41 * (pv / grr).sqrt()) as u32).max(1));
    Ok(Grr {
        parts: study.parts,
        appraisers: study.appraisers,
        trials: study.trials,
        by_part,
        by_appraiser,
        by_both,
        within,
        interaction_f: f,
        interaction_p,
        pooled,
        ev: part(error),
        av: part(av),
        interaction: part(interaction),
        grr: part(grr),
        pv: part(pv),
        tv: part(tv),
        ndc,
    })
}

/// The trials of each part by each appraiser.
struct Study<'a> {
    cells: BTreeMap<(&'a str, &'a str), Vec<f64>>,
    parts: usize,
    appraisers: usize,
    trials: usize,
}

impl<'a> Study<'a> {
    fn of(measured: &[Measured<'a>]) -> Result<Self, GrrError> {
        let names = |of: fn(&Measured<'a>) -> &'a str| {
            let mut names: Vec<&str> = measured.iter().map(of).collect();
            names.sort_unstable();
            names.dedup();
            names
        };
        let (parts, appraisers) = (names(|m| m.part), names(|m| m.appraiser));
        let every = parts.iter().flat_map(|part| {
            let pair = |appraiser: &&'a str| ((*part, *appraiser), Vec::new());
            appraisers.iter().map(pair)
        });
        let mut cells: BTreeMap<_, Vec<f64>> = every.collect();
        for m in measured {
            cells
                .entry((m.part, m.appraiser))
                .or_default()
                .push(m.value);
        }
        let trials = rule(&cells);
        for (what, found) in [
            ("parts", parts.len()),
            ("appraisers", appraisers.len()),
            ("trials of each part by each appraiser", trials),
        ] {
            if found < 2 {
                return Err(GrrError::Few { what, found });
            }
        }
        let other = cells.iter().find(|(_, cell)| cell.len() != trials);
        if let Some(((part, appraiser), cell)) = other {
            return Err(GrrError::Unbalanced {
                part: (*part).to_owned(),
                appraiser: (*appraiser).to_owned(),
                expected: trials,
                found: cell.len(),
            });
        }
        Ok(Self {
            cells,
            parts: parts.len(),
            appraisers: appraisers.len(),
            trials,
        })
    }

    /// Parts, appraisers, both, trials: sums of squares about their means.
    fn lines(&self, grand: f64) -> (Line, Line, Line, Line) {
        let averages: BTreeMap<_, f64> = self.cells.iter().map(|(at, c)| (*at, mean(c))).collect();
        let margin = |of: fn(&(&'a str, &'a str)) -> &'a str, n: usize| {
            let mut sums: BTreeMap<&str, f64> = BTreeMap::new();
            for (at, average) in &averages {
                *sums.entry(of(at)).or_default() += average / n as f64;
            }
            sums
        };
        let of_parts = margin(|at| at.0, self.appraisers);
        let of_appraisers = margin(|at| at.1, self.parts);
        let [p, a, r] = [self.parts, self.appraisers, self.trials];
        let square = |x: f64| x * x;
        let about = |means: &BTreeMap<&str, f64>| -> f64 {
            means.values().map(|mean| square(mean - grand)).sum()
        };
        let both = averages.iter().map(|((part, appraiser), average)| {
            square(average - of_parts[part] - of_appraisers[appraiser] + grand)
        });
        let within = self.cells.iter().map(|(at, cell)| {
            let about = |value: &f64| square(value - averages[at]);
            cell.iter().map(about).sum::<f64>()
        });
        (
            line(p - 1, (a * r) as f64 * about(&of_parts)),
            line(a - 1, (p * r) as f64 * about(&of_appraisers)),
            line((p - 1) * (a - 1), r as f64 * both.sum::<f64>()),
            line(p * a * (r - 1), within.sum()),
        )
    }
}

/// How often most were measured; the more often, where several are as many.
fn rule(cells: &BTreeMap<(&str, &str), Vec<f64>>) -> usize {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for cell in cells.values() {
        *counts.entry(cell.len()).or_default() += 1;
    }
    let most = counts
        .iter()
        .max_by_key(|(trials, cells)| (**cells, **trials));
    most.map_or(0, |(trials, _)| *trials)
}

fn line(df: usize, ss: f64) -> Line {
    Line {
        df,
        ss,
        ms: ss / df as f64,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The study of AIAG, Measurement Systems Analysis, 4th edition, figure
    /// III-B 15: three trials of ten parts each by A, B and C.
    const AIAG: [[[f64; 10]; 3]; 3] = [
        [
            [
                0.29, -0.56, 1.34, 0.47, -0.80, 0.02, 0.59, -0.31, 2.26, -1.36,
            ],
            [
                0.41, -0.68, 1.17, 0.50, -0.92, -0.11, 0.75, -0.20, 1.99, -1.25,
            ],
            [
                0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31,
            ],
        ],
        [
            [
                0.08, -0.47, 1.19, 0.01, -0.56, -0.20, 0.47, -0.63, 1.80, -1.68,
            ],
            [
                0.25, -1.22, 0.94, 1.03, -1.20, 0.22, 0.55, 0.08, 2.12, -1.62,
            ],
            [
                0.07, -0.68, 1.34, 0.20, -1.28, 0.06, 0.83, -0.34, 2.19, -1.50,
            ],
        ],
        [
            [
                0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49,
            ],
            [
                -0.11, -1.13, 1.09, 0.20, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77,
            ],
            [
                -0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16,
            ],
        ],
    ];
    const PARTS: [&str; 10] = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "10"];

    fn study() -> Vec<Measured<'static>> {
        let mut all = Vec::new();
        for (appraiser, trials) in ["A", "B", "C"].into_iter().zip(AIAG) {
            for values in trials {
                for (part, value) in PARTS.into_iter().zip(values) {
                    all.push(Measured {
                        part,
                        appraiser,
                        value,
                    });
                }
            }
        }
        all
    }

    #[track_caller]
    fn near(found: f64, printed: f64, places: i32) {
        let half = 0.5000001 * libm::pow(10.0, -f64::from(places));
        assert!((found - printed).abs() < half, "{found}, not {printed}");
    }

    /// Tables A 3, A 4 and A 5 of the same manual.
    #[test]
    fn the_manuals_own_study_is_met() {
        let found = crossed(&study()).expect("a study");
        let lines = [
            found.by_appraiser,
            found.by_part,
            found.by_both,
            found.within,
        ];
        let printed = [
            (2, 3.1673, 1.58363),
            (9, 88.3619, 9.81799),
            (18, 0.3590, 0.01994),
            (60, 2.7589, 0.04598),
        ];
        for (line, (df, ss, ms)) in lines.into_iter().zip(printed) {
            assert_eq!(line.df, df);
            near(line.ss, ss, 4);
            near(line.ms, ms, 5);
        }
        near(found.interaction_f.expect("an F"), 0.434, 3);
        assert!(found.pooled);
        let sigmas = [
            (found.ev, 0.199933, 18.4),
            (found.av, 0.226838, 20.9),
            (found.interaction, 0.0, 0.0),
            (found.grr, 0.302373, 27.9),
            (found.pv, 1.042327, 96.0),
        ];
        for (component, sigma, percent) in sigmas {
            // The manual adds up rounded parts: its 0.302373 is 0.3023715 without.
            near(
                component.sigma,
                sigma,
                if sigma == 0.302373 { 5 } else { 6 },
            );
            near(component.percent, percent, 1);
        }
        near(found.tv.sigma, 1.085, 3);
        assert_eq!((found.ndc, found.tv.percent), (Some(4), 100.0));
    }

    /// By hand: two parts, two appraisers, two trials. Cells 10±1, 20±1, 10±1
    /// and 30±1, so the interaction shows: SS 50, 4 · 1 · 2 = 8 within 4 degrees.
    #[test]
    fn an_interaction_that_shows_is_kept() {
        let mut measured = Vec::new();
        for (part, appraiser, middle) in [
            ("p", "a", 10.0),
            ("q", "a", 20.0),
            ("p", "b", 10.0),
            ("q", "b", 30.0),
        ] {
            for value in [middle - 1.0, middle + 1.0] {
                measured.push(Measured {
                    part,
                    appraiser,
                    value,
                });
            }
        }
        let found = crossed(&measured).expect("a study");
        assert!(!found.pooled);
        assert_eq!((found.by_both.ss, found.within.ms), (50.0, 2.0));
        assert_eq!(found.interaction_f, Some(25.0));
        // F of 25 with 1 and 4 degrees is t of 5 with 4: 0.75 % (two-sided, tables of t).
        near(found.interaction_p.expect("a p"), 0.0075, 4);
        assert_eq!(found.ev.sigma * found.ev.sigma, 2.0000000000000004);
        // (50 − 2) / 2, and appraisers (50 − 50) / 4.
        near(found.interaction.sigma, libm::sqrt(24.0), 9);
        assert_eq!(found.av.sigma, 0.0);
        // Parts: averages 10 and 25, SS 4 · 2 · 56.25 = 450, (450 − 50) / 4.
        near(found.pv.sigma, 10.0, 9);
    }

    #[test]
    fn a_study_that_is_not_balanced_is_refused_in_words() {
        let mut measured = study();
        measured.remove(0);
        assert_eq!(
            crossed(&measured).expect_err("refused").to_string(),
            "the study is not balanced: 1 by A was measured 2 times, where 3 times is the rule: measure what is missing, or leave that part or appraiser out"
        );
        let none = |m: &Measured<'_>| !(m.part == "4" && m.appraiser == "C");
        let measured: Vec<Measured<'_>> = study().into_iter().filter(none).collect();
        assert!(matches!(
            crossed(&measured),
            Err(GrrError::Unbalanced { found: 0, .. })
        ));
    }

    #[test]
    fn too_little_is_refused_in_words() {
        let only = |keep: fn(usize, &Measured<'_>) -> bool| {
            let all = study().into_iter().enumerate();
            let kept: Vec<Measured<'_>> =
                all.filter(|(n, m)| keep(*n, m)).map(|(_, m)| m).collect();
            crossed(&kept).expect_err("refused").to_string()
        };
        assert_eq!(
            only(|_, m| m.part == "1"),
            "expected at least 2 parts, found 1"
        );
        assert_eq!(
            only(|_, m| m.appraiser == "A"),
            "expected at least 2 appraisers, found 1"
        );
        assert_eq!(
            only(|n, _| n % 30 < 10),
            "expected at least 2 trials of each part by each appraiser, found 1"
        );
        let mut alike = study();
        alike.iter_mut().for_each(|m| m.value = 2.5);
        assert_eq!(
            crossed(&alike).expect_err("refused").to_string(),
            "all 90 values are alike: there is no variation to share out"
        );
    }

    #[test]
    fn trials_that_are_all_alike_leave_only_what_appraisers_and_parts_differ_by() {
        let mut measured = Vec::new();
        for (part, of_part) in [("p", 1.0), ("q", 4.0)] {
            for (appraiser, of_appraiser) in [("a", 0.0), ("b", 2.0)] {
                for _ in 0..2 {
                    measured.push(Measured {
                        part,
                        appraiser,
                        value: of_part + of_appraiser,
                    });
                }
            }
        }
        let found = crossed(&measured).expect("a study");
        assert_eq!((found.interaction_f, found.pooled), (None, true));
        assert_eq!(found.ev.sigma, 0.0);
        // Two appraisers that differ by 2 have a variance of 2.
        near(found.av.sigma, libm::sqrt(2.0), 9);
    }
}
