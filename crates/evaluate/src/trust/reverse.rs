//! Drift between forward and reverse current.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::level::end_medians;
use super::settings::{RawScan, TrustLimits};

pub(super) fn drift(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> Result<TrustFinding, WhyNotTestable> {
    let (Some(forward_a), Some(reverse_a)) = (scan.forward_a, scan.reverse_a) else {
        return Err(WhyNotTestable::NotStated);
    };
    if forward_a.len() != reverse_a.len() {
        return Err(WhyNotTestable::LengthsDiffer);
    }
    let gaps = forward_a.iter().zip(reverse_a).map(|(f, r)| f - r);
    let (first, last) = end_medians(gaps, forward_a.len(), limits, workspace)?;
    Ok(judge.at_most((last - first).abs(), limits.largest_drift_a, 0))
}
