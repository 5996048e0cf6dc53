//! Derivatives of a measurement model at the estimates of its inputs, by central differences.

use crate::{BudgetError, MeasurementModel};

/// Step of a first derivative in standard uncertainties: a power of two, so that forming it costs no digits.
const STEP: f64 = 1.0 / 32.0;
/// Step of second and third derivatives: wide, since they divide by higher powers of it.
const WIDE_STEP: f64 = 0.5;

/// Evaluates the model at the estimates, some of them moved by a number of standard uncertainties.
pub(crate) struct Neighbourhood<'m, 'f> {
    model: &'m MeasurementModel<'f>,
    estimates: Vec<f64>,
    uncertainties: Vec<f64>,
}

impl<'m, 'f> Neighbourhood<'m, 'f> {
    pub(crate) fn new(model: &'m MeasurementModel<'f>) -> Self {
        Self { model, estimates: model.estimates(), uncertainties: model.standard_uncertainties() }
    }

    fn moved(&self, moves: &[(usize, f64)]) -> Result<f64, BudgetError> {
        let mut inputs = self.estimates.clone();
        for (at, by) in moves {
            inputs[*at] += by * self.uncertainties[*at];
        }
        let value = self.model.function.value(&inputs);
        if value.is_finite() {
            return Ok(value);
        }
        let name = moves.first().map(|(at, _)| self.model.inputs[*at].name.clone());
        Err(BudgetError::ModelNotFinite { near: name })
    }

    /// The signed contribution `c u` of one input: its sensitivity times its standard uncertainty.
    pub(crate) fn contribution(&self, at: usize) -> Result<f64, BudgetError> {
        let difference =
            |step: f64| Ok::<f64, BudgetError>(self.moved(&[(at, step)])? - self.moved(&[(at, -step)])?);
        // Five points: the error is of the fourth order of the step.
        Ok((8.0 * difference(STEP)? - difference(2.0 * STEP)?) / (12.0 * STEP))
    }

    /// `∂²f/∂x_i² u_i²`.
    pub(crate) fn second(&self, at: usize) -> Result<f64, BudgetError> {
        let around = self.moved(&[(at, WIDE_STEP)])? + self.moved(&[(at, -WIDE_STEP)])?;
        Ok((around - 2.0 * self.moved(&[])?) / (WIDE_STEP * WIDE_STEP))
    }

    /// `∂²f/∂x_i∂x_j u_i u_j`, i ≠ j.
    pub(crate) fn mixed(&self, i: usize, j: usize) -> Result<f64, BudgetError> {
        let at = |a: f64, b: f64| self.moved(&[(i, a * WIDE_STEP), (j, b * WIDE_STEP)]);
        let sum = at(1.0, 1.0)? - at(1.0, -1.0)? - at(-1.0, 1.0)? + at(-1.0, -1.0)?;
        Ok(sum / (4.0 * WIDE_STEP * WIDE_STEP))
    }

    /// `∂³f/∂x_i∂x_j² u_i u_j²`; with i = j the third derivative.
    pub(crate) fn third(&self, i: usize, j: usize) -> Result<f64, BudgetError> {
        let cube = WIDE_STEP * WIDE_STEP * WIDE_STEP;
        if i == j {
            let odd = |step: f64| {
                Ok::<f64, BudgetError>(
                    self.moved(&[(i, step * WIDE_STEP)])? - self.moved(&[(i, -step * WIDE_STEP)])?,
                )
            };
            return Ok((odd(2.0)? - 2.0 * odd(1.0)?) / (2.0 * cube));
        }
        let bend = |side: f64| {
            let at = |b: f64| self.moved(&[(i, side * WIDE_STEP), (j, b * WIDE_STEP)]);
            Ok::<f64, BudgetError>(at(1.0)? - 2.0 * at(0.0)? + at(-1.0)?)
        };
        Ok((bend(1.0)? - bend(-1.0)?) / (2.0 * cube))
    }
}
