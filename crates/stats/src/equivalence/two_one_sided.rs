//! Two one-sided tests of a mean, a difference, and a ratio.

use crate::comparison::VarianceOfMean;
use crate::distributions::{student_t_quantile, student_t_sf};
use crate::error::{StatsError, require_in_range};

/// Between these ends a difference (or a ratio) does not matter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Margins {
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

impl Margins {
    pub(super) fn require(self) -> Result<Self, StatsError> {
        let Self { lower, upper } = self;
        if lower < upper && lower.is_finite() && upper.is_finite() {
            Ok(self)
        } else {
            Err(StatsError::EndsReversed { what: "the margins", lower, upper })
        }
    }
}

/// What two one-sided tests found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EquivalenceTest {
    /// The difference or the ratio.
    pub estimate: f64,
    /// Lower end of the interval with coverage `1 − 2 alpha`; minus infinity when the data bound no ratio.
    pub low: f64,
    /// Upper end of that interval; infinity when the data bound no ratio.
    pub high: f64,
    /// p value of "not above the lower margin".
    pub p_lower: f64,
    /// p value of "not below the upper margin".
    pub p_upper: f64,
    /// Degrees of freedom of the estimate's standard error.
    pub degrees_of_freedom: f64,
    /// Both p values are below `alpha`: equivalence is shown. Otherwise it is not shown, which is not "different".
    pub is_shown: bool,
}

/// Is the mean equal to `target` within the margins of `mean − target`? For pairs hand in the differences and 0.
///
/// # Units
/// Values, target and margins in one unit; `alpha` below 0.5, usually 0.05.
///
/// # Errors
/// [`StatsError::TooFewValues`] below two, [`StatsError::NotFinite`], [`StatsError::NoVariation`] when all values are equal,
/// [`StatsError::EndsReversed`], [`StatsError::SettingOutside`], [`StatsError::OutOfRange`].
///
/// # Source
/// Schuirmann 1987, J. Pharmacokinet. Biopharm. 15, 657.
///
/// # Example
/// ```
/// use stillwell_stats::equivalence::{Margins, equivalent_mean};
/// let test = equivalent_mean(&[50.3, 49.8, 50.4, 50.1, 49.9], 50.0, Margins { lower: -1.0, upper: 1.0 }, 0.05)?;
/// assert!(test.is_shown && test.low > -1.0 && test.high < 1.0);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn equivalent_mean(
    values: &[f64],
    target: f64,
    margins: Margins,
    alpha: f64,
) -> Result<EquivalenceTest, StatsError> {
    if !target.is_finite() {
        return Err(StatsError::NotFinite { what: "the target", row: 0, value: target });
    }
    let found = VarianceOfMean::new(values)?;
    of_difference(found.mean - target, found.error, values.len() as f64 - 1.0, margins, alpha)
}

/// Are the means of two groups equal within the margins of `mean(tested) − mean(reference)`? Spreads may differ.
///
/// # Units
/// As [`equivalent_mean`].
///
/// # Errors
/// As [`equivalent_mean`].
///
/// # Source
/// Schuirmann 1987, with Welch's standard error: Dannenberg, Dette & Munk 1994, Stat. Med. 13, 1635.
///
/// # Example
/// ```
/// use stillwell_stats::equivalence::{Margins, equivalent_means};
/// let (reference, tested) = ([10.1, 9.9, 10.0, 10.2], [10.0, 10.3, 10.1, 10.1]);
/// let test = equivalent_means(&tested, &reference, Margins { lower: -0.4, upper: 0.4 }, 0.05)?;
/// assert!(test.is_shown && (test.estimate - 0.075).abs() < 1e-12);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn equivalent_means(
    tested: &[f64],
    reference: &[f64],
    margins: Margins,
    alpha: f64,
) -> Result<EquivalenceTest, StatsError> {
    let (tested, reference) = (VarianceOfMean::new(tested)?, VarianceOfMean::new(reference)?);
    let (error, df) = tested.plus(1.0, reference);
    of_difference(tested.mean - reference.mean, error, df, margins, alpha)
}

/// Is the ratio `mean(tested)/mean(reference)` within the margins, such as 0.95 and 1.05? Spreads may differ.
///
/// # Units
/// Values of both groups in one unit, with a positive reference mean; margins are positive ratios.
///
/// # Errors
/// As [`equivalent_mean`]; [`StatsError::SettingNotPositive`] for a lower margin or a reference mean that is not positive.
///
/// # Source
/// Sasabuchi 1980, Biometrika 67, 429; degrees of freedom at each margin by Welch & Satterthwaite: Tamhane & Logan 2004,
/// Biom. J. 46, 300. The interval holds the ratios that neither one-sided test refuses (Fieller).
///
/// # Example
/// ```
/// use stillwell_stats::equivalence::{Margins, equivalent_ratio};
/// let (reference, tested) = ([101.0, 99.0, 100.0, 102.0, 98.0], [97.0, 100.0, 99.0, 98.0, 101.0]);
/// let test = equivalent_ratio(&tested, &reference, Margins { lower: 0.95, upper: 1.05 }, 0.05)?;
/// assert!(test.is_shown && (test.estimate - 0.99).abs() < 1e-12);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn equivalent_ratio(
    tested: &[f64],
    reference: &[f64],
    margins: Margins,
    alpha: f64,
) -> Result<EquivalenceTest, StatsError> {
    let Margins { lower, upper } = margins.require()?;
    require_alpha(alpha)?;
    let (tested, reference) = (VarianceOfMean::new(tested)?, VarianceOfMean::new(reference)?);
    for (what, value) in [("the lower margin of a ratio", lower), ("the reference's mean", reference.mean)] {
        if value <= 0.0 {
            return Err(StatsError::SettingNotPositive { what, value });
        }
    }
    if tested.error <= 0.0 && reference.error <= 0.0 {
        return Err(StatsError::NoVariation { what: "either group", statistic: "the test of equivalence" });
    }
    // How far the ratio lies above a supposed one, in standard errors.
    let above = |ratio: f64| {
        let (error, df) = reference.plus(ratio, tested);
        ((tested.mean - ratio * reference.mean) / error, df)
    };
    let ((t_lower, df_lower), (t_upper, df_upper)) = (above(lower), above(upper));
    let (p_lower, p_upper) = (student_t_sf(t_lower, df_lower), student_t_sf(-t_upper, df_upper));
    let estimate = tested.mean / reference.mean;
    require_in_range("the ratio", &[estimate, t_lower, t_upper])?;
    let within = |ratio: f64, sign: f64| {
        let (t, df) = above(ratio);
        sign * t < student_t_quantile(1.0 - alpha, df)
    };
    Ok(EquivalenceTest {
        estimate,
        low: outermost(estimate, -1.0, |ratio| within(ratio, 1.0)),
        high: outermost(estimate, 1.0, |ratio| within(ratio, -1.0)),
        p_lower,
        p_upper,
        degrees_of_freedom: above(estimate).1,
        is_shown: p_lower < alpha && p_upper < alpha,
    })
}

/// The farthest value in that direction that still holds; infinite when there is no end.
fn outermost(start: f64, direction: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let mut step = 1e-3 * (start.abs() + 1.0);
    let (mut inside, mut outside) = (start, start + direction * step);
    while holds(outside) {
        inside = outside;
        step *= 2.0;
        outside = start + direction * step;
        if step > 1e9 * (start.abs() + 1.0) || outside.is_infinite() {
            return direction * f64::INFINITY;
        }
    }
    for _ in 0..MOST_HALVINGS {
        let middle = 0.5 * inside + 0.5 * outside;
        if holds(middle) {
            inside = middle;
        } else {
            outside = middle;
        }
    }
    inside
}

/// More than a float has digits, counted from the widest step.
const MOST_HALVINGS: u32 = 100;

fn of_difference(
    difference: f64,
    error: f64,
    df: f64,
    margins: Margins,
    alpha: f64,
) -> Result<EquivalenceTest, StatsError> {
    let Margins { lower, upper } = margins.require()?;
    require_alpha(alpha)?;
    if error <= 0.0 {
        return Err(StatsError::NoVariation { what: "the sample", statistic: "the test of equivalence" });
    }
    let half = student_t_quantile(1.0 - alpha, df) * error;
    let (low, high) = (difference - half, difference + half);
    require_in_range("the difference", &[low, high])?;
    let p_lower = student_t_sf((difference - lower) / error, df);
    let p_upper = student_t_sf((upper - difference) / error, df);
    let is_shown = p_lower < alpha && p_upper < alpha;
    Ok(EquivalenceTest {
        estimate: difference,
        low,
        high,
        p_lower,
        p_upper,
        degrees_of_freedom: df,
        is_shown,
    })
}

pub(super) fn require_alpha(alpha: f64) -> Result<(), StatsError> {
    if alpha > 0.0 && alpha < 0.5 {
        Ok(())
    } else {
        Err(StatsError::SettingOutside { what: "alpha", value: alpha, least: 0.0, most: 0.5 })
    }
}
