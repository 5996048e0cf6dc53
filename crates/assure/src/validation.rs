//! Does the law of propagation stand up against Monte Carlo?

use crate::budget_wording;
use crate::monte_carlo::numerical_tolerance;
use crate::{Budget, BudgetError, ExpandedUncertainty, IntervalKind, MonteCarlo};

/// The interval of the budget beside that of Monte Carlo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Validation {
    /// The budget's expanded uncertainty.
    pub expanded: ExpandedUncertainty,
    /// The budget's interval: value ± expanded uncertainty.
    pub budget_interval: [f64; 2],
    /// Monte Carlo's interval.
    pub monte_carlo_interval: [f64; 2],
    /// Distances of the lower and of the upper ends.
    pub apart: [f64; 2],
    /// What they may be apart: half of the last digit of the budget's standard uncertainty.
    pub tolerance: f64,
    /// Standard uncertainty by Monte Carlo over that of the budget.
    pub ratio: f64,
}

impl Validation {
    /// Whether both ends agree to the digits asked for: then the budget's interval may stand alone.
    pub fn agrees(&self) -> bool {
        self.apart.iter().all(|apart| *apart <= self.tolerance)
    }

    /// In one or two sentences which interval is reported; both where they disagree.
    pub fn words(&self, unit: &str) -> String {
        budget_wording::validation(self, unit)
    }

    /// What to do with two intervals.
    pub fn advice(&self) -> &'static str {
        if self.agrees() { budget_wording::USE_REPORTED } else { budget_wording::USE_WIDER }
    }
}

impl Budget {
    /// Compares the budget's interval with Monte Carlo's, end by end.
    ///
    /// # Units
    /// Both of the same model; `digits` 1 or 2.
    ///
    /// # Errors
    /// [`BudgetError::TooFewDegreesOfFreedom`], [`BudgetError::DigitsUnusable`].
    ///
    /// # Source
    /// JCGM 101:2008, 8.1.
    pub fn against(
        &self,
        monte_carlo: &MonteCarlo,
        interval: IntervalKind,
        digits: u8,
    ) -> Result<Validation, BudgetError> {
        if !(1..=2).contains(&digits) {
            return Err(BudgetError::DigitsUnusable { found: digits });
        }
        let expanded = self.expanded(monte_carlo.coverage)?;
        let budget_interval = [self.value - expanded.half_width, self.value + expanded.half_width];
        let monte_carlo_interval = monte_carlo.interval(interval);
        let [low, high] = [0, 1].map(|end: usize| (budget_interval[end] - monte_carlo_interval[end]).abs());
        Ok(Validation {
            expanded,
            budget_interval,
            monte_carlo_interval,
            apart: [low, high],
            tolerance: numerical_tolerance(self.standard_uncertainty, digits),
            ratio: monte_carlo.standard_uncertainty / self.standard_uncertainty,
        })
    }
}
