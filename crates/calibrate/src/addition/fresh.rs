//! A fresh electrode for each measurement: independent means, one line.

use super::curvature;
use super::error::AdditionError;
use super::fieller::Ratio;
use super::series::Series;
use super::weights::{line, refuse_without_scatter};
use super::{Fitted, points_of};

pub(super) fn fit(series: &Series, weights: &[f64]) -> Result<Fitted, AdditionError> {
    let fit = line(&series.means, weights)?;
    refuse_without_scatter(fit.residual_sd, series.largest_signal_a())?;
    let &[numerator, denominator] = fit.coefficients.as_slice() else {
        return Err(AdditionError::OutOfRange);
    };
    let [[va, cab], [_, vb]] = square(&fit.unscaled_covariance)?;
    let variance = fit.residual_sd * fit.residual_sd;
    let ratio = Ratio {
        numerator,
        denominator,
        numerator_variance: variance * va,
        denominator_variance: variance * vb,
        covariance: variance * cab,
    };
    Ok(Fitted {
        ratio,
        degrees_of_freedom: fit.degrees_of_freedom,
        curvature: curvature::of_fresh(&series.means, weights, &fit),
        lines: Vec::new(),
        points: points_of(&series.means, &fit.fitted, weights).collect(),
    })
}

fn square(rows: &[Vec<f64>]) -> Result<[[f64; 2]; 2], AdditionError> {
    match rows {
        [first, second] => match (first.as_slice(), second.as_slice()) {
            ([aa, ab], [ba, bb]) => Ok([[*aa, *ab], [*ba, *bb]]),
            _ => Err(AdditionError::OutOfRange),
        },
        _ => Err(AdditionError::OutOfRange),
    }
}
