//! ISO 11843-2: critical value and minimum detectable value from a straight-line calibration.

use crate::calibration::Calibration;
use crate::error::LimitError;
use crate::limits::{DetectionLimits, LimitSettings, LowEnd, Procedure};
use stillwell_stats::distributions::{noncentrality_delta, student_t_quantile};

/// Critical value and minimum detectable value of the net level, with the exact noncentral factor.
///
/// `x_C = t(1−α; ν) (s/|b|) √(v(0)/K + 1/N + x̄²/Q)` and `x_D = δ(ν; α; β) (s/|b|) √(v(x_D)/K + 1/N + x̄²/Q)`, where `K` is
/// the number of electrodes averaged, `N` the electrode means of the calibration, and `v` the relative variance at a level
/// (1 without weights, and then one evaluation; with weights `x_D` solves its equation). The standard has no quantification
/// limit: the one given solves `x = k t(1−α/2; ν) s(x)`, as in DIN 32645.
///
/// # Units
/// Level units of the calibration.
///
/// # Errors
/// [`LimitError`] for unusable settings, a model other than a straight line, or a detection limit beyond the calibrated range.
///
/// # Source
/// ISO 11843-2:2000, 5.3 (constant spread) and 5.4 (spread that depends on level; there a linear standard deviation, here the
/// calibration's own variance function); formulas from memory, values checked by recomputation.
///
/// # Example
/// ```
/// # use stillwell_calibrate::{Acceptance, CalibrationSettings, Model, StandardSignal, Weights, calibrate};
/// use stillwell_calibrate::{LimitSettings, detection_limits_iso_11843};
/// # let signal = [3060.0, 3522.0, 3707.0, 4280.0, 5058.0, 5510.0, 5703.0, 6205.0, 7156.0, 7178.0];
/// # let standards: Vec<StandardSignal> = (0..10).map(|i| StandardSignal { level: 0.05 * f64::from(i as u32 + 1), signal_a: signal[i],
/// #     electrode: format!("e{i}"), label: format!("s{i}"), scan_number: None, excluded: None }).collect();
/// # let settings = CalibrationSettings { model: Model::Line, weights: Weights::None, coverage: 0.95,
/// #     max_excluded_fraction: 0.1, acceptance: Acceptance::default() };
/// # let calibration = calibrate(&standards, &settings)?;
/// let settings = LimitSettings { alpha: 0.05, beta: 0.05, n_electrodes: 1, quantification_factor: 3.0 };
/// let limits = detection_limits_iso_11843(&calibration, &settings)?;
/// assert!((limits.decision.unwrap() - 0.04482).abs() < 1e-5);
/// assert!((limits.detection.unwrap() - 0.08718).abs() < 1e-5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn detection_limits_iso_11843(
    calibration: &Calibration,
    settings: &LimitSettings,
) -> Result<DetectionLimits, LimitError> {
    const NAME: &str = "ISO 11843-2";
    settings.check()?;
    let low_end = LowEnd::of(calibration, settings.n_electrodes, NAME)?;
    let df = low_end.degrees_of_freedom;
    let decision = student_t_quantile(1.0 - settings.alpha, df) * low_end.standard_deviation(0.0, 0.0);
    let delta = noncentrality_delta(df, settings.alpha, settings.beta);
    let detection = low_end.detection(delta).ok_or(LimitError::NotReached { procedure: NAME })?;
    Ok(low_end.residual_limits(calibration, settings, Procedure::Iso11843Part2, [decision, detection]))
}
