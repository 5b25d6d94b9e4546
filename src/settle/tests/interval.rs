//! Exact 95 % intervals (Clopper-Pearson) of counted rates.

/// `k` of `n` in percent with its interval; `-` of none.
pub(crate) fn rate(k: u64, n: u64) -> String {
    if n == 0 {
        return String::from("-");
    }
    let (low, high) = interval(k, n);
    let percent = 100.0 * k as f64 / n as f64;
    format!("{percent:.2} ({:.2}-{:.2})", 100.0 * low, 100.0 * high)
}

/// The rates between which `k` of `n` is not unlikely.
fn interval(k: u64, n: u64) -> (f64, f64) {
    let low = if k == 0 {
        0.0
    } else {
        bisect(|p| 1.0 - at_most(k - 1, n, p) < 0.025)
    };
    let high = if k == n {
        1.0
    } else {
        bisect(|p| at_most(k, n, p) > 0.025)
    };
    (low, high)
}

/// The rate up to which `below` holds.
fn bisect(below: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if below(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// The probability of at most `k` of `n` at a rate of `p` each.
fn at_most(k: u64, n: u64, p: f64) -> f64 {
    if p <= 0.0 || p >= 1.0 {
        return f64::from(p <= 0.0);
    }
    let n = n as f64;
    let ways = |i: f64| libm::lgamma(n + 1.0) - libm::lgamma(i + 1.0) - libm::lgamma(n - i + 1.0);
    let sum: f64 = (0..=k)
        .map(|i| i as f64)
        .map(|i| libm::exp(ways(i) + i * libm::log(p) + (n - i) * libm::log1p(-p)))
        .sum();
    sum.min(1.0)
}
