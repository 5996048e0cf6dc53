//! Overload marks, and whether there are enough points.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::quantities::{Finite, Quantities};
use super::settings::{ExpectedScan, RawScan, TrustLimits};

pub(super) fn overload(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
    are_finite: &Finite,
) -> TrustFinding {
    let n = scan.current_a.len().max(scan.potential_v.len());
    let finite = |values: &[f64], i: usize| values.get(i).is_none_or(|x| x.is_finite());
    let sound = |i: usize| {
        finite(scan.current_a, i)
            && finite(scan.potential_v, i)
            && finite(scan.forward_a.unwrap_or(&[]), i)
            && finite(scan.reverse_a.unwrap_or(&[]), i)
    };
    let mut count = 0_u32;
    let mut first = usize::MAX;
    let all_sound = are_finite.potential && are_finite.current && are_finite.forward_and_reverse;
    let not_finite = (0..if all_sound { 0 } else { n }).filter(|&i| !sound(i));
    let marked = scan.overload_points.iter().copied().filter(|&i| i < n && sound(i));
    for i in not_finite.chain(marked) {
        count = count.saturating_add(1);
        first = first.min(i);
    }
    let first = if count > 0 { first } else { 0 };
    judge.at_most(f64::from(count), f64::from(limits.overload_points), first)
}

pub(super) fn too_few(judge: Judge, scan: &RawScan<'_>, limits: &TrustLimits) -> TrustFinding {
    judge.at_least(scan.current_a.len() as f64, f64::from(limits.least_points), 0)
}

pub(super) fn too_few_in_peak(
    judge: Judge,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    quantities: &Quantities,
) -> Result<TrustFinding, WhyNotTestable> {
    let half_width_v = expected.half_width_v.ok_or(WhyNotTestable::NotStated)?;
    let window_v = expected.peak_window_v.ok_or(WhyNotTestable::NotStated)?;
    let step_v = quantities.usual_step_v?.abs();
    let window_width_v = (window_v[1] - window_v[0]).abs();
    if !(half_width_v > 0.0 && step_v > 0.0 && window_width_v > 0.0) {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    // Counted in the window and scaled to the half width, so that a gap under the peak counts.
    let (low, high) =
        if window_v[0] < window_v[1] { (window_v[0], window_v[1]) } else { (window_v[1], window_v[0]) };
    let in_window = scan.potential_v.iter().filter(|&&v| v >= low && v <= high).count();
    let first = scan.potential_v.iter().position(|&v| v >= low && v <= high).unwrap_or(0);
    let by_step = half_width_v / step_v;
    let by_count = in_window as f64 * (half_width_v / window_width_v);
    let found = if by_count < by_step { by_count } else { by_step };
    Ok(judge.at_least(found, limits.least_points_per_half_width, first))
}
