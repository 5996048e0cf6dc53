//! A percentile of normal values, and the limits between which it lies.

use crate::distributions::{noncentral_t_quantile, normal_quantile};
use crate::error::{StatsError, require_in_range, require_probability};
use crate::spread::{mean, standard_deviation};

/// A percentile with its limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PercentileLimits {
    /// `mean + z_p s`.
    pub percentile: f64,
    /// The percentile lies above this with the stated confidence (one-sided).
    pub lower: f64,
    /// The percentile lies below this with the stated confidence (one-sided): an upper tolerance limit.
    pub upper: f64,
}

/// A percentile of normal values with a lower and an upper limit, each one-sided at `confidence`.
///
/// For an interval that holds with probability `c`, ask for `confidence = (1 + c)/2`. Take logarithms first where the
/// logarithms are normal.
///
/// # Units
/// Values in any unit; `share` (0.95 for the 95th percentile) and `confidence` in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] below two, [`StatsError::NotFinite`], [`StatsError::NotAProbability`].
///
/// # Source
/// Hahn & Meeker 1991, Statistical Intervals, 4.4; USEPA 2009, Unified Guidance, 21.1.4.
///
/// # Example
/// ```
/// let aldicarb_ppb = [19.9, 29.6, 18.7, 24.2];
/// let limits = stillwell_stats::limits::percentile_limits(&aldicarb_ppb, 0.95, 0.99)?;
/// assert!((limits.lower - 25.2855).abs() < 5e-5);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn percentile_limits(
    values: &[f64],
    share: f64,
    confidence: f64,
) -> Result<PercentileLimits, StatsError> {
    let sd = standard_deviation(values)?;
    let centre = mean(values)?;
    let above = tolerance_factor(values.len(), share, confidence)?;
    let below = tolerance_factor(values.len(), share, 1.0 - confidence)?;
    let percentile = centre + normal_quantile(share) * sd;
    let (lower, upper) = (centre + below * sd, centre + above * sd);
    require_in_range("a percentile's limit", &[percentile, lower, upper])?;
    Ok(PercentileLimits { percentile, lower, upper })
}

/// `k` such that `mean + k s` of `n` normal values lies above their percentile with probability `confidence`.
///
/// # Units
/// Pure numbers; `share` and `confidence` in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] below two, [`StatsError::NotAProbability`].
///
/// # Source
/// `t(confidence; n−1, z_p √n)/√n`, noncentral t: Hahn & Meeker 1991, 4.4.
///
/// # Example
/// ```
/// assert!((stillwell_stats::limits::tolerance_factor(10, 0.95, 0.95)? - 2.911).abs() < 5e-4);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn tolerance_factor(n: usize, share: f64, confidence: f64) -> Result<f64, StatsError> {
    if n < 2 {
        return Err(StatsError::TooFewValues { what: "the values", found: n, needed: 2 });
    }
    require_probability("the share", share)?;
    require_probability("the confidence", confidence)?;
    let root = libm::sqrt(n as f64);
    let factor = noncentral_t_quantile(confidence, (n - 1) as f64, normal_quantile(share) * root) / root;
    require_in_range("the tolerance factor", &[factor])?;
    Ok(factor)
}
