//! The generalised test of extreme studentised deviates: several suspects that would hide each other.

use crate::distributions::student_t_quantile;
use crate::error::{StatsError, require_in_range, require_probability};
use crate::outliers::grubbs::{centre_and_sd, largest};

/// One step: the suspect farthest from the mean of those left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExtremeStep {
    /// Its position, counted from 0 as handed in.
    pub suspect: usize,
    /// Its distance from the mean of those left, in their standard deviations.
    pub statistic: f64,
    /// What the statistic may reach.
    pub critical: f64,
}

/// All steps, and how many suspects the test points at.
#[derive(Debug, Clone, PartialEq)]
pub struct ExtremeStudentized {
    /// One a suspect, in the order in which they were set aside for the next step.
    pub steps: Vec<ExtremeStep>,
    /// Suspects of the first this many steps lie beyond: the last step whose statistic exceeds its critical value counts.
    pub n_beyond: usize,
}

/// Up to `most_suspects` outliers without masking.
///
/// # Units
/// Values in any unit; `alpha` in (0, 1). Below 25 values the significance is approximate (below 15 doubtful).
///
/// # Errors
/// [`StatsError::TooFewValues`] when fewer than three values would be left at the last step or no suspect is asked for,
/// [`StatsError::NotFinite`], [`StatsError::NoVariation`] when those left are equal, [`StatsError::NotAProbability`].
///
/// # Source
/// Rosner 1983, Technometrics 25, 165; USEPA 2009, Unified Guidance, 12.4.
///
/// # Example
/// ```
/// let values = [5.1, 4.9, 5.0, 5.2, 4.8, 5.1, 5.0, 9.8, 9.9, 5.0];
/// let test = stillwell_stats::outliers::extreme_studentized_test(&values, 3, 0.05)?;
/// assert_eq!(test.n_beyond, 2);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn extreme_studentized_test(
    values: &[f64],
    most_suspects: usize,
    alpha: f64,
) -> Result<ExtremeStudentized, StatsError> {
    if most_suspects == 0 {
        return Err(StatsError::TooFewValues { what: "the suspects", found: 0, needed: 1 });
    }
    if values.len() < most_suspects.saturating_add(2) {
        let needed = most_suspects.saturating_add(2);
        return Err(StatsError::TooFewValues { what: "the values", found: values.len(), needed });
    }
    require_probability("alpha", alpha)?;
    let mut left: Vec<(usize, f64)> = values.iter().copied().enumerate().collect();
    let mut steps = Vec::with_capacity(most_suspects);
    for _ in 0..most_suspects {
        let plain: Vec<f64> = left.iter().map(|(_, v)| *v).collect();
        let (centre, sd) = centre_and_sd(&plain, "the extreme studentised deviate")?;
        let (place, distance) = largest(plain.iter().map(|v| (v - centre).abs()));
        require_in_range("the extreme studentised deviate", &[distance])?;
        let (suspect, _) = left.remove(place);
        steps.push(ExtremeStep { suspect, statistic: distance / sd, critical: critical(plain.len(), alpha) });
    }
    let n_beyond = steps.iter().rposition(|s| s.statistic > s.critical).map_or(0, |last| last + 1);
    Ok(ExtremeStudentized { steps, n_beyond })
}

/// `(n−1) t/√((n−2+t²) n)` for the `n` values of that step.
fn critical(n: usize, alpha: f64) -> f64 {
    let n = n as f64;
    let t = student_t_quantile(1.0 - alpha / (2.0 * n), n - 2.0);
    (n - 1.0) * t / libm::sqrt((n - 2.0 + t * t) * n)
}
