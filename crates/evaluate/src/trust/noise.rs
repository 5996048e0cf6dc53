//! Noise of the raw scan, seen through third differences.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::order::median_of_sizes;
use super::quantities::Quantities;
use super::settings::TrustLimits;

/// Median absolute deviation to standard deviation of a normal distribution: 1/Φ⁻¹(3/4).
pub(super) const SD_PER_MEDIAN_DEVIATION: f64 = 1.482602218505602;
/// √(1 + 9 + 9 + 1): what third differences make of independent noise.
const THIRD_DIFFERENCE_GAIN: f64 = 4.472135954999579;

pub(super) fn noise(
    judge: Judge,
    limits: &TrustLimits,
    quantities: &Quantities,
) -> Result<TrustFinding, WhyNotTestable> {
    Ok(judge.at_most(quantities.noise_sd_a?, limits.largest_noise_a, 0))
}

/// `1.4826 median |Δ³| / √20`: slopes and bends drop out, peaks and spikes touch few of the differences.
#[inline(always)]
pub(super) fn noise_sd_a(current_a: &[f64], workspace: &mut [f64]) -> Result<f64, WhyNotTestable> {
    let thirds = current_a.windows(4).map(|p| ((p[3] - p[0]) - 3.0 * (p[2] - p[1])).abs());
    Ok(SD_PER_MEDIAN_DEVIATION * median_of_sizes(thirds, workspace)? / THIRD_DIFFERENCE_GAIN)
}
