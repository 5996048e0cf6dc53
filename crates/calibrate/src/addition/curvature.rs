//! Whether the line bends: an extrapolated line that bends gives a wrong concentration.

use super::series::{ElectrodeAt, Series};
use stillwell_evaluate::exact_mean;
use stillwell_stats::distributions::{f_sf, student_t_sf};
use stillwell_stats::{Fit, least_squares};

/// A test of one further term, `level²`, in the line of a standard addition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvatureTest {
    /// t of the further term: negative where the line flattens.
    pub t: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Two-sided probability of so much bending if the line were straight.
    pub p: f64,
}

/// Fresh electrodes: the further column is the square of the fitted signal.
///
/// # Source
/// Mandel's test of a further term; with the square of the fitted value it is Tukey 1949 (one degree of freedom), exact for normal errors.
pub(super) fn of_fresh(means: &[ElectrodeAt], weights: &[f64], fit: &Fit) -> Option<CurvatureTest> {
    let scale = fit.fitted.iter().fold(0.0_f64, |largest, value| largest.max(value.abs()));
    let squares: Vec<f64> = fit.fitted.iter().map(|value| (value / scale) * (value / scale)).collect();
    let bent = with_column(means, weights, &squares)?;
    let (coefficient, error) = (*bent.coefficients.get(2)?, *bent.standard_errors.get(2)?);
    let t = coefficient / error;
    let p = f_sf(t * t, 1.0, bent.degrees_of_freedom as f64);
    t.is_finite().then_some(CurvatureTest { t, degrees_of_freedom: bent.degrees_of_freedom, p })
}

/// Followed electrodes: the term of each electrode's own line, and its mean against zero.
pub(super) fn of_followed(series: &Series, weights: &[f64], value: f64) -> Option<CurvatureTest> {
    let level = |mean: &ElectrodeAt| mean.sample_fraction * value + mean.added;
    let scale = series.means.iter().map(level).fold(0.0_f64, |largest, x| largest.max(x.abs()));
    let mut terms = Vec::new();
    let mut rest = weights;
    for means in series.electrodes() {
        let (own, others) = rest.split_at(means.len().min(rest.len()));
        rest = others;
        let squares: Vec<f64> =
            means.iter().map(|mean| (level(mean) / scale) * (level(mean) / scale)).collect();
        terms.push(*with_column(means, own, &squares)?.coefficients.get(2)?);
    }
    let sd = stillwell_stats::standard_deviation(&terms).ok()?;
    let t = exact_mean(&terms) / sd * libm::sqrt(terms.len() as f64);
    let degrees_of_freedom = terms.len() - 1;
    t.is_finite().then(|| CurvatureTest {
        t,
        degrees_of_freedom,
        p: 2.0 * student_t_sf(t.abs(), degrees_of_freedom as f64),
    })
}

/// `None` where too few points or levels carry a third column.
fn with_column(means: &[ElectrodeAt], weights: &[f64], column: &[f64]) -> Option<Fit> {
    let design: Vec<Vec<f64>> =
        means.iter().zip(column).map(|(m, extra)| vec![m.sample_fraction, m.added, *extra]).collect();
    let signals: Vec<f64> = means.iter().map(|mean| mean.mean_signal_a).collect();
    least_squares(&design, &signals, Some(weights)).ok()
}
