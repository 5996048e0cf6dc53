//! How probably equivalence will be shown, and how many values that takes.

use crate::distributions::{ln_gamma, normal_cdf, student_t_quantile};
use crate::equivalence::Margins;
use crate::equivalence::two_one_sided::require_alpha;
use crate::error::{StatsError, require_probability};

/// What is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Samples {
    /// One group (or paired differences) against a fixed value.
    One,
    /// Two groups of equal size and spread.
    Two,
}

/// A planned test of equivalence of means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EquivalenceDesign {
    /// One group or two.
    pub samples: Samples,
    /// Margins of the difference.
    pub margins: Margins,
    /// The difference that is really there; within the margins.
    pub true_difference: f64,
    /// Standard deviation of a single value (of an electrode's mean, of a paired difference); above zero.
    pub sd: f64,
    /// Significance of each one-sided test, below 0.5.
    pub alpha: f64,
}

/// Probability that two one-sided tests will show equivalence with `n` values (in each group).
///
/// # Units
/// Margins, difference and `sd` in one unit.
///
/// # Errors
/// [`StatsError::TooFewValues`] below two values, [`StatsError::TooManyValues`] above a million,
/// [`StatsError::SettingNotPositive`], [`StatsError::EndsReversed`], [`StatsError::SettingOutside`], [`StatsError::NotFinite`].
///
/// # Source
/// Exact: the normal probability of landing between both limits, averaged over the distribution of the standard deviation
/// (Owen 1965; Phillips 1990, J. Pharmacokinet. Biopharm. 18, 137); by Simpson's rule.
///
/// # Example
/// ```
/// use stillwell_stats::equivalence::{EquivalenceDesign, Margins, Samples, equivalence_power};
/// let design = EquivalenceDesign {
///     samples: Samples::Two, margins: Margins { lower: -5.0, upper: 5.0 }, true_difference: 0.0, sd: 4.0, alpha: 0.05,
/// };
/// assert!(equivalence_power(&design, 6)? < 0.5 && equivalence_power(&design, 20)? > 0.95);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn equivalence_power(design: &EquivalenceDesign, n: usize) -> Result<f64, StatsError> {
    design.require()?;
    if n < 2 {
        return Err(StatsError::TooFewValues { what: "the planned values", found: n, needed: 2 });
    }
    if n > MOST_VALUES {
        return Err(StatsError::TooManyValues { what: "the planned values", found: n, most: MOST_VALUES });
    }
    Ok(design.power(n))
}

/// The fewest values (in each group) with which equivalence is shown with the wanted power; `None` above `most` or a million.
///
/// # Units
/// As [`equivalence_power`]; `power` in (0, 1).
///
/// # Errors
/// As [`equivalence_power`]; [`StatsError::NotAProbability`].
///
/// # Source
/// Search over [`equivalence_power`].
///
/// # Example
/// ```
/// use stillwell_stats::equivalence::{EquivalenceDesign, Margins, Samples, equivalence_sample_size};
/// let design = EquivalenceDesign {
///     samples: Samples::Two, margins: Margins { lower: -5.0, upper: 5.0 }, true_difference: 1.0, sd: 4.0, alpha: 0.05,
/// };
/// assert_eq!(equivalence_sample_size(&design, 0.9, 1000)?, Some(19));
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn equivalence_sample_size(
    design: &EquivalenceDesign,
    power: f64,
    most: usize,
) -> Result<Option<usize>, StatsError> {
    design.require()?;
    require_probability("the power", power)?;
    let most = most.min(MOST_VALUES);
    let (mut too_few, mut enough) = (1, 2);
    while enough <= most && design.power(enough) < power {
        too_few = enough;
        enough = enough.saturating_mul(2);
    }
    enough = enough.min(most.max(2));
    if most < 2 || design.power(enough) < power {
        return Ok(None);
    }
    while enough - too_few > 1 {
        let middle = too_few + (enough - too_few) / 2;
        if design.power(middle) < power {
            too_few = middle;
        } else {
            enough = middle;
        }
    }
    Ok(Some(enough))
}

/// Beyond it the logarithm of the density loses digits, and nobody measures that often.
const MOST_VALUES: usize = 1_000_000;

/// Panels of Simpson's rule: the integrand is smooth, so that the rest is below 1e-10.
const N_PANELS: u32 = 2000;

impl EquivalenceDesign {
    fn require(&self) -> Result<(), StatsError> {
        let Margins { lower, upper } = self.margins.require()?;
        require_alpha(self.alpha)?;
        if !(self.sd > 0.0 && self.sd.is_finite()) {
            let value = self.sd;
            return Err(StatsError::SettingNotPositive { what: "the standard deviation", value });
        }
        let value = self.true_difference;
        if !value.is_finite() {
            return Err(StatsError::NotFinite { what: "the true difference", row: 0, value });
        }
        if value <= lower || value >= upper {
            return Err(StatsError::EndsReversed {
                what: "the margins about the true difference",
                lower,
                upper,
            });
        }
        Ok(())
    }

    fn power(&self, n: usize) -> f64 {
        let count = n as f64;
        let (df, share) = match self.samples {
            Samples::One => (count - 1.0, 1.0 / count),
            Samples::Two => (2.0 * count - 2.0, 2.0 / count),
        };
        let error = self.sd * libm::sqrt(share);
        let t = student_t_quantile(1.0 - self.alpha, df);
        let to_upper = (self.margins.upper - self.true_difference) / error;
        let to_lower = (self.margins.lower - self.true_difference) / error;
        // Beyond this ratio of found to true standard deviation nothing can be shown.
        let largest = (to_upper - to_lower) / (2.0 * t);
        let width = 14.0 / libm::sqrt(2.0 * df);
        let (first, last) = (f64::max(0.0, 1.0 - width), f64::min(largest, 1.0 + width));
        if last <= first {
            return 0.0;
        }
        let log_constant = core::f64::consts::LN_2 + 0.5 * df * libm::log(0.5 * df) - ln_gamma(0.5 * df);
        let integrand = |ratio: f64| {
            let inside = normal_cdf(to_upper - t * ratio) - normal_cdf(to_lower + t * ratio);
            let density = if ratio > 0.0 {
                libm::exp(log_constant + (df - 1.0) * libm::log(ratio) - 0.5 * df * ratio * ratio)
            } else if df <= 1.0 {
                libm::exp(log_constant)
            } else {
                0.0
            };
            inside * density
        };
        f64::min(1.0, simpson(first, last, integrand))
    }
}

fn simpson(first: f64, last: f64, f: impl Fn(f64) -> f64) -> f64 {
    let step = (last - first) / f64::from(N_PANELS);
    let mut sum = f(first) + f(last);
    for panel in 1..N_PANELS {
        let weight = if panel % 2 == 1 { 4.0 } else { 2.0 };
        sum += weight * f(first + step * f64::from(panel));
    }
    sum * step / 3.0
}
