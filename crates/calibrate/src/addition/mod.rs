//! Standard addition: the sample's concentration in its own matrix, and its slope for the comparison with the calibration.
//!
//! The model is `signal = k (C f + a)`: `C` the sample's concentration, `f` its share of the measured volume, `a` what was
//! added, as concentration in the measured volume. Both columns are fitted, so an addition that dilutes the sample needs
//! no correction of signals, and the spread stays that of the signals as measured. There is no intercept: a signal without
//! analyte would be taken for analyte, which [`matrix_comparison`] tests where an external calibration exists.
//!
//! Two designs are told apart by the data. With a fresh electrode for each measurement the electrode means are independent
//! and one line is fitted. An electrode followed through the additions keeps its own sensitivity, which cancels in its own
//! ratio; its points are not independent of each other, so each electrode gives one line and counts once.

mod curvature;
mod error;
mod fieller;
mod followed;
mod fresh;
mod matrix;
mod series;
mod weights;

pub use curvature::CurvatureTest;
pub use error::AdditionError;
pub use matrix::{BackgroundTest, MatrixComparison, MatrixDemands, MatrixEffect, matrix_comparison};

use crate::standard::LevelDeviation;
use fieller::Ratio;
use series::{ElectrodeAt, Series};
use stillwell_stats::distributions::student_t_quantile;

/// One scan of the sample with or without an addition.
#[derive(Debug, Clone, PartialEq)]
pub struct AdditionScan {
    /// Concentration of the added analyte in the measured volume; 0 for the sample itself.
    pub added: f64,
    /// Volume of sample over measured volume: above 0, at most 1.
    pub sample_fraction: f64,
    /// Measured signal.
    pub signal_a: f64,
    /// The physical electrode. Its scans at one addition are averaged and count once.
    pub electrode: String,
    /// Where the signal comes from; it appears in refusals.
    pub label: String,
    /// Why this scan is left out; `None` takes it in.
    pub excluded: Option<String>,
}

/// How much each electrode mean counts.
#[derive(Debug, Clone, PartialEq)]
pub enum AdditionWeights {
    /// All the same: the spread does not depend on the signal.
    None,
    /// The spread is proportional to the signal (electrodes differ in sensitivity): `1/fitted²`, from a first fit without weights.
    ConstantRelativeSpread,
    /// `1/sd²` from a stated standard deviation of an electrode mean for each addition; `level` is the addition.
    StandardDeviations(Vec<LevelDeviation>),
}

/// How a standard addition is to be evaluated.
#[derive(Debug, Clone, PartialEq)]
pub struct AdditionSettings {
    /// The weights.
    pub weights: AdditionWeights,
    /// Two-sided coverage of the interval, such as 0.95.
    pub coverage: f64,
    /// Largest fraction of the scans that may be excluded; see [`crate::USUAL_EXCLUDED_FRACTION`].
    pub max_excluded_fraction: f64,
}

/// Which of the two designs the data are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AdditionDesign {
    /// Each electrode saw one addition only.
    FreshElectrodes,
    /// Each electrode was followed through several additions.
    FollowedElectrodes {
        /// Whether each saw all of them; else the interval is approximate.
        is_balanced: bool,
    },
}

/// One electrode mean beside the line.
#[derive(Debug, Clone, PartialEq)]
pub struct AdditionPoint {
    /// What was added.
    pub added: f64,
    /// Share of the sample in the measured volume.
    pub sample_fraction: f64,
    /// The electrode.
    pub electrode: String,
    /// Mean of its scans.
    pub mean_signal_a: f64,
    /// Scans behind it.
    pub n_scans: usize,
    /// The line there: the common one, or the electrode's own.
    pub fitted_signal_a: f64,
    /// Weight in the fit.
    pub weight: f64,
}

/// The line of one followed electrode.
#[derive(Debug, Clone, PartialEq)]
pub struct ElectrodeLine {
    /// The electrode.
    pub electrode: String,
    /// Signal that the undiluted sample would give without an addition.
    pub sample_signal_a: f64,
    /// Its slope.
    pub slope_a_per_level: f64,
}

/// The concentration of the undiluted sample from a standard addition.
#[derive(Debug, Clone, PartialEq)]
pub struct AdditionEstimate {
    /// The estimate; negative where the line says so.
    pub value: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
    /// Two-sided coverage of the interval.
    pub coverage: f64,
    /// First-order standard uncertainty; the interval itself is Fieller's.
    pub standard_uncertainty: f64,
    /// Degrees of freedom: electrode means − 2, or followed electrodes − 1.
    pub degrees_of_freedom: usize,
    /// Which design.
    pub design: AdditionDesign,
    /// Electrodes.
    pub n_electrodes: usize,
    /// Scans behind them.
    pub n_scans: usize,
    /// The different additions, smallest first.
    pub additions: Vec<f64>,
    /// Signal that the undiluted sample would give without an addition.
    pub sample_signal_a: f64,
    /// Slope in the sample's matrix.
    pub slope_a_per_level: f64,
    /// Standard error of the slope, on electrodes.
    pub slope_standard_error_a: f64,
    /// `t² (standard error of the slope / slope)²`: 0 is an exact slope, 1 an unbounded interval.
    pub g: f64,
    /// Largest addition over the estimate; small where the line is extended far beyond its points.
    pub reach: f64,
    /// Whether the line bends; `None` where the data cannot tell.
    pub curvature: Option<CurvatureTest>,
    /// Lines of the followed electrodes; empty for fresh ones.
    pub lines: Vec<ElectrodeLine>,
    /// The electrode means.
    pub points: Vec<AdditionPoint>,
}

impl AdditionEstimate {
    /// Whether the whole interval lies above zero.
    pub fn is_above_zero(&self) -> bool {
        self.low > 0.0
    }
}

/// What both designs yield.
struct Fitted {
    ratio: Ratio,
    degrees_of_freedom: usize,
    curvature: Option<CurvatureTest>,
    lines: Vec<ElectrodeLine>,
    points: Vec<AdditionPoint>,
}

/// Means beside what their line promises.
fn points_of<'a>(
    means: &'a [ElectrodeAt],
    fitted: &'a [f64],
    weights: &'a [f64],
) -> impl Iterator<Item = AdditionPoint> + 'a {
    means.iter().zip(fitted).zip(weights).map(|((mean, fitted), weight)| AdditionPoint {
        added: mean.added,
        sample_fraction: mean.sample_fraction,
        electrode: mean.electrode.clone(),
        mean_signal_a: mean.mean_signal_a,
        n_scans: mean.n_scans,
        fitted_signal_a: *fitted,
        weight: *weight,
    })
}

/// The concentration of a sample from additions of a standard to it.
///
/// Scans of one electrode at one addition are averaged first. Fresh electrodes: weighted least squares of the means on
/// `(f, a)`, `C = k C / k`, Fieller's interval with `n − 2` degrees of freedom. Followed electrodes: each electrode's line gives
/// `(k C)_j` and `k_j`; since `(k C)_j − C k_j` has mean zero for every electrode, Fieller's interval on the means of the two
/// with their covariance between electrodes and `J − 1` degrees of freedom is exact for normal errors, however
/// much the electrodes differ in sensitivity.
///
/// The interval holds no uncertainty of the additions themselves: whoever knows it adds it as a relative part.
///
/// # Units
/// Additions and result in one unit; signals in A.
///
/// # Errors
/// [`AdditionError`] for unusable numbers, fewer than 3 additions (the sample itself included), a sample not measured by itself,
/// mixed designs, fewer than 2 followed electrodes, signals without scatter, a slope that falls or that cannot be told
/// from zero (the interval would be unbounded).
///
/// # Source
/// Fieller 1954; extrapolation as in Miller & Miller, Statistics and Chemometrics for Analytical Chemistry, 5.8
/// (there to first order). The two designs: two-stage nested sampling, from the definition.
///
/// # Example
/// ```
/// use stillwell_calibrate::{AdditionScan, AdditionSettings, AdditionWeights, standard_addition};
/// let scans: Vec<AdditionScan> = [(0.0, 0.32), (5.0, 0.41), (10.0, 0.52), (15.0, 0.60), (20.0, 0.70), (25.0, 0.77), (30.0, 0.89)]
///     .iter().enumerate().map(|(i, &(added, signal_a))| AdditionScan {
///         added, sample_fraction: 1.0, signal_a, electrode: format!("strip {i}"), label: format!("scan {i}"), excluded: None,
///     }).collect();
/// let settings = AdditionSettings { weights: AdditionWeights::None, coverage: 0.95, max_excluded_fraction: 0.1 };
/// let sample = standard_addition(&scans, &settings)?;
/// assert!((sample.value - 17.26).abs() < 0.01);
/// assert!(sample.low < 16.0 && sample.high > 18.5);
/// # Ok::<(), stillwell_calibrate::AdditionError>(())
/// ```
pub fn standard_addition(
    scans: &[AdditionScan],
    settings: &AdditionSettings,
) -> Result<AdditionEstimate, AdditionError> {
    if !(0.5..=0.9999).contains(&settings.coverage) {
        return Err(AdditionError::CoverageNotUsable { found: settings.coverage });
    }
    if !(0.0..1.0).contains(&settings.max_excluded_fraction) {
        let (setting, accepted) = ("the largest excluded fraction", "0 or more, below 1");
        return Err(AdditionError::SettingNotUsable {
            setting,
            found: settings.max_excluded_fraction,
            accepted,
        });
    }
    let series = Series::from_scans(scans, settings.max_excluded_fraction)?;
    let weights = weights::resolve(&series, &settings.weights)?;
    let fitted = match series.design {
        AdditionDesign::FreshElectrodes => fresh::fit(&series, &weights)?,
        AdditionDesign::FollowedElectrodes { .. } => followed::fit(&series, &weights)?,
    };
    estimate(&series, fitted, settings.coverage)
}

fn estimate(series: &Series, fitted: Fitted, coverage: f64) -> Result<AdditionEstimate, AdditionError> {
    let ratio = fitted.ratio;
    let slope = ratio.denominator;
    let slope_standard_error_a = libm::sqrt(ratio.denominator_variance);
    let t_needed = student_t_quantile(0.5 + 0.5 * coverage, fitted.degrees_of_freedom as f64);
    if slope <= -t_needed * slope_standard_error_a {
        return Err(AdditionError::SlopeNegative { slope_a_per_level: slope });
    }
    let Some([low, high]) = ratio.interval(t_needed).filter(|_| slope > 0.0) else {
        let t = slope / slope_standard_error_a;
        return Err(AdditionError::Unbounded { slope_a_per_level: slope, t, t_needed });
    };
    let value = ratio.value();
    if ![value, low, high].iter().all(|number| number.is_finite()) {
        return Err(AdditionError::OutOfRange);
    }
    let additions = series.additions();
    Ok(AdditionEstimate {
        value,
        low,
        high,
        coverage,
        standard_uncertainty: ratio.standard_uncertainty(),
        degrees_of_freedom: fitted.degrees_of_freedom,
        design: series.design,
        n_electrodes: series.n_electrodes(),
        n_scans: series.n_scans(),
        reach: additions.last().copied().unwrap_or(0.0) / value.abs(),
        additions,
        sample_signal_a: ratio.numerator,
        slope_a_per_level: slope,
        slope_standard_error_a,
        g: ratio.g(t_needed),
        curvature: fitted.curvature,
        lines: fitted.lines,
        points: fitted.points,
    })
}
