//! The share of a part, with the doubt that small numbers leave.

/// A share and the 95 % interval around it: Wilson, "Probable inference, the
/// law of succession, and statistical inference", J. Am. Stat. Assoc. 22 (1927).
/// None: of nothing.
///
/// # Examples
/// ```
/// use stillohm::review::stats::share::share;
/// let [fails, from, to] = share(50, 100).expect("of something");
/// assert!(fails == 0.5 && from > 0.40 && to < 0.60);
/// ```
pub fn share(part: u64, all: u64) -> Option<[f64; 3]> {
    const Z: f64 = 1.959_963_984_540_054;
    if all == 0 {
        return None;
    }
    let (n, p) = (all as f64, part as f64 / all as f64);
    let middle = (p + Z * Z / (2.0 * n)) / (1.0 + Z * Z / n);
    let half = Z / (1.0 + Z * Z / n) * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    Some([p, (middle - half).max(0.0), (middle + half).min(1.0)])
}

#[cfg(test)]
mod tests {
    use super::*;

    // statsmodels 0.15: proportion_confint(count, nobs, method="wilson").
    #[test]
    fn a_share_has_the_interval_that_statsmodels_gives() {
        for (part, all, low, high) in [
            (0, 10, 0.0, 0.277_532_799_862_889),
            (1, 20, 0.008_881_448_800_795, 0.236_131_193_446_742),
            (50, 100, 0.403_831_530_365_996, 0.596_168_469_634_004),
            (272, 18_168, 0.013_305_289_632_090, 0.016_842_533_309_364),
        ] {
            let [_, from, to] = share(part, all).expect("of something");
            assert!(
                (from - low).abs() < 1e-9 && (to - high).abs() < 1e-9,
                "{part}/{all}: {from} {to}"
            );
        }
        assert_eq!(share(0, 0), None);
    }
}
