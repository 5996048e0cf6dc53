//! Nonlinear least squares: a model of any shape in, its parameters with covariance out.

use crate::double_double::DoubleDouble;
use crate::error::StatsError;
use crate::least_squares::{require_finite, require_usable};
use crate::levenberg_marquardt::{Minimum, Problem};

/// What the data are expected to follow: one value a row, for given parameters.
///
/// A closure `|row, parameters| value` is a model; its derivatives are then taken numerically (extrapolated central
/// differences, about 1e-11 of the largest derivative of their column for smooth models). Implement the trait to give exact ones.
pub trait NonlinearModel {
    /// The value expected in `row`. Return NaN where the parameters have no meaning: the search turns back there.
    fn value(&self, row: usize, parameters: &[f64]) -> f64;

    /// Derivatives of [`NonlinearModel::value`] by each parameter, in their order; `None` to have them taken numerically.
    fn gradient(&self, row: usize, parameters: &[f64]) -> Option<Vec<f64>> {
        let _ = (row, parameters);
        None
    }
}

impl<F: Fn(usize, &[f64]) -> f64> NonlinearModel for F {
    fn value(&self, row: usize, parameters: &[f64]) -> f64 {
        self(row, parameters)
    }
}

/// One nonlinear least-squares fit. Names and meanings as in [`crate::Fit`]; all uncertainty is that of the tangent plane.
#[derive(Debug, Clone, PartialEq)]
pub struct NonlinearFit {
    /// In the order of the starting parameters.
    pub parameters: Vec<f64>,
    /// Standard errors of the parameters: `residual_sd * sqrt(diagonal of unscaled_covariance)`.
    pub standard_errors: Vec<f64>,
    /// `(JᵀWJ)⁻¹`; times `residual_sd²` it is the covariance of the parameters.
    pub unscaled_covariance: Vec<Vec<f64>>,
    /// The model's values, one a row.
    pub fitted: Vec<f64>,
    /// `y − fitted`, not weighted.
    pub residuals: Vec<f64>,
    /// `Σ w r²`.
    pub residual_sum_of_squares: f64,
    /// `sqrt(Σ w r² / degrees_of_freedom)`: the standard deviation of a row of weight 1.
    pub residual_sd: f64,
    /// Rows minus parameters.
    pub degrees_of_freedom: usize,
    /// Steps tried, rejected ones included.
    pub iterations: usize,
    /// How far the minimum may still be away, in standard errors of the parameters (root mean square over them).
    pub relative_offset: f64,
}

/// Weighted nonlinear least squares: the parameters that minimise `Σ w (y − model)²`, searched from `start`.
///
/// Levenberg and Marquardt's damped steps, each column scaled by the largest norm it has had; then undamped steps as long as they
/// bring the minimum nearer. Every linear step is solved in double-double, so the model's own rounding decides how many digits are
/// reached. The search finds a minimum near its start, not the lowest of several. Numerical derivatives of a parameter that
/// stands at exactly 0 assume that 1/32 is a small change of it: start elsewhere, or give the gradient.
///
/// # Units
/// `y` and `weights`: one a row, as in [`crate::least_squares`]; `start`: one a parameter, in the model's units.
///
/// # Errors
/// Those of [`crate::least_squares`] for unusable rows or weights; [`StatsError::ModelNotFinite`] and
/// [`StatsError::GradientNotFinite`]; [`StatsError::SingularJacobian`] and
/// [`StatsError::ParameterWithoutEffect`] when the data do not determine a parameter;
/// [`StatsError::NotConverged`] when the search ended more than 1e-6 standard errors from a minimum.
///
/// # Source
/// Marquardt 1963, J. SIAM 11, 431; column scaling: Moré 1978, Lecture Notes in Mathematics 630, 105; damping: Nielsen 1999,
/// IMM-REP-1999-05; convergence: Bates & Watts 1981, Technometrics 23, 179. Checked against the NIST StRD nonlinear sets.
///
/// # Example
/// ```
/// use stillwell_stats::nonlinear_least_squares;
/// let minutes = [0.0, 1.0, 2.0, 4.0, 8.0];
/// let decay = |row: usize, p: &[f64]| p[0] * libm::exp(-p[1] * minutes[row]);
/// let fit = nonlinear_least_squares(&decay, &[10.1, 7.3, 5.6, 3.0, 0.9], None, &[8.0, 0.5])?;
/// assert!((fit.parameters[1] - 0.301608).abs() < 1e-6 && fit.degrees_of_freedom == 3);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn nonlinear_least_squares<M: NonlinearModel + ?Sized>(
    model: &M,
    y: &[f64],
    weights: Option<&[f64]>,
    start: &[f64],
) -> Result<NonlinearFit, StatsError> {
    require_usable(start.len(), y.len(), y, weights)?;
    for (index, value) in start.iter().enumerate() {
        require_finite("the starting parameters", index, &[*value])?;
    }
    let problem = Problem::new(model, y, weights);
    let minimum = problem.minimum(start)?;
    NonlinearFit::of(&problem, minimum).require_finite()
}

impl NonlinearFit {
    fn of<M: NonlinearModel + ?Sized>(problem: &Problem<'_, M>, minimum: Minimum) -> Self {
        let Minimum { point, inverse_triangle, norms, iterations, relative_offset } = minimum;
        let degrees_of_freedom = point.values.len() - norms.len();
        let sd = (point.squares / DoubleDouble::from(degrees_of_freedom as f64)).sqrt().to_f64();
        let scale = problem.residual_scale;
        let dot = |a: &[DoubleDouble], b: &[DoubleDouble]| -> f64 {
            a.iter().zip(b).map(|(&a, &b)| a * b).sum::<DoubleDouble>().to_f64()
        };
        let scaled_rows = || inverse_triangle.iter().zip(&norms);
        let unscaled_covariance = scaled_rows()
            .map(|(a, norm_a)| {
                let entry =
                    |(b, norm_b): (&Vec<DoubleDouble>, &f64)| dot(a, b) * (scale / norm_a) * (scale / norm_b);
                scaled_rows().map(entry).collect()
            })
            .collect();
        Self {
            standard_errors: scaled_rows().map(|(a, norm)| libm::sqrt(dot(a, a)) * sd / norm).collect(),
            unscaled_covariance,
            residuals: problem.y.iter().zip(&point.values).map(|(y, value)| y - value).collect(),
            residual_sum_of_squares: point.squares.to_f64() / scale / scale,
            residual_sd: sd / scale,
            degrees_of_freedom,
            iterations,
            relative_offset,
            fitted: point.values,
            parameters: point.parameters,
        }
    }

    fn require_finite(self) -> Result<Self, StatsError> {
        let scalars = [self.residual_sum_of_squares, self.residual_sd];
        let vectors = [&self.parameters, &self.standard_errors, &self.fitted, &self.residuals];
        let all = vectors.into_iter().chain(&self.unscaled_covariance).flatten().chain(&scalars);
        if all.into_iter().all(|v| v.is_finite()) {
            Ok(self)
        } else {
            Err(StatsError::OutOfRange { what: "a result of the fit" })
        }
    }
}
