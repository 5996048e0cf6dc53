//! Grubbs' test: one suspect, or two at opposite ends.

use crate::distributions::student_t_quantile;
use crate::error::{StatsError, require_in_range, require_probability};
use crate::outliers::OutlierTest;
use crate::spread::{mean, standard_deviation};

/// Which value was under suspicion before anybody looked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Suspect {
    /// Only the highest could be wrong: one-sided.
    Highest,
    /// Only the lowest could be wrong: one-sided.
    Lowest,
    /// Whichever lies further from the mean: two-sided, as ISO 5725-2 does it.
    Farthest,
}

/// Grubbs' test of one suspect: its distance from the mean in standard deviations.
///
/// # Units
/// Values in any unit; `alpha` in (0, 1) for the whole test.
///
/// # Errors
/// [`StatsError::TooFewValues`] below three, [`StatsError::NotFinite`], [`StatsError::NoVariation`],
/// [`StatsError::NotAProbability`].
///
/// # Source
/// Grubbs 1969, Technometrics 11, 1; ISO 5725-2:1994, 7.3.4.
///
/// # Example
/// ```
/// use stillwell_stats::outliers::{Suspect, grubbs_test};
/// let nitrite_mg_per_l = [0.403, 0.410, 0.401, 0.380, 0.400, 0.413, 0.408];
/// let test = grubbs_test(&nitrite_mg_per_l, Suspect::Farthest, 0.05)?;
/// assert!(test.is_beyond && test.suspects == [3]);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn grubbs_test(values: &[f64], suspect: Suspect, alpha: f64) -> Result<OutlierTest, StatsError> {
    let critical = grubbs_critical(values.len(), suspect, alpha)?;
    let (centre, sd) = centre_and_sd(values, "Grubbs' statistic")?;
    let distance = |value: f64| match suspect {
        Suspect::Highest => value - centre,
        Suspect::Lowest => centre - value,
        Suspect::Farthest => (value - centre).abs(),
    };
    let (at, farthest) = largest(values.iter().map(|&v| distance(v)));
    let statistic = farthest / sd;
    require_in_range("Grubbs' statistic", &[statistic])?;
    Ok(OutlierTest { suspects: vec![at], statistic, critical, is_beyond: statistic > critical })
}

/// Critical value of [`grubbs_test`]: `(n−1)/√n · √(t²/(n−2+t²))` with `t` at `1 − α/n`, two-sided at `1 − α/(2n)`.
///
/// # Units
/// `n` values; `alpha` in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] below three, [`StatsError::NotAProbability`].
///
/// # Source
/// Grubbs 1969; ISO 5725-2:1994, table 5. The formula bounds the significance from above and is exact where two
/// values cannot both lie beyond it.
///
/// # Example
/// ```
/// use stillwell_stats::outliers::{Suspect, grubbs_critical};
/// assert!((grubbs_critical(10, Suspect::Farthest, 0.05)? - 2.290).abs() < 5e-4);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn grubbs_critical(n: usize, suspect: Suspect, alpha: f64) -> Result<f64, StatsError> {
    require_design(n, alpha)?;
    let count = n as f64;
    let tails = if suspect == Suspect::Farthest { 2.0 * count } else { count };
    let t = student_t_quantile(1.0 - alpha / tails, count - 2.0);
    Ok((count - 1.0) / libm::sqrt(count) * share_of_t(t, count - 2.0))
}

/// Test of the lowest and the highest together: the range in standard deviations.
///
/// # Units
/// As [`grubbs_test`].
///
/// # Errors
/// As [`grubbs_test`].
///
/// # Source
/// Grubbs 1950, Ann. Math. Stat. 21, 27; David, Hartley & Pearson 1954, Biometrika 41, 482.
///
/// # Example
/// ```
/// let test = stillwell_stats::outliers::grubbs_range_test(&[0.1, 5.0, 5.1, 4.9, 5.0, 9.9], 0.05)?;
/// assert!(test.is_beyond && test.suspects == [0, 5]);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn grubbs_range_test(values: &[f64], alpha: f64) -> Result<OutlierTest, StatsError> {
    let critical = grubbs_range_critical(values.len(), alpha)?;
    let (_, sd) = centre_and_sd(values, "the range in standard deviations")?;
    let (highest_at, highest) = largest(values.iter().copied());
    let (lowest_at, minus_lowest) = largest(values.iter().map(|v| -v));
    require_in_range("the range", &[highest + minus_lowest])?;
    let statistic = (highest + minus_lowest) / sd;
    let suspects = vec![lowest_at, highest_at];
    Ok(OutlierTest { suspects, statistic, critical, is_beyond: statistic > critical })
}

/// Critical value of [`grubbs_range_test`]: `√(2 (n−1) t²/(n−2+t²))` with `t` at `1 − α/(n(n−1))`.
///
/// # Units
/// As [`grubbs_critical`].
///
/// # Errors
/// As [`grubbs_critical`].
///
/// # Source
/// The difference of any two values over their standard deviation follows from Student's t with `n − 2`; bounded over all
/// pairs.
///
/// # Example
/// ```
/// assert!((stillwell_stats::outliers::grubbs_range_critical(10, 0.05)? - 3.6846).abs() < 1e-3);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn grubbs_range_critical(n: usize, alpha: f64) -> Result<f64, StatsError> {
    require_design(n, alpha)?;
    let count = n as f64;
    let t = student_t_quantile(1.0 - alpha / (count * (count - 1.0)), count - 2.0);
    Ok(libm::sqrt(2.0 * (count - 1.0)) * share_of_t(t, count - 2.0))
}

/// `√(t²/(df + t²))`.
fn share_of_t(t: f64, df: f64) -> f64 {
    t / libm::sqrt(df + t * t)
}

fn require_design(n: usize, alpha: f64) -> Result<(), StatsError> {
    if n < 3 {
        return Err(StatsError::TooFewValues { what: "the values", found: n, needed: 3 });
    }
    require_probability("alpha", alpha)
}

pub(super) fn centre_and_sd(values: &[f64], statistic: &'static str) -> Result<(f64, f64), StatsError> {
    let sd = standard_deviation(values)?;
    require_in_range("the standard deviation", &[sd])?;
    if sd <= 0.0 {
        return Err(StatsError::NoVariation { what: "the sample", statistic });
    }
    Ok((mean(values)?, sd))
}

/// The first position of the largest.
pub(super) fn largest(values: impl Iterator<Item = f64>) -> (usize, f64) {
    let start = (0, f64::NEG_INFINITY);
    values.enumerate().fold(start, |best, (at, value)| if value > best.1 { (at, value) } else { best })
}
