//! Deming's line: both ways of measuring have errors.

use crate::comparison::require_pairs;
use crate::distributions::student_t_quantile;
use crate::error::{StatsError, require_in_range, require_probability};
use crate::robust::median;

const MOST_STEPS: usize = 1000;

/// How the errors of both ways grow with the level.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DemingErrors {
    /// The same standard deviation everywhere.
    Constant,
    /// The same relative standard deviation everywhere; all values must be positive.
    Proportional,
}

/// Ends of an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineInterval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A line with errors in both, `y = intercept + slope x`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DemingFit {
    /// Change of y per x; 1 when the two ways agree but for a constant.
    pub slope: f64,
    /// y where x is 0; 0 when the two ways agree but for a factor.
    pub intercept: f64,
    /// Standard error of the slope (jackknife).
    pub slope_error: f64,
    /// Standard error of the intercept (jackknife).
    pub intercept_error: f64,
    /// Covariance of slope and intercept (jackknife).
    pub covariance: f64,
    /// Interval of the slope.
    pub slope_interval: LineInterval,
    /// Interval of the intercept.
    pub intercept_interval: LineInterval,
    /// Pairs minus two.
    pub degrees_of_freedom: usize,
    coverage: f64,
}

impl DemingFit {
    /// How much higher y reads than x at a level of x: the estimate and its interval.
    ///
    /// # Units
    /// `level` in those of x; only levels among the data are supported by them.
    ///
    /// # Source
    /// Linnet 1993, Clin. Chem. 39, 424: difference `a + (b − 1) level` with its jackknife error.
    pub fn difference_at(&self, level: f64) -> (f64, LineInterval) {
        let difference = self.intercept + (self.slope - 1.0) * level;
        let of_slope = self.slope_error * self.slope_error * level * level;
        let variance = self.intercept_error * self.intercept_error + 2.0 * level * self.covariance + of_slope;
        let half = self.t() * libm::sqrt(f64::max(0.0, variance));
        (difference, LineInterval { low: difference - half, high: difference + half })
    }

    fn t(&self) -> f64 {
        student_t_quantile(0.5 + 0.5 * self.coverage, self.degrees_of_freedom as f64)
    }
}

/// Deming regression with jackknife intervals.
///
/// # Units
/// `x`, `y`: one pair a sample, any unit; `variance_ratio`: variance of y's errors over that of x's (1 when both are as
/// precise); with proportional errors the ratio of the relative variances. `coverage` in (0, 1).
///
/// # Errors
/// [`StatsError::TooFewValues`] below four pairs, [`StatsError::LengthMismatch`], [`StatsError::NotFinite`],
/// [`StatsError::NotPositive`] for proportional errors, [`StatsError::SettingNotPositive`],
/// [`StatsError::NotAProbability`], [`StatsError::NoVariation`] when x and y do not go together, [`StatsError::NotSettled`].
///
/// # Source
/// Deming 1943, Statistical Adjustment of Data; jackknife and weights Linnet 1990, Stat. Med. 9, 1463, and Linnet 1993,
/// Clin. Chem. 39, 424.
///
/// # Example
/// ```
/// use stillwell_stats::comparison::{DemingErrors, deming};
/// let ours_mg_per_l = [5.1, 12.3, 20.4, 33.0, 41.2, 48.9];
/// let reference_mg_per_l = [5.0, 12.0, 20.9, 32.1, 42.0, 50.0];
/// let fit = deming(&reference_mg_per_l, &ours_mg_per_l, DemingErrors::Constant, 1.0, 0.95)?;
/// assert!(fit.slope_interval.low < 1.0 && fit.slope_interval.high > 1.0);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn deming(
    x: &[f64],
    y: &[f64],
    errors: DemingErrors,
    variance_ratio: f64,
    coverage: f64,
) -> Result<DemingFit, StatsError> {
    require_pairs(x, y, 4)?;
    require_probability("the coverage", coverage)?;
    if !(variance_ratio > 0.0 && variance_ratio.is_finite()) {
        return Err(StatsError::SettingNotPositive { what: "the ratio of variances", value: variance_ratio });
    }
    if errors == DemingErrors::Proportional {
        for (what, values) in [("x", x), ("y", y)] {
            if let Some((row, &value)) = values.iter().enumerate().find(|(_, v)| **v <= 0.0) {
                return Err(StatsError::NotPositive { what, row, value });
            }
        }
    }
    let line = |x: &[f64], y: &[f64]| match errors {
        DemingErrors::Constant => line(x, y, None, variance_ratio),
        DemingErrors::Proportional => proportional(x, y, variance_ratio),
    };
    let whole = line(x, y)?;
    let n = x.len();
    let without = |values: &[f64], row: usize| [&values[..row], &values[row + 1..]].concat();
    let left_out = (0..n)
        .map(|row| line(&without(x, row), &without(y, row)))
        .collect::<Result<Vec<Line>, StatsError>>()?;
    assembled(whole, &left_out, coverage)
}

/// Slope and intercept.
#[derive(Clone, Copy)]
struct Line {
    slope: f64,
    intercept: f64,
}

/// Pseudovalues: `n whole − (n−1) without`.
fn assembled(whole: Line, left_out: &[Line], coverage: f64) -> Result<DemingFit, StatsError> {
    let n = left_out.len() as f64;
    let pseudo = |whole: f64, without: f64| n * whole - (n - 1.0) * without;
    let slopes: Vec<f64> = left_out.iter().map(|l| pseudo(whole.slope, l.slope)).collect();
    let intercepts: Vec<f64> = left_out.iter().map(|l| pseudo(whole.intercept, l.intercept)).collect();
    let mean = |values: &[f64]| values.iter().sum::<f64>() / n;
    let (slope_mean, intercept_mean) = (mean(&slopes), mean(&intercepts));
    let product = |a: &[f64], b: &[f64], a_mean: f64, b_mean: f64| {
        a.iter().zip(b).map(|(a, b)| (a - a_mean) * (b - b_mean)).sum::<f64>() / (n - 1.0) / n
    };
    let slope_error = libm::sqrt(product(&slopes, &slopes, slope_mean, slope_mean));
    let intercept_error = libm::sqrt(product(&intercepts, &intercepts, intercept_mean, intercept_mean));
    let none = LineInterval { low: f64::NAN, high: f64::NAN };
    let mut fit = DemingFit {
        slope: whole.slope,
        intercept: whole.intercept,
        slope_error,
        intercept_error,
        covariance: product(&slopes, &intercepts, slope_mean, intercept_mean),
        slope_interval: none,
        intercept_interval: none,
        degrees_of_freedom: left_out.len() - 2,
        coverage,
    };
    let t = fit.t();
    let around = |centre: f64, error: f64| LineInterval { low: centre - t * error, high: centre + t * error };
    fit.slope_interval = around(fit.slope, slope_error);
    fit.intercept_interval = around(fit.intercept, intercept_error);
    let ends = [fit.slope_interval.high, fit.intercept_interval.high, fit.intercept, fit.covariance];
    require_in_range("Deming's line", &ends)?;
    Ok(fit)
}

/// The line that minimises `Σ w (distance in y)²/(δ + slope²)`, `δ` the ratio of variances.
fn line(x: &[f64], y: &[f64], weights: Option<&[f64]>, ratio: f64) -> Result<Line, StatsError> {
    let weight = |row: usize| weights.map_or(1.0, |w| w[row]);
    let total: f64 = (0..x.len()).map(weight).sum();
    let mean = |v: &[f64]| v.iter().enumerate().map(|(row, v)| weight(row) * v).sum::<f64>() / total;
    let (x_mean, y_mean) = (mean(x), mean(y));
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (row, (x, y)) in x.iter().zip(y).enumerate() {
        let (dx, dy) = (x - x_mean, y - y_mean);
        xx += weight(row) * dx * dx;
        xy += weight(row) * dx * dy;
        yy += weight(row) * dy * dy;
    }
    require_in_range("a sum of squares", &[xx, xy, yy])?;
    if xy.abs() <= 1e-14 * libm::sqrt(xx * yy) || xx <= 0.0 || yy <= 0.0 {
        return Err(StatsError::NoVariation { what: "y with x", statistic: "Deming's slope" });
    }
    let excess = yy - ratio * xx;
    let root = libm::sqrt(excess * excess + 4.0 * ratio * xy * xy);
    // Of the two equal forms the one that does not subtract.
    let slope = if excess > 0.0 { (excess + root) / (2.0 * xy) } else { 2.0 * ratio * xy / (root - excess) };
    Ok(Line { slope, intercept: y_mean - slope * x_mean })
}

/// Weights one over the square of the estimated level, until the line stands still.
fn proportional(x: &[f64], y: &[f64], ratio: f64) -> Result<Line, StatsError> {
    // Levels relative to the middle one, so that weights are near one.
    let middle = median(x)?;
    let mut levels: Vec<f64> = x.iter().zip(y).map(|(x, y)| 0.5 * (x + y)).collect();
    let mut last: Option<Line> = None;
    for _ in 0..MOST_STEPS {
        let weights: Vec<f64> = levels.iter().map(|level| (middle / level) * (middle / level)).collect();
        let found = line(x, y, Some(&weights), ratio)?;
        let still = |old: f64, new: f64, scale: f64| (old - new).abs() <= 1e-14 * scale;
        if let Some(last) = last
            && still(last.slope, found.slope, found.slope.abs())
            && still(last.intercept, found.intercept, found.intercept.abs() + middle)
        {
            return Ok(found);
        }
        last = Some(found);
        for (level, (x, y)) in levels.iter_mut().zip(x.iter().zip(y)) {
            let distance = y - found.intercept - found.slope * x;
            let share = distance / (ratio + found.slope * found.slope);
            let (on_x, on_y) = (x + found.slope * share, y - ratio * share);
            let estimate = (ratio * on_x + on_y) / (ratio + 1.0);
            // A point far off the line could be put below zero: it keeps a level no lower than a hundredth of its own.
            *level = f64::max(estimate, 0.01 * x);
        }
    }
    Err(StatsError::NotSettled { what: "the weighted line", n_steps: MOST_STEPS })
}
