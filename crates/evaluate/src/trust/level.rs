//! Flat lines, and currents where there should be hardly any.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::order::{median_of, median_of_three};
use super::settings::{RawScan, TrustLimits};

/// Largest minus smallest current after a running median of three, which sets single outliers aside.
pub(super) fn robust_range_a(current_a: &[f64]) -> Result<f64, WhyNotTestable> {
    let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
    for three in current_a.windows(3) {
        let middle = median_of_three(three[0], three[1], three[2]);
        lowest = if middle < lowest { middle } else { lowest };
        highest = if middle > highest { middle } else { highest };
    }
    if current_a.len() < 3 { Err(WhyNotTestable::TooShort) } else { Ok(highest - lowest) }
}

pub(super) fn flat_line(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
) -> Result<TrustFinding, WhyNotTestable> {
    let found = robust_range_a(scan.current_a)?;
    let by_steps = limits.least_range_steps * scan.resolution_a.unwrap_or(0.0);
    if !by_steps.is_finite() {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    let limit = if by_steps > limits.least_range_a { by_steps } else { limits.least_range_a };
    // A range of zero is flat whatever the limit.
    Ok(judge.decided(found >= limit && found > 0.0, found, limit, 0))
}

pub(super) fn offset(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> Result<TrustFinding, WhyNotTestable> {
    let (first, last) = end_medians(scan.current_a.iter().copied(), scan.current_a.len(), limits, workspace)?;
    Ok(if first.abs() >= last.abs() {
        judge.at_most(first.abs(), limits.largest_offset_a, 0)
    } else {
        judge.at_most(last.abs(), limits.largest_offset_a, scan.current_a.len() - 1)
    })
}

/// Medians of the first and of the last `end_points` of `n` values.
pub(super) fn end_medians(
    values: impl Iterator<Item = f64> + Clone,
    n: usize,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> Result<(f64, f64), WhyNotTestable> {
    let count = limits.end_points as usize;
    if count == 0 {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    if n / 2 < count {
        return Err(WhyNotTestable::TooShort);
    }
    let first = median_of(values.clone().take(count), workspace)?;
    let last = median_of(values.skip(n - count), workspace)?;
    Ok((first, last))
}
