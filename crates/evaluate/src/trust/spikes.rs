//! One or two points that stand out from their neighbours.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::noise::SD_PER_MEDIAN_DEVIATION;
use super::order::{apparent_resolution_a, median_of, middle_and_range_of_four};
use super::settings::{RawScan, TrustLimits};

pub(super) fn spikes(
    judge: Judge,
    scan: &RawScan<'_>,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> Result<TrustFinding, WhyNotTestable> {
    let current_a = scan.current_a;
    if limits.spike_ratio.is_nan() || limits.spike_ratio <= 0.0 {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    let deviations = current_a.windows(5).map(|p| stand_out(p, 1).0);
    let robust = SD_PER_MEDIAN_DEVIATION * median_of(deviations, workspace)?;
    // A staircase has a robust unit of zero: then the unit is its step.
    let step = scan.resolution_a.unwrap_or_else(|| apparent_resolution_a(current_a, 0.0));
    let unit = if robust > step { robust } else { step };
    if unit.is_nan() {
        return Err(WhyNotTestable::NotFinite);
    }
    if unit <= 0.0 {
        // Not even one current differs from the next.
        return Ok(judge.at_most(0.0, limits.spike_units, 0));
    }
    let (mut worst, mut at) = (0.0, 0);
    for width in [1, 2] {
        for (i, points) in current_a.windows(4 + width).enumerate() {
            let (deviation, range) = stand_out(points, width);
            if !(deviation.is_finite() && range.is_finite()) {
                return Err(WhyNotTestable::NotFinite);
            }
            if deviation > limits.spike_ratio * range && deviation / unit > worst {
                (worst, at) = (deviation / unit, i + 2);
            }
        }
    }
    Ok(judge.at_most(worst, limits.spike_units, at))
}

/// How far the inner one or two points stand above, or below, the median of two neighbours on either side; and the range
/// of these neighbours. Two inner points on different sides do not stand out together: zero.
fn stand_out(points: &[f64], width: usize) -> (f64, f64) {
    let (middle, range) =
        middle_and_range_of_four([points[0], points[1], points[2 + width], points[3 + width]]);
    let (one, other) = (points[2] - middle, points[1 + width] - middle);
    let (a, b) = (one.abs(), other.abs());
    let together = (one > 0.0) == (other > 0.0);
    (
        if !together {
            0.0
        } else if a < b {
            a
        } else {
            b
        },
        range,
    )
}
