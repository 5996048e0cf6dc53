//! Bias and limits of agreement of pairs, on the scale on which differences are alike over the range.

use stillwell_stats::comparison::{LineInterval, limits_of_agreement};
use stillwell_stats::distributions::student_t_sf;
use stillwell_stats::polynomial_least_squares;

use crate::QualityError;
use crate::quality_error::{must_be_finite, must_have};

/// Fewest pairs of numbers for limits of agreement: common practice, no source. From 40 on they are well known.
pub(super) const FEWEST_PAIRS: usize = 8;

/// On which scale differences are alike over the range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Differences themselves.
    Absolute,
    /// Ratios, told as differences in % of the laboratory's result, because differences grow with the level.
    Percent,
}

/// Bias and limits of agreement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// The scale of all that follows.
    pub scale: Scale,
    /// Pairs.
    pub n: usize,
    /// Mean difference, ours less the laboratory's.
    pub bias: f64,
    /// Its 95 % interval.
    pub bias_interval: [f64; 2],
    /// Standard deviation of the differences; in % for ratios, from their logarithms.
    pub sd: f64,
    /// Between these lie 95 % of the differences.
    pub limits: [f64; 2],
    /// The 95 % intervals of the lower and of the upper limit.
    pub limit_intervals: [[f64; 2]; 2],
    /// Small when the differences depend on the level on this scale too: then the limits hold nowhere exactly.
    pub p_depends_on_level: f64,
}

/// Differences of pairs, and limits of agreement.
///
/// # Units
/// `ours` and `reference` in one unit, one a pair. The scale is percent where the size of the differences grows with the mean (slope of
/// |difference| against mean, one-sided test at 5 %) and all results are above zero.
///
/// # Errors
/// [`QualityError::LengthMismatch`], [`QualityError::TooFew`] below eight pairs, [`QualityError::NotFinite`], and
/// [`QualityError::NoSpread`] for differences that are all one.
///
/// # Source
/// [`limits_of_agreement`]; choice of the scale: Bland & Altman 1999, Stat. Methods Med. Res. 8, 135, section 3.
///
/// # Example
/// ```
/// let reference = [5.0, 12.0, 21.0, 30.0, 38.0, 47.0, 55.0, 60.0];
/// let ours = [5.6, 12.1, 21.9, 30.4, 38.9, 47.2, 55.9, 60.3];
/// let found = stillwell_assure::compare::agreement(&ours, &reference)?;
/// assert!((found.bias - 0.5375).abs() < 1e-9 && found.bias_interval[0] > 0.0);
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn agreement(ours: &[f64], reference: &[f64]) -> Result<Agreement, QualityError> {
    if ours.len() != reference.len() {
        let (found, expected) = (ours.len(), reference.len());
        return Err(QualityError::LengthMismatch { what: "results of one side", found, expected });
    }
    must_have("pairs of numbers", ours.len(), FEWEST_PAIRS)?;
    must_be_finite("our results", ours)?;
    must_be_finite("the laboratory's results", reference)?;
    let scale = scale_of(ours, reference);
    let on_scale = |values: &[f64]| -> Vec<f64> {
        match scale {
            Scale::Absolute => values.to_vec(),
            Scale::Percent => values.iter().map(|value| libm::log(*value)).collect(),
        }
    };
    let found = limits_of_agreement(&on_scale(reference), &on_scale(ours), 0.95, 0.95)?;
    if found.sd <= 1e-12 * found.bias.abs() {
        return Err(QualityError::NoSpread { what: "the differences of the pairs" });
    }
    let told = |value: f64| match scale {
        Scale::Absolute => value,
        Scale::Percent => 100.0 * libm::expm1(value),
    };
    let both = |interval: LineInterval| [told(interval.low), told(interval.high)];
    Ok(Agreement {
        scale,
        n: ours.len(),
        bias: told(found.bias),
        bias_interval: both(found.bias_interval),
        sd: if scale == Scale::Percent { 100.0 * found.sd } else { found.sd },
        limits: [told(found.lower.limit), told(found.upper.limit)],
        limit_intervals: [both(found.lower.interval), both(found.upper.interval)],
        p_depends_on_level: found.p_slope_with_level,
    })
}

/// Percent where the size of the differences grows with the mean.
fn scale_of(ours: &[f64], reference: &[f64]) -> Scale {
    if ours.iter().chain(reference).any(|value| *value <= 0.0) {
        return Scale::Absolute;
    }
    let means: Vec<f64> = ours.iter().zip(reference).map(|(a, b)| 0.5 * (a + b)).collect();
    let sizes: Vec<f64> = ours.iter().zip(reference).map(|(a, b)| (a - b).abs()).collect();
    let Ok(fit) = polynomial_least_squares(&means, &sizes, &[0, 1], None) else { return Scale::Absolute };
    let (slope, error) = (fit.coefficients[1], fit.standard_errors[1]);
    let grows =
        slope > 0.0 && error > 0.0 && student_t_sf(slope / error, fit.degrees_of_freedom as f64) < 0.05;
    if grows { Scale::Percent } else { Scale::Absolute }
}
