//! Limits of agreement: within which most single differences of two ways of measuring lie.

use crate::comparison::{LineInterval, require_pairs};
use crate::distributions::{normal_quantile, student_t_quantile};
use crate::error::{StatsError, require_probability};
use crate::least_squares::polynomial_least_squares;
use crate::limits::percentile_limits;
use crate::order::two_sided_p;
use crate::spread::{mean, standard_deviation};

/// One limit with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AgreementLimit {
    /// The limit.
    pub limit: f64,
    /// Its interval at the coverage asked for.
    pub interval: LineInterval,
}

/// Bias, limits of agreement, and whether the differences depend on the level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AgreementLimits {
    /// Mean of `y − x`.
    pub bias: f64,
    /// Interval of the bias.
    pub bias_interval: LineInterval,
    /// Standard deviation of the differences.
    pub sd: f64,
    /// Below it lies (1 − share)/2 of the differences.
    pub lower: AgreementLimit,
    /// Above it lies (1 − share)/2 of the differences.
    pub upper: AgreementLimit,
    /// Change of the difference per unit of the pair's mean.
    pub slope_with_level: f64,
    /// Small when the differences depend on the level: then the limits hold nowhere exactly; compare ratios instead.
    pub p_slope_with_level: f64,
}

/// Limits between which `share` of the differences `y − x` lie, for normal differences.
///
/// # Units
/// `x`, `y`: one pair a sample, in one unit (take logarithms of both for limits of a ratio). `share` (usually 0.95) and
/// `coverage` of the intervals in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] below three pairs, [`StatsError::LengthMismatch`], [`StatsError::NotFinite`],
/// [`StatsError::NotAProbability`], [`StatsError::RankDeficient`] when all pairs have the same mean.
///
/// # Source
/// Bland & Altman 1986, Lancet 327, 307 (limits), 1999, Stat. Methods Med. Res. 8, 135 (dependence on the level); intervals
/// of the limits exact by noncentral t: Carkeet 2015, Optom. Vis. Sci. 92, e71.
///
/// # Example
/// ```
/// use stillwell_stats::comparison::limits_of_agreement;
/// let found = limits_of_agreement(&[5.0, 12.0, 20.9, 32.1], &[5.3, 12.2, 20.4, 33.0], 0.95, 0.95)?;
/// assert!(found.lower.limit < found.bias && found.bias < found.upper.limit);
/// assert!(found.upper.interval.high > found.upper.limit);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn limits_of_agreement(
    x: &[f64],
    y: &[f64],
    share: f64,
    coverage: f64,
) -> Result<AgreementLimits, StatsError> {
    require_pairs(x, y, 3)?;
    require_probability("the coverage", coverage)?;
    require_probability("the share", share)?;
    let differences: Vec<f64> = x.iter().zip(y).map(|(x, y)| y - x).collect();
    let levels: Vec<f64> = x.iter().zip(y).map(|(x, y)| 0.5 * x + 0.5 * y).collect();
    let (bias, sd) = (mean(&differences)?, standard_deviation(&differences)?);
    let n = x.len() as f64;
    let half = student_t_quantile(0.5 + 0.5 * coverage, n - 1.0) * sd / libm::sqrt(n);
    let tail = 0.5 * (1.0 - share);
    let limit = |below: f64| -> Result<AgreementLimit, StatsError> {
        let limits = percentile_limits(&differences, below, 0.5 + 0.5 * coverage)?;
        let interval = LineInterval { low: limits.lower, high: limits.upper };
        Ok(AgreementLimit { limit: bias + normal_quantile(below) * sd, interval })
    };
    let line = polynomial_least_squares(&levels, &differences, &[0, 1], None)?;
    let (slope, error) = (line.coefficients[1], line.standard_errors[1]);
    Ok(AgreementLimits {
        bias,
        bias_interval: LineInterval { low: bias - half, high: bias + half },
        sd,
        lower: limit(tail)?,
        upper: limit(1.0 - tail)?,
        slope_with_level: slope,
        p_slope_with_level: two_sided_p(slope, error, line.degrees_of_freedom as f64),
    })
}
