//! The whole way from standards to a concentration as one measurement model: uncertain levels, line, blank, temperature,
//! dilution.

use crate::{BudgetError, Measurand};

/// A straight-line calibration and the sample read from it; every trial of Monte Carlo fits the line anew.
///
/// Inputs, in this order:
/// 1. the signal of each standard (one an electrode), in the order of `level_of_standard`;
/// 2. the factor that all levels share, from the stock solution: 1;
/// 3. the factor of each level by itself, from its own dilution: 1;
/// 4. the sample's signal;
/// 5. the sample's blank, as far as it differs from that of the standards: 0;
/// 6. the factor that brings the sample's signal to the temperature of the calibration;
/// 7. the dilution of the sample.
///
/// `concentration = ((sample − blank) × temperature − intercept) / slope × dilution`, the line fitted by weighted least squares
/// to the signals at `level × shared factor × own factor`.
#[derive(Debug, Clone, PartialEq)]
pub struct LineChain {
    levels: Vec<f64>,
    weights: Vec<f64>,
    /// Standards of each level.
    standards: Vec<Vec<usize>>,
    n_standards: usize,
    /// Weighted mean level: sums are formed about it.
    centre: f64,
}

impl LineChain {
    /// The chain for standards at these levels.
    ///
    /// # Units
    /// Levels in any one unit, the result in the same. `level_of_standard[k]` says which level standard `k` has;
    /// `weights` are those of the levels, in the fit.
    ///
    /// # Errors
    /// [`BudgetError::StandardsUnusable`] for fewer than two levels, a level without standard, a standard without level,
    /// or weights that are not positive.
    ///
    /// # Source
    /// Draper & Smith, Applied Regression Analysis, 1.2 and 9.2 (weighted line about the mean).
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::{LineChain, Measurand};
    /// let chain = LineChain::new(&[0.0, 50.0, 100.0], &[1.0; 3], &[0, 1, 2])?;
    /// let inputs = [1.0, 101.0, 201.0, 1.0, 1.0, 1.0, 1.0, 81.0, 0.0, 1.0, 2.0];
    /// assert!((chain.value(&inputs) - 80.0).abs() < 1e-12);
    /// # Ok::<(), stillwell_assure::BudgetError>(())
    /// ```
    pub fn new(levels: &[f64], weights: &[f64], level_of_standard: &[usize]) -> Result<Self, BudgetError> {
        let mut standards = vec![Vec::new(); levels.len()];
        for (standard, level) in level_of_standard.iter().enumerate() {
            match standards.get_mut(*level) {
                Some(of_level) => of_level.push(standard),
                None => {
                    return Err(BudgetError::StandardsUnusable { why: "a standard has no level" });
                }
            }
        }
        let are_different =
            levels.iter().any(|level| levels.first().is_some_and(|first| (level - first).abs() > 0.0));
        let are_positive = weights.iter().all(|weight| *weight > 0.0 && weight.is_finite());
        let why = if !are_different {
            Some("there are not two different levels")
        } else if weights.len() != levels.len() || !are_positive {
            Some("each level needs one weight above zero")
        } else if standards.iter().any(Vec::is_empty) {
            Some("a level has no standard")
        } else if levels.iter().any(|level| !level.is_finite()) {
            Some("a level is not finite")
        } else {
            None
        };
        if let Some(why) = why {
            return Err(BudgetError::StandardsUnusable { why });
        }
        let weight = |at: usize| weights[at] * standards[at].len() as f64;
        let total: f64 = (0..levels.len()).map(weight).sum();
        let centre = (0..levels.len()).map(|at| weight(at) * levels[at]).sum::<f64>() / total;
        Ok(Self {
            levels: levels.to_vec(),
            weights: weights.to_vec(),
            standards,
            n_standards: level_of_standard.len(),
            centre,
        })
    }

    /// How many inputs the chain takes.
    pub fn n_inputs(&self) -> usize {
        self.n_standards + self.levels.len() + 5
    }

    /// Inputs after the standards, by name: shared factor, first own factor, sample.
    const fn places(&self) -> (usize, usize, usize) {
        (self.n_standards, self.n_standards + 1, self.n_standards + 1 + self.levels.len())
    }
}

/// Trials side by side.
const LANES: usize = 8;

impl Measurand for LineChain {
    fn value(&self, inputs: &[f64]) -> f64 {
        let columns: Vec<[f64; 1]> = inputs.iter().map(|input| [*input]).collect();
        self.trials::<1, _>(&columns, 0)[0]
    }

    fn values(&self, columns: &[Vec<f64>], answers: &mut [f64]) {
        let n = answers.len();
        let whole = n - n % LANES;
        for from in (0..whole).step_by(LANES) {
            answers[from..from + LANES].copy_from_slice(&self.trials::<LANES, _>(columns, from));
        }
        for (at, answer) in answers.iter_mut().enumerate().skip(whole) {
            *answer = self.trials::<1, _>(columns, at)[0];
        }
    }
}

impl LineChain {
    /// `N` trials at once, each with the same operations in the same order.
    fn trials<const N: usize, C: AsRef<[f64]>>(&self, columns: &[C], from: usize) -> [f64; N] {
        let lane = |column: usize| -> [f64; N] {
            let mut values = [0.0; N];
            values.copy_from_slice(&columns[column].as_ref()[from..from + N]);
            values
        };
        let (shared_place, own_place, sample_place) = self.places();
        let shared = lane(shared_place);
        let [mut w, mut wx, mut wy, mut wxx, mut wxy] = [[0.0; N]; 5];
        for (at, standards) in self.standards.iter().enumerate() {
            let own = lane(own_place + at);
            let mut signals = [0.0; N];
            for standard in standards {
                let signal = lane(*standard);
                for k in 0..N {
                    signals[k] += signal[k];
                }
            }
            let weight = self.weights[at];
            let of_level = weight * standards.len() as f64;
            for k in 0..N {
                let x = self.levels[at] * shared[k] * own[k] - self.centre;
                let y = weight * signals[k];
                w[k] += of_level;
                wx[k] += of_level * x;
                wy[k] += y;
                wxx[k] += of_level * x * x;
                wxy[k] += x * y;
            }
        }
        let [sample, blank, temperature, dilution] = [0, 1, 2, 3].map(|next| lane(sample_place + next));
        let mut concentration = [0.0; N];
        for k in 0..N {
            let mean_x = wx[k] / w[k];
            let mean_y = wy[k] / w[k];
            let slope = (wxy[k] - mean_x * wy[k]) / (wxx[k] - mean_x * wx[k]);
            let signal = (sample[k] - blank[k]) * temperature[k];
            concentration[k] = (self.centre + mean_x + (signal - mean_y) / slope) * dilution[k];
        }
        concentration
    }
}
