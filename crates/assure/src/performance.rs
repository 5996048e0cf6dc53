//! Is a method good enough for a limit: its uncertainty at the limit and its quantification limit against what a directive asks.

use crate::budget_wording;
use crate::{AssureError, BudgetError, NamedLimit, find_limit};

/// What a document asks of methods for one limit.
#[derive(Debug, Clone, PartialEq)]
pub struct PerformanceRequirement {
    /// The limit.
    pub limit: NamedLimit,
    /// Expanded uncertainty with k = 2 at the limit, at most so many % of the limit's value.
    pub max_uncertainty_percent: f64,
    /// Quantification limit, at most so many % of the limit's value.
    pub max_quantification_percent: f64,
    /// Document and clause.
    pub source: &'static str,
}

/// What the EU's drinking-water directive asks for nitrate and nitrite: limits `eu-nitrate` and `eu-nitrite`.
///
/// # Errors
/// [`AssureError::NoPerformanceRequirement`] for any other limit.
///
/// # Source
/// Directive (EU) 2020/2184, Annex III Part B, table 1: 15 % (nitrate) and 20 % (nitrite) of the parametric value with k = 2,
/// quantification limit at most 30 % of it; read in its Spanish transposition, Real Decreto 3/2023, annex III part D.
pub fn performance_requirement(limit_id: &str) -> Result<PerformanceRequirement, AssureError> {
    let max_uncertainty_percent = match limit_id {
        "eu-nitrate" => 15.0,
        "eu-nitrite" => 20.0,
        _ => return Err(AssureError::NoPerformanceRequirement { limit: limit_id.to_owned() }),
    };
    Ok(PerformanceRequirement {
        limit: find_limit(limit_id)?,
        max_uncertainty_percent,
        max_quantification_percent: 30.0,
        source: "Directive (EU) 2020/2184, Annex III Part B",
    })
}

/// A method held against a requirement.
#[derive(Debug, Clone, PartialEq)]
pub struct PerformanceCheck {
    /// What is asked.
    pub requirement: PerformanceRequirement,
    /// `100 × 2 u / limit`.
    pub uncertainty_percent: f64,
    /// `100 × quantification limit / limit`.
    pub quantification_percent: f64,
}

impl PerformanceRequirement {
    /// Checks a method.
    ///
    /// # Units
    /// Both in the unit and form of the limit; the standard uncertainty is that of a result near the limit.
    ///
    /// # Errors
    /// [`BudgetError::ResultsUnusable`] for numbers that are none, or not above zero.
    ///
    /// # Source
    /// That of the requirement.
    ///
    /// # Example
    /// ```
    /// let asked = stillwell_assure::performance_requirement("eu-nitrate").unwrap();
    /// let check = asked.check(3.0, 8.0)?;
    /// assert!(check.is_met() && (check.uncertainty_percent - 12.0).abs() < 1e-12);
    /// # Ok::<(), stillwell_assure::BudgetError>(())
    /// ```
    pub fn check(
        self,
        standard_uncertainty_at_limit: f64,
        quantification_limit: f64,
    ) -> Result<PerformanceCheck, BudgetError> {
        let usable = |number: f64| number.is_finite() && number > 0.0;
        if !(usable(standard_uncertainty_at_limit) && usable(quantification_limit)) {
            return Err(BudgetError::ResultsUnusable { what: "an uncertainty and a quantification limit" });
        }
        let limit = self.limit.value();
        Ok(PerformanceCheck {
            uncertainty_percent: 100.0 * 2.0 * standard_uncertainty_at_limit / limit,
            quantification_percent: 100.0 * quantification_limit / limit,
            requirement: self,
        })
    }
}

impl PerformanceCheck {
    /// Whether the uncertainty is small enough.
    pub fn uncertainty_is_met(&self) -> bool {
        self.uncertainty_percent <= self.requirement.max_uncertainty_percent
    }

    /// Whether the quantification limit is low enough.
    pub fn quantification_is_met(&self) -> bool {
        self.quantification_percent <= self.requirement.max_quantification_percent
    }

    /// Whether both are.
    pub fn is_met(&self) -> bool {
        self.uncertainty_is_met() && self.quantification_is_met()
    }

    /// The check in sentences, with its numbers and its caution.
    pub fn words(&self) -> String {
        budget_wording::performance(self)
    }
}
