//! Grubbs' test of the two highest, or the two lowest, together.

use crate::error::{StatsError, require_in_range};
use crate::outliers::OutlierTest;
use crate::outliers::grubbs::centre_and_sd;
use crate::robust::sorted_finite;
use crate::spread::standard_deviation;

/// Which two are under suspicion.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PairSuspects {
    /// The two highest.
    Highest,
    /// The two lowest.
    Lowest,
}

/// Significance over both sides (half of it on each), for which critical values are known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PairSignificance {
    /// 1 %: an outlier, in the words of ISO 5725-2.
    OnePercent,
    /// 5 %: a straggler, in the words of ISO 5725-2.
    FivePercent,
}

/// Sum of squares without the two suspects over the sum of squares of all: small when they lie far out.
///
/// # Units
/// Values in any unit.
///
/// # Errors
/// [`StatsError::NotTabulated`] outside 4 to 40 values, [`StatsError::NotFinite`], [`StatsError::NoVariation`].
///
/// # Source
/// Grubbs 1969, Technometrics 11, 1; ISO 5725-2:1994, 7.3.4.2.
///
/// # Example
/// ```
/// use stillwell_stats::outliers::{PairSignificance, PairSuspects, grubbs_pair_test};
/// let values = [5.1, 5.0, 4.9, 5.2, 5.0, 7.9, 8.0, 5.1];
/// let test = grubbs_pair_test(&values, PairSuspects::Highest, PairSignificance::OnePercent)?;
/// assert!(test.is_beyond && test.suspects == [5, 6]);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn grubbs_pair_test(
    values: &[f64],
    suspects: PairSuspects,
    significance: PairSignificance,
) -> Result<OutlierTest, StatsError> {
    let critical = grubbs_pair_critical(values.len(), significance)?;
    let sorted = sorted_finite("the values", values, FEWEST)?;
    let (_, sd) = centre_and_sd(values, "Grubbs' statistic")?;
    let n = values.len();
    let rest = match suspects {
        PairSuspects::Highest => &sorted[..n - 2],
        PairSuspects::Lowest => &sorted[2..],
    };
    let share = standard_deviation(rest)? / sd;
    require_in_range("Grubbs' statistic", &[share])?;
    let statistic = share * share * (n - 3) as f64 / (n - 1) as f64;
    let mut places: Vec<usize> = (0..n).collect();
    places.sort_by(|&a, &b| f64::total_cmp(&values[a], &values[b]));
    let mut pair = match suspects {
        PairSuspects::Highest => places.split_off(n - 2),
        PairSuspects::Lowest => places[..2].to_vec(),
    };
    pair.sort_unstable();
    Ok(OutlierTest { suspects: pair, statistic, critical, is_beyond: statistic < critical })
}

/// Critical value of [`grubbs_pair_test`]: the statistic points at the pair when it falls below.
///
/// # Units
/// Pure numbers.
///
/// # Errors
/// [`StatsError::NotTabulated`] outside 4 to 40 values.
///
/// # Source
/// ISO 5725-2:1994, table 5, right-hand part. Recomputed: distribution of the ratio by quadrature, the remaining
/// values' largest deviate by the recursion of Grubbs 1950; checked by simulation.
///
/// # Example
/// ```
/// use stillwell_stats::outliers::{PairSignificance, grubbs_pair_critical};
/// assert!((grubbs_pair_critical(10, PairSignificance::FivePercent)? - 0.1864).abs() < 1e-4);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn grubbs_pair_critical(n: usize, significance: PairSignificance) -> Result<f64, StatsError> {
    let row = n.checked_sub(FEWEST).and_then(|at| CRITICAL.get(at));
    let column = match significance {
        PairSignificance::OnePercent => 0,
        PairSignificance::FivePercent => 1,
    };
    let to = FEWEST + CRITICAL.len() - 1;
    row.map(|row| row[column]).ok_or(StatsError::NotTabulated {
        test: "Grubbs' test of two",
        n,
        from: FEWEST,
        to,
    })
}

/// The first row of [`CRITICAL`].
const FEWEST: usize = 4;

/// One row for each number of values from [`FEWEST`] on; columns for 1 % and 5 % over both sides.
const CRITICAL: [[f64; 2]; 37] = [
    [0.00000756, 0.00018908],
    [0.001754, 0.008979],
    [0.011590, 0.034868],
    [0.030793, 0.070838],
    [0.056317, 0.110124],
    [0.085090, 0.149186],
    [0.115018, 0.186452],
    [0.144836, 0.221326],
    [0.173835, 0.253671],
    [0.201642, 0.283564],
    [0.228086, 0.311167],
    [0.253114, 0.336672],
    [0.276740, 0.360274],
    [0.299014, 0.382158],
    [0.320007, 0.402492],
    [0.339796, 0.421428],
    [0.358463, 0.439103],
    [0.376085, 0.455635],
    [0.392739, 0.471132],
    [0.408494, 0.485689],
    [0.423417, 0.499388],
    [0.437569, 0.512305],
    [0.451004, 0.524506],
    [0.463775, 0.536049],
    [0.475929, 0.546988],
    [0.487508, 0.557369],
    [0.498551, 0.567237],
    [0.509096, 0.576628],
    [0.519174, 0.585577],
    [0.528817, 0.594117],
    [0.538051, 0.602274],
    [0.546903, 0.610076],
    [0.555396, 0.617545],
    [0.563551, 0.624703],
    [0.571389, 0.631570],
    [0.578928, 0.638163],
    [0.586185, 0.644500],
];
