//! Repair of single outlying points, counted and never silent.

use crate::refusal::{Refusal, SettingName};

/// When a single point counts as a spike; all three must hold.
///
/// With m the median of the two points before and the two after, and d = |point − m|:
/// 1. d > `limit` robust units of the scan, one unit = 1.4826 × the median of d over the scan;
/// 2. d > `min_ratio` × the range (largest − smallest) of the four neighbours;
/// 3. d > `floor_a`, which a converter's step makes necessary (a staircase has a robust unit of zero).
///
/// The second rule keeps real peaks whole: the tip of a parabola stands 0.83 ranges above its neighbours'
/// median, that of a Gaussian of standard deviation 0.7 points 2.4. With the least permitted ratio of 3 no
/// peak wider than 1.65 points at half height is touched. Spikes two points wide are left to the trust checks, and so are
/// the two points at either end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Despike {
    /// Limit in robust units, above 0 (5 is common practice).
    pub limit: f64,
    /// Least ratio to the neighbours' range, at least 3.
    pub min_ratio: f64,
    /// Least height of a spike (A), at least 0; the converter's resolution serves.
    pub floor_a: f64,
}

impl Despike {
    pub(crate) fn check(&self) -> Result<(), Refusal> {
        let refuse = |setting, value| Err(Refusal::SettingNotUsable { setting, value });
        if !(self.limit > 0.0 && self.limit.is_finite()) {
            return refuse(SettingName::DespikeLimit, self.limit);
        }
        if !(self.min_ratio >= 3.0 && self.min_ratio.is_finite()) {
            return refuse(SettingName::DespikeRatio, self.min_ratio);
        }
        if !(self.floor_a >= 0.0 && self.floor_a.is_finite()) {
            return refuse(SettingName::DespikeFloor, self.floor_a);
        }
        Ok(())
    }
}

/// Copies a scan into `repaired`, each spike replaced by the median of its four neighbours; returns how many.
///
/// Judged on the scan as recorded: a repaired point does not influence its neighbours.
///
/// # Units
/// A; `current_a`, `repaired` and `scratch` have one length. Afterwards `scratch` holds the deviations.
///
/// # Errors
/// [`Refusal::LengthsDiffer`], [`Refusal::SettingNotUsable`], [`Refusal::NotFinite`].
///
/// # Source
/// Hampel's identifier (median and 1.4826 × median deviation; Davies & Gather, JASA 88 (1993) 782, from memory);
/// leaving the point itself out and the ratio rule are our own, common practice, no source.
///
/// # Example
/// ```
/// use stillwell_evaluate::{Despike, despike};
/// let rule = Despike { limit: 5.0, min_ratio: 3.0, floor_a: 1e-12 };
/// let scan = [1e-6, 2e-6, 3e-6, 90e-6, 5e-6, 6e-6, 7e-6];
/// let (mut repaired, mut scratch) = ([0.0; 7], [0.0; 7]);
/// assert_eq!(despike(&rule, &scan, &mut repaired, &mut scratch)?, 1);
/// assert!((repaired[3] - 4e-6).abs() < 1e-18);
/// # Ok::<(), stillwell_evaluate::Refusal>(())
/// ```
pub fn despike(
    rule: &Despike,
    current_a: &[f64],
    repaired: &mut [f64],
    scratch: &mut [f64],
) -> Result<usize, Refusal> {
    rule.check()?;
    for found in [repaired.len(), scratch.len()] {
        if found != current_a.len() {
            return Err(Refusal::LengthsDiffer { expected: current_a.len(), found });
        }
    }
    if let Some(index) = crate::blocks::first_not_finite(current_a) {
        return Err(Refusal::NotFinite { index });
    }
    Ok(despike_checked(rule, current_a, repaired, scratch))
}

/// [`despike`] after its checks.
pub(crate) fn despike_checked(
    rule: &Despike,
    current_a: &[f64],
    repaired: &mut [f64],
    scratch: &mut [f64],
) -> usize {
    repaired.copy_from_slice(current_a);
    let inside = current_a.len().saturating_sub(4);
    let Some(deviations) = scratch.get_mut(..inside) else { return 0 };
    for (deviation, points) in deviations.iter_mut().zip(current_a.windows(5)) {
        *deviation = neighbours(points).0;
    }
    let limit_a = rule.limit * 1.4826 * median(deviations);
    let mut changed = 0;
    for (points, out) in current_a.windows(5).zip(repaired.iter_mut().skip(2)) {
        let (deviation, middle, range) = neighbours(points);
        if deviation > limit_a && deviation > rule.min_ratio * range && deviation > rule.floor_a {
            *out = middle;
            changed += 1;
        }
    }
    changed
}

/// |point − median|, median and range of the four points around the middle of five.
fn neighbours(points: &[f64]) -> (f64, f64, f64) {
    let &[a, b, point, c, d] = points else { return (0.0, 0.0, 0.0) };
    let ordered = |x: f64, y: f64| if x <= y { (x, y) } else { (y, x) };
    let ((low1, high1), (low2, high2)) = (ordered(a, b), ordered(c, d));
    let ((lowest, inner1), (inner2, highest)) = (ordered(low1, low2), ordered(high1, high2));
    let middle = 0.5 * inner1 + 0.5 * inner2;
    let deviation = point - middle;
    (if deviation < 0.0 { -deviation } else { deviation }, middle, highest - lowest)
}

/// Median (the mean of the middle two for an even number); reorders the slice. 0.0 for an empty one.
fn median(values: &mut [f64]) -> f64 {
    let n = values.len();
    if n == 0 {
        return 0.0;
    }
    let (below, &mut upper, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return upper;
    }
    let lower = below.iter().fold(f64::NEG_INFINITY, |high, &x| if x > high { x } else { high });
    0.5 * lower + 0.5 * upper
}
