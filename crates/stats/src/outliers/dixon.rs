//! Dixon's ratios: the gap beside a suspect over the range.

use crate::error::{StatsError, require_in_range};
use crate::outliers::OutlierTest;
use crate::outliers::dixon_table::{CRITICAL, FEWEST};
use crate::outliers::grubbs::Suspect;
use crate::robust::sorted_finite;

/// Significance of one tail, for which critical values are known; both ends together have twice that.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DixonSignificance {
    /// 5 % in one tail (10 % for whichever end).
    FivePercent,
    /// 2.5 % in one tail (5 % for whichever end).
    TwoAndAHalfPercent,
    /// 1 % in one tail (2 % for whichever end).
    OnePercent,
    /// 0.5 % in one tail (1 % for whichever end).
    HalfAPercent,
}

/// Dixon's test of one suspect, with the ratio that suits the number of values: r10 for 3 to 7, r11 for 8 to 10, r21 for
/// 11 to 13, r22 for 14 to 25.
///
/// # Units
/// Values in any unit.
///
/// # Errors
/// [`StatsError::NotTabulated`] outside 3 to 25 values, [`StatsError::NotFinite`], [`StatsError::NoVariation`].
///
/// # Source
/// Dixon 1953, Biometrics 9, 74; critical values recomputed, see [`dixon_critical`].
///
/// # Example
/// ```
/// use stillwell_stats::outliers::{DixonSignificance, Suspect, dixon_test};
/// let nitrite_mg_per_l = [0.403, 0.410, 0.401, 0.380, 0.400, 0.413, 0.408];
/// let test = dixon_test(&nitrite_mg_per_l, Suspect::Farthest, DixonSignificance::TwoAndAHalfPercent)?;
/// assert!(test.is_beyond && test.suspects == [3]);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn dixon_test(
    values: &[f64],
    suspect: Suspect,
    significance: DixonSignificance,
) -> Result<OutlierTest, StatsError> {
    let critical = dixon_critical(values.len(), significance)?;
    let sorted = sorted_finite("the values", values, FEWEST)?;
    require_in_range("the range", &[sorted[sorted.len() - 1] - sorted[0]])?;
    let mirrored: Vec<f64> = sorted.iter().rev().map(|v| -v).collect();
    let (lowest, highest) = (ratio(&sorted), ratio(&mirrored));
    let is_highest = match suspect {
        Suspect::Highest => true,
        Suspect::Lowest => false,
        Suspect::Farthest => highest > lowest,
    };
    let statistic = if is_highest { highest } else { lowest };
    let sought = if is_highest { sorted[sorted.len() - 1] } else { sorted[0] };
    let suspects: Vec<usize> = values.iter().position(|v| v.total_cmp(&sought).is_eq()).into_iter().collect();
    if statistic.is_nan() {
        return Err(StatsError::NoVariation { what: "the sample", statistic: "Dixon's ratio" });
    }
    Ok(OutlierTest { suspects, statistic, critical, is_beyond: statistic > critical })
}

/// Critical value of [`dixon_test`] for `n` values.
///
/// # Units
/// Pure numbers.
///
/// # Errors
/// [`StatsError::NotTabulated`] outside 3 to 25 values.
///
/// # Source
/// Recomputed by integrating the joint density of the order statistics (exact to about 1e-6); the tables of Rorabacher
/// 1991, Anal. Chem. 63, 139, are up to 0.006 off these.
///
/// # Example
/// ```
/// use stillwell_stats::outliers::{DixonSignificance, dixon_critical};
/// assert!((dixon_critical(5, DixonSignificance::TwoAndAHalfPercent)? - 0.710).abs() < 5e-4);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn dixon_critical(n: usize, significance: DixonSignificance) -> Result<f64, StatsError> {
    let row = n.checked_sub(FEWEST).and_then(|at| CRITICAL.get(at));
    let column = match significance {
        DixonSignificance::FivePercent => 0,
        DixonSignificance::TwoAndAHalfPercent => 1,
        DixonSignificance::OnePercent => 2,
        DixonSignificance::HalfAPercent => 3,
    };
    let to = FEWEST + CRITICAL.len() - 1;
    row.map(|row| row[column]).ok_or(StatsError::NotTabulated { test: "Dixon's test", n, from: FEWEST, to })
}

/// Gap over range for the lowest of the sorted values.
fn ratio(sorted: &[f64]) -> f64 {
    let n = sorted.len();
    let (gap, left_out_above) = match n {
        0..=7 => (1, 0),
        8..=10 => (1, 1),
        11..=13 => (2, 1),
        _ => (2, 2),
    };
    let range = sorted[n - 1 - left_out_above] - sorted[0];
    let distance = sorted[gap] - sorted[0];
    // Equal values at one end and nothing beside them: no gap to speak of.
    if range <= 0.0 && sorted[n - 1] > sorted[0] { 0.0 } else { distance / range }
}
