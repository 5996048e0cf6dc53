//! Electrodes followed through the additions: one line an electrode, and each electrode counts once.

use super::curvature;
use super::error::AdditionError;
use super::fieller::Ratio;
use super::series::Series;
use super::weights::{line, refuse_without_scatter};
use super::{ElectrodeLine, Fitted, points_of};
use stillwell_evaluate::exact_mean;

pub(super) fn fit(series: &Series, weights: &[f64]) -> Result<Fitted, AdditionError> {
    let (mut lines, mut points) = (Vec::new(), Vec::new());
    let mut rest = weights;
    for means in series.electrodes() {
        let (own, others) = rest.split_at(means.len().min(rest.len()));
        rest = others;
        let fit = line(means, own)?;
        let &[sample_signal_a, slope_a_per_level] = fit.coefficients.as_slice() else {
            return Err(AdditionError::OutOfRange);
        };
        let electrode = means.first().map_or_else(String::new, |mean| mean.electrode.clone());
        lines.push(ElectrodeLine { electrode, sample_signal_a, slope_a_per_level });
        points.extend(points_of(means, &fit.fitted, own));
    }
    let ratio = between_electrodes(&lines);
    // Electrodes may differ in sensitivity; what must not vanish is the scatter of their ratios.
    let scatter_a = ratio.standard_uncertainty() * ratio.denominator.abs();
    refuse_without_scatter(scatter_a, series.largest_signal_a())?;
    let curvature = curvature::of_followed(series, weights, ratio.value());
    Ok(Fitted { ratio, degrees_of_freedom: lines.len() - 1, curvature, lines, points })
}

/// Means of the electrodes' coefficients and the covariance of those means. There are at least two electrodes.
fn between_electrodes(lines: &[ElectrodeLine]) -> Ratio {
    let samples: Vec<f64> = lines.iter().map(|line| line.sample_signal_a).collect();
    let slopes: Vec<f64> = lines.iter().map(|line| line.slope_a_per_level).collect();
    let (numerator, denominator) = (exact_mean(&samples), exact_mean(&slopes));
    let n = lines.len() as f64;
    let products = |of: &[f64], of_mean: f64, with: &[f64], with_mean: f64| {
        of.iter().zip(with).map(|(a, b)| (a - of_mean) * (b - with_mean)).sum::<f64>() / (n - 1.0) / n
    };
    Ratio {
        numerator,
        denominator,
        numerator_variance: products(&samples, numerator, &samples, numerator),
        denominator_variance: products(&slopes, denominator, &slopes, denominator),
        covariance: products(&samples, numerator, &slopes, denominator),
    }
}
