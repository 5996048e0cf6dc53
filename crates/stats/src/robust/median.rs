//! The median, and the median distance from it.

use crate::error::{StatsError, require_in_range};

/// `1/Φ⁻¹(3/4)`: by it the median absolute deviation of normal values estimates their standard deviation.
///
/// ISO 13528 rounds it to 1.483.
pub const MAD_FACTOR: f64 = 1.482602218505602;

/// Median and median absolute deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MedianSpread {
    /// The middle value; the mean of the middle two for an even number.
    pub median: f64,
    /// Median of the distances from the median, not scaled.
    pub median_absolute_deviation: f64,
    /// [`MAD_FACTOR`] times that: comparable with a standard deviation. 0 when more than half the values are equal.
    pub robust_sd: f64,
}

/// The middle value; the mean of the middle two for an even number.
///
/// # Units
/// Those of the values.
///
/// # Errors
/// [`StatsError::TooFewValues`] for none, [`StatsError::NotFinite`].
///
/// # Source
/// Definition.
///
/// # Example
/// ```
/// assert_eq!(stillwell_stats::robust::median(&[4.0, 1.0, 30.0, 2.0])?, 3.0);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn median(values: &[f64]) -> Result<f64, StatsError> {
    Ok(middle(&sorted_finite("the values", values, 1)?))
}

/// Median, median absolute deviation, and the standard deviation that the latter stands for.
///
/// # Units
/// Those of the values.
///
/// # Errors
/// As [`median`].
///
/// # Source
/// ISO 13528:2015, C.2.2, with the unrounded factor [`MAD_FACTOR`].
///
/// # Example
/// ```
/// let found = stillwell_stats::robust::median_and_spread(&[4.5, 4.9, 5.6, 4.2, 6.2, 5.2, 9.9])?;
/// assert_eq!(found.median, 5.2);
/// assert!((found.robust_sd - 1.0378).abs() < 1e-4);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn median_and_spread(values: &[f64]) -> Result<MedianSpread, StatsError> {
    let median = median(values)?;
    let distances: Vec<f64> = values.iter().map(|v| (v - median).abs()).collect();
    let median_absolute_deviation = middle(&sorted_finite("a distance from the median", &distances, 1)?);
    let robust_sd = MAD_FACTOR * median_absolute_deviation;
    require_in_range("the robust standard deviation", &[robust_sd])?;
    Ok(MedianSpread { median, median_absolute_deviation, robust_sd })
}

/// NaN for none; the caller refuses those.
pub(crate) fn middle(sorted: &[f64]) -> f64 {
    match sorted.len() {
        0 => f64::NAN,
        n if n % 2 == 1 => sorted[n / 2],
        n => 0.5 * sorted[n / 2 - 1] + 0.5 * sorted[n / 2],
    }
}

/// Runs of equal values, in a sorted slice.
pub(crate) fn equal_runs(sorted: &[f64]) -> Vec<&[f64]> {
    // Sorted: so the left is never the larger, and "not smaller" is "equal" (with -0 and 0 alike).
    sorted.chunk_by(|a, b| a >= b).collect()
}

/// A sorted copy, once the values are known to be enough and finite.
pub(crate) fn sorted_finite(
    what: &'static str,
    values: &[f64],
    needed: usize,
) -> Result<Vec<f64>, StatsError> {
    if values.len() < needed {
        return Err(StatsError::TooFewValues { what, found: values.len(), needed });
    }
    if let Some((row, &value)) = values.iter().enumerate().find(|(_, v)| !v.is_finite()) {
        return Err(StatsError::NotFinite { what, row, value });
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    Ok(sorted)
}
