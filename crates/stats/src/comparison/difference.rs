//! Differences of means, with their uncertainty: paired, or of two separate groups.

use crate::comparison::{LineInterval, require_pairs};
use crate::distributions::student_t_quantile;
use crate::error::{StatsError, require_in_range, require_probability};
use crate::order::two_sided_p;
use crate::spread::{mean, standard_deviation};

/// What is supposed of the spreads of two groups.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spreads {
    /// They may differ (Welch). The safe choice.
    Separate,
    /// They are one and the same, pooled.
    Pooled,
}

/// A difference of means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanDifference {
    /// The difference.
    pub difference: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Degrees of freedom of the standard error; not whole for separate spreads.
    pub degrees_of_freedom: f64,
    /// Interval of the difference.
    pub interval: LineInterval,
    /// Two-sided, by Student's t; 1 when neither difference nor scatter is there, 0 for a difference without scatter.
    pub p_value: f64,
}

/// Mean of `y − x` of pairs, with a t test.
///
/// # Units
/// `x`, `y`: one pair a sample, in one unit. `coverage` in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] below two pairs, [`StatsError::LengthMismatch`], [`StatsError::NotFinite`],
/// [`StatsError::NotAProbability`], [`StatsError::OutOfRange`].
///
/// # Source
/// Student's paired t test.
///
/// # Example
/// ```
/// let found = stillwell_stats::comparison::paired_difference(&[1.0, 2.0, 3.0], &[1.3, 2.2, 3.4], 0.95)?;
/// assert!((found.difference - 0.3).abs() < 1e-15 && found.p_value < 0.05);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn paired_difference(x: &[f64], y: &[f64], coverage: f64) -> Result<MeanDifference, StatsError> {
    require_pairs(x, y, 2)?;
    let differences: Vec<f64> = x.iter().zip(y).map(|(x, y)| y - x).collect();
    let n = x.len() as f64;
    let standard_error = standard_deviation(&differences)? / libm::sqrt(n);
    MeanDifference::new(mean(&differences)?, standard_error, n - 1.0, coverage)
}

/// Mean of `y` minus mean of `x`, two separate groups, with a t test.
///
/// # Units
/// Values of both groups in one unit. `coverage` in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] for a group below two, [`StatsError::NotFinite`], [`StatsError::NotAProbability`],
/// [`StatsError::OutOfRange`].
///
/// # Source
/// Welch 1947, Biometrika 34, 28; Student's t test for pooled spreads.
///
/// # Example
/// ```
/// use stillwell_stats::comparison::{Spreads, mean_difference};
/// let after_low = [50.3, 50.4, 50.2, 50.5, 50.3, 50.4];
/// let after_high = [50.9, 51.0, 50.8, 51.1, 50.9, 51.0];
/// let memory = mean_difference(&after_low, &after_high, Spreads::Pooled, 0.95)?;
/// assert!((memory.difference - 0.6).abs() < 1e-12 && memory.p_value < 1e-5);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn mean_difference(
    x: &[f64],
    y: &[f64],
    spreads: Spreads,
    coverage: f64,
) -> Result<MeanDifference, StatsError> {
    let (of_x, of_y) = (VarianceOfMean::new(x)?, VarianceOfMean::new(y)?);
    let (standard_error, df) = match spreads {
        Spreads::Separate => of_x.plus(1.0, of_y),
        Spreads::Pooled => of_x.pooled(of_y),
    };
    MeanDifference::new(of_y.mean - of_x.mean, standard_error, df, coverage)
}

impl MeanDifference {
    fn new(difference: f64, standard_error: f64, df: f64, coverage: f64) -> Result<Self, StatsError> {
        require_probability("the coverage", coverage)?;
        let half = student_t_quantile(0.5 + 0.5 * coverage, df) * standard_error;
        require_in_range("the difference", &[difference - half, difference + half])?;
        Ok(Self {
            difference,
            standard_error,
            degrees_of_freedom: df,
            interval: LineInterval { low: difference - half, high: difference + half },
            p_value: two_sided_p(difference, standard_error, df),
        })
    }
}

/// A mean with what is known of its variance.
#[derive(Clone, Copy)]
pub(crate) struct VarianceOfMean {
    pub(crate) mean: f64,
    /// Standard error of the mean.
    pub(crate) error: f64,
    n: f64,
}

impl VarianceOfMean {
    pub(crate) fn new(values: &[f64]) -> Result<Self, StatsError> {
        let n = values.len() as f64;
        Ok(Self { mean: mean(values)?, error: standard_deviation(values)? / libm::sqrt(n), n })
    }

    /// Standard error of `factor · self ± other` and its degrees of freedom (Welch & Satterthwaite).
    pub(crate) fn plus(self, factor: f64, other: Self) -> (f64, f64) {
        let own = factor.abs() * self.error;
        let scale = f64::max(own, other.error);
        if scale <= 0.0 {
            return (0.0, self.n + other.n - 2.0);
        }
        let (a, b) = ((own / scale) * (own / scale), (other.error / scale) * (other.error / scale));
        let df = (a + b) * (a + b) / (a * a / (self.n - 1.0) + b * b / (other.n - 1.0));
        (scale * libm::sqrt(a + b), df)
    }

    fn pooled(self, other: Self) -> (f64, f64) {
        let df = self.n + other.n - 2.0;
        let scale = f64::max(self.error, other.error);
        if scale <= 0.0 {
            return (0.0, df);
        }
        let variance = |v: Self| (v.error / scale) * (v.error / scale) * v.n;
        let pooled = (variance(self) * (self.n - 1.0) + variance(other) * (other.n - 1.0)) / df;
        (scale * libm::sqrt(pooled * (1.0 / self.n + 1.0 / other.n)), df)
    }
}
