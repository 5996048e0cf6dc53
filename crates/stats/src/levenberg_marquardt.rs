//! The search for the minimum of a nonlinear sum of squares.
//!
//! Source: Moré 1978, Lecture Notes in Mathematics 630, 105 (scaling by the largest column norms so far); Nielsen 1999,
//! IMM-REP-1999-05 (how the damping follows the gain); Transtrum & Sethna 2012, arXiv:1201.5885 (steps bent along the model,
//! refused where they bend too much: without that, two of the reference sets run off to where a parameter has no effect).

use crate::double_double::{DoubleDouble, power_of_two_to_unit};
use crate::error::StatsError;
use crate::least_squares::{largest, root_power_of_two};
use crate::nonlinear::NonlinearModel;
use crate::numerical_gradient;
use crate::tangent::{Step, Tangent};

/// Damping of the first step, relative to the squared column norms (Nielsen 1999: 1e-3 where the start is not near).
const FIRST_DAMPING: f64 = 1e-3;

/// A step is taken when it brings at least this share of what the tangent plane promises (Moré 1978).
const LEAST_GAIN: f64 = 1e-4;

/// Where along the step its bend is measured, and the largest bend that is followed (Transtrum & Sethna 2012, 4.2).
const PROBE: f64 = 0.1;
const LARGEST_BEND: f64 = 0.75;

/// Steps tried before the search is given up; the hardest reference set takes about 1,800.
const MAX_ITERATIONS: usize = 5000;

/// Undamped steps at the end, and how much shorter each must be (squared) to count as nearer rather than as rounding.
const MAX_FINAL_STEPS: usize = 60;
const SHORTENING: f64 = 0.8;

/// What counts as converged: distance to the minimum in standard errors, or, for data without scatter, the change of the
/// model's values relative to the data.
const LARGEST_OFFSET: f64 = 1e-6;
const ROUNDING_OFFSET: f64 = 1e-13;

/// Change of the model, relative to the data, that a parameter must make when it changes by all of itself.
const LEAST_EFFECT: f64 = 1e-12;

/// Data and model, brought near 1 by powers of two. Lengths, finiteness and weights have been checked.
pub(crate) struct Problem<'a, M: ?Sized> {
    model: &'a M,
    pub(crate) y: &'a [f64],
    /// Square roots of the weights, times [`Self::residual_scale`].
    roots: Vec<f64>,
    pub(crate) residual_scale: f64,
}

/// Parameters and what the model makes of them.
pub(crate) struct Point {
    pub(crate) parameters: Vec<f64>,
    pub(crate) values: Vec<f64>,
    /// Times root of weight and residual scale.
    residuals: Vec<f64>,
    pub(crate) squares: DoubleDouble,
}

/// Where the search ended.
pub(crate) struct Minimum {
    pub(crate) point: Point,
    /// Of the triangle of the columns divided by `norms`.
    pub(crate) inverse_triangle: Vec<Vec<DoubleDouble>>,
    pub(crate) norms: Vec<f64>,
    pub(crate) iterations: usize,
    pub(crate) relative_offset: f64,
}

impl<'a, M: NonlinearModel + ?Sized> Problem<'a, M> {
    pub(crate) fn new(model: &'a M, y: &'a [f64], weights: Option<&[f64]>) -> Self {
        let root_power = weights.map_or(1.0, root_power_of_two);
        let residual_scale = root_power * power_of_two_to_unit(largest(y));
        let root = |w: f64| libm::sqrt(w * root_power * root_power) / root_power * residual_scale;
        let roots = match weights {
            Some(weights) => weights.iter().map(|&w| root(w)).collect(),
            None => vec![residual_scale; y.len()],
        };
        Self { model, y, roots, residual_scale }
    }

    /// # Errors
    /// See [`crate::nonlinear_least_squares`].
    pub(crate) fn minimum(&self, start: &[f64]) -> Result<Minimum, StatsError> {
        let (point, iterations) = self.descend(self.point(start.to_vec())?)?;
        self.settle(point, start, iterations)
    }

    fn point(&self, parameters: Vec<f64>) -> Result<Point, StatsError> {
        let values: Vec<f64> = (0..self.y.len()).map(|row| self.model.value(row, &parameters)).collect();
        if let Some((row, &value)) = values.iter().enumerate().find(|(_, v)| !v.is_finite()) {
            return Err(StatsError::ModelNotFinite { row, value });
        }
        let pairs = self.y.iter().zip(&values).zip(&self.roots);
        let residuals: Vec<f64> = pairs.map(|((y, value), root)| (y - value) * root).collect();
        let squares: DoubleDouble = residuals.iter().map(|&r| DoubleDouble::from(r).square()).sum();
        if !squares.to_f64().is_finite() {
            return Err(StatsError::OutOfRange { what: "the sum of squares" });
        }
        Ok(Point { parameters, values, residuals, squares })
    }

    /// Derivatives as the model gives them, or else numerically.
    fn tangent(&self, point: &Point) -> Result<Tangent, StatsError> {
        let n = point.parameters.len();
        let mut columns = vec![Vec::with_capacity(self.y.len()); n];
        for (row, root) in self.roots.iter().enumerate() {
            let Some(gradient) = self.model.gradient(row, &point.parameters) else {
                let column = |j| numerical_gradient::column(self.model, &self.roots, &point.parameters, j);
                return Tangent::new((0..n).map(column).collect::<Result<_, _>>()?);
            };
            if gradient.len() != n {
                let (what, found) = ("the model's gradient", gradient.len());
                return Err(StatsError::LengthMismatch { what, found, expected: n });
            }
            columns.iter_mut().zip(gradient).for_each(|(column, entry)| column.push(entry * root));
        }
        Tangent::new(columns)
    }

    /// Damped steps until the tangent plane promises nothing that the sum of squares could show.
    fn descend(&self, mut point: Point) -> Result<(Point, usize), StatsError> {
        let mut tangent = self.tangent(&point)?;
        let mut scale = tangent.norms.clone();
        let (mut damping, mut growth) = (FIRST_DAMPING, 2.0);
        for iteration in 0..MAX_ITERATIONS {
            // No step: the damping was too small to part dependent columns.
            let step = tangent.damped_step(&point.residuals, &scale, damping).ok();
            if step.as_ref().is_some_and(|step| point.is_settled(step)) {
                return Ok((point, iteration));
            }
            let gained = step.and_then(|step| self.gained(&point, &tangent, &scale, &step));
            if let Some((next, next_tangent, gain)) = gained {
                (point, tangent) = (next, next_tangent);
                scale.iter_mut().zip(&tangent.norms).for_each(|(s, &norm)| *s = s.max(norm));
                let curve = 2.0 * gain - 1.0;
                damping *= (1.0 - curve * curve * curve).max(1.0 / 3.0);
                growth = 2.0;
            } else {
                damping *= growth;
                growth *= 2.0;
            }
        }
        Ok((point, MAX_ITERATIONS))
    }

    /// The point that the bent step leads to and the share of the promise that it keeps; `None` when it should not be taken.
    fn gained(
        &self,
        point: &Point,
        tangent: &Tangent,
        scale: &[f64],
        step: &Step,
    ) -> Option<(Point, Tangent, f64)> {
        let ahead: Vec<f64> = step.change.iter().map(|change| PROBE * change).collect();
        let ahead = self.point(point.moved_by(&ahead)).ok()?;
        let probed = (PROBE, &ahead.residuals[..]);
        let change = tangent.bent(step, scale, &point.residuals, probed, LARGEST_BEND)?;
        let next = self.point(point.moved_by(&change)).ok()?;
        let gain = (point.squares - next.squares).to_f64() / step.promised;
        if gain.is_nan() || gain <= LEAST_GAIN {
            return None;
        }
        let tangent = self.tangent(&next).ok()?;
        Some((next, tangent, gain))
    }

    /// Undamped steps as long as they get shorter, then the verdict.
    fn settle(&self, mut point: Point, start: &[f64], iterations: usize) -> Result<Minimum, StatsError> {
        let mut tangent = self.tangent(&point)?;
        let mut step = tangent.full_step(&point.residuals)?;
        for _ in 0..MAX_FINAL_STEPS {
            let Ok(next) = self.point(point.moved_by(&step.change)) else { break };
            let is_uphill = next.squares.to_f64() > point.squares.to_f64() * (1.0 + LARGEST_OFFSET);
            let Ok(next_tangent) = self.tangent(&next) else { break };
            let Ok(next_step) = next_tangent.full_step(&next.residuals) else { break };
            let is_nearer = next_step.in_plane <= SHORTENING * step.in_plane;
            if is_uphill || !is_nearer || step.in_plane <= 0.0 {
                break;
            }
            (point, tangent, step) = (next, next_tangent, next_step);
        }
        let relative_offset = point.relative_offset(&step);
        let size: f64 = self.y.iter().zip(&self.roots).map(|(y, root)| y * root * (y * root)).sum();
        let is_rounding = step.in_plane <= ROUNDING_OFFSET * ROUNDING_OFFSET * size;
        if relative_offset > LARGEST_OFFSET && !is_rounding {
            return Err(StatsError::NotConverged { iterations, relative_offset, limit: LARGEST_OFFSET });
        }
        point.require_effects(start, &tangent.norms, LEAST_EFFECT * libm::sqrt(size))?;
        let (inverse_triangle, norms) = (step.inverse_triangle, tangent.norms);
        Ok(Minimum { point, inverse_triangle, norms, iterations, relative_offset })
    }
}

impl Point {
    fn moved_by(&self, change: &[f64]) -> Vec<f64> {
        self.parameters.iter().zip(change).map(|(p, change)| p + change).collect()
    }

    /// Whether the step would be lost in rounding.
    fn is_settled(&self, step: &Step) -> bool {
        step.promised <= f64::EPSILON * self.squares.to_f64()
            || self.moved_by(&step.change) == self.parameters
    }

    /// Length of an undamped step in standard errors, root mean square over the parameters.
    ///
    /// Source: Bates & Watts 1981, Technometrics 23, 179.
    fn relative_offset(&self, step: &Step) -> f64 {
        let n_parameters = self.parameters.len() as f64;
        let noise = self.squares.to_f64() / (self.values.len() as f64 - n_parameters);
        if step.in_plane > 0.0 { libm::sqrt(step.in_plane / n_parameters / noise) } else { 0.0 }
    }

    /// Where a parameter started at 0, its size is unknown and nothing is asked of it.
    fn require_effects(&self, start: &[f64], norms: &[f64], least: f64) -> Result<(), StatsError> {
        for (parameter, ((&value, &start), norm)) in self.parameters.iter().zip(start).zip(norms).enumerate()
        {
            if start != 0.0 && norm * value.abs().max(start.abs()) < least {
                return Err(StatsError::ParameterWithoutEffect { parameter, value });
            }
        }
        Ok(())
    }
}
