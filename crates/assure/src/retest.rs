//! A retest whose rule stands before the first result: so many replicates, once more so many where they leave it open, and
//! then an end. There is no third look, and no result can be left out.

use crate::budget_wording;
use crate::guard::{GuardedLimits, guarded_limits};
use crate::{BudgetError, DecisionCode, ReplicateUncertainty};

/// The rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RetestRule {
    /// The upper limit.
    pub limit: f64,
    /// Uncertainty of the replicates, parted into what they share and what they do not.
    pub uncertainty: ReplicateUncertainty,
    /// Replicates of the first look.
    pub n_first: u32,
    /// Further replicates where the first look leaves it open; 0 for none.
    pub n_more: u32,
    /// Risk of a wrong call over both looks together, for each side.
    pub risk: f64,
}

/// What a look says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// Below, above, or too close to call.
    pub code: DecisionCode,
    /// Mean of all results so far.
    pub mean: f64,
    /// All results so far.
    pub n_results: u32,
    /// Standard uncertainty of that mean.
    pub standard_uncertainty: f64,
    /// The values between which nothing is called.
    pub guard: GuardedLimits,
    /// Whether the rule ends here.
    pub is_final: bool,
}

impl Look {
    /// The look in one or two sentences.
    pub fn words(&self, unit: &str) -> String {
        budget_wording::look(self, unit)
    }
}

/// After the first look.
#[derive(Debug, PartialEq)]
pub enum FirstLook {
    /// It is decided, or the rule knows no second look.
    Ended(Look),
    /// It is open, and the further replicates that the rule asks for are due.
    Open(Look, SecondLook),
}

/// The second and last look, still to be done. It can be done once: doing it uses it up.
#[derive(Debug, PartialEq)]
pub struct SecondLook {
    rule: RetestRule,
    first_sum: f64,
}

impl RetestRule {
    /// The first look.
    ///
    /// # Units
    /// Results in the unit of the limit.
    ///
    /// # Errors
    /// [`BudgetError::WrongNumberOfResults`] unless there are exactly as many as the rule says, and what
    /// [`guarded_limits`] refuses.
    ///
    /// # Source
    /// JCGM 106:2012, 8.3, on the mean of the replicates; half of the risk for each of two looks (Bonferroni), all of it where
    /// there is only one.
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::{DecisionCode, FirstLook, Independent, ReplicateUncertainty, RetestRule, Shared};
    /// let strips = Independent { standard_uncertainty: 1.5, degrees_of_freedom: 20.0 };
    /// let uncertainty = ReplicateUncertainty::new(strips, Shared { standard_uncertainty: 0.5 })?;
    /// let rule = RetestRule { limit: 50.0, uncertainty, n_first: 3, n_more: 5, risk: 0.05 };
    /// let FirstLook::Open(_, second) = rule.first_look(&[47.5, 49.0, 48.4])? else { panic!("decided") };
    /// let last = second.take(&[47.9, 48.8, 47.1, 48.2, 48.0])?;
    /// assert_eq!(last.code, DecisionCode::Below);
    /// # Ok::<(), stillwell_assure::BudgetError>(())
    /// ```
    pub fn first_look(&self, results: &[f64]) -> Result<FirstLook, BudgetError> {
        let sum = sum_of_exactly(self.n_first, results)?;
        let mut look = self.look(sum, self.n_first)?;
        look.is_final = look.code != DecisionCode::TooCloseToCall || self.n_more == 0;
        Ok(if look.is_final {
            FirstLook::Ended(look)
        } else {
            FirstLook::Open(look, SecondLook { rule: *self, first_sum: sum })
        })
    }

    fn look(&self, sum: f64, n_results: u32) -> Result<Look, BudgetError> {
        let n_looks = if self.n_more == 0 { 1.0 } else { 2.0 };
        let mean = sum / f64::from(n_results);
        let of_mean = self.uncertainty.of_mean(n_results)?;
        let guard = guarded_limits(
            self.limit,
            of_mean.standard_uncertainty,
            of_mean.degrees_of_freedom,
            self.risk / n_looks,
        )?;
        Ok(Look {
            code: guard.call(mean),
            mean,
            n_results,
            standard_uncertainty: of_mean.standard_uncertainty,
            guard,
            is_final: true,
        })
    }
}

impl SecondLook {
    /// The last look, at all results together: those of the first look count like the new ones.
    ///
    /// # Units
    /// Results in the unit of the limit.
    ///
    /// # Errors
    /// As [`RetestRule::first_look`].
    pub fn take(self, results: &[f64]) -> Result<Look, BudgetError> {
        let sum = sum_of_exactly(self.rule.n_more, results)?;
        self.rule.look(self.first_sum + sum, self.rule.n_first.saturating_add(self.rule.n_more))
    }
}

fn sum_of_exactly(n: u32, results: &[f64]) -> Result<f64, BudgetError> {
    if results.len() != n as usize || n == 0 {
        return Err(BudgetError::WrongNumberOfResults { found: results.len(), agreed: n });
    }
    let sum: f64 = results.iter().sum();
    if sum.is_finite() { Ok(sum) } else { Err(BudgetError::ResultsUnusable { what: "the replicates" }) }
}
