//! A profile trace: heights at equal distances along a surface.

use crate::numeric;

/// Most points of a trace.
pub const MOST_POINTS: usize = 5_000_000;
/// Fewest points of a trace.
const FEWEST_POINTS: usize = 10;
/// Greatest height and spacing in µm: 1 m.
const FARTHEST: f64 = 1e6;

/// Heights in µm, `spacing` µm apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    spacing: f64,
    heights: Vec<f64>,
}

/// Why some numbers are not a profile.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ProfileError {
    /// The spacing is not a length.
    #[error("a spacing of {0} µm is none: expected a length above 0 and at most 1000000 µm (1 m)")]
    Spacing(f64),
    /// Too few points.
    #[error("a trace of {0} points is none: expected 10 or more")]
    TooFew(usize),
    /// Too many points.
    #[error(
        "a trace of {0} points is too long: expected 5000000 or fewer; cut it, or trace with a wider spacing"
    )]
    TooMany(usize),
    /// A height that is none.
    #[error(
        "point {point} has the height {height} µm: expected a number between -1000000 and 1000000 (1 m); \
        trace \
             again, a dropped point cannot be filled in"
    )]
    Height {
        /// Counted from 1.
        point: usize,
        /// As found.
        height: f64,
    },
}

/// What is taken off a trace before it is filtered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Form {
    /// The straight line of least squares through the whole trace.
    #[default]
    Line,
    /// Nothing.
    None,
}

impl Form {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Form::Line => "straight line of least squares through the whole trace taken off",
            Form::None => "no form taken off",
        }
    }
}

impl Profile {
    /// A profile of `heights` µm, `spacing` µm apart.
    ///
    /// # Errors
    /// Where the spacing is not a length, there are fewer than 10 or more than 5,000,000 points, or a height
    /// is not a number within 1 m.
    pub fn new(spacing: f64, heights: Vec<f64>) -> Result<Self, ProfileError> {
        if !(spacing > 0.0 && spacing <= FARTHEST) {
            return Err(ProfileError::Spacing(spacing));
        }
        if heights.len() < FEWEST_POINTS {
            return Err(ProfileError::TooFew(heights.len()));
        }
        if heights.len() > MOST_POINTS {
            return Err(ProfileError::TooMany(heights.len()));
        }
        let bad = |z: &f64| z.is_nan() || z.abs() > FARTHEST;
        if let Some((index, height)) = heights.iter().enumerate().find(|(_, z)| bad(z)) {
            return Err(ProfileError::Height { point: index.saturating_add(1), height: *height });
        }
        Ok(Profile { spacing, heights })
    }

    /// Distance of two points in µm.
    pub const fn spacing(&self) -> f64 {
        self.spacing
    }

    /// Heights in µm.
    pub fn heights(&self) -> &[f64] {
        &self.heights
    }

    /// Length of the trace in µm, each point standing for one spacing: `points · spacing`.
    pub fn length(&self) -> f64 {
        real(self.heights.len()) * self.spacing
    }

    /// The heights with `form` taken off, in µm.
    ///
    /// The line of least squares is `z̄ + Σ tz / Σ t² · t`, `t` counted from the middle of the trace; `Σ t² =
    /// n (n² − 1) / 12`. The mean is taken off first, so that a trace far from nought keeps its digits.
    pub fn without(&self, form: Form) -> Vec<f64> {
        if form == Form::None {
            return self.heights.clone();
        }
        let count = real(self.heights.len());
        let mean = numeric::sum(self.heights.iter().copied()) / count;
        let middle = 0.5 * (count - 1.0);
        let place = |i: usize| real(i) - middle;
        let moment = numeric::sum(self.heights.iter().enumerate().map(|(i, z)| place(i) * (z - mean)));
        let slope = moment / (count * (count * count - 1.0) / 12.0);
        self.heights.iter().enumerate().map(|(i, z)| (z - mean) - slope * place(i)).collect()
    }
}

/// A count as a binary number.
#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
pub(super) fn real(count: usize) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_profile_is_refused_with_its_place() {
        let flat = vec![0.0; 20];
        for spacing in [0.0, -1.0, f64::NAN, f64::INFINITY, 2e6] {
            assert!(matches!(Profile::new(spacing, flat.clone()), Err(ProfileError::Spacing(_))));
        }
        assert_eq!(Profile::new(1.0, vec![0.0; 9]), Err(ProfileError::TooFew(9)));
        assert_eq!(Profile::new(1.0, vec![0.0; MOST_POINTS + 1]), Err(ProfileError::TooMany(5_000_001)));
        for bad in [f64::NAN, f64::INFINITY, -1.1e6] {
            let mut heights = flat.clone();
            heights[6] = bad;
            let error = Profile::new(1.0, heights).unwrap_err().to_string();
            assert!(error.starts_with("point 7 has the height"), "{error}");
        }
    }

    /// Worked by hand: heights 0 to 9 lie on a line; 1, 0, 0 … 0, 1 has no slope and the mean 0.2.
    #[test]
    fn a_line_is_taken_off() {
        let line = Profile::new(2.0, (0..10).map(|i| 5.0 + f64::from(i)).collect()).unwrap();
        assert!(line.without(Form::Line).iter().all(|z| z.abs() < 1e-14));
        assert_eq!(line.without(Form::None), line.heights());
        let mut heights = vec![0.0; 10];
        (heights[0], heights[9]) = (1.0, 1.0);
        let rest = Profile::new(2.0, heights).unwrap().without(Form::Line);
        assert!(rest.iter().zip([0.8, -0.2]).all(|(a, b)| (a - b).abs() < 1e-15));
    }
}
