//! The tangent plane of a nonlinear model at a point, and the steps that it proposes.
//!
//! Source: Marquardt 1963, J. SIAM 11, 431 (damped step); Transtrum & Sethna 2012, arXiv:1201.5885 (second-order step).

use crate::double_double::{DoubleDouble, power_of_two_to_unit};
use crate::error::StatsError;
use crate::least_squares::largest;
use crate::qr;

/// A parameter counts as undetermined when less than this of its effect is its own: its derivative is not known better.
const UNDETERMINED: f64 = 1e-9;

/// Derivatives by the parameters, one column each, divided by its norm.
pub(crate) struct Tangent {
    columns: Vec<Vec<f64>>,
    pub(crate) norms: Vec<f64>,
}

/// A step towards the minimum.
pub(crate) struct Step {
    /// Of the parameters.
    pub(crate) change: Vec<f64>,
    /// The same in units of the scale.
    of_scale: Vec<f64>,
    /// Squared length of the change that it makes in the plane.
    pub(crate) in_plane: f64,
    /// By how much the plane says that the squares will fall.
    pub(crate) promised: f64,
    /// Inverse of the triangle of the (scaled, damped) columns.
    pub(crate) inverse_triangle: Vec<Vec<DoubleDouble>>,
}

impl Tangent {
    /// From weighted derivatives.
    ///
    /// # Errors
    /// [`StatsError::GradientNotFinite`].
    pub(crate) fn new(mut columns: Vec<Vec<f64>>) -> Result<Self, StatsError> {
        let mut norms = Vec::with_capacity(columns.len());
        for (parameter, column) in columns.iter_mut().enumerate() {
            if let Some((row, &value)) = column.iter().enumerate().find(|(_, v)| !v.is_finite()) {
                return Err(StatsError::GradientNotFinite { row, parameter, value });
            }
            let power = power_of_two_to_unit(largest(column));
            let squares: DoubleDouble = column.iter().map(|v| DoubleDouble::from(v * power).square()).sum();
            let norm = squares.sqrt().to_f64();
            if norm > 0.0 {
                for entry in &mut *column {
                    *entry = *entry * power / norm;
                }
            }
            norms.push(norm / power);
        }
        Ok(Self { columns, norms })
    }

    /// The step `δ` that minimises `|r − Jδ|² + damping |Dδ|²`, where `D` holds `scale`.
    ///
    /// # Errors
    /// [`StatsError::RankDeficient`] when the damping is too small to part dependent columns.
    pub(crate) fn damped_step(
        &self,
        residuals: &[f64],
        scale: &[f64],
        damping: f64,
    ) -> Result<Step, StatsError> {
        let (n, root) = (self.norms.len(), libm::sqrt(damping));
        let shares = self.shares(scale);
        let column = |j: usize| -> Vec<DoubleDouble> {
            let rows = self.columns[j].iter().map(|v| v * shares[j]);
            let damped = (0..n).map(|k| if k == j { root } else { 0.0 });
            rows.chain(damped).map(DoubleDouble::from).collect()
        };
        let padded = residuals.iter().copied().chain(std::iter::repeat_n(0.0, n));
        let solved = qr::solve((0..n).map(column).collect(), padded.map(DoubleDouble::from).collect())?;
        let of_scale: Vec<f64> = solved.coefficients.iter().map(|c| c.to_f64()).collect();
        let in_plane = squares(&self.in_rows(&product(&of_scale, &shares)));
        Ok(Step {
            change: divided(&of_scale, scale),
            in_plane,
            promised: in_plane + 2.0 * damping * squares(&of_scale),
            inverse_triangle: solved.inverse_triangle,
            of_scale,
        })
    }

    /// The step without damping.
    ///
    /// # Errors
    /// [`StatsError::SingularJacobian`] when a parameter is not determined.
    pub(crate) fn full_step(&self, residuals: &[f64]) -> Result<Step, StatsError> {
        let step = self.damped_step(residuals, &self.norms, 0.0).map_err(as_singular)?;
        for (parameter, row) in step.inverse_triangle.iter().enumerate() {
            let variance: DoubleDouble = row.iter().map(|v| v.square()).sum();
            let independent_part = 1.0 / variance.sqrt().to_f64();
            if independent_part.is_nan() || independent_part < UNDETERMINED {
                return Err(StatsError::SingularJacobian { parameter, independent_part });
            }
        }
        Ok(step)
    }

    /// The step bent along the model: `residuals_ahead` are those a fraction `probe` of the step away. `None` where the bend is
    /// more than `largest_bend` of the step, so that the plane says nothing there.
    pub(crate) fn bent(
        &self,
        step: &Step,
        scale: &[f64],
        residuals: &[f64],
        (probe, residuals_ahead): (f64, &[f64]),
        largest_bend: f64,
    ) -> Option<Vec<f64>> {
        let shares = self.shares(scale);
        let flat = self.in_rows(&product(&step.of_scale, &shares));
        let pairs = residuals.iter().zip(residuals_ahead).zip(&flat);
        let second: Vec<f64> =
            pairs.map(|((r, ahead), flat)| 2.0 / probe * ((r - ahead) / probe - flat)).collect();
        let dot = |column: &[f64]| column.iter().zip(&second).map(|(c, s)| c * s).sum::<f64>();
        let onto: Vec<f64> = self.columns.iter().zip(&shares).map(|(c, share)| share * dot(c)).collect();
        // (JᵀJ + damping D²)⁻¹ applied as the triangle's inverse times its transpose.
        let inverse = &step.inverse_triangle;
        let n = onto.len();
        let half: Vec<f64> = (0..n).map(|k| (0..n).map(|j| inverse[j][k].to_f64() * onto[j]).sum()).collect();
        let bend: Vec<f64> = inverse
            .iter()
            .map(|row| -row.iter().zip(&half).map(|(r, h)| r.to_f64() * h).sum::<f64>())
            .collect();
        let share_of_step = 2.0 * libm::sqrt(squares(&bend) / squares(&step.of_scale));
        let is_near = share_of_step <= largest_bend; // NaN is not
        is_near.then(|| {
            let bends = divided(&bend, scale);
            step.change.iter().zip(bends).map(|(change, bend)| change + 0.5 * bend).collect()
        })
    }

    /// What the columns are in units of `scale`, the largest norms they have had.
    fn shares(&self, scale: &[f64]) -> Vec<f64> {
        divided(&self.norms, scale)
    }

    /// Columns times coefficients.
    fn in_rows(&self, coefficients: &[f64]) -> Vec<f64> {
        let n_rows = self.columns.first().map_or(0, Vec::len);
        let entry = |row: usize| self.columns.iter().zip(coefficients).map(|(c, z)| c[row] * z).sum();
        (0..n_rows).map(entry).collect()
    }
}

fn squares(values: &[f64]) -> f64 {
    values.iter().map(|v| v * v).sum()
}

fn product(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a * b).collect()
}

/// 0 where a scale is 0: a parameter that has had no effect so far is not moved.
fn divided(values: &[f64], scale: &[f64]) -> Vec<f64> {
    values.iter().zip(scale).map(|(v, s)| if *s > 0.0 { v / s } else { 0.0 }).collect()
}

fn as_singular(error: StatsError) -> StatsError {
    match error {
        StatsError::RankDeficient { column, independent_part } => {
            StatsError::SingularJacobian { parameter: column, independent_part }
        }
        other => other,
    }
}
