//! What measuring again can shrink, and what it cannot.

use crate::{Budget, BudgetError, Component};

/// Standard uncertainty that every replicate has anew.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Independent {
    /// Standard uncertainty of one replicate.
    pub standard_uncertainty: f64,
    /// How well it is known.
    pub degrees_of_freedom: f64,
}

/// Standard uncertainty that all replicates have in common: the calibration, the standards, the lot, the dilution. It has no
/// way of being divided by a number of replicates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shared {
    /// Standard uncertainty, the same for one replicate and for a thousand.
    pub standard_uncertainty: f64,
}

/// Uncertainty of a mean of replicates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReplicateUncertainty {
    independent: Independent,
    shared: Shared,
}

/// Standard uncertainty of a mean, with effective degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanUncertainty {
    /// Of the mean.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom.
    pub degrees_of_freedom: f64,
}

impl ReplicateUncertainty {
    /// From its two parts.
    ///
    /// # Units
    /// Both in the unit of the result.
    ///
    /// # Errors
    /// [`BudgetError::ResultsUnusable`] for negative numbers or two zeros.
    pub fn new(independent: Independent, shared: Shared) -> Result<Self, BudgetError> {
        let parts = [independent.standard_uncertainty, shared.standard_uncertainty];
        let usable = parts.iter().all(|u| u.is_finite() && *u >= 0.0) && parts.iter().sum::<f64>() > 0.0;
        if !(usable && independent.degrees_of_freedom > 0.0) {
            return Err(BudgetError::ResultsUnusable { what: "the parts of a replicate's uncertainty" });
        }
        Ok(Self { independent, shared })
    }

    /// The part that every replicate has anew.
    pub const fn independent(&self) -> Independent {
        self.independent
    }

    /// The part that all replicates have in common.
    pub const fn shared(&self) -> Shared {
        self.shared
    }

    /// Of a mean of `n` replicates: `√(independent²/n + shared²)`.
    ///
    /// # Units
    /// That of the parts.
    ///
    /// # Errors
    /// [`BudgetError::TooFewResults`] for none.
    ///
    /// # Source
    /// JCGM 100:2008, 4.2.3 for what repeats, and equation G.2b.
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::{Independent, ReplicateUncertainty, Shared};
    /// let strips = Independent { standard_uncertainty: 3.0, degrees_of_freedom: 12.0 };
    /// let u = ReplicateUncertainty::new(strips, Shared { standard_uncertainty: 2.0 })?;
    /// assert!((u.of_mean(9)?.standard_uncertainty - 2.236).abs() < 0.001);
    /// assert!(u.of_mean(1_000_000)?.standard_uncertainty >= 2.0);
    /// # Ok::<(), stillwell_assure::BudgetError>(())
    /// ```
    pub fn of_mean(&self, n: u32) -> Result<MeanUncertainty, BudgetError> {
        if n == 0 {
            return Err(BudgetError::TooFewResults { what: "replicates", found: 0, needed: 1 });
        }
        let independent = self.independent.standard_uncertainty;
        let shared = self.shared.standard_uncertainty;
        let repeated = independent * independent / f64::from(n);
        let variance = repeated + shared * shared;
        let degrees_of_freedom = if repeated > 0.0 {
            variance * variance / (repeated * repeated) * self.independent.degrees_of_freedom
        } else {
            f64::INFINITY
        };
        Ok(MeanUncertainty { standard_uncertainty: libm::sqrt(variance), degrees_of_freedom })
    }

    /// The fewest replicates whose mean has at most this standard uncertainty.
    ///
    /// # Units
    /// That of the parts.
    ///
    /// # Errors
    /// [`BudgetError::TargetOutOfReach`] where the shared part alone is as large: no number of replicates helps.
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::{Independent, ReplicateUncertainty, Shared};
    /// let strips = Independent { standard_uncertainty: 3.0, degrees_of_freedom: 12.0 };
    /// let u = ReplicateUncertainty::new(strips, Shared { standard_uncertainty: 2.0 })?;
    /// assert_eq!(u.replicates_for(2.5)?, 4);
    /// assert!(u.replicates_for(1.9).is_err());
    /// # Ok::<(), stillwell_assure::BudgetError>(())
    /// ```
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked against the largest"
    )]
    pub fn replicates_for(&self, target: f64) -> Result<u32, BudgetError> {
        let shared = self.shared.standard_uncertainty;
        let independent = self.independent.standard_uncertainty;
        let left = target * target - shared * shared;
        let needed = libm::ceil(independent * independent / left * (1.0 - 1e-12)).max(1.0);
        if !(target > shared && needed <= f64::from(u32::MAX)) {
            return Err(BudgetError::TargetOutOfReach { target, shared });
        }
        Ok(needed as u32)
    }
}

impl Budget {
    /// Splits the budget into what replicates do not share and what they do. `repeated` names the components that each replicate
    /// has anew; a correlated pair counts as shared unless both of its inputs are repeated.
    ///
    /// # Errors
    /// [`BudgetError::ResultsUnusable`] where the parts make no uncertainty.
    pub fn for_replicates(&self, repeated: &[Component]) -> Result<ReplicateUncertainty, BudgetError> {
        let variance = self.standard_uncertainty * self.standard_uncertainty;
        let is_repeated = |name: &str| {
            self.lines.iter().any(|line| line.name == name && repeated.contains(&line.component))
        };
        let lines = self.lines.iter().filter(|line| repeated.contains(&line.component));
        let (mut share, mut doubt) = (0.0, 0.0);
        for line in lines {
            share += line.share;
            doubt += line.share * line.share / line.degrees_of_freedom.number();
        }
        share += self
            .pairs
            .iter()
            .filter(|pair| is_repeated(&pair.first) && is_repeated(&pair.second))
            .map(|pair| pair.share)
            .sum::<f64>();
        let share = share.clamp(0.0, 1.0);
        ReplicateUncertainty::new(
            Independent {
                standard_uncertainty: libm::sqrt(share * variance),
                degrees_of_freedom: if doubt > 0.0 { share * share / doubt } else { f64::INFINITY },
            },
            Shared { standard_uncertainty: libm::sqrt((1.0 - share) * variance) },
        )
    }
}
