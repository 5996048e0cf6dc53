//! Charts of means, ranges and standard deviations of subgroups of one size.

use super::constants::chart_constants;
use crate::QualityError;
use crate::quality_error::{must_be_finite, must_have};

/// A centre line with its lower and upper limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CentreAndLimits {
    /// Centre line.
    pub centre: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// Limits of the means of subgroups, and of the spread within them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SubgroupLimits {
    /// For the means.
    pub of_means: CentreAndLimits,
    /// For the ranges, or for the standard deviations.
    pub of_spreads: CentreAndLimits,
    /// Estimated standard deviation within subgroups.
    pub sigma_within: f64,
}

/// From the means and ranges of subgroups of `n`.
///
/// The limits of means rest on the spread within subgroups alone; where subgroups are single runs, the spread from run to run
/// is missing from them, and a chart of single values of the means is the right one.
///
/// # Units
/// Those of the charted quantity; `means` and `ranges` one a subgroup.
///
/// # Errors
/// [`QualityError::LengthMismatch`], [`QualityError::TooFew`] below two subgroups, [`QualityError::NotFinite`], and
/// [`QualityError::Unusable`] for a size outside 2 to 25.
///
/// # Source
/// ISO 7870-2:2013, X̄ and R charts: A₂, D₃, D₄.
///
/// # Example
/// ```
/// let limits = stillwell_assure::control::limits_from_ranges(&[50.0, 50.2, 49.9], &[0.5, 0.4, 0.6], 3)?;
/// assert!((limits.of_means.high - limits.of_means.centre - 1.0233 * 0.5).abs() < 1e-3);
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn limits_from_ranges(means: &[f64], ranges: &[f64], n: usize) -> Result<SubgroupLimits, QualityError> {
    let constants = chart_constants(n)?;
    let (centre, mean_range) = centres(means, ranges)?;
    let [low, high] = constants.d3_d4();
    Ok(limits(centre, mean_range, constants.a2(), [low, high], mean_range / constants.d2))
}

/// From the means and standard deviations of subgroups of `n`.
///
/// # Units
/// As [`limits_from_ranges`].
///
/// # Errors
/// As [`limits_from_ranges`].
///
/// # Source
/// ISO 7870-2:2013, X̄ and s charts: A₃, B₃, B₄.
pub fn limits_from_standard_deviations(
    means: &[f64],
    standard_deviations: &[f64],
    n: usize,
) -> Result<SubgroupLimits, QualityError> {
    let constants = chart_constants(n)?;
    let (centre, mean_sd) = centres(means, standard_deviations)?;
    Ok(limits(centre, mean_sd, constants.a3(), constants.b3_b4(), mean_sd / constants.c4))
}

/// Limits for subgroups of `n` about prespecified values.
///
/// # Units
/// Those of the charted quantity.
///
/// # Errors
/// [`QualityError::Unusable`] for a size outside 2 to 25, [`QualityError::NotFinite`].
///
/// # Source
/// ISO 7870-2:2013, X̄ and s charts with prespecified μ₀ and σ₀: `μ₀ ± 3 σ₀/√n`, `c₄ σ₀`, `(c₄ ± 3 √(1 − c₄²)) σ₀`.
pub fn limits_prespecified(mean: f64, sigma: f64, n: usize) -> Result<SubgroupLimits, QualityError> {
    let constants = chart_constants(n)?;
    must_be_finite("the prespecified values", &[mean, sigma])?;
    Ok(limits(mean, constants.c4 * sigma, constants.a3(), constants.b3_b4(), sigma))
}

fn centres(means: &[f64], spreads: &[f64]) -> Result<(f64, f64), QualityError> {
    if means.len() != spreads.len() {
        return Err(QualityError::LengthMismatch {
            what: "spreads of subgroups",
            found: spreads.len(),
            expected: means.len(),
        });
    }
    must_have("subgroups", means.len(), 2)?;
    must_be_finite("the means of subgroups", means)?;
    must_be_finite("the spreads of subgroups", spreads)?;
    Ok((stillwell_stats::mean(means)?, stillwell_stats::mean(spreads)?))
}

fn limits(centre: f64, spread: f64, factor: f64, of_spread: [f64; 2], sigma_within: f64) -> SubgroupLimits {
    let width = factor * spread;
    SubgroupLimits {
        of_means: CentreAndLimits { centre, low: centre - width, high: centre + width },
        of_spreads: CentreAndLimits {
            centre: spread,
            low: of_spread[0] * spread,
            high: of_spread[1] * spread,
        },
        sigma_within,
    }
}
