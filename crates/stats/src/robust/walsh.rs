//! The Hodges–Lehmann centre: the median of the means of all pairs.

use crate::error::StatsError;
use crate::robust::{middle, sorted_finite};

/// More values would need more pairs than is reasonable to sort.
const MOST_VALUES: usize = 5000;

/// Median of the means of all pairs, each value paired with itself too.
///
/// # Units
/// Those of the values.
///
/// # Errors
/// [`StatsError::TooFewValues`] for none, [`StatsError::TooManyValues`] above 5000, [`StatsError::NotFinite`].
///
/// # Source
/// Hodges & Lehmann 1963, Ann. Math. Stat. 34, 598.
///
/// # Example
/// ```
/// assert_eq!(stillwell_stats::robust::hodges_lehmann(&[1.0, 2.0, 3.0, 100.0])?, 2.75);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn hodges_lehmann(values: &[f64]) -> Result<f64, StatsError> {
    if values.len() > MOST_VALUES {
        return Err(StatsError::TooManyValues { what: "the values", found: values.len(), most: MOST_VALUES });
    }
    let sorted = sorted_finite("the values", values, 1)?;
    let mut means: Vec<f64> = Vec::with_capacity(sorted.len() * (sorted.len() + 1) / 2);
    for (i, low) in sorted.iter().enumerate() {
        means.extend(sorted[i..].iter().map(|high| 0.5 * low + 0.5 * high));
    }
    means.sort_by(f64::total_cmp);
    Ok(middle(&means))
}
