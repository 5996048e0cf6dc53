//! Every refusal of this room, with what was found, where, and what would be accepted.

use crate::standard::Model;
use stillwell_evaluate::InverseFault;
use stillwell_stats::StatsError;

/// Why no calibration was made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CalibrateError {
    /// The wanted coverage is not a probability that makes an interval.
    #[error("a coverage of {found} makes no interval; give one from 0.5 to 0.9999, usually 0.95")]
    CoverageNotUsable {
        /// What was asked for.
        found: f64,
    },
    /// A limit of the acceptance settings is not usable.
    #[error("{setting} is {found}; {accepted} is accepted")]
    SettingNotUsable {
        /// The setting.
        setting: &'static str,
        /// Its value.
        found: f64,
        /// What would be accepted.
        accepted: &'static str,
    },
    /// A standard's signal is NaN or infinite.
    #[error(
        "{label}: the signal is {found}; a standard without a signal cannot be used: exclude it with a reason"
    )]
    SignalNotFinite {
        /// Which scan.
        label: String,
        /// Its signal.
        found: f64,
    },
    /// A standard's level is NaN or infinite.
    #[error("{label}: the level is {found}; give the concentration of the standard as a number")]
    LevelNotFinite {
        /// Which scan.
        label: String,
        /// Its level.
        found: f64,
    },
    /// A standard's level lies below zero.
    #[error(
        "{label}: the level is {found}; a concentration cannot be negative (a blank standard has level 0)"
    )]
    LevelNegative {
        /// Which scan.
        label: String,
        /// Its level.
        found: f64,
    },
    /// A standard names no electrode, so scans cannot be told from electrodes.
    #[error("{label}: no electrode is named; name it, since several scans of one electrode count as one")]
    ElectrodeNotNamed {
        /// Which scan.
        label: String,
    },
    /// An exclusion without a reason.
    #[error("{label} is excluded without a reason; say why, or take it in again")]
    ExclusionWithoutReason {
        /// Which scan.
        label: String,
    },
    /// More standards are excluded than the settings allow.
    #[error(
        "{excluded} of {total} standards are excluded, more than the allowed fraction {allowed}; measure new standards instead of choosing among these"
    )]
    TooManyExcluded {
        /// Scans excluded.
        excluded: usize,
        /// All scans.
        total: usize,
        /// Largest fraction that may be excluded.
        allowed: f64,
    },
    /// All standards have one level, so there is no slope.
    #[error("all standards have the level {level}; a calibration needs at least {needed} different levels")]
    OneLevelOnly {
        /// The level.
        level: f64,
        /// Levels needed.
        needed: usize,
    },
    /// Too few levels for the model.
    #[error("{found} different levels do not carry a {model}; at least {needed} are needed")]
    TooFewLevels {
        /// Levels found.
        found: usize,
        /// Levels needed.
        needed: usize,
        /// The model.
        model: Model,
    },
    /// The weights grow without bound at level zero.
    #[error(
        "weights of {weights} have no value at level 0 ({label}); take weights from a variance function of level or none, or leave the zero level out of the curve and report it as a blank"
    )]
    WeightUnboundedAtZero {
        /// The weights.
        weights: &'static str,
        /// First scan at level zero.
        label: String,
    },
    /// Too few replicate electrodes to learn how the spread depends on level.
    #[error(
        "a variance function needs at least {needed_levels} levels with two or more electrodes and {needed_df} degrees of freedom between electrodes; found {found_levels} such levels and {found_df}: measure more electrodes a level, or give the weights"
    )]
    VarianceFunctionNeedsMoreData {
        /// Levels with at least two electrodes.
        found_levels: usize,
        /// Levels needed.
        needed_levels: usize,
        /// Degrees of freedom between electrodes within levels.
        found_df: usize,
        /// Degrees of freedom needed.
        needed_df: usize,
    },
    /// The electrodes of each level agree exactly, so nothing can be learnt from their spread.
    #[error(
        "the electrodes of each level agree exactly; no variance function can be fitted to that: use no weights"
    )]
    VarianceFunctionWithoutSpread,
    /// A level of the standards has no standard deviation given.
    #[error("no standard deviation is given for level {level}; give one for each level of the standards")]
    LevelWithoutDeviation {
        /// The level.
        level: f64,
    },
    /// A standard deviation belongs to no level of the standards, or to one already given.
    #[error(
        "the standard deviation for level {level} belongs to no level of the standards or is given twice"
    )]
    DeviationWithoutLevel {
        /// The level.
        level: f64,
    },
    /// A given standard deviation is zero, negative or not finite.
    #[error("the standard deviation for level {level} is {found}; a positive number is accepted")]
    DeviationNotPositive {
        /// The level.
        level: f64,
        /// What was given.
        found: f64,
    },
    /// The quadratic has its turning point within the range.
    #[error(
        "the quadratic turns back at level {turning_level}, within the range {level_min} to {level_max}: one signal would mean two concentrations; shorten the range or use a line"
    )]
    NotMonotonic {
        /// Where the slope is zero.
        turning_level: f64,
        /// Lowest level.
        level_min: f64,
        /// Highest level.
        level_max: f64,
    },
    /// The signal does not change with level by more than its scatter explains.
    #[error(
        "the slope {slope_a_per_level} A per level unit is not distinguishable from zero (t = {t}, needed {t_needed}): the electrodes do not answer to the analyte, or too few were measured"
    )]
    SlopeNotSignificant {
        /// Slope at the mean level.
        slope_a_per_level: f64,
        /// Slope over its standard error, without sign.
        t: f64,
        /// What it must exceed.
        t_needed: f64,
    },
    /// The signals follow the curve exactly, so no uncertainty can be derived from them.
    #[error(
        "the residual standard deviation {residual_sd_a} A is nothing beside signals of {largest_signal_a} A: such signals were computed, not measured, and carry no uncertainty"
    )]
    NoScatter {
        /// What was found.
        residual_sd_a: f64,
        /// The largest signal, without sign.
        largest_signal_a: f64,
    },
    /// The numbers leave the range of 64-bit floats somewhere on the way.
    #[error("the fit leaves the range of 64-bit numbers; check the units of levels and signals")]
    OutOfRange,
    /// The fit itself was refused.
    #[error("the curve cannot be fitted: {0}")]
    Fit(#[from] StatsError),
}

/// Why a sample has no concentration.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ConcentrationError {
    /// No electrode was measured.
    #[error("no electrode was measured on this sample; at least one is needed")]
    NoElectrode,
    /// An electrode is listed without a signal.
    #[error("electrode {electrode} has no signal; leave it out or measure it")]
    ElectrodeWithoutSignal {
        /// The electrode.
        electrode: String,
    },
    /// A signal is NaN or infinite.
    #[error("electrode {electrode}: the signal is {found}; a finite number is needed")]
    SignalNotFinite {
        /// The electrode.
        electrode: String,
        /// What was found.
        found: f64,
    },
    /// The calibration cannot bound this signal's concentration.
    #[error("the calibration gives no bounded interval for a signal of {mean_signal_a} A ({fault:?})")]
    Unresolved {
        /// Mean of the electrode means.
        mean_signal_a: f64,
        /// What the kernel found.
        fault: InverseFault,
    },
    /// The numbers leave the range of 64-bit floats.
    #[error("the signals leave the range of 64-bit numbers; check their unit")]
    OutOfRange,
}

/// Why a detection limit is not stated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LimitError {
    /// A probability of error that is none.
    #[error("{name} is {found}; a probability between 0 and 0.5 is accepted, usually 0.05")]
    ProbabilityNotUsable {
        /// alpha or beta.
        name: &'static str,
        /// What was found.
        found: f64,
    },
    /// The number of electrodes averaged in a future sample is zero.
    #[error("a limit for the mean of 0 electrodes has no meaning; give at least 1")]
    NoElectrode,
    /// The quantification factor is not usable.
    #[error("a quantification factor of {found} is not usable; above 1 is accepted, usually 3 or 10")]
    FactorNotUsable {
        /// What was found.
        found: f64,
    },
    /// The procedure is written for straight lines.
    #[error(
        "{procedure} is written for a straight line with intercept; this calibration is a {model}: claim the prediction band, or calibrate the low levels by a line"
    )]
    NeedsLine {
        /// The procedure.
        procedure: &'static str,
        /// The model found.
        model: Model,
    },
    /// The procedure is written for equal spread over the range.
    #[error(
        "{procedure} is written for equal spread over the range; this calibration is weighted: use the way of ISO 11843-2"
    )]
    NeedsEqualSpread {
        /// The procedure.
        procedure: &'static str,
    },
    /// The calibration reaches too far above the limit to say anything about it.
    #[error(
        "the highest level {level_max} is {ratio:.1} times the decision limit {decision_limit}; {procedure} asks for at most {allowed} times: calibrate low levels, or use the blank way"
    )]
    CalibrationTooHigh {
        /// The procedure.
        procedure: &'static str,
        /// Highest level.
        level_max: f64,
        /// The limit it would give.
        decision_limit: f64,
        /// Their ratio.
        ratio: f64,
        /// Largest ratio allowed.
        allowed: f64,
    },
    /// Too few blanks.
    #[error("{found} blank electrodes are too few for {procedure}; at least {needed} are needed")]
    TooFewBlanks {
        /// The procedure.
        procedure: &'static str,
        /// Blank electrodes found.
        found: usize,
        /// Needed.
        needed: usize,
    },
    /// Too few spiked samples.
    #[error("{found} spiked samples are too few for {procedure}; at least {needed} are needed")]
    TooFewSpikes {
        /// The procedure.
        procedure: &'static str,
        /// Spikes found.
        found: usize,
        /// Needed.
        needed: usize,
    },
    /// The replicates were not spread over enough dates.
    #[error("the {what} stem from {found} dates; {procedure} asks for at least {needed} separate dates")]
    TooFewDates {
        /// The procedure.
        procedure: &'static str,
        /// Spikes or blanks.
        what: &'static str,
        /// Dates found.
        found: usize,
        /// Needed.
        needed: usize,
    },
    /// A spiked sample that gave nothing, or less than nothing.
    #[error(
        "spiked sample {index} gave {found}; every spiked sample must give a positive result: spike at a higher level"
    )]
    SpikeNotPositive {
        /// Counted from 1.
        index: usize,
        /// What it gave.
        found: f64,
    },
    /// A value is NaN or infinite.
    #[error("{what} {index} is {found}; a finite number is needed")]
    NotFinite {
        /// What it is.
        what: &'static str,
        /// Counted from 1.
        index: usize,
        /// What was found.
        found: f64,
    },
    /// The replicates do not differ, so they were not measured freely.
    #[error(
        "the {what} do not differ from each other; their spread is hidden (a search window, rounding or a floor): measure them at the fixed window, with full digits"
    )]
    NoSpread {
        /// Blanks or spikes.
        what: &'static str,
    },
    /// The required reliability is not reached at any level.
    #[error(
        "{procedure}: no level reaches the required reliability, since the spread or the slope's uncertainty grows as fast as the level; calibrate with more electrodes"
    )]
    NotReached {
        /// The procedure.
        procedure: &'static str,
    },
}
