//! Guarded acceptance and rejection with a stated specific risk: how far from the limit a value must lie.

use crate::budget::quantile;
use crate::{BudgetError, DecisionCode};

/// Between these two values nothing is called.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GuardedLimits {
    /// Values at or below this are below the limit.
    pub accept_up_to: f64,
    /// Values above this are above the limit.
    pub reject_above: f64,
    /// Guard band in standard uncertainties.
    pub factor: f64,
    /// The largest probability that a call is wrong, for a truth anywhere and no other knowledge.
    pub risk: f64,
}

impl GuardedLimits {
    /// The call for one value.
    pub fn call(&self, value: f64) -> DecisionCode {
        if value <= self.accept_up_to {
            DecisionCode::Below
        } else if value > self.reject_above {
            DecisionCode::Above
        } else {
            DecisionCode::TooCloseToCall
        }
    }
}

/// Guarded limits for an uncertainty that is the same at any value near the limit.
///
/// # Units
/// `limit` and `standard_uncertainty` in one unit; `risk` is a probability below ½, for each side.
///
/// # Errors
/// [`BudgetError::RiskUnusable`], [`BudgetError::ResultsUnusable`] for a limit or uncertainty that is no number above zero,
/// [`BudgetError::TooFewDegreesOfFreedom`].
///
/// # Source
/// JCGM 106:2012, 8.3.2 (guarded acceptance) and 8.3.3 (guarded rejection); Student's t with few degrees of freedom:
/// EURACHEM/CITAC guide on uncertainty in compliance assessment, Annex A.
///
/// # Example
/// ```
/// let guard = stillwell_assure::guarded_limits(50.0, 1.5, f64::INFINITY, 0.05)?;
/// assert!((guard.accept_up_to - 47.53).abs() < 0.005 && (guard.reject_above - 52.47).abs() < 0.005);
/// # Ok::<(), stillwell_assure::BudgetError>(())
/// ```
pub fn guarded_limits(
    limit: f64,
    standard_uncertainty: f64,
    degrees_of_freedom: f64,
    risk: f64,
) -> Result<GuardedLimits, BudgetError> {
    let factor = guard_factor(limit, standard_uncertainty, degrees_of_freedom, risk)?;
    let band = factor * standard_uncertainty;
    Ok(GuardedLimits { accept_up_to: limit - band, reject_above: limit + band, factor, risk })
}

/// Guarded limits for an uncertainty in proportion to the value: value ± factor × relative uncertainty × value meets the limit.
///
/// # Units
/// `limit` in any unit; `relative_standard_uncertainty` a fraction of the value; `risk` a probability below ½.
///
/// # Errors
/// As [`guarded_limits`]; also [`BudgetError::NoRejectionPossible`] where the uncertainty is so large that no value shows
/// that the limit is exceeded.
///
/// # Source
/// JCGM 106:2012, 8.3.3, example (speed limit).
///
/// # Example
/// ```
/// let guard = stillwell_assure::guarded_limits_relative(100.0, 0.02, f64::INFINITY, 0.001)?;
/// assert!((guard.reject_above - 106.59).abs() < 0.005);
/// # Ok::<(), stillwell_assure::BudgetError>(())
/// ```
pub fn guarded_limits_relative(
    limit: f64,
    relative_standard_uncertainty: f64,
    degrees_of_freedom: f64,
    risk: f64,
) -> Result<GuardedLimits, BudgetError> {
    let factor = guard_factor(limit, relative_standard_uncertainty, degrees_of_freedom, risk)?;
    let band = factor * relative_standard_uncertainty;
    if band >= 1.0 {
        return Err(BudgetError::NoRejectionPossible { band_percent: 100.0 * band });
    }
    Ok(GuardedLimits { accept_up_to: limit / (1.0 + band), reject_above: limit / (1.0 - band), factor, risk })
}

fn guard_factor(limit: f64, u: f64, degrees_of_freedom: f64, risk: f64) -> Result<f64, BudgetError> {
    if !(risk > 0.0 && risk < 0.5) {
        return Err(BudgetError::RiskUnusable { risk });
    }
    if !(limit.is_finite() && u.is_finite() && u > 0.0) {
        return Err(BudgetError::ResultsUnusable { what: "a limit and its standard uncertainty" });
    }
    quantile(1.0 - risk, degrees_of_freedom)
}
