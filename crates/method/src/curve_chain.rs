//! From a signal to a level as a function of everything that is uncertain in it: the measurement model of one determination.

use stillwell_evaluate::Curve;

/// What an input of the model moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Slot {
    /// Adds to the sample's mean signal, in A.
    Signal,
    /// Moves the curve along one of its independent directions, in standard uncertainties.
    Direction(usize),
    /// Multiplies the level.
    Factor,
    /// The dilution of the sample.
    Dilution,
}

/// A way in which the curve may be wrong, independent of the others: what it adds to the three coefficients.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Direction {
    pub(crate) name: &'static str,
    adds: [f64; 3],
}

/// The model at its estimates.
#[derive(Debug, Clone)]
pub(crate) struct CurveChain {
    coefficients: [f64; 3],
    pub(crate) directions: Vec<Direction>,
    mean_signal_a: f64,
    dilution: f64,
    slope_a_per_level: f64,
}

impl CurveChain {
    pub(crate) fn new(curve: &Curve, mean_signal_a: f64, level: f64, dilution: f64) -> Self {
        Self {
            coefficients: curve.coefficients,
            directions: directions(curve),
            mean_signal_a,
            dilution,
            slope_a_per_level: curve.reading_slope(level),
        }
    }

    /// Change of the signal for one unit of the level, at the estimate.
    pub(crate) const fn slope_a_per_level(&self) -> f64 {
        self.slope_a_per_level
    }

    /// The level in the original sample; not a number where the signal lies beyond the turning point of the curve.
    pub(crate) fn level(&self, slots: &[Slot], inputs: &[f64]) -> f64 {
        let (mut signal_a, mut coefficients) = (self.mean_signal_a, self.coefficients);
        let (mut factor, mut dilution) = (1.0, self.dilution);
        for (slot, input) in slots.iter().zip(inputs) {
            match slot {
                Slot::Signal => signal_a += input,
                Slot::Factor => factor *= input,
                Slot::Dilution => dilution = *input,
                Slot::Direction(at) => {
                    let adds = self.directions.get(*at).map_or([0.0; 3], |direction| direction.adds);
                    for (coefficient, add) in coefficients.iter_mut().zip(adds) {
                        *coefficient += input * add;
                    }
                }
            }
        }
        self.read_off(coefficients, signal_a) * factor * dilution
    }

    /// The root on the side of the curve where the estimate lies, in the form that loses no digits.
    fn read_off(&self, [c0, c1, c2]: [f64; 3], signal_a: f64) -> f64 {
        let above = signal_a - c0;
        if c2 == 0.0 {
            return above / c1;
        }
        let root = libm::sqrt(c1 * c1 + 4.0 * c2 * above).copysign(self.slope_a_per_level);
        if c1 * root >= 0.0 { 2.0 * above / (c1 + root) } else { (root - c1) / (2.0 * c2) }
    }
}

/// The covariance of the coefficients as independent directions: the bend first, then the slope as far as the bend does not
/// imply it, then the height as far as both do not: for a line that is its height at the mean level.
///
/// Source: Cholesky's factor, rows in the order c2, c1, c0.
#[expect(clippy::indexing_slicing, reason = "three by three")]
fn directions(curve: &Curve) -> Vec<Direction> {
    let covariance = |i: usize, j: usize| {
        curve.residual_sd * curve.residual_sd * curve.unscaled_covariance[i.min(j)][i.max(j)]
    };
    let order = [2, 1, 0];
    let mut triangle = [[0.0; 3]; 3];
    for (row, &i) in order.iter().enumerate() {
        for (column, &j) in order.iter().enumerate().take(row + 1) {
            let dot: f64 = (0..column).map(|k| triangle[row][k] * triangle[column][k]).sum();
            let rest = covariance(i, j) - dot;
            triangle[row][column] = if row == column {
                libm::sqrt(rest.max(0.0))
            } else if triangle[column][column] > 0.0 {
                rest / triangle[column][column]
            } else {
                0.0
            };
        }
    }
    let names = ["bend of the curve", "slope of the curve", "height of the curve"];
    let mut directions = Vec::new();
    for (column, name) in names.into_iter().enumerate().filter(|(column, _)| triangle[*column][*column] > 0.0)
    {
        let mut adds = [0.0; 3];
        for (row, &i) in order.iter().enumerate() {
            adds[i] = triangle[row][column];
        }
        directions.push(Direction { name, adds });
    }
    directions
}
