//! Flat lines, and currents where there should be hardly any.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::order::{LANES, lanes_from, median_of, median_of_three};
use super::quantities::Quantities;
use super::settings::{RawScan, TrustLimits};

/// Largest minus smallest current after a running median of three, which sets single outliers aside.
#[inline(always)]
pub(super) fn robust_range_a(current_a: &[f64]) -> Result<f64, WhyNotTestable> {
    if current_a.len() < 3 {
        return Err(WhyNotTestable::TooShort);
    }
    let (mut lowest, mut highest) = ([f64::INFINITY; LANES], [f64::NEG_INFINITY; LANES]);
    let mut take = |lane: usize, a: f64, b: f64, c: f64| {
        let middle = median_of_three(a, b, c);
        lowest[lane] = if middle < lowest[lane] { middle } else { lowest[lane] };
        highest[lane] = if middle > highest[lane] { middle } else { highest[lane] };
    };
    let n = current_a.len() - 2;
    let mut start = 0;
    while let (Some(a), Some(b), Some(c)) =
        (lanes_from(current_a, start), lanes_from(current_a, start + 1), lanes_from(current_a, start + 2))
    {
        for lane in 0..LANES {
            take(lane, a[lane], b[lane], c[lane]);
        }
        start += LANES;
    }
    for three in current_a[start.min(n)..].windows(3) {
        take(0, three[0], three[1], three[2]);
    }
    let low = lowest.iter().fold(f64::INFINITY, |low, &x| if x < low { x } else { low });
    let high = highest.iter().fold(f64::NEG_INFINITY, |high, &x| if x > high { x } else { high });
    // −0.0 + 0.0 is +0.0.
    Ok(high - low + 0.0)
}

pub(super) fn flat_line(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
    quantities: &Quantities,
) -> Result<TrustFinding, WhyNotTestable> {
    let found = quantities.robust_range_a?;
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
    values: impl ExactSizeIterator<Item = f64> + Clone,
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
