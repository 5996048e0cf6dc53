//! The common form of bent responses, `E = E° + S log₁₀(a + Σ 10^kⱼ tⱼ)`, and its fit.

use super::{IntervalEstimate, PotentiometryError, require_scatter, two_sided_t};
use stillwell_stats::{
    NonlinearFit, NonlinearModel, StatsError, nonlinear_least_squares, polynomial_least_squares,
};

/// The readings of a fit: activity, terms `tⱼ` that its coefficients multiply, potential.
pub(super) struct Response {
    pub(super) activities: Vec<f64>,
    pub(super) terms: Vec<Vec<f64>>,
    pub(super) potentials_v: Vec<f64>,
}

/// What came out: `E°`, `S` and the logarithms `kⱼ`.
pub(super) struct FittedResponse {
    pub(super) standard_potential_v: IntervalEstimate,
    pub(super) slope_v_per_decade: IntervalEstimate,
    pub(super) logs: Vec<IntervalEstimate>,
    pub(super) residual_sd_v: f64,
    pub(super) degrees_of_freedom: usize,
}

/// Searched from here too, in decades from the first guess of each `kⱼ`; the best end wins.
const OTHER_STARTS: [f64; 2] = [-1.0, 1.0];

impl NonlinearModel for Response {
    fn value(&self, row: usize, p: &[f64]) -> f64 {
        let [constant, slope, logs @ ..] = p else { return f64::NAN };
        constant + slope * libm::log10(self.total(row, logs))
    }

    fn gradient(&self, row: usize, p: &[f64]) -> Option<Vec<f64>> {
        let [_, slope, logs @ ..] = p else { return None };
        let total = self.total(row, logs);
        let shares = self.terms[row].iter().zip(logs).map(|(t, k)| slope * t * libm::pow(10.0, *k) / total);
        Some([1.0, libm::log10(total)].into_iter().chain(shares).collect())
    }
}

impl Response {
    fn total(&self, row: usize, logs: &[f64]) -> f64 {
        let terms = self.terms[row].iter().zip(logs);
        self.activities[row] + terms.map(|(t, k)| t * libm::pow(10.0, *k)).sum::<f64>()
    }

    /// Least squares with normal errors of the potential; `names` say which `kⱼ` the readings do not determine.
    pub(super) fn fit(&self, coverage: f64, names: &[String]) -> Result<FittedResponse, PotentiometryError> {
        let (n, n_parameters) = (self.activities.len(), names.len() + 2);
        if n < n_parameters + 1 {
            let what = "readings";
            return Err(PotentiometryError::TooFewReadings { what, found: n, needed: n_parameters + 1 });
        }
        let first_guess = self.first_guess(names.len());
        let mut best = self.search(&first_guess, 0.0);
        for decades in OTHER_STARTS {
            let other = self.search(&first_guess, decades);
            let is_better = match (&other, &best) {
                (Ok(other), Ok(best)) => other.residual_sum_of_squares < best.residual_sum_of_squares,
                (Ok(_), Err(_)) => true,
                (Err(_), _) => false,
            };
            if is_better {
                best = other;
            }
        }
        let fit = best.map_err(|reason| not_determined(reason, names))?;
        require_scatter(fit.residual_sd)?;
        let t = two_sided_t(coverage, fit.degrees_of_freedom as f64);
        let mut estimates = fit
            .parameters
            .iter()
            .zip(&fit.standard_errors)
            .map(|(&p, &error)| IntervalEstimate::of(p, error, t));
        let (Some(standard_potential_v), Some(slope_v_per_decade)) = (estimates.next(), estimates.next())
        else {
            return Err(PotentiometryError::Fit(StatsError::NoColumns));
        };
        Ok(FittedResponse {
            standard_potential_v,
            slope_v_per_decade,
            logs: estimates.collect(),
            residual_sd_v: fit.residual_sd,
            degrees_of_freedom: fit.degrees_of_freedom,
        })
    }

    fn search(&self, first_guess: &[f64], decades: f64) -> Result<NonlinearFit, StatsError> {
        let [constant, slope, logs @ ..] = first_guess else { return Err(StatsError::NoColumns) };
        let start: Vec<f64> =
            [*constant, *slope].into_iter().chain(logs.iter().map(|k| k + decades)).collect();
        nonlinear_least_squares(self, &self.potentials_v, None, &start)
    }

    /// The line of the upper half of the readings, and for each term what the reading that it rules most then asks of it.
    fn first_guess(&self, n_terms: usize) -> Vec<f64> {
        let mut order: Vec<usize> = (0..self.activities.len()).collect();
        order.sort_by(|&a, &b| self.activities[b].total_cmp(&self.activities[a]).then(a.cmp(&b)));
        let upper = &order[..order.len().div_ceil(2).max(3).min(order.len())];
        let logs: Vec<f64> = upper.iter().map(|&row| libm::log10(self.activities[row])).collect();
        let potentials: Vec<f64> = upper.iter().map(|&row| self.potentials_v[row]).collect();
        // Readings at one activity carry no line: then any slope will do to begin with.
        let line = polynomial_least_squares(&logs, &potentials, &[0, 1], None);
        let (constant, slope) = match line {
            Ok(fit) => (fit.coefficients[0], fit.coefficients[1]),
            Err(_) => self.steepest(),
        };
        let guess = |term: usize| {
            let rule = |row: usize| self.terms[row][term] / self.activities[row];
            let ruled = (0..self.activities.len()).max_by(|&a, &b| rule(a).total_cmp(&rule(b))).unwrap_or(0);
            let apparent = libm::pow(10.0, (self.potentials_v[ruled] - constant) / slope);
            let asked = libm::log10((apparent - self.activities[ruled]) / self.terms[ruled][term]);
            // Nothing asked: a tenth of what would double the activity there.
            if asked.is_finite() { asked } else { -libm::log10(rule(ruled).max(1e-300)) - 1.0 }
        };
        [constant, slope].into_iter().chain((0..n_terms).map(guess)).collect()
    }

    /// A line through the readings with the lowest and the highest activity.
    fn steepest(&self) -> (f64, f64) {
        let by = |a: &usize, b: &usize| self.activities[*a].total_cmp(&self.activities[*b]);
        let rows = 0..self.activities.len();
        let (low, high) = (rows.clone().min_by(by).unwrap_or(0), rows.max_by(by).unwrap_or(0));
        let decades = libm::log10(self.activities[high] / self.activities[low]);
        let slope =
            (self.potentials_v[high] - self.potentials_v[low]) / if decades > 0.0 { decades } else { 1.0 };
        let slope = if slope == 0.0 { 0.01 } else { slope };
        (self.potentials_v[high] - slope * libm::log10(self.activities[high]), slope)
    }
}

/// Names the coefficient that the fit could not tell; other faults stay what they are.
fn not_determined(reason: StatsError, names: &[String]) -> PotentiometryError {
    let parameter = match reason {
        StatsError::SingularJacobian { parameter, .. }
        | StatsError::ParameterWithoutEffect { parameter, .. } => parameter.checked_sub(2),
        StatsError::NotConverged { .. } => Some(0),
        other => return PotentiometryError::Fit(other),
    };
    let what = parameter.and_then(|p| names.get(p)).map_or("the slope", String::as_str).to_owned();
    PotentiometryError::NotDetermined { what, reason }
}
