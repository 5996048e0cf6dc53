//! A measurement model: a function of input quantities, and how these hang together.

use crate::{BudgetError, InputQuantity};

/// The function that gives the measured quantity from its inputs.
///
/// Every `Fn(&[f64]) -> f64` is one. Where Monte Carlo must be fast, [`Self::values`] computes many trials at a time.
pub trait Measurand: Sync {
    /// The measured quantity for one set of inputs.
    fn value(&self, inputs: &[f64]) -> f64;

    /// The measured quantity for many trials: `columns[i][trial]` is input `i`, one answer a trial. Must give what
    /// [`Self::value`] gives, up to rounding.
    fn values(&self, columns: &[Vec<f64>], answers: &mut [f64]) {
        let mut inputs = vec![0.0; columns.len()];
        for (trial, answer) in answers.iter_mut().enumerate() {
            for (input, column) in inputs.iter_mut().zip(columns) {
                *input = column[trial];
            }
            *answer = self.value(&inputs);
        }
    }

    /// Partial derivatives at the inputs, where they are known in closed form.
    fn sensitivities(&self, _inputs: &[f64]) -> Option<Vec<f64>> {
        None
    }
}

impl<F: Fn(&[f64]) -> f64 + Sync> Measurand for F {
    fn value(&self, inputs: &[f64]) -> f64 {
        self(inputs)
    }
}

/// Two inputs that are wrong together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Correlation {
    pub(crate) first: usize,
    pub(crate) second: usize,
    pub(crate) coefficient: f64,
}

/// Inputs, correlations, function.
pub struct MeasurementModel<'f> {
    pub(crate) inputs: Vec<InputQuantity>,
    pub(crate) correlations: Vec<Correlation>,
    pub(crate) function: &'f dyn Measurand,
}

impl<'f> MeasurementModel<'f> {
    /// A model of independent inputs, in the order in which the function takes them.
    ///
    /// # Units
    /// The function takes each input in the unit of its distribution.
    ///
    /// # Errors
    /// [`BudgetError::NoInput`], [`BudgetError::NameTwice`], [`BudgetError::PoolAtOdds`].
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::{Component, Distribution, InputQuantity, MeasurementModel};
    /// let mass_mg = InputQuantity::new("mass", Component::StandardsPreparation,
    ///     Distribution::Normal { mean: 100.28, standard_uncertainty: 0.05 }, "balance, linearity")?;
    /// let flask_ml = InputQuantity::new("flask", Component::StandardsPreparation,
    ///     Distribution::triangular_about(100.0, 0.1), "class A tolerance")?;
    /// let mg_per_l = |x: &[f64]| 1000.0 * x[0] / x[1];
    /// let budget = MeasurementModel::new(vec![mass_mg, flask_ml], &mg_per_l)?.propagate()?;
    /// assert!((budget.standard_uncertainty - 0.646).abs() < 0.001);
    /// # Ok::<(), stillwell_assure::BudgetError>(())
    /// ```
    pub fn new(inputs: Vec<InputQuantity>, function: &'f dyn Measurand) -> Result<Self, BudgetError> {
        if inputs.is_empty() {
            return Err(BudgetError::NoInput);
        }
        for (at, input) in inputs.iter().enumerate() {
            if inputs.iter().take(at).any(|earlier| earlier.name == input.name) {
                return Err(BudgetError::NameTwice { name: input.name.clone() });
            }
        }
        check_pools(&inputs)?;
        Ok(Self { inputs, correlations: Vec::new(), function })
    }

    /// The same model with two inputs correlated.
    ///
    /// # Units
    /// `coefficient` between −1 and 1.
    ///
    /// # Errors
    /// [`BudgetError::UnknownInput`], [`BudgetError::CorrelationUnusable`].
    pub fn correlated(mut self, first: &str, second: &str, coefficient: f64) -> Result<Self, BudgetError> {
        let place = |name: &str| {
            let found = self.inputs.iter().position(|input| input.name == name);
            found.ok_or_else(|| BudgetError::UnknownInput { name: name.to_owned() })
        };
        let (first_place, second_place) = (place(first)?, place(second)?);
        let pair = (first_place.min(second_place), first_place.max(second_place));
        let is_given = self.correlations.iter().any(|known| (known.first, known.second) == pair);
        if !(-1.0..=1.0).contains(&coefficient) || pair.0 == pair.1 || is_given {
            return Err(BudgetError::CorrelationUnusable {
                first: first.to_owned(),
                second: second.to_owned(),
                coefficient,
            });
        }
        self.correlations.push(Correlation { first: pair.0, second: pair.1, coefficient });
        Ok(self)
    }

    /// The input quantities.
    pub fn inputs(&self) -> &[InputQuantity] {
        &self.inputs
    }

    /// The measured quantity at the estimates of the inputs.
    ///
    /// # Errors
    /// [`BudgetError::ModelNotFinite`].
    pub fn value(&self) -> Result<f64, BudgetError> {
        let value = self.function.value(&self.estimates());
        if value.is_finite() { Ok(value) } else { Err(BudgetError::ModelNotFinite { near: None }) }
    }

    pub(crate) fn estimates(&self) -> Vec<f64> {
        self.inputs.iter().map(InputQuantity::estimate).collect()
    }

    pub(crate) fn standard_uncertainties(&self) -> Vec<f64> {
        self.inputs.iter().map(InputQuantity::standard_uncertainty).collect()
    }
}

/// One spread has one number of degrees of freedom.
fn check_pools(inputs: &[InputQuantity]) -> Result<(), BudgetError> {
    use crate::DegreesOfFreedom::Pooled;
    let pools = inputs.iter().filter_map(|input| match &input.degrees_of_freedom {
        Pooled { spread, degrees_of_freedom } => Some((spread, *degrees_of_freedom)),
        _ => None,
    });
    let mut known: Vec<(&String, f64)> = Vec::new();
    for (spread, degrees_of_freedom) in pools {
        match known.iter().find(|(name, _)| *name == spread) {
            Some((_, other)) if other.to_bits() != degrees_of_freedom.to_bits() => {
                return Err(BudgetError::PoolAtOdds {
                    spread: spread.clone(),
                    first: *other,
                    second: degrees_of_freedom,
                });
            }
            Some(_) => {}
            None => known.push((spread, degrees_of_freedom)),
        }
    }
    Ok(())
}
