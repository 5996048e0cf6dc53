//! What a plan rests on: the spread between strips, scans and lots, taken from calibrations and never supposed.

use std::collections::BTreeSet;

use stillwell_calibrate::{Calibration, LotUse, PlanError, SpreadComponents};
use stillwell_scan::{Technique, TechniqueKind};
use stillwell_stats::{mean, standard_deviation};
use thiserror::Error;

use crate::determination::Report;
use crate::determine::determine;
use crate::file::{CalibrationScope, Method, ModelPlan};
use crate::input::Input;

/// Fewest lots whose spread may stand for a further lot (common practice, no source).
const LOTS_FOR_A_SPREAD: usize = 3;

/// Why nothing is known from which to plan.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum NoBasis {
    /// The prediction knows straight lines only.
    #[error("the method's curve is no straight line with an intercept; a plan can be made for a line only")]
    NotALine,
    /// Nothing to take components from.
    #[error(
        "no calibration was accepted, so nothing is known of how strips differ; `stillwell calibrate` says why"
    )]
    NothingAccepted,
    /// The standards are counted in another way than the method reports.
    #[error(
        "the standards are counted in {found}, the method reports {accepted}; plan with the folder's own method"
    )]
    OtherUnit {
        /// Of the standards.
        found: String,
        /// Of the method.
        accepted: String,
    },
    /// One calibration for all lots, and too few lots to tell how they differ.
    #[error(
        "one calibration is to serve all lots, but there are {found} lot(s) with an accepted calibration; how lots differ is known from {needed} on"
    )]
    TooFewLots {
        /// Lots found.
        found: usize,
        /// Lots needed.
        needed: usize,
    },
    /// The calibrations cannot tell.
    #[error(transparent)]
    Plan(#[from] PlanError),
}

/// Components of variance with what they were taken from.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanBasis {
    /// The components, in the method's reporting unit.
    pub components: SpreadComponents,
    /// Lots with an accepted calibration.
    pub lots: usize,
    /// Degrees of freedom between strips of one level, all calibrations together.
    pub electrode_degrees_of_freedom: usize,
    /// Relative standard deviation of the sensitivity between lots, from three lots on.
    pub lot_relative_sd: Option<f64>,
    /// How far a sample may be from the calibration's temperature without correction, K; that much is allowed for.
    pub temperature_allowed_k: Option<f64>,
}

impl PlanBasis {
    /// How well the spread itself is known: relative standard uncertainty of a standard deviation.
    ///
    /// # Source
    /// JCGM 100:2008, E.4.3, approximately `1/√(2 ν)`.
    pub fn spread_relative_u(&self) -> f64 {
        1.0 / libm::sqrt(2.0 * self.electrode_degrees_of_freedom.max(1) as f64)
    }

    /// Minutes that a method lets a strip wait before its scans.
    pub fn wait_minutes(method: &Method) -> f64 {
        method.sample.wait_s.unwrap_or(0.0) / 60.0
    }
}

/// The chain with a calibration for each lot, whatever the method says: only so are strips and lots told apart.
pub fn determine_lot_by_lot(input: &Input) -> Report {
    let mut by_lot = input.clone();
    by_lot.method.calibration.per = CalibrationScope::Lot;
    determine(&by_lot)
}

/// Components from the accepted calibrations of these reports, each made lot by lot ([`determine_lot_by_lot`]).
///
/// The standards' uncertainty is the method's `level_relative_u`; a sample is allowed to be as far from the calibration's
/// temperature as the method leaves uncorrected; dilution and recovery are not counted.
///
/// # Units
/// The method's reporting unit.
///
/// # Errors
/// [`NoBasis`].
///
/// # Source
/// [`SpreadComponents::from_calibrations`]; between lots the variance of the sensitivities less that of the fits.
pub fn plan_basis(method: &Method, reports: &[Report]) -> Result<PlanBasis, NoBasis> {
    if method.calibration.model != ModelPlan::Line {
        return Err(NoBasis::NotALine);
    }
    let kind = &method.analyte.reported_as;
    if let Some(other) = reports.iter().find(|report| report.method.reported_as != *kind) {
        let found = other.method.reported_as.to_string();
        return Err(NoBasis::OtherUnit { found, accepted: kind.to_string() });
    }
    let links = reports.iter().flat_map(|report| &report.calibrations).filter(|link| link.is_accepted());
    let lots = links.clone().map(|link| link.key.lot.as_str()).collect::<BTreeSet<_>>().len();
    let made: Vec<&Calibration> = links.filter_map(|link| link.calibration.as_ref()).collect();
    if made.is_empty() {
        return Err(NoBasis::NothingAccepted);
    }
    let lot_relative_sd = if lots < LOTS_FOR_A_SPREAD { None } else { spread_of_lots(&made) };
    let lot_use = lot_use(method, lots, lot_relative_sd)?;
    let components = SpreadComponents::from_calibrations(
        &made,
        lot_relative_sd.unwrap_or(0.0),
        lot_use,
        method.calibration.level_relative_u,
        temperature_relative_u(method),
    )?;
    Ok(PlanBasis {
        components,
        lots,
        electrode_degrees_of_freedom: made.iter().map(|c| c.components.electrode_degrees_of_freedom).sum(),
        lot_relative_sd,
        temperature_allowed_k: method.sample.temperature.as_ref().map(|rule| rule.tolerance_k),
    })
}

fn lot_use(method: &Method, lots: usize, lot_relative_sd: Option<f64>) -> Result<LotUse, NoBasis> {
    match (method.calibration.per, lot_relative_sd) {
        (CalibrationScope::Lot, _) => Ok(LotUse::CalibratedEach),
        (CalibrationScope::AllLots, Some(_)) => {
            Ok(LotUse::CalibratedOnce { lots: u32::try_from(lots).unwrap_or(u32::MAX) })
        }
        (CalibrationScope::AllLots, None) => {
            Err(NoBasis::TooFewLots { found: lots, needed: LOTS_FOR_A_SPREAD })
        }
    }
}

/// What the fits scatter by themselves is taken off; what is left is never below zero.
fn spread_of_lots(made: &[&Calibration]) -> Option<f64> {
    let slopes: Vec<f64> = made.iter().map(|c| c.statistics.sensitivity_a_per_level).collect();
    let of_fits: Vec<f64> = made
        .iter()
        .map(|c| {
            let [_, error, _] = c.statistics.standard_errors;
            error * error
        })
        .collect();
    let (mean_slope, sd) = (mean(&slopes).ok()?, standard_deviation(&slopes).ok()?);
    let between = (sd * sd - mean(&of_fits).ok()?).max(0.0);
    Some(libm::sqrt(between) / mean_slope.abs())
}

/// As the chain widens a result within the tolerance: rectangular (JCGM 100:2008, 4.3.7).
fn temperature_relative_u(method: &Method) -> f64 {
    let rule = method.sample.temperature.as_ref();
    rule.and_then(|rule| rule.coefficient_per_k.map(|(per_k, _)| (per_k * rule.tolerance_k).abs()))
        .map_or(0.0, |largest| largest / libm::sqrt(3.0))
}

/// Minutes that one scan takes by the method's technique, deposition and rest included; `None` where it leaves a time open.
///
/// # Units
/// Minutes.
///
/// # Source
/// Definition: points times period, or way over scan rate.
pub fn scan_minutes(technique: &Technique) -> Option<f64> {
    let points = technique.n_points().map(|n| n as f64);
    let sweep_v = match technique.vertex_v {
        Some(vertex_v) => (vertex_v - technique.start_v).abs() + (technique.end_v - vertex_v).abs(),
        None => (technique.end_v - technique.start_v).abs(),
    };
    let sweep_s = || technique.scan_rate_v_per_s.filter(|rate| *rate > 0.0).map(|rate| sweep_v / rate);
    let recording_s = match technique.kind {
        TechniqueKind::SquareWave | TechniqueKind::StrippingSquareWave => {
            points? / technique.frequency_hz.filter(|frequency| *frequency > 0.0)?
        }
        TechniqueKind::DifferentialPulse
        | TechniqueKind::NormalPulse
        | TechniqueKind::StrippingDifferentialPulse => points? * technique.pulse_period_s?,
        TechniqueKind::LinearSweep | TechniqueKind::StrippingLinearSweep => sweep_s()?,
        TechniqueKind::Cyclic => sweep_s()? * f64::from(technique.cycles.unwrap_or(1)),
        TechniqueKind::Chronoamperometry | TechniqueKind::Potentiometry => technique.duration_s?,
    };
    let before_s = technique.quiet_s.unwrap_or(0.0) + technique.deposition_s.unwrap_or(0.0);
    Some((recording_s + before_s) / 60.0)
}
