//! The common shorthand: 3.3 s/slope for detection, 10 s/slope for quantification.

use crate::calibration::Calibration;
use crate::error::LimitError;
use crate::limits::{DetectionLimits, LimitNote, LimitSpread, LowEnd, Procedure, Quantification};
use crate::replicates::replicate_spread;

/// Which standard deviation the shorthand takes; they differ, so the answer names it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ShorthandSpread<'a> {
    /// Residual standard deviation of electrode means about the line.
    Residual,
    /// Standard error of the line's intercept.
    Intercept,
    /// Standard deviation of blank electrodes: one value each, in A, measured at the fixed window.
    Blanks(&'a [f64]),
}

/// Blanks that the shorthand needs: common practice, no source.
const BLANKS_NEEDED: usize = 6;

/// `3.3 s/|slope|` and `10 s/|slope|`, for one electrode.
///
/// Quick and widely reported, but blind to the calibration's own uncertainty, to the number of electrodes and to degrees of
/// freedom. 3.3 is 2 × 1.645: about 5 % error of either kind, were `s` known exactly.
///
/// # Units
/// Level units of the calibration.
///
/// # Errors
/// [`LimitError::NeedsLine`]; for blanks [`LimitError::TooFewBlanks`] below six, [`LimitError::NoSpread`] or
/// [`LimitError::NotFinite`].
///
/// # Source
/// ICH Q2(R1) 2005, 6.3 and 7.3 (from memory).
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
/// use stillwell_calibrate::{ShorthandSpread, detection_limits_shorthand};
/// let limits = detection_limits_shorthand(&calibration, ShorthandSpread::Residual)?;
/// assert_eq!(limits.detection, Some(3.3 * calibration.statistics.process_sd));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn detection_limits_shorthand(
    calibration: &Calibration,
    spread: ShorthandSpread<'_>,
) -> Result<DetectionLimits, LimitError> {
    const NAME: &str = "3.3 s/slope";
    let low_end = LowEnd::of(calibration, 1, NAME)?;
    let statistics = &calibration.statistics;
    let sensitivity = statistics.sensitivity_a_per_level.abs();
    let (name, standard_deviation, degrees_of_freedom) = match spread {
        ShorthandSpread::Residual => (LimitSpread::Residual, low_end.process_sd, low_end.degrees_of_freedom),
        ShorthandSpread::Intercept => {
            let [of_intercept, ..] = statistics.standard_errors;
            (LimitSpread::Intercept, of_intercept / sensitivity, low_end.degrees_of_freedom)
        }
        ShorthandSpread::Blanks(blanks) => {
            let (found, needed) = (blanks.len(), BLANKS_NEEDED);
            if found < needed {
                return Err(LimitError::TooFewBlanks { procedure: NAME, found, needed });
            }
            let sd = replicate_spread(blanks, "blank")?.standard_deviation;
            (LimitSpread::Blanks, sd / sensitivity, found as f64 - 1.0)
        }
    };
    let quantification = 10.0 * standard_deviation;
    let beyond = quantification > calibration.curve.level_max;
    let mut notes = vec![LimitNote::ErrorsNotChosen];
    if beyond {
        notes.push(LimitNote::QuantificationBeyondRange);
    }
    Ok(DetectionLimits {
        procedure: Procedure::Shorthand,
        alpha: None,
        beta: None,
        n_electrodes: 1,
        spread: name,
        standard_deviation,
        degrees_of_freedom,
        decision: None,
        decision_signal_a: None,
        detection: Some(3.3 * standard_deviation),
        quantification: (!beyond).then_some(Quantification { level: quantification, factor: 10.0 }),
        notes,
    })
}
