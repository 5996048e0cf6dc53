//! Derivatives of a model where it gives none: central differences, extrapolated to step zero.
//!
//! Source: Ridders 1982, Adv. Eng. Software 4, 75, here with steps halved and one error for the whole column.

use crate::error::StatsError;
use crate::nonlinear::NonlinearModel;

/// The first step, relative to the parameter (absolute where that is 0).
const FIRST_STEP: f64 = 1.0 / 32.0;

/// Halvings tried; beyond them a difference is all rounding.
const MAX_HALVINGS: usize = 30;

/// Rows of the extrapolation kept.
const MAX_ORDER: usize = 8;

/// Halvings without a better estimate after which the best one stands.
const PATIENCE: usize = 3;

/// Derivatives by one parameter in all rows, each times its root of weight.
///
/// # Errors
/// [`StatsError::GradientNotFinite`] when no step gives finite values on both sides.
pub(crate) fn column<M: NonlinearModel + ?Sized>(
    model: &M,
    roots: &[f64],
    parameters: &[f64],
    parameter: usize,
) -> Result<Vec<f64>, StatsError> {
    let mut moved = parameters.to_vec();
    let at = parameters[parameter];
    let mut step = FIRST_STEP * if at == 0.0 { 1.0 } else { at.abs() };
    let mut best: Option<(Vec<f64>, f64)> = None;
    let mut before: Vec<Vec<f64>> = Vec::new();
    let mut n_worse = 0;
    let mut not_finite = (0, f64::NAN);
    for _ in 0..=MAX_HALVINGS {
        let (above, below) = (at + step, at - step);
        step *= 0.5;
        let width = above - below;
        let mut values = |value: f64| -> Vec<f64> {
            moved[parameter] = value;
            (0..roots.len()).map(|row| model.value(row, &moved)).collect()
        };
        let high = values(above);
        let low = values(below);
        let pairs = high.iter().zip(&low).zip(roots);
        let plain: Vec<f64> = pairs.map(|((h, l), root)| (h - l) / width * root).collect();
        if let Some((row, &value)) = plain.iter().enumerate().find(|(_, d)| !d.is_finite()) {
            not_finite = (row, value);
            before.clear();
            continue;
        }
        let (estimates, closest) = extrapolate(plain, &before);
        match closest {
            Some((order, error)) if best.as_ref().is_none_or(|(_, least)| error < *least) => {
                best = Some((estimates[order].clone(), error));
                n_worse = 0;
            }
            Some(_) => n_worse += 1,
            None => {}
        }
        if n_worse >= PATIENCE {
            break;
        }
        before = estimates;
    }
    best.map(|(column, _)| column).ok_or_else(|| {
        let (row, value) = not_finite;
        StatsError::GradientNotFinite { row, parameter, value }
    })
}

/// One more row of the extrapolation: its estimates by order, and the order with the smallest error.
fn extrapolate(plain: Vec<f64>, before: &[Vec<f64>]) -> (Vec<Vec<f64>>, Option<(usize, f64)>) {
    let mut estimates = vec![plain];
    let mut closest: Option<(usize, f64)> = None;
    let mut power = 1.0;
    for (order, coarser) in before.iter().take(MAX_ORDER).enumerate() {
        power *= 4.0;
        let finer = &estimates[order];
        let next: Vec<f64> = finer.iter().zip(coarser).map(|(f, c)| f + (f - c) / (power - 1.0)).collect();
        let error = distance(&next, finer).max(distance(&next, coarser));
        if closest.is_none_or(|(_, least)| error < least) {
            closest = Some((order + 1, error));
        }
        estimates.push(next);
    }
    (estimates, closest)
}

/// Largest distance of two columns.
fn distance(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}
