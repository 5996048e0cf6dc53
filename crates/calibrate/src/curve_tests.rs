//! Tests of a fitted curve: lack of fit, linearity, equal spread, trend with scan number.

use crate::electrode::{ElectrodeMean, ElectrodeTable, level_sum_of_squares, pure_error_sum_of_squares};
use crate::standard::Model;
use stillwell_evaluate::exact_mean;
use stillwell_stats::distributions::{f_quantile, f_sf, student_t_sf};
use stillwell_stats::{Fit, least_squares, polynomial_least_squares};

/// The tests that the data allow; `None` where they do not.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveTests {
    /// Level means against the spread between electrodes; needs a level with two electrodes and a spare level.
    pub lack_of_fit: Option<FTest>,
    /// Line against quadratic of the same intercept; lines with at least 4 electrode means.
    pub linearity: Option<LinearityTest>,
    /// Spread at the two ends of the range; needs two electrodes at both.
    pub spread_at_range_ends: Option<FTest>,
    /// Spread across all levels; needs two electrodes at two levels or more.
    pub spread_across_levels: Option<SpreadTest>,
    /// Signal against scan number within electrodes.
    pub scan_trend_within: Option<TrendTest>,
    /// Residual of electrode means against scan number.
    pub scan_trend_between: Option<TrendTest>,
}

/// A ratio of two variances.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FTest {
    /// The ratio.
    pub f: f64,
    /// Degrees of freedom of the numerator.
    pub numerator_df: f64,
    /// Degrees of freedom of the denominator.
    pub denominator_df: f64,
    /// Chance of a ratio at least this large.
    pub p: f64,
}

impl FTest {
    fn of(numerator: f64, numerator_df: usize, denominator: f64, denominator_df: usize) -> Option<Self> {
        if numerator_df == 0 || denominator_df == 0 {
            return None;
        }
        let (d1, d2) = (numerator_df as f64, denominator_df as f64);
        let f = (numerator / d1) / (denominator / d2);
        f.is_finite().then(|| Self { f, numerator_df: d1, denominator_df: d2, p: f_sf(f, d1, d2) })
    }

    /// Quantile that the ratio is held against at significance `alpha`.
    ///
    /// # Units
    /// None.
    ///
    /// # Source
    /// The F distribution with the two degrees of freedom of the test.
    ///
    /// # Example
    /// ```
    /// # use stillwell_calibrate::FTest;
    /// let test = FTest { f: 3.0, numerator_df: 1.0, denominator_df: 7.0, p: 0.127 };
    /// assert!((test.critical(0.01) - 12.2464).abs() < 1e-4);
    /// ```
    pub fn critical(&self, alpha: f64) -> f64 {
        f_quantile(1.0 - alpha, self.numerator_df, self.denominator_df)
    }
}

/// Mandel's test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinearityTest {
    /// Residual standard deviation of the quadratic.
    pub residual_sd_quadratic_a: f64,
    /// `DS²`, the gain of the quadratic in residual sum of squares.
    pub gain_a2: f64,
    /// `PG = DS² / s²(quadratic)` against F(1; n − 3).
    pub test: FTest,
}

/// Equal spread across levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpreadTest {
    /// Largest variance over the sum of variances, as Cochran's C; of levels with equal numbers of electrodes.
    pub cochran_c: f64,
    /// Levels compared.
    pub n_levels: usize,
    /// Electrodes at each.
    pub electrodes_per_level: usize,
    /// Upper bound of the chance of a C at least this large.
    pub p: f64,
}

/// A straight trend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrendTest {
    /// Change of signal per scan, at unit weight.
    pub slope_a_per_scan: f64,
    /// Slope over its standard error.
    pub t: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Two-sided chance of a slope at least this steep.
    pub p: f64,
}

impl TrendTest {
    fn of(slope: f64, standard_error: f64, degrees_of_freedom: usize) -> Option<Self> {
        let t = slope / standard_error;
        t.is_finite().then(|| Self {
            slope_a_per_scan: slope,
            t,
            degrees_of_freedom,
            p: 2.0 * student_t_sf(t.abs(), degrees_of_freedom as f64),
        })
    }
}

/// Lack of fit: `F = [SS(residual) − SS(pure)] / (levels − p) ÷ SS(pure) / (means − levels)`, on electrode means.
///
/// Source: Draper & Smith, Applied Regression Analysis, 2.1; checked against the cadmium data of Millard & Neerchal 2001.
pub(crate) fn lack_of_fit(table: &ElectrodeTable, weights: &[f64], fit: &Fit) -> Option<FTest> {
    let pure = pure_error_sum_of_squares(table, weights);
    let n_levels = table.n_levels();
    let lack_df = n_levels.checked_sub(fit.coefficients.len())?;
    let lack = (fit.residual_sum_of_squares - pure).max(0.0);
    FTest::of(lack, lack_df, pure, table.means.len() - n_levels)
}

/// Mandel's test of a line against a quadratic with the same weights.
///
/// Source: ISO 8466-1:1990, 5.3 (from memory): `DS² = (n−2) s1² − (n−3) s2²`, `PG = DS²/s2²`, F(1; n−3).
pub(crate) fn linearity(
    levels: &[f64],
    signals: &[f64],
    weights: &[f64],
    model: Model,
    line: &Fit,
) -> Option<LinearityTest> {
    let exponents: &[u32] = match model {
        Model::Line => &[0, 1, 2],
        Model::LineThroughOrigin => &[1, 2],
        Model::Quadratic => return None,
    };
    let quadratic = polynomial_least_squares(levels, signals, exponents, Some(weights)).ok()?;
    let gain_a2 = (line.residual_sum_of_squares - quadratic.residual_sum_of_squares).max(0.0);
    let test = FTest::of(gain_a2, 1, quadratic.residual_sum_of_squares, quadratic.degrees_of_freedom)?;
    Some(LinearityTest { residual_sd_quadratic_a: quadratic.residual_sd, gain_a2, test })
}

/// Variance ratio of the two ends, larger over smaller, each weighted by its own weight.
///
/// Source: ISO 8466-1:1990, 4.1 (from memory), there with ten replicates at each end.
pub(crate) fn spread_at_range_ends(table: &ElectrodeTable, weights: &[f64]) -> Option<FTest> {
    let lowest = table.levels().next()?;
    let highest = table.levels().last()?;
    let low = level_sum_of_squares(lowest) * weights.first()?;
    let high = level_sum_of_squares(highest) * weights.last()?;
    let (low_df, high_df) = (lowest.len() - 1, highest.len() - 1);
    if low / (low_df as f64) > high / (high_df as f64) {
        FTest::of(low, low_df, high, high_df)
    } else {
        FTest::of(high, high_df, low, low_df)
    }
}

/// Cochran's test over the levels that have the most common number of electrodes, each variance times its weight.
///
/// Source: ISO 5725-2:1994, 7.3.3; the chance is bounded by `L P(F(ν; (L−1)ν) ≥ (L−1) C/(1−C))`.
pub(crate) fn spread_across_levels(table: &ElectrodeTable, weights: &[f64]) -> Option<SpreadTest> {
    let electrodes_per_level = most_common_count(table)?;
    let (mut start, mut n_levels) = (0, 0);
    let (mut total, mut largest) = (0.0, 0.0);
    for level in table.levels() {
        let weight = weights.get(start)?;
        start += level.len();
        if level.len() == electrodes_per_level {
            let squares = weight * level_sum_of_squares(level);
            n_levels += 1;
            total += squares;
            largest = f64::max(largest, squares);
        }
    }
    let cochran_c = largest / total;
    if n_levels < 2 || !cochran_c.is_finite() {
        return None;
    }
    let (groups, df) = (n_levels as f64, (electrodes_per_level - 1) as f64);
    let others = groups - 1.0;
    let ratio = others * largest / (total - largest);
    let p = if ratio.is_finite() { (groups * f_sf(ratio, df, others * df)).min(1.0) } else { 0.0 };
    Some(SpreadTest { cochran_c, n_levels, electrodes_per_level, p })
}

/// Number of electrodes, two or more, that most levels have; the larger one where two are as common.
fn most_common_count(table: &ElectrodeTable) -> Option<usize> {
    let counts: Vec<usize> = table.levels().map(<[ElectrodeMean]>::len).filter(|&n| n > 1).collect();
    counts.iter().copied().max_by_key(|n| (counts.iter().filter(|m| *m == n).count(), *n))
}

/// Trend of scans within their electrodes: both signal and scan number counted from their electrode's mean.
///
/// Source: analysis of covariance with electrodes as groups, e.g. Draper & Smith, 14; common practice.
pub(crate) fn scan_trend_within(table: &ElectrodeTable, weights: &[f64]) -> Option<TrendTest> {
    let (mut zz, mut zd, mut dd, mut df) = (0.0, 0.0, 0.0, 0_usize);
    for (mean, weight) in table.means.iter().zip(weights) {
        let Some(numbers) = scan_numbers(mean) else { continue };
        let centre = exact_mean(&numbers);
        for (number, scan) in numbers.iter().zip(&mean.scans) {
            let (z, d) = (number - centre, scan.signal_a - mean.mean_signal_a);
            zz += weight * z * z;
            zd += weight * z * d;
            dd += weight * d * d;
        }
        df += numbers.len() - 1;
    }
    let df = df.checked_sub(1).filter(|df| *df > 1)?;
    let slope = zd / zz;
    let residual_variance = (dd - slope * zd).max(0.0) / df as f64;
    TrendTest::of(slope, libm::sqrt(residual_variance / zz), df)
}

/// Trend of electrode means with scan number: its coefficient when added to the curve's own columns.
///
/// `None` when the scan number follows from the level (levels measured in rising order): then the trend cannot be told
/// from the curve.
pub(crate) fn scan_trend_between(
    table: &ElectrodeTable,
    weights: &[f64],
    exponents: &[u32],
) -> Option<TrendTest> {
    let numbers: Option<Vec<f64>> =
        table.means.iter().map(|mean| scan_numbers(mean).map(|numbers| exact_mean(&numbers))).collect();
    let numbers = numbers?;
    let centre = exact_mean(&numbers);
    let top = table.means.last()?.level;
    let design: Vec<Vec<f64>> = table
        .means
        .iter()
        .zip(&numbers)
        .map(|(mean, number)| {
            let x = mean.level / top;
            let mut row: Vec<f64> = exponents.iter().map(|e| [1.0, x, x * x][*e as usize]).collect();
            row.push(number - centre);
            row
        })
        .collect();
    let signals: Vec<f64> = table.means.iter().map(|m| m.mean_signal_a).collect();
    let fit = least_squares(&design, &signals, Some(weights)).ok()?;
    TrendTest::of(*fit.coefficients.last()?, *fit.standard_errors.last()?, fit.degrees_of_freedom)
}

fn scan_numbers(mean: &ElectrodeMean) -> Option<Vec<f64>> {
    mean.scans.iter().map(|scan| scan.scan_number.map(f64::from)).collect()
}
