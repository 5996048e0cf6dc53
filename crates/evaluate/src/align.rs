//! Alignment of two scans on one grid: how far is one shifted, and resampling by that shift.

use crate::blocks::{first_not_finite, sum, sum_pairs};
use crate::refusal::{RangeName, Refusal, SettingName};
use crate::settings::IndexRange;

/// How far a scan lies behind a reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// Shift in points: what the reference shows at point i, the scan shows at i + `points`.
    pub points: f64,
    /// Correlation coefficient at the best whole shift; 1 where both have the same shape.
    pub correlation: f64,
    /// The best whole shift lies on the bound: the true one may lie beyond, so it must not be relied on.
    pub at_bound: bool,
}

/// Estimates the shift that makes a scan most like a reference, at most `max_shift` points either way.
///
/// For every whole shift s the correlation coefficient between `reference[i]` and `scan[i + s]` is computed over i in
/// `compared`; it is blind to offset and size, so an old blank or another concentration may serve. The maximum is
/// refined by the parabola through its neighbours.
///
/// # Units
/// Any, on one uniform grid; the result in points (times the step: V).
///
/// # Errors
/// [`Refusal::RangeNotUsable`] unless `compared` has three points and stays inside the scan when shifted;
/// [`Refusal::NotFinite`], [`Refusal::LengthsDiffer`]; [`Refusal::OutOfNumberRange`] where a curve is flat.
///
/// # Source
/// Common practice (normalised cross-correlation), no source.
///
/// # Example
/// ```
/// use stillwell_evaluate::{IndexRange, estimate_shift};
/// let peak = |centre: f64| core::array::from_fn::<f64, 21, _>(|i| {
///     let x = (i as f64 - centre) / 3.0;
///     1.0 / (1.0 + x * x)
/// });
/// let shift = estimate_shift(&peak(10.0), &peak(11.4), 3, IndexRange { first: 3, last: 17 })?;
/// assert!((shift.points - 1.4).abs() < 0.1 && !shift.at_bound);
/// # Ok::<(), stillwell_evaluate::Refusal>(())
/// ```
pub fn estimate_shift(
    reference: &[f64],
    scan: &[f64],
    max_shift: usize,
    compared: IndexRange,
) -> Result<Shift, Refusal> {
    let n = reference.len();
    if scan.len() != n {
        return Err(Refusal::LengthsDiffer { expected: n, found: scan.len() });
    }
    let room = compared.first >= max_shift && compared.last.checked_add(max_shift).is_some_and(|i| i < n);
    if !room || !compared.fits(n) || compared.n_points() < 3 {
        let (first, last) = (compared.first, compared.last);
        return Err(Refusal::RangeNotUsable { range: RangeName::Comparison, first, last });
    }
    if let Some(index) = first_not_finite(reference).or_else(|| first_not_finite(scan)) {
        return Err(Refusal::NotFinite { index });
    }
    // Offsets count from −max_shift: offset k compares with the points k further on.
    let at = |offset: usize| {
        let start = compared.first - max_shift + offset;
        let shifted = IndexRange { first: start, last: start + compared.n_points() - 1 };
        correlation(compared.of(reference), shifted.of(scan))
    };
    let (mut best, mut high) = (0_usize, at(0));
    for offset in 1..=2 * max_shift {
        let here = at(offset);
        // Equal shifts either way: the smaller one.
        if here > high || (here == high && offset.abs_diff(max_shift) < best.abs_diff(max_shift)) {
            (best, high) = (offset, here);
        }
    }
    if !high.is_finite() {
        return Err(Refusal::OutOfNumberRange);
    }
    let whole = best as f64 - max_shift as f64;
    if best == 0 || best == 2 * max_shift {
        return Ok(Shift { points: whole, correlation: high, at_bound: true });
    }
    let (before, after) = (at(best - 1), at(best + 1));
    let curvature = (before - high) + (after - high);
    let part = if curvature < 0.0 { 0.5 * (before - after) / curvature } else { 0.0 };
    Ok(Shift { points: whole + part, correlation: high, at_bound: false })
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len() as f64;
    let (mean_a, mean_b) = (sum(a) / n, sum(b) / n);
    let product = sum_pairs(a, b, |x, y| (x - mean_a) * (y - mean_b));
    let squares_a = sum_pairs(a, a, |x, _| (x - mean_a) * (x - mean_a));
    let squares_b = sum_pairs(b, b, |x, _| (x - mean_b) * (x - mean_b));
    product / (libm::sqrt(squares_a) * libm::sqrt(squares_b))
}

/// Draws a scan back onto the reference's grid: `aligned[i]` = scan at i + `shift_points`, interpolated linearly.
/// Returns the range of points that the scan covers; beyond it `aligned` repeats the nearest covered
/// point and must not be evaluated.
///
/// # Units
/// `shift_points` in points of a uniform grid; slices of one length.
///
/// # Errors
/// [`Refusal::LengthsDiffer`]; [`Refusal::SettingNotUsable`] unless the shift is smaller than the scan;
/// [`Refusal::NotFinite`].
///
/// # Source
/// Common practice, no source.
///
/// # Example
/// ```
/// use stillwell_evaluate::{IndexRange, resample_shifted};
/// let mut aligned = [0.0; 4];
/// let covered = resample_shifted(&[0.0, 10.0, 20.0, 30.0], 0.5, &mut aligned)?;
/// assert_eq!(aligned, [5.0, 15.0, 25.0, 25.0]);
/// assert_eq!(covered, IndexRange { first: 0, last: 2 });
/// # Ok::<(), stillwell_evaluate::Refusal>(())
/// ```
pub fn resample_shifted(scan: &[f64], shift_points: f64, aligned: &mut [f64]) -> Result<IndexRange, Refusal> {
    let n = scan.len();
    if aligned.len() != n {
        return Err(Refusal::LengthsDiffer { expected: n, found: aligned.len() });
    }
    if n < 2 {
        return Err(Refusal::TooFewPoints { found: n, needed: 2 });
    }
    let size = if shift_points < 0.0 { -shift_points } else { shift_points };
    if size.is_nan() || size > (n - 1) as f64 {
        return Err(Refusal::SettingNotUsable { setting: SettingName::Shift, value: shift_points });
    }
    if let Some(index) = first_not_finite(scan) {
        return Err(Refusal::NotFinite { index });
    }
    // Whole points and the fraction of one; counting avoids a conversion that could wrap.
    let whole = (0..n).take_while(|k| (*k as f64) <= size).count() - 1;
    let part = size - whole as f64;
    // Points the scan covers: the outermost is lost when a fraction is needed.
    let n_covered = n - whole - usize::from(part > 0.0);
    let forward = shift_points >= 0.0;
    let first = if forward { 0 } else { n - n_covered };
    for k in 0..n_covered {
        let (near, far) = if forward {
            let near = k + whole;
            (near, if part > 0.0 { near + 1 } else { near })
        } else {
            let near = first + k - whole;
            (near, if part > 0.0 { near - 1 } else { near })
        };
        aligned[first + k] = scan[near] + part * (scan[far] - scan[near]);
    }
    let covered = IndexRange { first, last: first + n_covered - 1 };
    let (low, high) = (aligned[covered.first], aligned[covered.last]);
    aligned[..covered.first].fill(low);
    aligned[covered.last + 1..].fill(high);
    Ok(covered)
}
