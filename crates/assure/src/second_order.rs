//! The next terms of the law of propagation, for models that bend within the uncertainty of their inputs.

use crate::sensitivity::Neighbourhood;
use crate::{BudgetError, MeasurementModel};

/// What the second order adds.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondOrder {
    /// Combined standard uncertainty of the first order.
    pub first_order_standard_uncertainty: f64,
    /// Combined standard uncertainty with the terms of the second order.
    pub standard_uncertainty: f64,
    /// The terms, the largest first.
    pub terms: Vec<SecondOrderTerm>,
    /// What the curvature adds to the expectation: `½ Σ ∂²f/∂x² u²`. The estimate is not moved by it.
    pub expectation_shift: f64,
}

/// The terms of one pair of inputs, or of one input with itself.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondOrderTerm {
    /// One input.
    pub first: String,
    /// The other, or the same.
    pub second: String,
    /// What it adds to the combined variance; may be negative.
    pub variance: f64,
}

/// From this relative growth on the second order is said to matter: common practice, no source.
const MATTERS_FROM: f64 = 0.05;

impl SecondOrder {
    /// Whether the first order should not stand alone: the uncertainty changes by 5 % or more.
    pub fn matters(&self) -> bool {
        let change = (self.standard_uncertainty - self.first_order_standard_uncertainty).abs();
        change >= MATTERS_FROM * self.standard_uncertainty
    }
}

impl MeasurementModel<'_> {
    /// Combined standard uncertainty with the next terms of the series:
    /// `Σ_i Σ_j [½ (∂²f/∂x_i∂x_j)² + ∂f/∂x_i · ∂³f/∂x_i∂x_j²] u_i² u_j²`.
    ///
    /// # Units
    /// That of the model's function.
    ///
    /// # Errors
    /// [`BudgetError::SecondOrderCorrelated`] for correlated inputs, [`BudgetError::ModelNotFinite`] where the model has no
    /// value one standard uncertainty away.
    ///
    /// # Source
    /// JCGM 100:2008, 5.1.2 note and H.1.7; the terms hold for independent inputs that are symmetric, exactly for normal ones.
    pub fn second_order(&self) -> Result<SecondOrder, BudgetError> {
        if !self.correlations.is_empty() {
            return Err(BudgetError::SecondOrderCorrelated);
        }
        let contributions = self.contributions()?;
        let around = Neighbourhood::new(self);
        let mut terms = Vec::new();
        let mut expectation_shift = 0.0;
        for i in 0..self.inputs.len() {
            for j in i..self.inputs.len() {
                let variance = if i == j {
                    let second = around.second(i)?;
                    expectation_shift += 0.5 * second;
                    0.5 * second * second + contributions[i] * around.third(i, i)?
                } else {
                    let mixed = around.mixed(i, j)?;
                    mixed * mixed
                        + contributions[i] * around.third(i, j)?
                        + contributions[j] * around.third(j, i)?
                };
                let (first, second) = (self.inputs[i].name.clone(), self.inputs[j].name.clone());
                terms.push(SecondOrderTerm { first, second, variance });
            }
        }
        terms.sort_by(|a, b| b.variance.abs().total_cmp(&a.variance.abs()));
        let first_order: f64 = contributions.iter().map(|c| c * c).sum();
        let second_order: f64 = terms.iter().map(|term| term.variance).sum();
        Ok(SecondOrder {
            first_order_standard_uncertainty: libm::sqrt(first_order),
            standard_uncertainty: libm::sqrt((first_order + second_order).max(0.0)),
            terms,
            expectation_shift,
        })
    }
}
