//! Whether a row of numbers steps evenly, as a programmed potential does.

use crate::units::PotentialUnit;

/// Steps may differ by this share of the usual step and still count as even.
const EVENNESS: f64 = 0.1;

/// So many steps tell the usual one; a longer column is not sorted whole.
const STEPS_LOOKED_AT: usize = 4096;

/// The usual size of a step (median of the first absolute differences), if it is not zero.
pub(crate) fn usual_step(values: &[f64]) -> Option<f64> {
    let mut sizes: Vec<f64> =
        differences(values).take(STEPS_LOOKED_AT).map(f64::abs).filter(|d| d.is_finite()).collect();
    let middle = sizes.len() / 2;
    if sizes.is_empty() {
        return None;
    }
    let (_, median, _) = sizes.select_nth_unstable_by(middle, f64::total_cmp);
    (*median > 0.0).then_some(*median)
}

pub(crate) fn differences(values: &[f64]) -> impl Iterator<Item = f64> + '_ {
    values.iter().zip(values.iter().skip(1)).map(|(before, after)| after - before)
}

/// Whether at least nine in ten steps have the same size; turning points and restarts are allowed.
pub(crate) fn is_stepping(values: &[f64]) -> bool {
    let Some(step) = usual_step(values) else { return false };
    let values = values.get(..STEPS_LOOKED_AT + 1).unwrap_or(values);
    let n_steps = values.len() - 1;
    // Decimal text of few digits rounds each step.
    let n_even = differences(values).filter(|d| (d.abs() - step).abs() <= EVENNESS * step).count();
    n_steps >= 2 && n_even * 10 >= n_steps * 9
}

/// Whether all steps have the same size and direction, as potentials written across a row do.
pub(crate) fn is_even_one_way(values: &[f64]) -> bool {
    let (Some(step), Some(first)) = (usual_step(values), differences(values).next()) else {
        return false;
    };
    let is_even = |d: f64| (d.abs() - step).abs() <= EVENNESS * step && d * first > 0.0;
    differences(values).all(is_even) && possible_potential_unit(values).is_some() && !is_counting(values)
}

/// 0, 1, 2 … or 1, 2, 3 …: a count, not a potential.
pub(crate) fn is_counting(values: &[f64]) -> bool {
    let starts_low = values.first().is_some_and(|first| *first == 0.0 || *first - 1.0 == 0.0);
    starts_low && values.len() >= 3 && differences(values).all(|d| d - 1.0 == 0.0)
}

/// Whether a column of numbers can be a programmed potential in the given (or in any) unit.
pub(crate) fn is_plausible_potential(values: &[f64], unit: Option<PotentialUnit>) -> bool {
    let fits_unit = match (possible_potential_unit(values), unit) {
        (None, _) => false,
        (Some(_), None) => true,
        (Some(possible), Some(stated)) => possible == stated,
    };
    fits_unit && is_stepping(values) && !is_counting(values)
}

/// The one unit in which the values make a window that a cell can have: at least 20 mV wide and at most 10 V from zero.
pub(crate) fn possible_potential_unit(values: &[f64]) -> Option<PotentialUnit> {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for &value in values {
        low = low.min(value);
        high = high.max(value);
    }
    let (span, largest) = (high - low, high.abs().max(low.abs()));
    let as_volts = span >= 0.02 && largest <= 10.0;
    let as_millivolts = span >= 20.0 && largest <= 10_000.0;
    match (as_volts, as_millivolts) {
        (true, false) => Some(PotentialUnit::Volt),
        (false, true) => Some(PotentialUnit::Millivolt),
        _ => None,
    }
}
