//! The grid of potentials: direction, window, step, gaps and repeats.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::order::{median_of, whole_part};
use super::settings::{ExpectedScan, RawScan, TrustLimits};

/// Median step with its sign (V).
pub(super) fn usual_step_v(scan: &RawScan<'_>, workspace: &mut [f64]) -> Result<f64, WhyNotTestable> {
    let usual = median_of(scan.potential_v.windows(2).map(|two| two[1] - two[0]), workspace)?;
    if usual.is_finite() { Ok(usual) } else { Err(WhyNotTestable::NotFinite) }
}

pub(super) fn direction(
    judge: Judge,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
) -> Result<TrustFinding, WhyNotTestable> {
    let [first, .., last] = scan.potential_v else { return Err(WhyNotTestable::TooShort) };
    let (found, wanted) = (last - first, expected.end_v - expected.start_v);
    if wanted == 0.0 {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    let same = (found > 0.0 && wanted > 0.0) || (found < 0.0 && wanted < 0.0);
    Ok(judge.decided(same, found, wanted, 0))
}

pub(super) fn window(
    judge: Judge,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
) -> Result<TrustFinding, WhyNotTestable> {
    let [first, .., last] = scan.potential_v else { return Err(WhyNotTestable::TooShort) };
    let (at_start, at_end) = ((first - expected.start_v).abs(), (last - expected.end_v).abs());
    if !(at_start.is_finite() && at_end.is_finite()) {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    Ok(if at_start >= at_end {
        judge.at_most(at_start, limits.window_tolerance_v, 0)
    } else {
        judge.at_most(at_end, limits.window_tolerance_v, scan.potential_v.len() - 1)
    })
}

pub(super) fn step(
    judge: Judge,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> Result<TrustFinding, WhyNotTestable> {
    if !expected.step_v.is_finite() || expected.step_v == 0.0 {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    let found = usual_step_v(scan, workspace)?.abs() / expected.step_v.abs() - 1.0;
    Ok(judge.at_most(found.abs(), limits.step_deviation, 0))
}

/// Each step over the usual one, with the index of its second point.
fn relative_steps<'a>(
    scan: &'a RawScan<'_>,
    workspace: &mut [f64],
) -> Result<impl Iterator<Item = (usize, f64)> + use<'a>, WhyNotTestable> {
    let usual = usual_step_v(scan, workspace)?;
    if usual == 0.0 {
        return Err(WhyNotTestable::NoUsualStep);
    }
    Ok(scan.potential_v.windows(2).enumerate().map(move |(i, two)| (i + 1, (two[1] - two[0]) / usual)))
}

pub(super) fn missing(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> Result<TrustFinding, WhyNotTestable> {
    let mut count = 0.0;
    let mut first = None;
    for (i, step) in relative_steps(scan, workspace)? {
        if step >= 1.5 {
            // The number of whole steps, rounded, less the one that belongs there; absurd gaps saturate.
            count += whole_part(step + 0.5) - 1.0;
            first = first.or(Some(i));
        }
    }
    Ok(judge.at_most(count, f64::from(limits.missing_points), first.unwrap_or(0)))
}

pub(super) fn repeated(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> Result<TrustFinding, WhyNotTestable> {
    let usual = usual_step_v(scan, workspace)?;
    let mut count = 0_u32;
    let mut first = None;
    for (i, two) in scan.potential_v.windows(2).enumerate() {
        let step = (two[1] - two[0]).abs();
        if step < 0.5 * usual.abs() || step == 0.0 {
            count = count.saturating_add(1);
            first = first.or(Some(i + 1));
        }
    }
    Ok(judge.at_most(f64::from(count), f64::from(limits.repeated_points), first.unwrap_or(0)))
}

pub(super) fn non_uniform(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> Result<TrustFinding, WhyNotTestable> {
    let (mut worst, mut at) = (0.0, 0);
    for (i, step) in relative_steps(scan, workspace)? {
        let counted_elsewhere = step >= 1.5 || step.abs() < 0.5;
        let deviation = (step - 1.0).abs();
        if !counted_elsewhere && deviation > worst {
            (worst, at) = (deviation, i);
        }
    }
    Ok(judge.at_most(worst, limits.step_deviation, at))
}
