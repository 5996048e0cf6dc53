//! DIN 32645: decision, detection and quantification limit by the calibration way and by the blank way.

use crate::calibration::Calibration;
use crate::error::LimitError;
use crate::limits::{
    DetectionLimits, LimitNote, LimitSettings, LimitSpread, LowEnd, Procedure, Quantification,
};
use crate::replicates::replicate_spread;
use crate::standard::Weights;
use stillwell_stats::distributions::student_t_quantile;

/// The highest level may be ten times the presumed decision limit: DIN 32645, seen in a secondary text (a glossary).
///
/// It is a property of the calibration, so it is judged at the significance of the standard's own example and for one
/// electrode, whatever is asked for.
const LARGEST_TOP_TO_DECISION: f64 = 10.0;
const PRESUMED_ALPHA: f64 = 0.01;

/// Limits from a low-level calibration.
///
/// `x_NG = s_x0 t(1−α; ν) √(1/m + 1/n + x̄²/Q)`, `x_EG = x_NG + s_x0 t(1−β; ν) √(…)` (twice `x_NG` when α = β), and `x_BG` as
/// the root of `x = k s_x0 t(1−α/2; ν) √(1/m + 1/n + (x − x̄)²/Q)`.
///
/// # Units
/// Level units of the calibration.
///
/// # Errors
/// [`LimitError::CalibrationTooHigh`] when the highest level is more than ten times `x_NG` (at α = 0.01, m = 1): a
/// working calibration says nothing
/// about the lowest levels; [`LimitError::NeedsLine`], [`LimitError::NeedsEqualSpread`], or unusable settings.
///
/// # Source
/// DIN 32645:2008, indirect way; formulas checked against its test data. The condition on the range: secondary text.
///
/// # Example
/// ```
/// # use stillwell_calibrate::{Acceptance, CalibrationSettings, Model, StandardSignal, Weights, calibrate};
/// use stillwell_calibrate::{LimitSettings, detection_limits_din_32645_calibration};
/// # let signal = [3060.0, 3522.0, 3707.0, 4280.0, 5058.0, 5510.0, 5703.0, 6205.0, 7156.0, 7178.0];
/// # let standards: Vec<StandardSignal> = (0..10).map(|i| StandardSignal { level: 0.05 * f64::from(i as u32 + 1), signal_a: signal[i],
/// #     electrode: format!("e{i}"), label: format!("s{i}"), scan_number: None, excluded: None }).collect();
/// # let settings = CalibrationSettings { model: Model::Line, weights: Weights::None, coverage: 0.95,
/// #     max_excluded_fraction: 0.1, acceptance: Acceptance::default() };
/// # let calibration = calibrate(&standards, &settings)?;
/// let settings = LimitSettings { alpha: 0.01, beta: 0.01, n_electrodes: 1, quantification_factor: 3.0 };
/// let limits = detection_limits_din_32645_calibration(&calibration, &settings)?;
/// assert!((limits.decision.unwrap() - 0.0698).abs() < 5e-5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn detection_limits_din_32645_calibration(
    calibration: &Calibration,
    settings: &LimitSettings,
) -> Result<DetectionLimits, LimitError> {
    const NAME: &str = "the calibration way of DIN 32645";
    settings.check()?;
    let low_end = LowEnd::of(calibration, settings.n_electrodes, NAME)?;
    if calibration.settings.weights != Weights::None {
        return Err(LimitError::NeedsEqualSpread { procedure: NAME });
    }
    refuse_working_calibration(calibration, NAME)?;
    let df = low_end.degrees_of_freedom;
    let standard_deviation = low_end.standard_deviation(0.0, 0.0);
    let decision = student_t_quantile(1.0 - settings.alpha, df) * standard_deviation;
    let detection = decision + student_t_quantile(1.0 - settings.beta, df) * standard_deviation;
    let procedure = Procedure::Din32645Calibration;
    Ok(low_end.residual_limits(calibration, settings, procedure, [decision, detection]))
}

fn refuse_working_calibration(calibration: &Calibration, procedure: &'static str) -> Result<(), LimitError> {
    let one_electrode = LowEnd::of(calibration, 1, procedure)?;
    let t = student_t_quantile(1.0 - PRESUMED_ALPHA, one_electrode.degrees_of_freedom);
    let decision_limit = t * one_electrode.standard_deviation(0.0, 0.0);
    let (level_max, allowed) = (calibration.curve.level_max, LARGEST_TOP_TO_DECISION);
    let ratio = level_max / decision_limit;
    if ratio <= allowed {
        return Ok(());
    }
    Err(LimitError::CalibrationTooHigh { procedure, level_max, decision_limit, ratio, allowed })
}

/// Fewer blanks leave their spread too vague: common practice, no source. Ten are usual, and fewer are noted.
const BLANKS_NEEDED: usize = 6;
const BLANKS_USUAL: usize = 10;

/// Limits from the spread of blank electrodes and the slope of any straight-line calibration.
///
/// `x_NG = t(1−α; ν) (s_B/|b|) √(1/m + 1/n)`, `x_EG = x_NG + t(1−β; ν) (s_B/|b|) √(1/m + 1/n)`, and
/// `x_BG = k t(1−α/2; ν) (s_B/|b|) √(1/m + 1/n)`, with `n` blanks and `ν = n − 1`.
///
/// `blank_signals_a` holds one value a blank electrode (the mean of its scans), measured at the fixed window: a search for
/// a peak would take the largest noise and hide the spread.
///
/// # Units
/// Signals in A, results in level units of the calibration.
///
/// # Errors
/// [`LimitError::TooFewBlanks`] below six, [`LimitError::NoSpread`], [`LimitError::NotFinite`], [`LimitError::NeedsLine`], or
/// unusable settings.
///
/// # Source
/// DIN 32645:2008, direct way; formulas from memory, not checked against a printed example.
///
/// # Example
/// ```
/// # use stillwell_calibrate::{Acceptance, CalibrationSettings, Model, StandardSignal, Weights, calibrate};
/// # let standards: Vec<StandardSignal> = [(0.0, 2.1), (2.0, 5.0), (4.0, 9.0), (6.0, 12.6), (8.0, 17.3), (10.0, 21.0), (12.0, 24.7)]
/// #     .iter().enumerate().map(|(i, &(level, signal_a))| StandardSignal {
/// #         level, signal_a, electrode: format!("strip {i}"), label: format!("scan {i}"), scan_number: None, excluded: None,
/// #     }).collect();
/// # let settings = CalibrationSettings { model: Model::Line, weights: Weights::None, coverage: 0.95, max_excluded_fraction: 0.1,
/// #     acceptance: Acceptance { check_standard_percent: Some(10.0), ..Acceptance::default() } };
/// # let calibration = calibrate(&standards, &settings)?;
/// use stillwell_calibrate::{LimitSettings, detection_limits_din_32645_blank};
/// let blanks_a = [1.1, -0.4, 0.7, 0.2, -0.9, 0.5, 0.1, -0.2, 0.8, 0.3];
/// let settings = LimitSettings { alpha: 0.05, beta: 0.05, n_electrodes: 3, quantification_factor: 3.0 };
/// let limits = detection_limits_din_32645_blank(&calibration, &blanks_a, &settings)?;
/// assert!((limits.decision.unwrap() - 0.376).abs() < 0.001);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn detection_limits_din_32645_blank(
    calibration: &Calibration,
    blank_signals_a: &[f64],
    settings: &LimitSettings,
) -> Result<DetectionLimits, LimitError> {
    const NAME: &str = "the blank way of DIN 32645";
    settings.check()?;
    let low_end = LowEnd::of(calibration, settings.n_electrodes, NAME)?;
    let (found, needed) = (blank_signals_a.len(), BLANKS_NEEDED);
    if found < needed {
        return Err(LimitError::TooFewBlanks { procedure: NAME, found, needed });
    }
    let blanks = replicate_spread(blank_signals_a, "blank")?;
    let sensitivity = calibration.statistics.sensitivity_a_per_level.abs();
    let standard_deviation = blanks.standard_deviation / sensitivity;
    let n = found as f64;
    let df = n - 1.0;
    let of_difference = standard_deviation * libm::sqrt(1.0 / f64::from(settings.n_electrodes) + 1.0 / n);
    let decision = student_t_quantile(1.0 - settings.alpha, df) * of_difference;
    let factor = settings.quantification_factor;
    let quantification = factor * student_t_quantile(1.0 - 0.5 * settings.alpha, df) * of_difference;
    let beyond = quantification > calibration.curve.level_max;
    let mut notes = Vec::new();
    if found < BLANKS_USUAL {
        notes.push(LimitNote::FewBlanks);
    }
    if beyond {
        notes.push(LimitNote::QuantificationBeyondRange);
    }
    Ok(DetectionLimits {
        procedure: Procedure::Din32645Blank,
        alpha: Some(settings.alpha),
        beta: Some(settings.beta),
        n_electrodes: settings.n_electrodes,
        spread: LimitSpread::Blanks,
        standard_deviation,
        degrees_of_freedom: df,
        decision: Some(decision),
        decision_signal_a: Some(blanks.mean + low_end.signal_a(decision) - low_end.signal_a(0.0)),
        detection: Some(decision + student_t_quantile(1.0 - settings.beta, df) * of_difference),
        quantification: (!beyond).then_some(Quantification { level: quantification, factor }),
        notes,
    })
}
