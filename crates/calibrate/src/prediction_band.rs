//! Limits read off the prediction band: the way for curves that are no straight line with intercept.

use crate::calibration::Calibration;
use crate::error::LimitError;
use crate::limits::{
    DetectionLimits, LimitSettings, LimitSpread, Procedure, Quantification, first_root, notes_of_curve,
};
use stillwell_evaluate::{Curve, prediction_half_width_a, signal_at};
use stillwell_stats::distributions::student_t_quantile;

/// Decision, detection and quantification limit from the prediction band of any curve.
///
/// The decision signal is the upper prediction limit at level zero, `y_C = f(0) + t(1−α; ν) s_p(0)`; the decision limit is the
/// level whose curve reaches it; the detection limit is the smallest level whose lower prediction limit
/// `f(x) − t(1−β; ν) s_p(x)` reaches it. The quantification limit solves `x = k t(1−α/2; ν) s_p(x) / |f′(x)|`.
///
/// # Units
/// Level units of the calibration.
///
/// # Errors
/// [`LimitError`] for unusable settings, or limits beyond the calibrated range.
///
/// # Source
/// Hubaux & Vos, Anal. Chem. 42 (1970) 849 (straight line, from memory); the cadmium example of US EPA checks it. Reading it off a
/// second-order curve: common practice, no source.
///
/// # Example
/// ```
/// # use stillwell_calibrate::{Acceptance, CalibrationSettings, Model, StandardSignal, Weights, calibrate};
/// use stillwell_calibrate::{LimitSettings, detection_limits_prediction_band};
/// # let signal = [3060.0, 3522.0, 3707.0, 4280.0, 5058.0, 5510.0, 5703.0, 6205.0, 7156.0, 7178.0];
/// # let standards: Vec<StandardSignal> = (0..10).map(|i| StandardSignal { level: 0.05 * f64::from(i as u32 + 1), signal_a: signal[i],
/// #     electrode: format!("e{i}"), label: format!("s{i}"), scan_number: None, excluded: None }).collect();
/// # let settings = CalibrationSettings { model: Model::Line, weights: Weights::None, coverage: 0.95,
/// #     max_excluded_fraction: 0.1, acceptance: Acceptance::default() };
/// # let calibration = calibrate(&standards, &settings)?;
/// let settings = LimitSettings { alpha: 0.05, beta: 0.05, n_electrodes: 1, quantification_factor: 3.0 };
/// let limits = detection_limits_prediction_band(&calibration, &settings)?;
/// assert!((limits.detection.unwrap() - 0.08656).abs() < 1e-5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn detection_limits_prediction_band(
    calibration: &Calibration,
    settings: &LimitSettings,
) -> Result<DetectionLimits, LimitError> {
    settings.check()?;
    let band = Band { curve: &calibration.curve, electrodes: settings.n_electrodes };
    let not_reached = || LimitError::NotReached { procedure: "the prediction band" };
    let top = calibration.curve.level_max;
    let decision_height = band.height(0.0) + band.half_width(0.0, 1.0 - settings.alpha);
    let decision = first_root(top, |x| band.height(x) - decision_height).ok_or_else(not_reached)?;
    let lower = |x: f64| band.height(x) - band.half_width(x, 1.0 - settings.beta);
    let detection = first_root(top, |x| lower(x) - decision_height).ok_or_else(not_reached)?;
    let factor = settings.quantification_factor;
    let in_levels = |x: f64| band.half_width(x, 1.0 - 0.5 * settings.alpha) / band.curve.slope_at(x).abs();
    let quantification =
        first_root(top, |x| x - factor * in_levels(x)).map(|level| Quantification { level, factor });
    Ok(DetectionLimits {
        procedure: Procedure::PredictionBand,
        alpha: Some(settings.alpha),
        beta: Some(settings.beta),
        n_electrodes: settings.n_electrodes,
        spread: LimitSpread::Residual,
        standard_deviation: calibration.statistics.process_sd,
        degrees_of_freedom: f64::from(calibration.curve.degrees_of_freedom),
        decision: Some(decision),
        decision_signal_a: Some(band.sign() * decision_height),
        detection: Some(detection),
        quantification,
        notes: notes_of_curve(calibration, quantification),
    })
}

/// The curve turned so that it rises, with its prediction band.
struct Band<'a> {
    curve: &'a Curve,
    electrodes: u32,
}

impl Band<'_> {
    fn sign(&self) -> f64 {
        if self.curve.slope_at(self.curve.level_min) < 0.0 { -1.0 } else { 1.0 }
    }

    fn height(&self, level: f64) -> f64 {
        self.sign() * signal_at(self.curve, level)
    }

    /// One side of the band, in A, at the one-sided probability `p`.
    fn half_width(&self, level: f64, p: f64) -> f64 {
        let t = student_t_quantile(p, f64::from(self.curve.degrees_of_freedom));
        prediction_half_width_a(self.curve, level, self.electrodes, 0.0) * (t / self.curve.t_quantile)
    }
}
