//! From the scans of a sample to its concentration: the electrode, not the scan, is what repeats.

use crate::calibration::Calibration;
use crate::check::{Check, Finding};
use crate::error::ConcentrationError;
use std::collections::BTreeMap;
use stillwell_evaluate::{
    ElectrodeMean, Inverse, LevelUncertainty, MeanSpread, electrode_mean, exact_mean, inverse,
};

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

impl ElectrodeReading {
    fn mean(&self) -> ElectrodeMean {
        ElectrodeMean { mean_signal_a: self.mean_signal_a, n_scans: self.n_scans }
    }
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

/// The concentration of a sample from the scans of its electrodes.
///
/// The scans of each electrode are averaged, then the electrodes. The variance of that mean is the kernel's
/// ([`MeanSpread::of`]): the calibration's spread of electrode means, plus what electrodes with fewer scans than the standards'
/// lack, plus what electrodes differ by beyond that (F test at 1 %), which a finding says. The interval is the kernel's too
/// ([`stillwell_evaluate::inverse`]).
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
    let mean_signal_a = exact_mean(&means);
    let of_electrodes: Vec<ElectrodeMean> = electrodes.iter().map(ElectrodeReading::mean).collect();
    let limit = calibration.disagreement_limit(n_electrodes);
    let standards = calibration.standard_spread();
    let spread = MeanSpread::of(&calibration.curve, &standards, &of_electrodes, mean_signal_a, limit);
    let extra_variance_a2 = spread.extra_variance_a2();
    if !(mean_signal_a.is_finite() && extra_variance_a2.is_finite()) {
        return Err(ConcentrationError::OutOfRange);
    }
    let curve = &calibration.curve;
    let level = match inverse(curve, mean_signal_a, n_electrodes, extra_variance_a2) {
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
        findings: spread
            .ratio
            .map(|ratio| Finding::caution(Check::SampleElectrodesDisagree, !spread.disagrees, ratio, limit))
            .into_iter()
            .collect(),
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
        .map(|(electrode, mut signals_a)| ElectrodeReading {
            electrode: electrode.to_owned(),
            n_scans: signals_a.len(),
            mean_signal_a: electrode_mean(&mut signals_a),
        })
        .collect())
}
