//! Probabilities of conformance and guard bands, after JCGM 106.

use stillwell_stats::distributions::{normal_cdf, normal_quantile};

use crate::AssureError;
use crate::estimate::Found;

/// Probability that the truth lies at or below an upper limit: Φ((limit − value)/u), for a normal distribution and
/// no other knowledge.
///
/// # Units
/// All three in one unit; a probability comes out.
///
/// # Errors
/// [`AssureError::UncertaintyUnusable`], [`AssureError::BoundUnusable`].
///
/// # Source
/// JCGM 106:2012, clause 7 (one-sided tolerance interval, normal distribution).
///
/// # Example
/// ```
/// let probability = stillwell_assure::conformance_probability(48.0, 1.5, 50.0)?;
/// assert!((probability - 0.909).abs() < 0.001);
/// # Ok::<(), stillwell_assure::AssureError>(())
/// ```
pub fn conformance_probability(
    value: f64,
    standard_uncertainty: f64,
    limit: f64,
) -> Result<f64, AssureError> {
    if !(standard_uncertainty.is_finite() && standard_uncertainty > 0.0) {
        return Err(AssureError::UncertaintyUnusable { standard_uncertainty });
    }
    if let Some(bound) = [value, limit].into_iter().find(|number| !number.is_finite()) {
        return Err(AssureError::BoundUnusable { bound });
    }
    Ok(normal_cdf((limit - value) / standard_uncertainty))
}

/// How many standard uncertainties a guard band must have so that a decision is right with `confidence`.
///
/// # Units
/// A probability goes in, a pure number comes out.
///
/// # Errors
/// [`AssureError::CoverageUnusable`] unless 0.5 < `confidence` < 1.
///
/// # Source
/// EURACHEM/CITAC guide on uncertainty in compliance assessment, Annex A; JCGM 106:2012, 8.3.
///
/// # Example
/// ```
/// assert!((stillwell_assure::guard_band_factor(0.95)? - 1.645).abs() < 0.001);
/// # Ok::<(), stillwell_assure::AssureError>(())
/// ```
pub fn guard_band_factor(confidence: f64) -> Result<f64, AssureError> {
    if confidence > 0.5 && confidence < 1.0 {
        Ok(normal_quantile(confidence))
    } else {
        Err(AssureError::CoverageUnusable { coverage: confidence })
    }
}

/// The probability by the normal distribution that fits the half of the interval facing the limit.
pub(crate) fn of_interval(found: Found, limit: f64) -> Option<f64> {
    let Found::Interval { low, value, high, risk } = found else { return None };
    let half = if value <= limit { high - value } else { value - low };
    let standard_uncertainty = half / guard_band_factor(1.0 - risk).ok()?;
    conformance_probability(value, standard_uncertainty, limit).ok()
}
