//! From the scans of a sample to its concentration: the electrode, not the scan, is what repeats.

use crate::back_calculation::level_at;
use crate::calibration::{Calibration, slope_at};
use crate::check::{Check, Finding};
use crate::electrode::{mean_of, sum_of_squares_about};
use crate::error::ConcentrationError;
use std::collections::BTreeMap;
use stillwell_evaluate::{Curve, Inverse, inverse, prediction_half_width_a};
use stillwell_stats::distributions::f_quantile;

/// The signals of one electrode on one sample (or blank, or check standard).
#[derive(Debug, Clone, PartialEq)]
pub struct ElectrodeSignals {
    /// The physical electrode.
    pub electrode: String,
    /// One signal a scan.
    pub signals_a: Vec<f64>,
}

/// What the signal says about the level, as the kernel answers; see [`stillwell_evaluate::inverse`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EstimatedLevel {
    /// Between the lowest and the highest standard.
    Within {
        /// The estimate.
        value: f64,
        /// Lower end of the interval.
        low: f64,
        /// Upper end of the interval.
        high: f64,
    },
    /// Below the lowest standard; the numbers are kept as computed, negative ones too.
    Below {
        /// The estimate.
        value: f64,
        /// Lower end of the interval.
        low: f64,
        /// Upper end of the interval.
        high: f64,
    },
    /// Above the highest standard: no value is extrapolated.
    Above {
        /// The level is at least this, which lies within the calibrated range.
        low: f64,
    },
}

/// A sample's level with its interval and what the interval is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct ConcentrationEstimate {
    /// The level and its interval.
    pub level: EstimatedLevel,
    /// Two-sided coverage of the interval.
    pub coverage: f64,
    /// Electrodes averaged: the m of every formula.
    pub n_electrodes: u32,
    /// Scans behind them.
    pub n_scans: usize,
    /// Mean of the electrode means.
    pub mean_signal_a: f64,
    /// The electrodes, sorted by name.
    pub electrodes: Vec<ElectrodeReading>,
    /// Degrees of freedom of the calibration's standard deviation, on which the interval rests.
    pub degrees_of_freedom: u32,
    /// Parts of the standard uncertainty, in level units; `None` above the range.
    pub uncertainty: Option<LevelUncertainty>,
    /// Agreement of the sample's electrodes; empty for a single electrode.
    pub findings: Vec<Finding>,
}

/// One electrode of a sample.
#[derive(Debug, Clone, PartialEq)]
pub struct ElectrodeReading {
    /// The electrode.
    pub electrode: String,
    /// Mean of its scans.
    pub mean_signal_a: f64,
    /// Its scans.
    pub n_scans: usize,
}

/// Standard uncertainties in level units, to first order (signal over slope); the interval itself is Fieller's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelUncertainty {
    /// Of the mean of the sample's electrodes, from the calibration's spread.
    pub of_electrodes: f64,
    /// Added because the sample's electrodes had fewer scans than the standards'.
    pub of_fewer_scans: f64,
    /// Added because the sample's electrodes disagree more than the calibration's.
    pub of_disagreement: f64,
    /// Of the calibration curve.
    pub of_curve: f64,
    /// All together.
    pub combined: f64,
}

impl ConcentrationEstimate {
    /// The estimate, `None` above the range.
    pub fn value(&self) -> Option<f64> {
        match self.level {
            EstimatedLevel::Within { value, .. } | EstimatedLevel::Below { value, .. } => Some(value),
            EstimatedLevel::Above { .. } => None,
        }
    }

    /// Lower end of the interval.
    pub fn low(&self) -> f64 {
        match self.level {
            EstimatedLevel::Within { low, .. }
            | EstimatedLevel::Below { low, .. }
            | EstimatedLevel::Above { low } => low,
        }
    }

    /// Upper end of the interval: infinite above the range.
    pub fn high(&self) -> f64 {
        match self.level {
            EstimatedLevel::Within { high, .. } | EstimatedLevel::Below { high, .. } => high,
            EstimatedLevel::Above { .. } => f64::INFINITY,
        }
    }
}

/// Significance at which the sample's electrodes are said to disagree: common practice, no source.
pub const DISAGREEMENT_ALPHA: f64 = 0.01;

/// The concentration of a sample from the scans of its electrodes.
///
/// The scans of each electrode are averaged, then the electrodes. The variance of that mean is
/// `s² v(x)/m + Σ s²(scan) v(x) max(0, 1/n_j − 1/n_std)/m²`: the calibration's spread of electrode means, plus what
/// electrodes with fewer scans than the standards' lack; more scans never shrink it. Where the sample's own electrodes differ
/// by more than the calibration's would (F test at 1 %), their own spread counts instead, and a finding says so; where they
/// agree better, nothing shrinks. The interval is the kernel's ([`stillwell_evaluate::inverse`]).
///
/// # Units
/// Signals in A, levels in the calibration's unit.
///
/// # Errors
/// [`ConcentrationError`] for no electrode, an electrode without signals, signals that are not finite, or a calibration
/// that cannot bound the level.
///
/// # Source
/// Fieller 1954; ISO 8466-1 (mean of replicates); the electrode as a level of its own: two-stage nested design.
///
/// # Example
/// ```
/// use stillwell_calibrate::{Acceptance, CalibrationSettings, ElectrodeSignals, Model, StandardSignal, Weights};
/// use stillwell_calibrate::{calibrate, concentration};
/// # let standards: Vec<StandardSignal> = [(0.0, 2.1), (2.0, 5.0), (4.0, 9.0), (6.0, 12.6), (8.0, 17.3), (10.0, 21.0), (12.0, 24.7)]
/// #     .iter().enumerate().map(|(i, &(level, signal_a))| StandardSignal {
/// #         level, signal_a, electrode: format!("strip {i}"), label: format!("scan {i}"), scan_number: None, excluded: None,
/// #     }).collect();
/// # let settings = CalibrationSettings { model: Model::Line, weights: Weights::None, coverage: 0.95,
/// #     max_excluded_fraction: 0.1, acceptance: Acceptance::default() };
/// let calibration = calibrate(&standards, &settings)?;
/// let strip = ElectrodeSignals { electrode: "strip 9".into(), signals_a: vec![13.5] };
/// let estimate = concentration(&calibration, &[strip])?;
/// assert!((estimate.low() - 5.5906).abs() < 1e-4 && (estimate.high() - 6.8251).abs() < 1e-4);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn concentration(
    calibration: &Calibration,
    electrode_scan_signals: &[ElectrodeSignals],
) -> Result<ConcentrationEstimate, ConcentrationError> {
    let electrodes = electrode_readings(electrode_scan_signals)?;
    let n_electrodes = u32::try_from(electrodes.len()).unwrap_or(u32::MAX);
    let means: Vec<f64> = electrodes.iter().map(|e| e.mean_signal_a).collect();
    let mean_signal_a = mean_of(&means);
    let spread = SampleSpread::of(calibration, &electrodes, mean_signal_a);
    if !(mean_signal_a.is_finite() && spread.extra_variance_a2().is_finite()) {
        return Err(ConcentrationError::OutOfRange);
    }
    let curve = &calibration.curve;
    let level = match inverse(curve, mean_signal_a, n_electrodes, spread.extra_variance_a2()) {
        Inverse::Within { value, low, high } => EstimatedLevel::Within { value, low, high },
        Inverse::Below { value, low, high } => EstimatedLevel::Below { value, low, high },
        Inverse::Above { low } => EstimatedLevel::Above { low },
        Inverse::Unresolved(fault) => return Err(ConcentrationError::Unresolved { mean_signal_a, fault }),
    };
    let mut estimate = ConcentrationEstimate {
        level,
        coverage: calibration.settings.coverage,
        n_electrodes,
        n_scans: electrodes.iter().map(|e| e.n_scans).sum(),
        mean_signal_a,
        electrodes,
        degrees_of_freedom: curve.degrees_of_freedom,
        uncertainty: None,
        findings: spread.finding.iter().cloned().collect(),
    };
    estimate.uncertainty = estimate.value().map(|value| spread.in_levels(curve, value, n_electrodes));
    Ok(estimate)
}

/// Scans of one electrode listed twice belong together; sorting makes the order of the list irrelevant.
fn electrode_readings(signals: &[ElectrodeSignals]) -> Result<Vec<ElectrodeReading>, ConcentrationError> {
    let mut scans: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for listed in signals {
        if listed.signals_a.is_empty() {
            return Err(ConcentrationError::ElectrodeWithoutSignal { electrode: listed.electrode.clone() });
        }
        if let Some(&found) = listed.signals_a.iter().find(|s| !s.is_finite()) {
            return Err(ConcentrationError::SignalNotFinite { electrode: listed.electrode.clone(), found });
        }
        scans.entry(listed.electrode.trim()).or_default().extend(&listed.signals_a);
    }
    if scans.is_empty() {
        return Err(ConcentrationError::NoElectrode);
    }
    Ok(scans
        .into_iter()
        .map(|(electrode, mut signals_a)| {
            signals_a.sort_by(f64::total_cmp);
            ElectrodeReading {
                electrode: electrode.to_owned(),
                mean_signal_a: mean_of(&signals_a),
                n_scans: signals_a.len(),
            }
        })
        .collect())
}

/// Variances of the sample's mean signal, in A².
struct SampleSpread {
    of_electrodes: f64,
    of_fewer_scans: f64,
    of_disagreement: f64,
    finding: Option<Finding>,
}

impl SampleSpread {
    fn of(calibration: &Calibration, electrodes: &[ElectrodeReading], mean_signal_a: f64) -> Self {
        let curve = &calibration.curve;
        let components = &calibration.components;
        let m = electrodes.len() as f64;
        let level = level_at(curve, mean_signal_a).unwrap_or(curve.level_max);
        let relative = relative_variance_at(curve, level);
        let missing: f64 = electrodes
            .iter()
            .map(|e| (1.0 / e.n_scans as f64 - 1.0 / components.scans_per_electrode).max(0.0))
            .sum();
        let mut spread = Self {
            of_electrodes: curve.residual_sd * curve.residual_sd * relative / m,
            of_fewer_scans: components.scan_variance_a2 * relative * missing / (m * m),
            of_disagreement: 0.0,
            finding: None,
        };
        if electrodes.len() > 1 {
            // Strips may differ more beyond the range; only whether they agree is judged there, no number is issued.
            let [v0, v1, v2] = curve.relative_variance;
            let expected = if level > curve.level_max { v0 + level * (v1 + level * v2) } else { relative };
            spread.compare(calibration, electrodes, mean_signal_a, expected);
        }
        spread
    }

    /// The sample's own electrodes against the calibration's: widens, never narrows.
    fn compare(
        &mut self,
        calibration: &Calibration,
        electrodes: &[ElectrodeReading],
        mean_signal_a: f64,
        relative: f64,
    ) {
        let components = &calibration.components;
        let m = electrodes.len() as f64;
        let means: Vec<f64> = electrodes.iter().map(|e| e.mean_signal_a).collect();
        let found = sum_of_squares_about(&means, mean_signal_a) / (m - 1.0);
        let (variance, df) = if components.electrode_degrees_of_freedom > 0 {
            (components.electrode_mean_variance_a2, components.electrode_degrees_of_freedom)
        } else {
            let curve = &calibration.curve;
            (curve.residual_sd * curve.residual_sd, calibration.statistics.degrees_of_freedom)
        };
        let ratio = found / (variance * relative + self.of_fewer_scans * m);
        let limit = f_quantile(1.0 - DISAGREEMENT_ALPHA, m - 1.0, df as f64);
        // A ratio without a number (both variances zero) is no disagreement; an infinite one is.
        let agrees = ratio <= limit || ratio.is_nan();
        if !agrees {
            self.of_disagreement = (found / m - self.of_electrodes - self.of_fewer_scans).max(0.0);
        }
        self.finding = Some(Finding::caution(Check::SampleElectrodesDisagree, agrees, ratio, limit));
    }

    fn extra_variance_a2(&self) -> f64 {
        self.of_fewer_scans + self.of_disagreement
    }

    fn in_levels(&self, curve: &Curve, level: f64, n_electrodes: u32) -> LevelUncertainty {
        let slope = slope_at(curve, level.max(curve.level_min)).abs();
        let extra = self.extra_variance_a2();
        let combined_a = prediction_half_width_a(curve, level, n_electrodes, extra) / curve.t_quantile;
        let of_curve = (combined_a * combined_a - self.of_electrodes - extra).max(0.0);
        LevelUncertainty {
            of_electrodes: libm::sqrt(self.of_electrodes) / slope,
            of_fewer_scans: libm::sqrt(self.of_fewer_scans) / slope,
            of_disagreement: libm::sqrt(self.of_disagreement) / slope,
            of_curve: libm::sqrt(of_curve) / slope,
            combined: combined_a / slope,
        }
    }
}

/// As the kernel takes it: held inside the calibrated range.
pub(crate) fn relative_variance_at(curve: &Curve, level: f64) -> f64 {
    let [v0, v1, v2] = curve.relative_variance;
    let x = level.clamp(curve.level_min, curve.level_max);
    v0 + x * (v1 + x * v2)
}
