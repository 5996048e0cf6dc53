//! Mean squares, and what a sum or difference of them says.

use crate::components::modified_large_sample::{VarianceInterval, modified_large_sample};
use crate::error::{StatsError, require_in_range};

/// One mean square in a linear combination.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanSquareTerm {
    /// Its factor; negative for a mean square that is subtracted.
    pub factor: f64,
    /// Its value, not negative.
    pub mean_square: f64,
    /// Its degrees of freedom, above zero.
    pub degrees_of_freedom: f64,
}

/// A variance made of mean squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ComponentEstimate {
    /// The estimate; negative when the data scatter less than chance would have it, to be read as zero.
    pub variance: f64,
    /// Between these ends lies the variance, with the coverage asked for; never below zero.
    pub interval: VarianceInterval,
    /// Satterthwaite's degrees of freedom of the estimate; 0 when it is zero or below.
    pub degrees_of_freedom: f64,
}

impl ComponentEstimate {
    pub(super) fn new(terms: &[MeanSquareTerm], coverage: f64) -> Result<Self, StatsError> {
        let variance: f64 = terms.iter().map(|t| t.factor * t.mean_square).sum();
        require_in_range("a component of variance", &[variance])?;
        Ok(Self {
            variance,
            interval: modified_large_sample(terms, coverage)?,
            degrees_of_freedom: satterthwaite(terms, variance),
        })
    }

    /// Root of the variance; 0 for a negative one.
    pub fn sd(&self) -> f64 {
        libm::sqrt(f64::max(self.variance, 0.0))
    }
}

/// `(Σ c S²)² / Σ (c S²)²/ν`.
fn satterthwaite(terms: &[MeanSquareTerm], variance: f64) -> f64 {
    if variance <= 0.0 {
        return 0.0;
    }
    // Relative to the whole, so that no square overflows.
    let share = |t: &MeanSquareTerm| t.factor * t.mean_square / variance;
    let below: f64 = terms.iter().map(|t| share(t) * share(t) / t.degrees_of_freedom).sum();
    1.0 / below
}
