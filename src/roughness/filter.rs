//! The Gaussian profile filter of ISO 16610-21 (formerly ISO 11562): the mean line of a profile.
//!
//! Weight at distance `x` from the point looked at: `s(x) = exp(−π (x / (α λc))²)`, `α = √(ln 2 / π)`
//! (recalled, and confirmed by its consequence that a wave as long as the cut-off passes to 50 %). The
//! weights reach to 1.4 cut-offs on each side, where they have fallen below 10⁻¹² of the middle one, and are
//! divided by the sum of those that meet the trace. So nothing is invented beyond the ends of a trace.
//!
//! # How it is computed
//!
//! A sum over all weights at all points would cost thousands of products a point. The mean line is so smooth
//! that far fewer do. For cut-offs from 64 points on:
//! 1. the trace is gathered on nodes a third of the Gaussian's standard deviation apart, with a short window;
//! 2. the nodes are filtered with what is left of the Gaussian once both windows are taken out of it;
//! 3. the mean line is spread from the nodes with the same window.
//!
//! The window is `I₀(β √(1 − x²))` over ten nodes (Kaiser and Bessel). What it lets through of waves that
//! fold on the nodes decides the error: the sum of all wrong weights stays below 2·10⁻¹⁰, as a test shows
//! against the plain sum. Windows are even, so every block between two nodes is split into its even and odd
//! half, which halves the products. For shorter cut-offs the plain sum is taken.
//!
//! Every sum is taken in an order fixed by the source, with products and sums rounded one by one, so that the
//! same trace gives the same bytes on every machine.

use std::f64::consts::LN_2;
use std::f64::consts::PI;
use std::f64::consts::SQRT_2;

/// Nodes a window covers.
const TAPS: usize = 10;
/// Half of them.
const PAIRS: usize = TAPS / 2;
/// How sharply the window falls; found by search for the least error where nodes are a third of σ apart.
const BETA: f64 = 26.0;
/// Standard deviation of the Gaussian in nodes, at least.
const SIGMA_IN_NODES: f64 = 3.0;
/// Reach of the weights in cut-offs.
const REACH: f64 = 1.4;
/// Least distance of nodes in points that pays.
const LEAST_STEP: usize = 4;
/// Numbers worked on side by side.
const LANES: usize = 8;

/// Some numbers worked on side by side.
type Lanes = [f64; LANES];

/// Why a filter cannot be made or used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FilterError {
    /// The cut-off is not a length.
    #[error("a cut-off of {0} µm is none: expected a length above 0 and at most 1000000 µm (1 m)")]
    Cutoff(f64),
    /// The spacing is not a length.
    #[error("a spacing of {0} µm is none: expected a length above 0 and at most 1000000 µm (1 m)")]
    Spacing(f64),
    /// The cut-off is too short for the spacing: fewer than two points in it.
    #[error(
        "a cut-off of {cutoff} µm holds {points:.2} points of {spacing} µm: expected 2 or more; trace the \
        surface \
             with a closer spacing, or leave the filter out"
    )]
    TooCoarse {
        /// In µm.
        cutoff: f64,
        /// In µm.
        spacing: f64,
        /// Points in a cut-off.
        points: f64,
    },
    /// The cut-off is beyond every trace.
    #[error("a cut-off of {cutoff} µm holds {points:.0} points of {spacing} µm: expected 5000000 or fewer")]
    TooLong {
        /// In µm.
        cutoff: f64,
        /// In µm.
        spacing: f64,
        /// Points in a cut-off.
        points: f64,
    },
    /// The trace does not hold one cut-off.
    #[error(
        "the trace has {points} points and the cut-off alone needs {expected}: trace a longer stretch, or \
        choose a \
             shorter cut-off"
    )]
    ShortTrace {
        /// Points found.
        points: usize,
        /// Points needed.
        expected: usize,
    },
}

/// A Gaussian filter for one cut-off and one spacing, made once and used on any number of traces.
#[derive(Debug, Clone)]
pub struct GaussianFilter {
    /// Points in a cut-off.
    cutoff: f64,
    /// Points a weight reaches to each side.
    reach: usize,
    /// `share[d]`: the share of all weights that meets the trace where an end is `d` points away.
    share: Vec<f64>,
    way: Way,
}

/// How the sum of weighted heights is taken.
#[derive(Debug, Clone)]
enum Way {
    /// Weight by weight; the middle one first.
    Plain(Vec<f64>),
    /// By way of nodes.
    Nodes(Box<Nodes>),
}

/// What the way over nodes needs.
#[derive(Debug, Clone)]
struct Nodes {
    /// Points between two nodes, even.
    step: usize,
    /// Even and odd part of the window over half a block, each pair of taps by itself.
    parts: [[Vec<Lanes>; 2]; PAIRS],
    /// The same, all pairs of a few points together.
    rows: Vec<[[Lanes; 2]; PAIRS]>,
    /// Weights on nodes; the middle one first.
    between: Vec<f64>,
}

impl GaussianFilter {
    /// A filter of cut-off `cutoff` µm for points `spacing` µm apart.
    ///
    /// # Errors
    /// Where one of the two is not a length, or there are fewer than 2 or more than 5,000,000 points in a
    /// cut-off.
    pub fn new(cutoff: f64, spacing: f64) -> Result<Self, FilterError> {
        let length = |x: f64| x > 0.0 && x <= 1e6;
        if !length(cutoff) {
            return Err(FilterError::Cutoff(cutoff));
        }
        if !length(spacing) {
            return Err(FilterError::Spacing(spacing));
        }
        let points = cutoff / spacing;
        if points.is_nan() || points < 2.0 {
            return Err(FilterError::TooCoarse { cutoff, spacing, points });
        }
        if points > 5e6 {
            return Err(FilterError::TooLong { cutoff, spacing, points });
        }
        let sigma = points * LN_2.sqrt() / (PI * SQRT_2);
        let reach = whole(points * REACH);
        let weights = gaussian(sigma, reach);
        let sides: f64 = weights.iter().skip(1).rev().sum();
        let total = weights.first().copied().unwrap_or(1.0) + 2.0 * sides;
        let mut met = sides;
        let share = weights
            .iter()
            .map(|weight| {
                met += weight;
                met / total
            })
            .collect();
        let step = whole(sigma / SIGMA_IN_NODES);
        // Whole rows of lanes in each half, where there is room to choose.
        let step = if step >= 4 * LANES { step - step % (2 * LANES) } else { step - step % 2 };
        let way = if step < LEAST_STEP {
            Way::Plain(weights.iter().map(|weight| weight / total).collect())
        } else {
            Way::Nodes(Box::new(Nodes::new(sigma, step, reach)))
        };
        Ok(GaussianFilter { cutoff: points, reach, share, way })
    }

    /// The cut-off in points.
    pub fn cutoff(&self) -> f64 {
        self.cutoff
    }

    /// Points the weights reach to each side: `⌊1.4 cut-offs⌋`.
    pub fn reach(&self) -> usize {
        self.reach
    }

    /// The mean line of `heights`, a point for each of them, in their unit: `Σ s(k) z(i + k) / Σ s(k)`, both
    /// sums over the points there are. Within 10⁻⁹ of the greatest distance of a height from the mean height.
    ///
    /// # Errors
    /// Where the trace is shorter than the cut-off.
    pub fn mean_line(&self, heights: &[f64]) -> Result<Vec<f64>, FilterError> {
        let expected = whole(self.cutoff.ceil()).max(1);
        if heights.len() < expected {
            return Err(FilterError::ShortTrace { points: heights.len(), expected });
        }
        // What is alike at all points needs no filter; taken off, it takes no digits from the rest.
        let middle = middle(heights);
        let mut line = match &self.way {
            Way::Plain(weights) => {
                let mut padded = vec![0.0; self.reach];
                padded.extend(heights.iter().map(|z| z - middle));
                folded(padded, weights, heights.len())
            }
            Way::Nodes(nodes) => nodes.line(heights, middle),
        };
        self.norm_ends(&mut line, middle);
        Ok(line)
    }

    /// Divides by the share of weights that met the trace, and puts the middle height back.
    fn norm_ends(&self, line: &mut [f64], middle: f64) {
        let count = line.len();
        let share = |distance: usize| self.share.get(distance).copied().unwrap_or(1.0);
        let inner = self.share.len().min(count);
        let from = inner.max(count.saturating_sub(self.share.len()));
        for (i, z) in line.iter_mut().enumerate().take(inner) {
            *z = *z / (share(i) + share(count - 1 - i) - 1.0) + middle;
        }
        for (i, z) in line.iter_mut().enumerate().skip(from) {
            *z = *z / share(count - 1 - i) + middle;
        }
        for z in line.iter_mut().take(from).skip(inner) {
            *z += middle;
        }
    }
}

/// The whole points in a length; 0 for anything that is none.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "bounded by the callers; `as` saturates"
)]
fn whole(points: f64) -> usize {
    points.floor() as usize
}

/// A count as a binary number; counts here stay far below 2⁵³.
#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
fn real(count: usize) -> f64 {
    count as f64
}

/// The mean of some heights, in eight sums side by side.
fn middle(heights: &[f64]) -> f64 {
    let mut sums = [0.0_f64; LANES];
    let rows = heights.chunks_exact(LANES);
    let rest: f64 = rows.remainder().iter().sum();
    for row in rows {
        for (sum, z) in sums.iter_mut().zip(row) {
            *sum += z;
        }
    }
    let mean = (sums.iter().sum::<f64>() + rest) / real(heights.len().max(1));
    if mean.is_finite() { mean } else { 0.0 }
}

/// `exp(−k² / 2σ²)` for `k = 0 ..= reach`. Between two calls of the exponential function each value follows
/// from the one before by a ratio, whose rounding 64 steps cannot carry beyond 10⁻¹².
fn gaussian(sigma: f64, reach: usize) -> Vec<f64> {
    let rate = 0.5 / (sigma * sigma);
    let turn = libm::exp(-2.0 * rate);
    let mut weights = Vec::with_capacity(reach.saturating_add(64));
    let mut k = 0.0_f64;
    while weights.len() <= reach {
        let mut weight = libm::exp(-rate * k * k);
        let mut ratio = libm::exp(-rate * (2.0 * k + 1.0));
        for _ in 0..64 {
            weights.push(weight);
            weight *= ratio;
            ratio *= turn;
        }
        k += 64.0;
    }
    weights.truncate(reach.saturating_add(1));
    weights
}

/// `Σ w(|k|) z(i + k)` for `count` points, `padded` being the trace with as many noughts before it as there
/// are weights to a side. Eight points at a time, the weights from the middle out.
fn folded(mut padded: Vec<f64>, weights: &[f64], count: usize) -> Vec<f64> {
    let reach = weights.len().saturating_sub(1);
    let first = weights.first().copied().unwrap_or(0.0);
    padded.resize(count.saturating_add(2 * reach).saturating_add(LANES), 0.0);
    let eight =
        |at: usize| padded.get(at..).and_then(|rest| rest.first_chunk::<LANES>()).unwrap_or(&[0.0; LANES]);
    let mut sums = Vec::with_capacity(count.saturating_add(LANES));
    for start in (0..count).step_by(LANES) {
        let middle = start.saturating_add(reach);
        let mut sum = eight(middle).map(|z| z * first);
        for (k, weight) in weights.iter().enumerate().skip(1) {
            let (left, right) = (eight(middle.saturating_sub(k)), eight(middle.saturating_add(k)));
            for ((sum, left), right) in sum.iter_mut().zip(left).zip(right) {
                *sum += weight * (left + right);
            }
        }
        sums.extend_from_slice(&sum);
    }
    sums.truncate(count);
    sums
}

impl Nodes {
    /// Windows and node weights of a Gaussian of standard deviation `sigma` points on nodes `step` points
    /// apart.
    fn new(sigma: f64, step: usize, reach: usize) -> Self {
        let window = window(step);
        let half = step / 2;
        let mut rows = vec![[[[0.0; LANES]; 2]; PAIRS]; half.div_ceil(LANES)];
        for (number, row) in rows.iter_mut().enumerate() {
            for (pair, [even, odd]) in row.iter_mut().enumerate() {
                for (lane, (even, odd)) in even.iter_mut().zip(odd).enumerate() {
                    let point = number * LANES + lane;
                    if point >= half {
                        continue;
                    }
                    // The window is even: a point this far from its other end has the same weight.
                    let near = window.get(pair * step + point).copied().unwrap_or(0.0);
                    let far = window.get(pair * step + step - 1 - point).copied().unwrap_or(0.0);
                    *even = 0.5 * (near + far);
                    *odd = 0.5 * (near - far);
                }
            }
        }
        let parts = std::array::from_fn(|pair| {
            std::array::from_fn(|part| rows.iter().map(|row| row[pair][part]).collect())
        });
        Nodes { step, parts, rows, between: between(sigma / real(step), real(step), reach.div_ceil(step)) }
    }

    /// The weighted sums at all points, of heights less `middle`.
    fn line(&self, heights: &[f64], middle: f64) -> Vec<f64> {
        let gathered = self.gather(heights, middle);
        let reach = self.between.len().saturating_sub(1);
        let mut padded = vec![0.0; reach];
        padded.extend_from_slice(&gathered);
        let nodes = folded(padded, &self.between, gathered.len());
        self.spread(&nodes, heights.len())
    }

    /// What each node gathers of the trace: `Σ window(i − node) z(i)`. Nine nodes lie outside the trace.
    fn gather(&self, heights: &[f64], middle: f64) -> Vec<f64> {
        let blocks = heights.len().div_ceil(self.step);
        let mut nodes = vec![0.0; blocks.saturating_add(TAPS - 1)];
        let mut sum = vec![[0.0; LANES]; self.rows.len()];
        let mut difference = sum.clone();
        let mut last = vec![0.0; self.step];
        for (number, block) in heights.chunks(self.step).enumerate() {
            let block = if block.len() == self.step {
                block
            } else {
                last.fill(middle);
                for (to, from) in last.iter_mut().zip(block) {
                    *to = *from;
                }
                &last
            };
            let (front, back) = block.split_at(self.step / 2);
            let fronts = front.chunks(LANES).zip(back.rchunks(LANES));
            for ((front, back), (sum, difference)) in fronts.zip(sum.iter_mut().zip(&mut difference)) {
                if let (Some(front), Some(back)) = (front.first_chunk(), back.first_chunk()) {
                    fold_lanes(front, back, middle, sum, difference);
                } else {
                    let pairs = front.iter().zip(back.iter().rev());
                    for ((front, back), (sum, difference)) in pairs.zip(sum.iter_mut().zip(difference)) {
                        (*sum, *difference) = ((front - middle) + (back - middle), front - back);
                    }
                }
            }
            if let Some(touched) = nodes.get_mut(number..).and_then(|n| n.first_chunk_mut::<TAPS>()) {
                for (pair, [even, odd]) in self.parts.iter().enumerate() {
                    let (even, odd) = (product(even, &sum), product(odd, &difference));
                    touched[TAPS - 1 - pair] += even + odd;
                    touched[pair] += even - odd;
                }
            }
        }
        nodes
    }

    /// The line through the nodes at `count` points: `Σ window(i − node) node`.
    fn spread(&self, nodes: &[f64], count: usize) -> Vec<f64> {
        let mut line = Vec::with_capacity(count.saturating_add(self.step));
        let half = self.step / 2;
        let mut block = vec![0.0; self.step];
        for taps in nodes.windows(TAPS) {
            let mut sums = [[0.0; 2]; PAIRS];
            for ((near, far), sums) in taps.iter().zip(taps.iter().rev()).zip(&mut sums) {
                *sums = [far + near, far - near];
            }
            let (front, back) = block.split_at_mut(half);
            for ((front, back), row) in front.chunks_mut(LANES).zip(back.rchunks_mut(LANES)).zip(&self.rows) {
                let (forward, backward) = spread_lanes(row, &sums);
                if let (Some(front), Some(back)) = (front.first_chunk_mut(), back.first_chunk_mut()) {
                    *front = forward;
                    *back = backward;
                } else {
                    for (to, from) in front.iter_mut().zip(&forward) {
                        *to = *from;
                    }
                    for (to, from) in back.iter_mut().rev().zip(backward.iter().rev()) {
                        *to = *from;
                    }
                }
            }
            line.extend_from_slice(&block);
        }
        line.truncate(count);
        line
    }
}

/// Sum and difference of points that mirror each other in a block.
#[inline]
fn fold_lanes(front: &Lanes, back: &Lanes, middle: f64, sum: &mut Lanes, difference: &mut Lanes) {
    for lane in 0..LANES {
        let back = back[LANES - 1 - lane];
        sum[lane] = (front[lane] - middle) + (back - middle);
        difference[lane] = front[lane] - back;
    }
}

/// `Σ window · values`, lane by lane.
#[inline]
fn product(window: &[Lanes], values: &[Lanes]) -> f64 {
    let mut sums = [0.0; LANES];
    for (window, values) in window.iter().zip(values) {
        for lane in 0..LANES {
            sums[lane] += window[lane] * values[lane];
        }
    }
    let [a, b, c, d, e, f, g, h] = sums;
    ((a + e) + (c + g)) + ((b + f) + (d + h))
}

/// A few points at the front of a block and their mirrors at its back.
#[inline]
fn spread_lanes(row: &[[Lanes; 2]; PAIRS], sums: &[[f64; 2]; PAIRS]) -> (Lanes, Lanes) {
    let (mut evens, mut odds) = ([0.0; LANES], [0.0; LANES]);
    for ([even, odd], [sum, difference]) in row.iter().zip(sums) {
        for lane in 0..LANES {
            evens[lane] += sum * even[lane];
        }
        for lane in 0..LANES {
            odds[lane] += difference * odd[lane];
        }
    }
    let (mut forward, mut backward) = ([0.0; LANES], [0.0; LANES]);
    for lane in 0..LANES {
        forward[lane] = evens[lane] + odds[lane];
        backward[LANES - 1 - lane] = evens[lane] - odds[lane];
    }
    (forward, backward)
}

/// `I₀(β √(1 − x²)) / I₀(β)` at the middles of `TAPS · step` equal parts of −1 to 1; the first half of it,
/// the other being its mirror. By the power series of I₀, `Σ (u/4)ⁿ / n!²` with `u = β² (1 − x²)`, which has
/// no cancellation.
fn window(step: usize) -> Vec<f64> {
    // 64 terms: the last is below 10⁻²⁴ of the sum.
    let mut coefficients = [1.0_f64; 64];
    let mut last = 1.0_f64;
    for (n, coefficient) in coefficients.iter_mut().enumerate().skip(1) {
        last /= 4.0 * real(n) * real(n);
        *coefficient = last;
    }
    let half = step.saturating_mul(PAIRS);
    let series = |u: &[f64; 8]| {
        let mut sum = [0.0; 8];
        for coefficient in coefficients.iter().rev() {
            for (sum, u) in sum.iter_mut().zip(u) {
                *sum = *sum * u + coefficient;
            }
        }
        sum
    };
    let top = series(&[BETA * BETA; 8])[0];
    let mut values = Vec::with_capacity(half.saturating_add(8));
    for start in (0..half).step_by(8) {
        let u = std::array::from_fn(|lane| {
            // 1 − x² as a product: it keeps its digits at the foot of the window.
            let part = (real(start.saturating_add(lane)) + 0.5) / real(half);
            BETA * BETA * part * (2.0 - part)
        });
        values.extend(series(&u).map(|value| value / top));
    }
    values.truncate(half);
    values
}

/// Weights on nodes, the middle one first: the Gaussian of `sigma` nodes with both windows taken out, that is
/// `c(j) = 1/N Σ G(ν) / H(ν)² cos 2πνj` with `G(ν) = exp(−2π²σ²ν²)` and `H(ν) = sinh √(β² − (π T ν)²) /
/// √(…)`, the spectrum of the window of `T` nodes.
fn between(sigma: f64, step: f64, reach: usize) -> Vec<f64> {
    let count = 2 * (reach + TAPS);
    let unit = 2.0 * PI / real(count);
    let turns: Vec<f64> = (0..count).map(|i| libm::cos(unit * real(i))).collect();
    let spectrum: Vec<f64> =
        (0..=count / 2).map(|i| real(i) / real(count)).map(|nu| leftover(sigma, step, nu)).collect();
    let weight = |j: usize| {
        let waves = spectrum.iter().enumerate().map(|(i, part)| {
            let twice = if i == 0 || i == count / 2 { 1.0 } else { 2.0 };
            twice * part * turns.get(i.wrapping_mul(j) % count).copied().unwrap_or(0.0)
        });
        waves.rev().sum::<f64>() / real(count)
    };
    (0..=reach).map(weight).collect()
}

/// `G(ν) / H(ν)²`, with the windows' scale: a window of height 1 and `T · step` points.
fn leftover(sigma: f64, step: f64, nu: f64) -> f64 {
    let root = |x: f64| {
        let r = x.abs().sqrt();
        if r < 1e-9 {
            1.0
        } else if x > 0.0 {
            libm::sinh(r) / r
        } else {
            libm::sin(r) / r
        }
    };
    let wave = PI * nu;
    let gaussian = libm::exp(-2.0 * (wave * sigma) * (wave * sigma));
    // Nothing that a double can show is left there, and the window's spectrum may be nought.
    if gaussian < 1e-24 {
        return 0.0;
    }
    let taps = 10.0 * wave;
    let top = libm::sinh(BETA) / BETA;
    let half = root(BETA * BETA - taps * taps) / top;
    gaussian * step / (half * half * gain(step) * gain(step))
}

/// The window's sum over all points: its spectrum at ν = 0, `T · step · sinh β / (β I₀(β))`.
fn gain(step: f64) -> f64 {
    10.0 * step * (libm::sinh(BETA) / BETA) / bessel(BETA)
}

/// I₀ by its power series.
fn bessel(x: f64) -> f64 {
    let (mut term, mut sum) = (1.0, 1.0);
    for n in 1..=64 {
        let n = f64::from(n);
        term *= x * x / (4.0 * n * n);
        sum += term;
    }
    sum
}
