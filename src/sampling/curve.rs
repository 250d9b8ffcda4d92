//! Operating characteristic: with which probability a plan accepts a lot of a given quality. For a drawing and for the
//! words about risk; no lot is judged by it.

use rust_decimal::Decimal;

use crate::numeric::number;
use crate::numeric::rounded;
use crate::sampling::probability;
use crate::sampling::zero::millionths;
use crate::sampling::zero::nonconforming;

/// Largest sample and lot of a curve; counts stay exact in binary.
const LARGEST: u64 = u32::MAX as u64;
/// Binomial and Poisson terms may begin from zero failures as long as that term is above e⁻⁶⁰⁰.
const SMALLEST_LOG: f64 = -600.0;

/// What is counted, and in what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Model {
    /// Nonconforming pieces of a long series: quality in per cent, 0 to 100.
    Binomial,
    /// Nonconformities: quality per hundred units, 0 upwards.
    Poisson,
    /// Nonconforming pieces of one lot of this size: quality in per cent, `D = ceil(p · N)`.
    Lot(u64),
}

/// Why there is no curve.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CurveError {
    /// Sample or lot out of range.
    #[error("sample {sample}, lot {lot}: expected a sample of 1 to {LARGEST}, not larger than the lot")]
    Sample {
        /// Sample.
        sample: u64,
        /// Lot, or the sample again where there is none.
        lot: u64,
    },
    /// Acceptance number out of range.
    #[error("acceptance number {0}: expected 0 to {LARGEST}")]
    Accept(u64),
    /// Quality out of range.
    #[error(
        "quality {0}: expected 0 to 100 per cent (per hundred units: 0 to 100000), at most 4 decimals for a lot"
    )]
    Quality(Decimal),
    /// Probability out of range.
    #[error("probability {0}: expected more than 0 and less than 1")]
    Probability(Decimal),
    /// Rounding out of range.
    #[error("{0} decimals: expected 0 to 12")]
    Places(u32),
    /// A plan that accepts any lot, or too many points.
    #[error(
        "acceptance number {accept} with a sample of {sample} accepts any lot: it has no quality at that probability"
    )]
    AcceptsAll {
        /// Acceptance number.
        accept: u64,
        /// Sample.
        sample: u64,
    },
}

/// A point of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Point {
    /// Quality, per cent or per hundred units.
    pub quality: Decimal,
    /// Probability of acceptance, rounded.
    pub acceptance: Decimal,
}

/// Risks of a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Risks {
    /// Producer's risk: probability that a lot as good as the AQL is not accepted, `1 − Pa(AQL)`.
    pub producer: Decimal,
    /// Consumer's risk: probability that a lot as bad as the LTPD is accepted, `Pa(LTPD)`.
    pub consumer: Decimal,
}

fn checked(model: Model, sample: u64, accept: u64) -> Result<(), CurveError> {
    let lot = if let Model::Lot(lot) = model { lot } else { LARGEST };
    if sample == 0 || sample > lot || lot > LARGEST {
        return Err(CurveError::Sample { sample, lot });
    }
    if accept > LARGEST {
        return Err(CurveError::Accept(accept));
    }
    Ok(())
}

fn quality_ok(model: Model, quality: Decimal) -> Result<(), CurveError> {
    let most = if model == Model::Poisson { Decimal::from(100_000) } else { Decimal::ONE_HUNDRED };
    let coarse = !matches!(model, Model::Lot(_)) || quality.is_zero() || millionths(quality).is_some();
    let fits = quality >= Decimal::ZERO && quality <= most && coarse;
    fits.then_some(()).ok_or(CurveError::Quality(quality))
}

/// `P(found <= accept)` at a share (binomial), a mean per unit (Poisson), or a number of bad pieces (lot).
fn raw(model: Model, sample: u64, accept: u64, quality: f64) -> f64 {
    let (n, c) = (sample as f64, accept as f64);
    let mut one = [quality];
    match model {
        Model::Binomial if libm::log1p(-quality) * n > SMALLEST_LOG && accept < sample && accept <= 1_000 => {
            powers(&coefficients(model, sample, accept), n, &mut one);
            one[0]
        }
        Model::Binomial => probability::binomial(c, n, quality),
        Model::Poisson => probability::poisson(c, n * quality),
        Model::Lot(lot) => probability::hypergeometric(c, n, quality, lot as f64),
    }
}

/// Ratios of neighbouring binomial terms without the odds: `(n − k + 1) / k`, k = 1 to Ac.
fn coefficients(model: Model, sample: u64, accept: u64) -> Vec<f64> {
    let n = sample as f64;
    (1..=accept)
        .map(|k| if model == Model::Poisson { n / k as f64 } else { (n - k as f64 + 1.0) / k as f64 })
        .collect()
}

/// Binomial: shares become probabilities, `(1−p)ⁿ·(1 + r₁x·(1 + r₂x·(…)))` with the odds x. All terms are positive.
fn powers(ratios: &[f64], n: f64, shares: &mut [f64]) {
    for block in shares.chunks_mut(8) {
        let (mut odds, mut sums) = ([0.0_f64; 8], [1.0_f64; 8]);
        for (odd, p) in odds.iter_mut().zip(block.iter()) {
            *odd = p / (1.0 - p);
        }
        for ratio in ratios.iter().rev() {
            for (sum, odd) in sums.iter_mut().zip(odds) {
                *sum = 1.0 + ratio * odd * *sum;
            }
        }
        for (p, sum) in block.iter_mut().zip(sums) {
            *p = (libm::exp(n * libm::log1p(-*p)) * sum).min(1.0);
        }
    }
}

/// Poisson: means per unit become probabilities.
fn means(ratios: &[f64], n: f64, means: &mut [f64]) {
    for block in means.chunks_mut(8) {
        let mut sums = [1.0_f64; 8];
        let mut each = [0.0_f64; 8];
        for (to, m) in each.iter_mut().zip(block.iter()) {
            *to = *m;
        }
        for ratio in ratios.iter().rev() {
            for (sum, m) in sums.iter_mut().zip(each) {
                *sum = 1.0 + ratio * m * *sum;
            }
        }
        for (m, sum) in block.iter_mut().zip(sums) {
            *m = (libm::exp(-n * *m) * sum).min(1.0);
        }
    }
}

/// Probabilities of acceptance at many qualities (per cent, or per hundred units), as binary numbers for a drawing;
/// within 1e-12 of the exact ones. A quality out of range gives NaN. Errors: sample or lot out of range.
pub fn acceptances(
    model: Model,
    sample: u64,
    accept: u64,
    qualities: &[f64],
) -> Result<Vec<f64>, CurveError> {
    checked(model, sample, accept)?;
    let n = sample as f64;
    let mut shares: Vec<f64> = qualities.iter().map(|q| q / 100.0).collect();
    let worst = shares.iter().copied().fold(0.0_f64, f64::max);
    let fast = accept <= 1_000
        && shares.iter().all(|p| *p >= 0.0)
        && match model {
            Model::Binomial => accept < sample && worst < 1.0 && n * libm::log1p(-worst) > SMALLEST_LOG,
            Model::Poisson => -n * worst > SMALLEST_LOG,
            Model::Lot(_) => false,
        };
    if fast {
        let ratios = coefficients(model, sample, accept);
        match model {
            Model::Poisson => means(&ratios, n, &mut shares),
            _ => powers(&ratios, n, &mut shares),
        }
        return Ok(shares);
    }
    for share in &mut shares {
        *share = match model {
            _ if !(*share >= 0.0 && share.is_finite()) => f64::NAN,
            Model::Poisson if *share > 1_000.0 => f64::NAN,
            Model::Poisson => raw(model, sample, accept, *share),
            _ if *share > 1.0 => f64::NAN,
            Model::Binomial => raw(model, sample, accept, *share),
            Model::Lot(lot) => {
                let bad =
                    rounded(*share * 100.0, 4).and_then(millionths).map_or(0, |m| nonconforming(lot, m));
                raw(model, sample, accept, bad as f64)
            }
        };
    }
    Ok(shares)
}

/// Probability of acceptance `Pa = P(found <= accept)` at a quality in per cent (per hundred units for Poisson), to
/// `places` decimals. Errors: values out of range.
pub fn acceptance(
    model: Model,
    sample: u64,
    accept: u64,
    quality: Decimal,
    places: u32,
) -> Result<Decimal, CurveError> {
    checked(model, sample, accept)?;
    quality_ok(model, quality)?;
    let value = match model {
        Model::Lot(lot) => nonconforming(lot, millionths(quality).unwrap_or(0)) as f64,
        _ => number(quality) / 100.0,
    };
    rounded(raw(model, sample, accept, value), places).ok_or(CurveError::Places(places))
}

/// Points of the curve at the qualities given.
pub fn curve(
    model: Model,
    sample: u64,
    accept: u64,
    qualities: &[Decimal],
    places: u32,
) -> Result<Vec<Point>, CurveError> {
    let point = |quality: &Decimal| {
        acceptance(model, sample, accept, *quality, places)
            .map(|acceptance| Point { quality: *quality, acceptance })
    };
    qualities.iter().map(point).collect()
}

/// Quality at which the plan accepts with probability `pa`, per cent or per hundred units, to `places` decimals; by
/// bisection, since Pa falls with p. Binomial and Poisson; for a lot the binomial quality is given (a lot's own curve
/// has steps). Errors: values out of range, a plan that accepts any lot.
pub fn quality_at(
    model: Model,
    sample: u64,
    accept: u64,
    pa: Decimal,
    places: u32,
) -> Result<Decimal, CurveError> {
    checked(model, sample, accept)?;
    if pa <= Decimal::ZERO || pa >= Decimal::ONE {
        return Err(CurveError::Probability(pa));
    }
    let model = if model == Model::Poisson { model } else { Model::Binomial };
    if model == Model::Binomial && accept >= sample {
        return Err(CurveError::AcceptsAll { accept, sample });
    }
    let wanted = number(pa);
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    while model == Model::Poisson && high < 1e12 && raw(model, sample, accept, high) > wanted {
        high *= 2.0;
    }
    for _ in 0..1_100 {
        let middle = low + 0.5 * (high - low);
        if middle <= low || middle >= high {
            break;
        }
        if raw(model, sample, accept, middle) > wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    rounded(100.0 * high, places).ok_or(CurveError::Places(places))
}

/// Producer's risk at the AQL and consumer's risk at the LTPD of the plan used.
pub fn risks(
    model: Model,
    sample: u64,
    accept: u64,
    aql: Decimal,
    ltpd: Decimal,
    places: u32,
) -> Result<Risks, CurveError> {
    let good = acceptance(model, sample, accept, aql, places)?;
    let consumer = acceptance(model, sample, accept, ltpd, places)?;
    let producer = Decimal::ONE.checked_sub(good).ok_or(CurveError::Places(places))?;
    Ok(Risks { producer, consumer })
}

/// Average outgoing quality limit where lots not accepted are sorted: the largest `p · Pa(p) · (1 − n/N)` (Poisson),
/// per cent, for a series of lots of `lot` pieces. Searched by golden section on the one hump of `p · Pa(p)`.
pub fn outgoing_limit(sample: u64, accept: u64, lot: u64, places: u32) -> Result<Decimal, CurveError> {
    checked(Model::Lot(lot), sample, accept)?;
    let n = sample as f64;
    let leaves = |m: f64| m * probability::poisson(accept as f64, m);
    let ratio = 0.618_033_988_749_894_9;
    // The hump of m · Pa lies between 0 and c + 2.
    let (mut low, mut high) = (0.0_f64, accept as f64 + 2.0);
    for _ in 0..200 {
        let (a, b) = (high - ratio * (high - low), low + ratio * (high - low));
        if leaves(a) < leaves(b) { low = a } else { high = b }
    }
    let most = leaves(0.5 * (low + high)) / n * (1.0 - n / lot as f64) * 100.0;
    rounded(most, places).ok_or(CurveError::Places(places))
}
