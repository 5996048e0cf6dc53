//! What every detection limit says about itself, and what the procedures share.

use crate::calibration::Calibration;
use crate::error::LimitError;
use crate::standard::Model;
use stillwell_evaluate::Curve;
use stillwell_stats::distributions::student_t_quantile;

/// The procedure behind a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Procedure {
    /// ISO 11843-2, from a straight-line calibration.
    Iso11843Part2,
    /// DIN 32645, calibration way.
    Din32645Calibration,
    /// DIN 32645, blank way.
    Din32645Blank,
    /// 40 CFR Part 136 Appendix B, revision 2.
    MethodDetectionLimit,
    /// 3.3 s/slope and 10 s/slope.
    Shorthand,
    /// The prediction band of any curve.
    PredictionBand,
}

impl Procedure {
    /// Document and clause, as a report cites it.
    pub fn source(self) -> &'static str {
        match self {
            Self::Iso11843Part2 => "ISO 11843-2:2000, 5.3 and 5.4",
            Self::Din32645Calibration => "DIN 32645:2008, calibration way",
            Self::Din32645Blank => "DIN 32645:2008, blank way",
            Self::MethodDetectionLimit => "40 CFR Part 136 Appendix B, revision 2 (2017)",
            Self::PredictionBand => "prediction band (Hubaux & Vos 1970)",
            Self::Shorthand => "3.3 s/slope (ICH Q2(R1), 6.3)",
        }
    }
}

/// Which standard deviation a limit rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitSpread {
    /// Residual standard deviation of electrode means about the calibration line.
    Residual,
    /// Standard error of the line's intercept.
    Intercept,
    /// Standard deviation of blank electrodes.
    Blanks,
    /// Standard deviation of spiked samples.
    Spikes,
}

/// What a reader of the limit must also know.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitNote {
    /// The lowest standard lies above zero: the blank's signal and spread are those of the extrapolated line.
    NoStandardAtZero,
    /// Fewer than the usual ten blanks.
    FewBlanks,
    /// The quantification limit would lie beyond the calibrated range and is not stated.
    QuantificationBeyondRange,
    /// The mean blank was negative and counted as zero.
    NegativeMeanBlank,
    /// No blank gave a numerical result, so the spikes alone decide.
    NoNumericalBlank,
    /// Some blanks gave no numerical result, so the highest blank takes the place of their spread.
    SomeBlanksWithoutResult,
    /// The spike level lies outside 2 to 10 times the limit found: repeat with a fitting level.
    SpikeLevelOutside2To10,
    /// Errors of the first and second kind are not chosen but follow from the factor, about 5 % each for a well-known s.
    ErrorsNotChosen,
}

/// A quantification limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantification {
    /// The limit, in level units.
    pub level: f64,
    /// The factor k: there the half-width of the interval is 1/k of the level (for the shorthand: k = 10 standard deviations).
    pub factor: f64,
}

/// Decision, detection and quantification limit of one procedure, all in level units.
///
/// They hold for the mean of `n_electrodes` electrodes scanned as often as the standards'.
#[derive(Debug, Clone, PartialEq)]
pub struct DetectionLimits {
    /// The procedure.
    pub procedure: Procedure,
    /// Chance that a blank exceeds the decision limit; `None` where the procedure does not choose it.
    pub alpha: Option<f64>,
    /// Chance that a sample at the detection limit falls below the decision limit; `None` where not chosen.
    pub beta: Option<f64>,
    /// Electrodes averaged in a future sample.
    pub n_electrodes: u32,
    /// Which standard deviation.
    pub spread: LimitSpread,
    /// Its value, in level units.
    pub standard_deviation: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Above it, the analyte is said to be there (ISO: critical value; DIN: Nachweisgrenze).
    pub decision: Option<f64>,
    /// The signal at the decision limit.
    pub decision_signal_a: Option<f64>,
    /// From here on, the analyte is found reliably (ISO: minimum detectable value; DIN: Erfassungsgrenze).
    pub detection: Option<f64>,
    /// From here on, a number is precise enough (DIN: Bestimmungsgrenze).
    pub quantification: Option<Quantification>,
    /// What must be read with it.
    pub notes: Vec<LimitNote>,
}

/// How limits are to be computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitSettings {
    /// Chance of a false alarm, usually 0.05.
    pub alpha: f64,
    /// Chance of a miss, usually 0.05.
    pub beta: f64,
    /// Electrodes averaged in a future sample.
    pub n_electrodes: u32,
    /// The quantification factor k: 3 asks for a half-width of a third of the level.
    pub quantification_factor: f64,
}

impl LimitSettings {
    pub(crate) fn check(&self) -> Result<(), LimitError> {
        for (name, found) in [("alpha", self.alpha), ("beta", self.beta)] {
            if !(found > 0.0 && found < 0.5) {
                return Err(LimitError::ProbabilityNotUsable { name, found });
            }
        }
        if self.n_electrodes == 0 {
            return Err(LimitError::NoElectrode);
        }
        let found = self.quantification_factor;
        if !(found.is_finite() && found > 1.0) {
            return Err(LimitError::FactorNotUsable { found });
        }
        Ok(())
    }
}

/// What must be read with limits that rest on the curve at level zero.
pub(crate) fn notes_of_curve(
    calibration: &Calibration,
    quantification: Option<Quantification>,
) -> Vec<LimitNote> {
    let no_zero = (calibration.curve.level_min > 0.0).then_some(LimitNote::NoStandardAtZero);
    let beyond = quantification.is_none().then_some(LimitNote::QuantificationBeyondRange);
    no_zero.into_iter().chain(beyond).collect()
}

/// A straight line with its spread in level units, as the limits need it.
pub(crate) struct LowEnd<'a> {
    curve: &'a Curve,
    electrodes: f64,
    /// `s / |slope|` at unit weight.
    pub(crate) process_sd: f64,
    pub(crate) degrees_of_freedom: f64,
}

impl<'a> LowEnd<'a> {
    pub(crate) fn of(
        calibration: &'a Calibration,
        n_electrodes: u32,
        procedure: &'static str,
    ) -> Result<Self, LimitError> {
        if calibration.settings.model != Model::Line {
            return Err(LimitError::NeedsLine { procedure, model: calibration.settings.model });
        }
        Ok(Self {
            curve: &calibration.curve,
            electrodes: f64::from(n_electrodes),
            process_sd: calibration.statistics.process_sd,
            degrees_of_freedom: f64::from(calibration.curve.degrees_of_freedom),
        })
    }

    /// Standard deviation, in level units, of a net level measured as the mean of m electrodes whose true level is `at`, when the
    /// curve is read at `read_at`.
    pub(crate) fn standard_deviation(&self, at: f64, read_at: f64) -> f64 {
        let c = &self.curve.unscaled_covariance;
        let of_curve = (c[0][0] + read_at * (2.0 * c[0][1] + read_at * c[1][1])).max(0.0);
        let of_sample = self.curve.relative_variance_at(at) / self.electrodes;
        self.process_sd * libm::sqrt(of_sample + of_curve)
    }

    /// Limits that rest on the residuals of the line.
    pub(crate) fn residual_limits(
        &self,
        calibration: &Calibration,
        settings: &LimitSettings,
        procedure: Procedure,
        [decision, detection]: [f64; 2],
    ) -> DetectionLimits {
        let quantification = self.quantification(settings.quantification_factor, settings.alpha);
        DetectionLimits {
            procedure,
            alpha: Some(settings.alpha),
            beta: Some(settings.beta),
            n_electrodes: settings.n_electrodes,
            spread: LimitSpread::Residual,
            standard_deviation: self.process_sd,
            degrees_of_freedom: self.degrees_of_freedom,
            decision: Some(decision),
            decision_signal_a: Some(self.signal_a(decision)),
            detection: Some(detection),
            quantification,
            notes: notes_of_curve(calibration, quantification),
        }
    }

    pub(crate) fn signal_a(&self, level: f64) -> f64 {
        stillwell_evaluate::signal_at(self.curve, level)
    }

    /// `x = k t(1 − α/2) s(x)`: where the two-sided interval is ± x/k.
    pub(crate) fn quantification(&self, factor: f64, alpha: f64) -> Option<Quantification> {
        let t = student_t_quantile(1.0 - 0.5 * alpha, self.degrees_of_freedom);
        let level = first_root(self.curve.level_max, |x| x - factor * t * self.standard_deviation(x, x))?;
        Some(Quantification { level, factor })
    }

    /// `x = δ s(x)` with the spread of the sample at `x` and of the curve at zero.
    pub(crate) fn detection(&self, delta: f64) -> Option<f64> {
        first_root(self.curve.level_max, |x| x - delta * self.standard_deviation(x, 0.0))
    }
}

/// Steps in which the first crossing is looked for, before it is halved down.
const ROOT_STEPS: u32 = 1000;
const ROOT_HALVINGS: u32 = 200;

/// The smallest `x` in `0..=top` where `f` turns from negative to zero or above.
pub(crate) fn first_root(top: f64, f: impl Fn(f64) -> f64) -> Option<f64> {
    let step = top / f64::from(ROOT_STEPS);
    let k = (1..=ROOT_STEPS).find(|k| f(step * f64::from(*k)) >= 0.0)?;
    let (mut low, mut high) = (step * f64::from(k - 1), step * f64::from(k));
    for _ in 0..ROOT_HALVINGS {
        let middle = low + 0.5 * (high - low);
        if middle <= low || middle >= high {
            break;
        }
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(high)
}
