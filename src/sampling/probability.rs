//! Probabilities of counts: binomial, Poisson, hypergeometric. Functions of `libm` only, sums in a fixed order.
//!
//! Single terms after Loader, "Fast and accurate computation of binomial probabilities" (2000): the saddle-point form
//! has no difference of large logarithms, so that relative errors stay near 1e-14 for counts of thousands.

/// Differences `ln n! − ln(√(2πn)·(n/e)ⁿ)` for n = 0 to 15 are computed from factorials, which are exact up to 15.
fn stirling_error(n: f64) -> f64 {
    if n <= 15.0 {
        let mut factorial = 1.0;
        let mut k = 2.0;
        while k <= n {
            factorial *= k;
            k += 1.0;
        }
        if n == 0.0 {
            return 0.0;
        }
        return libm::log(factorial) - 0.5 * libm::log(std::f64::consts::TAU * n) - n * libm::log(n) + n;
    }
    let s = 1.0 / (n * n);
    // Stirling's series with five terms; at n = 16 the sixth is below 1e-16.
    (1.0 / 12.0 - (1.0 / 360.0 - (1.0 / 1260.0 - (1.0 / 1680.0 - s / 1188.0) * s) * s) * s) / n
}

/// Deviance `x·ln(x/m) + m − x`, without cancelling where x is near m.
fn deviance(x: f64, m: f64) -> f64 {
    if (x - m).abs() >= 0.1 * (x + m) {
        return x * libm::log(x / m) + m - x;
    }
    let v = (x - m) / (x + m);
    let mut sum = (x - m) * v;
    let mut term = 2.0 * x * v;
    let square = v * v;
    let mut odd = 3.0;
    // |v| < 0.1, so each term is a hundredth of the one before.
    for _ in 0..24 {
        term *= square;
        let next = sum + term / odd;
        if next == sum {
            break;
        }
        sum = next;
        odd += 2.0;
    }
    sum
}

/// P(x) of a binomial with n trials; `q = 1 − p` is given beside p, so that neither loses digits.
pub(crate) fn binomial_term(x: f64, n: f64, p: f64, q: f64) -> f64 {
    if x < 0.0 || x > n {
        return 0.0;
    }
    if p <= 0.0 {
        return if x == 0.0 { 1.0 } else { 0.0 };
    }
    if q <= 0.0 {
        return if x == n { 1.0 } else { 0.0 };
    }
    if x == 0.0 {
        return libm::exp(if p < 0.1 { n * libm::log1p(-p) } else { n * libm::log(q) });
    }
    if x == n {
        return libm::exp(n * libm::log(p));
    }
    let rest = n - x;
    let log = stirling_error(n)
        - stirling_error(x)
        - stirling_error(rest)
        - deviance(x, n * p)
        - deviance(rest, n * q);
    libm::exp(log) * (n / (std::f64::consts::TAU * x * rest)).sqrt()
}

/// P(x) of a Poisson with mean m.
pub(crate) fn poisson_term(x: f64, m: f64) -> f64 {
    if m <= 0.0 {
        return if x == 0.0 { 1.0 } else { 0.0 };
    }
    if x == 0.0 {
        return libm::exp(-m);
    }
    libm::exp(-stirling_error(x) - deviance(x, m)) / (std::f64::consts::TAU * x).sqrt()
}

/// P(x nonconforming in a sample of n) from a lot of N with D nonconforming.
pub(crate) fn hypergeometric_term(x: f64, sample: f64, bad: f64, lot: f64) -> f64 {
    let good = lot - bad;
    if x < 0.0 || x > sample || x > bad || sample - x > good {
        return 0.0;
    }
    if sample <= 0.0 || sample >= lot {
        return 1.0;
    }
    let (p, q) = (sample / lot, (lot - sample) / lot);
    binomial_term(x, bad, p, q) * binomial_term(sample - x, good, p, q) / binomial_term(sample, lot, p, q)
}

/// Sum of terms from `from` on, each the one before times `ratio(k)`, k going by `step` until `to`.
fn run(first: f64, from: f64, to: f64, step: f64, ratio: impl Fn(f64) -> f64) -> f64 {
    let (mut sum, mut term, mut k) = (first, first, from);
    while k != to {
        term *= ratio(k);
        sum += term;
        // Equality ends it too: a first term of 0 would go on for ever.
        if term <= sum * 1e-19 {
            break;
        }
        k += step;
    }
    sum
}

/// P(at most c), binomial.
pub(crate) fn binomial(c: f64, n: f64, p: f64) -> f64 {
    let q = 1.0 - p;
    if c >= n || p <= 0.0 {
        return 1.0;
    }
    if q <= 0.0 {
        return 0.0;
    }
    let odds = p / q;
    // Always the tail whose terms fall, so that what is left out is small.
    if c <= n * p {
        let first = binomial_term(c, n, p, q);
        run(first, c, 0.0, -1.0, |k| k / (n - k + 1.0) / odds).min(1.0)
    } else {
        let first = binomial_term(c + 1.0, n, p, q);
        1.0 - run(first, c + 1.0, n, 1.0, |k| (n - k) / (k + 1.0) * odds).min(1.0)
    }
}

/// P(at most c), Poisson.
pub(crate) fn poisson(c: f64, m: f64) -> f64 {
    if m <= 0.0 {
        return 1.0;
    }
    if c <= m {
        return run(poisson_term(c, m), c, 0.0, -1.0, |k| k / m).min(1.0);
    }
    let first = poisson_term(c + 1.0, m);
    1.0 - run(first, c + 1.0, f64::INFINITY, 1.0, |k| m / (k + 1.0)).min(1.0)
}

/// P(at most c), hypergeometric.
pub(crate) fn hypergeometric(c: f64, sample: f64, bad: f64, lot: f64) -> f64 {
    let good = lot - bad;
    let (least, most) = ((sample - good).max(0.0), sample.min(bad));
    if c >= most {
        return 1.0;
    }
    if c < least {
        return 0.0;
    }
    if c <= sample * bad / lot {
        let first = hypergeometric_term(c, sample, bad, lot);
        let ratio = |k: f64| k * (good - sample + k) / ((sample - k + 1.0) * (bad - k + 1.0));
        run(first, c, least, -1.0, ratio).min(1.0)
    } else {
        let first = hypergeometric_term(c + 1.0, sample, bad, lot);
        let ratio = |k: f64| (sample - k) * (bad - k) / ((k + 1.0) * (good - sample + k + 1.0));
        1.0 - run(first, c + 1.0, most, 1.0, ratio).min(1.0)
    }
}
