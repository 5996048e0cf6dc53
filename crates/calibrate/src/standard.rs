//! What goes in: the standards' signals and the settings of a calibration.

use core::fmt;

/// The signal of one scan of one standard.
#[derive(Debug, Clone, PartialEq)]
pub struct StandardSignal {
    /// Concentration of the standard in the method's reporting unit, 0 or above.
    pub level: f64,
    /// Measured signal; levels measured without a search (blanks) may lie below zero.
    pub signal_a: f64,
    /// The physical electrode. Scans of one electrode at one level are averaged and count once.
    pub electrode: String,
    /// Where the signal comes from, such as file and scan; it appears in lists and refusals.
    pub label: String,
    /// How many scans the electrode had seen, this one included, where known.
    pub scan_number: Option<u32>,
    /// Why this standard is left out of the fit; `None` takes it in.
    pub excluded: Option<String>,
}

/// The curve through the standards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Model {
    /// `signal = c0 + c1 level`.
    Line,
    /// `signal = c1 level`: forces a zero signal at level zero, which no finding of this room endorses.
    LineThroughOrigin,
    /// `signal = c0 + c1 level + c2 level²`, only where it does not turn back.
    Quadratic,
}

impl Model {
    pub(crate) fn exponents(self) -> &'static [u32] {
        match self {
            Self::Line => &[0, 1],
            Self::LineThroughOrigin => &[1],
            Self::Quadratic => &[0, 1, 2],
        }
    }

    pub(crate) fn levels_needed(self) -> usize {
        match self {
            Self::Line | Self::LineThroughOrigin => 3,
            Self::Quadratic => 4,
        }
    }
}

impl fmt::Display for Model {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Line => "line",
            Self::LineThroughOrigin => "line through the origin",
            Self::Quadratic => "quadratic",
        })
    }
}

/// How much each electrode mean counts in the fit.
#[derive(Debug, Clone, PartialEq)]
pub enum Weights {
    /// All the same: the spread does not depend on level.
    None,
    /// By a variance function `v0 + v2 level²` fitted to the spread between electrodes at each level.
    VarianceFunction,
    /// `1/level`: the variance grows in proportion to level. Refused at level zero.
    InverseLevel,
    /// `1/level²`: a constant coefficient of variation. Refused at level zero.
    InverseSquaredLevel,
    /// `1/sd²` from a standard deviation of an electrode mean stated for each level.
    StandardDeviations(Vec<LevelDeviation>),
}

/// A stated standard deviation of one electrode mean at one level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelDeviation {
    /// The level, exactly as the standards state it.
    pub level: f64,
    /// Standard deviation of one electrode mean there.
    pub standard_deviation_a: f64,
}

/// How a calibration is to be made and judged.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibrationSettings {
    /// The curve.
    pub model: Model,
    /// The weights.
    pub weights: Weights,
    /// Two-sided coverage of the intervals, such as 0.95.
    pub coverage: f64,
    /// Largest fraction of the scans that may be excluded; see [`USUAL_EXCLUDED_FRACTION`].
    pub max_excluded_fraction: f64,
    /// What makes the calibration acceptable.
    pub acceptance: Acceptance,
}

/// One standard in ten: common practice, no source.
pub const USUAL_EXCLUDED_FRACTION: f64 = 0.1;

/// Criteria of an acceptable calibration; `None` leaves a criterion unjudged.
///
/// There is no criterion for r²: it is close to 1 for curved and for noisy calibrations alike and is never enough.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Acceptance {
    /// Largest error of a level (mean of its electrodes) read back from the curve, in % of the level.
    pub max_back_calculated_percent: Option<f64>,
    /// Largest distance of a check standard's recovery from 100 %.
    pub check_standard_percent: Option<f64>,
    /// Significance level of the lack-of-fit test.
    pub lack_of_fit_alpha: Option<f64>,
    /// Significance level of the Mandel test (lines only).
    pub linearity_alpha: Option<f64>,
    /// Significance level of the tests of equal (weighted) spread over the range.
    pub homogeneity_alpha: Option<f64>,
    /// Significance level of the trend of residuals with scan number.
    pub residual_trend_alpha: Option<f64>,
    /// Largest process standard deviation in % of the mean level.
    pub max_process_sd_percent: Option<f64>,
}
