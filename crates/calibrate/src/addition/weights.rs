//! Weights of the electrode means of a standard addition.

use super::AdditionWeights;
use super::error::AdditionError;
use super::series::{ElectrodeAt, Series};
use crate::electrode::same_level;
use stillwell_stats::{Fit, least_squares};

/// One a mean, in their order, summing to their number.
pub(super) fn resolve(series: &Series, weights: &AdditionWeights) -> Result<Vec<f64>, AdditionError> {
    let raw: Vec<f64> = match weights {
        AdditionWeights::None => return Ok(vec![1.0; series.means.len()]),
        AdditionWeights::ConstantRelativeSpread => by_fitted_signal(&series.means)?,
        AdditionWeights::StandardDeviations(stated) => {
            let sd_at = |added: f64| {
                let found =
                    stated.iter().find(|s| same_level(s.level, added)).map(|s| s.standard_deviation_a);
                found
                    .filter(|sd| sd.is_finite() && *sd > 0.0)
                    .ok_or(AdditionError::AdditionWithoutDeviation { added })
            };
            let sds: Result<Vec<f64>, _> = series.means.iter().map(|mean| sd_at(mean.added)).collect();
            sds?.into_iter().map(|sd| 1.0 / (sd * sd)).collect()
        }
    };
    let scale = raw.len() as f64 / raw.iter().sum::<f64>();
    Ok(raw.into_iter().map(|weight| weight * scale).collect())
}

fn by_fitted_signal(means: &[ElectrodeAt]) -> Result<Vec<f64>, AdditionError> {
    let first = line(means, &vec![1.0; means.len()])?;
    means
        .iter()
        .zip(&first.fitted)
        .map(|(mean, &fitted)| {
            if fitted > 0.0 {
                Ok(1.0 / (fitted * fitted))
            } else {
                Err(AdditionError::SignalNotPositive { added: mean.added, fitted_signal_a: fitted })
            }
        })
        .collect()
}

/// Coefficients `k C` and `k` of `signal = k C f + k a`.
pub(super) fn line(means: &[ElectrodeAt], weights: &[f64]) -> Result<Fit, AdditionError> {
    let design: Vec<Vec<f64>> = means.iter().map(|mean| vec![mean.sample_fraction, mean.added]).collect();
    let signals: Vec<f64> = means.iter().map(|mean| mean.mean_signal_a).collect();
    Ok(least_squares(&design, &signals, Some(weights))?)
}

/// Below this the residuals are the rounding of the signals themselves.
const SMALLEST_RELATIVE_SCATTER: f64 = 1e-12;

pub(super) fn refuse_without_scatter(scatter_a: f64, largest_signal_a: f64) -> Result<(), AdditionError> {
    if scatter_a > SMALLEST_RELATIVE_SCATTER * largest_signal_a {
        Ok(())
    } else {
        Err(AdditionError::NoScatter { scatter_a, largest_signal_a })
    }
}
