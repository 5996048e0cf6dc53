//! Pickup of the mains, looked for at the frequency to which the sampling folds it.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::order::whole_part;
use super::quantities::Quantities;
use super::settings::{ExpectedScan, RawScan, TrustLimits};
use libm::sqrt;

/// The mains frequency and, frozen by the caller since the kernel has no cosine, the turn from one point to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MainsConstants {
    /// Mains frequency (Hz): 50 or 60.
    pub mains_hz: f64,
    /// cos(2π c), with c from [`mains_cycles_per_point`].
    pub cos_per_point: f64,
    /// sin(2π c).
    pub sin_per_point: f64,
}

/// Cycles of the mains from one point to the next after folding: 0 to 0.5. None when the interval or frequency is no positive
/// number, or so long that the fraction is lost.
///
/// # Units
/// `interval_s` in s, `mains_hz` in Hz; result in cycles per point.
///
/// # Source
/// Sampling theorem (Shannon 1949); folding: from memory.
///
/// # Example
/// ```
/// use stillwell_evaluate::mains_cycles_per_point;
/// assert_eq!(mains_cycles_per_point(0.04, 50.0), Some(0.0));
/// assert!((mains_cycles_per_point(0.01, 60.0).unwrap() - 0.4).abs() < 1e-15);
/// ```
pub fn mains_cycles_per_point(interval_s: f64, mains_hz: f64) -> Option<f64> {
    let cycles = interval_s * mains_hz;
    if !(interval_s > 0.0 && mains_hz > 0.0 && cycles <= 1e9) {
        return None;
    }
    let fraction = cycles - whole_part(cycles);
    Some(if fraction > 0.5 { 1.0 - fraction } else { fraction })
}

/// Cycles of the fold within the peak's half width from which on the peak itself no longer shows at that frequency.
const CYCLES_PER_HALF_WIDTH: f64 = 1.75;
/// Cycles per point asked for where no half width is stated.
const CYCLES_PER_POINT: f64 = 0.1;

pub(super) fn pickup(
    judge: Judge,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    quantities: &Quantities,
) -> Result<TrustFinding, WhyNotTestable> {
    let mains = expected.mains.ok_or(WhyNotTestable::NotStated)?;
    let interval_s = scan.interval_s.ok_or(WhyNotTestable::NotStated)?;
    let cycles = mains_cycles_per_point(interval_s, mains.mains_hz).ok_or(WhyNotTestable::LimitNotUsable)?;
    let slowest = match expected.half_width_v {
        Some(half_width_v) => CYCLES_PER_HALF_WIDTH * quantities.usual_step_v?.abs() / half_width_v.abs(),
        None => CYCLES_PER_POINT,
    };
    if cycles == 0.0 || cycles < slowest || slowest.is_nan() {
        return Err(WhyNotTestable::MainsFoldsTooSlow);
    }
    let length = mains.cos_per_point * mains.cos_per_point + mains.sin_per_point * mains.sin_per_point;
    if !length.is_finite() || (length - 1.0).abs() > 1e-12 {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    let found = amplitude_a(scan.current_a, mains)?;
    Ok(judge.at_most(found, limits.largest_mains_a, 0))
}

/// Amplitude of the one frequency in the second differences, divided by what these make of it.
///
/// Second differences take away offset and slope; a parabolic window keeps the scan's ends from showing at the frequency.
fn amplitude_a(current_a: &[f64], mains: MainsConstants) -> Result<f64, WhyNotTestable> {
    let n = current_a.len();
    if n < 18 {
        return Err(WhyNotTestable::TooShort);
    }
    let gain = 2.0 - 2.0 * mains.cos_per_point;
    let centre = 0.5 * (n as f64 - 3.0);
    let (mut in_phase, mut across, mut weights) = (0.0, 0.0, 0.0);
    let (mut cos, mut sin) = (1.0, 0.0);
    for (i, p) in current_a.windows(3).enumerate() {
        let from_centre = (i as f64 - centre) / (centre + 1.0);
        let weight = 1.0 - from_centre * from_centre;
        let bend = weight * ((p[2] - p[1]) - (p[1] - p[0]));
        in_phase += bend * cos;
        across += bend * sin;
        weights += weight;
        let turned = cos * mains.cos_per_point - sin * mains.sin_per_point;
        sin = cos * mains.sin_per_point + sin * mains.cos_per_point;
        cos = turned;
    }
    // Half of a real wave's amplitude lies at the frequency, half at its negative; at two points a cycle they coincide.
    let share = if mains.cos_per_point < -1.0 + 1e-12 { 1.0 } else { 2.0 };
    Ok(share * sqrt(in_phase * in_phase + across * across) / weights / gain)
}
