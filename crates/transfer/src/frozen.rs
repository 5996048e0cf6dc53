//! One accepted calibration of a method, frozen: everything that the device's constants are made from.

use stillwell_calibrate::Calibration;
use stillwell_evaluate::{
    Evaluator, FrozenLimit, FrozenLot, FrozenMethod, MOST_ELECTRODES, RawScan, Settings, TemperatureRule,
    TrustCheck, TrustReport, TrustState, check_scan,
};
use stillwell_method::{
    BaselinePlan, BlankUse, CalibrationLink, CalibrationScope, Effect, Freeze, Hash, Input, Method, Report,
    freeze,
};
use stillwell_scan::TechniqueKind;

use crate::error::TransferError;
use crate::limits::frozen_limits;

/// Longest scan of a device.
pub const MOST_POINTS: usize = 65_535;

/// Baselines that a device draws, as the method file names them.
pub const DEVICE_BASELINES: &[&str] = &["line", "minima", "tangent", "polynomial", "none"];

/// A lot's identity and days of use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotTerms {
    /// As on the run sheet.
    pub lot: String,
    /// First day of use, days since 1970-01-01.
    pub first_day: u32,
    /// Last day of use.
    pub last_day: u32,
}

/// What a device is to repeat, with everything it needs in one place.
#[derive(Debug, Clone)]
pub struct Frozen {
    pub(crate) freeze: Freeze,
    pub(crate) calibration: Calibration,
    pub(crate) limits: Vec<FrozenLimit>,
    pub(crate) temperature: Option<TemperatureRule>,
    pub(crate) temperature_c: Option<f64>,
    pub(crate) uses_blank: bool,
    pub(crate) shift_limit_v: f64,
    pub(crate) width_tolerance: f64,
    pub(crate) range_end_a: Option<[f64; 2]>,
    pub(crate) electrodes: u32,
    pub(crate) level_relative_u: f64,
    pub(crate) method_hash: Hash,
    pub(crate) calibration_hash: Hash,
    pub(crate) terms: LotTerms,
}

impl Frozen {
    /// Freezes one calibration of a report.
    ///
    /// # Errors
    /// Every [`TransferError`]: steps that a device does not take, and calibrations that were not accepted.
    pub fn of(
        input: &Input,
        report: &Report,
        calibration: usize,
        terms: LotTerms,
    ) -> Result<Self, TransferError> {
        let method = &input.method;
        refuse_other_steps(method)?;
        let nothing = || TransferError::NothingToFreeze { calibration };
        let link = report.calibrations.get(calibration).ok_or_else(nothing)?;
        let made = accepted(link)?;
        let most = u32::try_from(MOST_ELECTRODES).unwrap_or(0);
        let frozen = freeze(input, report, calibration, most).ok_or_else(nothing)?;
        if frozen.claims.len() < method.sample.electrodes as usize {
            return Err(TransferError::NoClaim { electrodes: method.sample.electrodes });
        }
        let frozen = Self {
            freeze: frozen,
            calibration: made.clone(),
            limits: frozen_limits(method)?,
            temperature: method.sample.temperature,
            temperature_c: link.temperature_c,
            uses_blank: method.evaluation.blank != BlankUse::Ignore,
            shift_limit_v: method.reference.shift_limit_v,
            width_tolerance: method.evaluation.peak.width_tolerance,
            range_end_a: method.trust.range_a.map(|end_a| [-end_a, end_a]),
            electrodes: method.sample.electrodes,
            level_relative_u: method.calibration.level_relative_u,
            method_hash: method.hash,
            calibration_hash: link.hash,
            terms,
        };
        frozen.check()?;
        Ok(frozen)
    }

    /// The mean blank behind the lot's record; none where the method uses none.
    pub fn blank_a(&self) -> Option<&[f64]> {
        self.freeze.blank_a.as_deref().filter(|_| self.uses_blank)
    }

    /// Whether each point comes with forward and reverse current.
    pub fn has_reverse(&self) -> bool {
        self.freeze.has_reverse
    }

    /// Points of the smoothing window; 0 without smoothing.
    pub fn smoothing_window(&self) -> usize {
        self.freeze.smoothing.as_ref().map_or(0, |(window, _)| *window)
    }

    /// Points of a scan.
    pub fn n_points(&self) -> usize {
        self.freeze.potential_v.len()
    }

    /// The method as the kernel takes it.
    ///
    /// # Errors
    /// [`TransferError::SettingsNotUsable`].
    pub fn method(&self) -> Result<FrozenMethod<'_>, TransferError> {
        Ok(FrozenMethod {
            potential_v: &self.freeze.potential_v,
            settings: self.settings()?,
            uses_blank: self.uses_blank,
            has_reverse: self.freeze.has_reverse,
            middle: self.freeze.middle,
            shift_limit_v: self.shift_limit_v,
            width_tolerance: self.width_tolerance,
            expected: self.freeze.expected,
            trust: self.freeze.trust,
            interval_s: self.freeze.interval_s,
            range_end_a: self.range_end_a,
            electrodes: self.electrodes,
            level_relative_u: self.level_relative_u,
            temperature: self.temperature,
            limits: &self.limits,
        })
    }

    /// The lot as the kernel takes it.
    pub fn lot(&self) -> FrozenLot<'_> {
        FrozenLot {
            curve: self.calibration.curve,
            spread: self.calibration.standard_spread(),
            peak: self.freeze.peak,
            temperature_c: self.temperature_c,
            claims: &self.freeze.claims,
            first_day: self.terms.first_day,
            last_day: self.terms.last_day,
        }
    }

    pub(crate) fn settings(&self) -> Result<Settings<'_>, TransferError> {
        self.freeze.settings().map_err(TransferError::SettingsNotUsable)
    }

    /// What the trust checks find on this grid with the currents of a scan.
    pub(crate) fn trust_of(&self, current_a: &[f64]) -> TrustReport {
        let raw = RawScan {
            potential_v: &self.freeze.potential_v,
            current_a,
            forward_a: None,
            reverse_a: None,
            overload_points: &[],
            interval_s: self.freeze.interval_s,
            resolution_a: None,
            range_end_a: self.range_end_a,
        };
        let mut order = vec![0.0; current_a.len()];
        check_scan(&raw, &self.freeze.expected, &self.freeze.trust, &mut order)
    }

    fn check(&self) -> Result<(), TransferError> {
        let found = self.n_points();
        if !(3..=MOST_POINTS).contains(&found) {
            return Err(TransferError::TooManyPoints { found, accepted: MOST_POINTS });
        }
        let evaluator = Evaluator::new(&self.freeze.potential_v, self.settings()?);
        evaluator.map_err(TransferError::SettingsNotUsable)?;
        let trust = self.trust_of(&vec![0.0; found]);
        match trust.failed().find(|finding| looks_at_grid(finding.check)) {
            Some(finding) => Err(TransferError::GridNotTrusted {
                check: format!("{:?}", finding.check),
                found: finding.found,
                limit: finding.limit,
            }),
            None => Ok(()),
        }
    }
}

/// Whether a check looks at the grid alone, which a device sets itself: then what it finds is a constant.
pub(crate) fn looks_at_grid(check: TrustCheck) -> bool {
    match check {
        TrustCheck::TooFewPoints
        | TrustCheck::TooFewPointsInPeak
        | TrustCheck::WrongDirection
        | TrustCheck::WrongWindow
        | TrustCheck::WrongStep
        | TrustCheck::MissingPoints
        | TrustCheck::RepeatedPoints
        | TrustCheck::NonUniformSteps => true,
        TrustCheck::Overload
        | TrustCheck::Clipping
        | TrustCheck::FlatLine
        | TrustCheck::Offset
        | TrustCheck::Spikes
        | TrustCheck::Noise
        | TrustCheck::StartUp
        | TrustCheck::ReverseDrift
        | TrustCheck::MainsPickup => false,
    }
}

/// Why a check cannot be made on this grid with these limits, whatever the currents; none where it can.
pub(crate) fn why_never_testable(
    frozen: &Frozen,
    check: TrustCheck,
) -> Option<stillwell_evaluate::WhyNotTestable> {
    // Any finite currents tell: what depends on them is a number that left the range, which small ones do not.
    let current_a: Vec<f64> = (0..frozen.n_points()).map(|i| 1e-9 * ((i * i) % 17) as f64).collect();
    match frozen.trust_of(&current_a).of(check).state {
        TrustState::NotTestable(why) => Some(why),
        TrustState::Passed | TrustState::Failed => None,
    }
}

fn refuse_other_steps(method: &Method) -> Result<(), TransferError> {
    match method.technique.kind {
        TechniqueKind::SquareWave
        | TechniqueKind::StrippingSquareWave
        | TechniqueKind::DifferentialPulse
        | TechniqueKind::StrippingDifferentialPulse
        | TechniqueKind::NormalPulse
        | TechniqueKind::LinearSweep
        | TechniqueKind::StrippingLinearSweep => {}
        other @ (TechniqueKind::Cyclic | TechniqueKind::Chronoamperometry | TechniqueKind::Potentiometry) => {
            return Err(TransferError::TechniqueNotOnDevice { technique: other.word() });
        }
    }
    if let BaselinePlan::AsymmetricLeastSquares { .. } = method.evaluation.baseline {
        let n_points = method.technique.n_points().unwrap_or(0);
        // Smoothed curve, baseline and three rows of the system, 8 bytes each.
        let needed_bytes = 5 * 8 * n_points;
        return Err(TransferError::BaselineNotOnDevice { needed_bytes, alternatives: DEVICE_BASELINES });
    }
    if method.evaluation.blank == BlankUse::Align {
        return Err(TransferError::BlankAligned);
    }
    if method.calibration.per == CalibrationScope::AllLots {
        return Err(TransferError::CalibrationOfAllLots);
    }
    let accepted = u32::try_from(MOST_ELECTRODES).unwrap_or(0);
    if method.sample.electrodes > accepted {
        return Err(TransferError::TooManyElectrodes { found: method.sample.electrodes, accepted });
    }
    Ok(())
}

fn accepted(link: &CalibrationLink) -> Result<&Calibration, TransferError> {
    let why = link.findings.iter().find(|finding| finding.is_in_force(Effect::Refused));
    match (&link.calibration, why) {
        (Some(made), None) => Ok(made),
        (_, why) => Err(TransferError::CalibrationNotAccepted {
            subject: link.key.label(),
            why: why.map_or_else(|| "it was not made".to_owned(), |finding| finding.found.clone()),
        }),
    }
}
