//! `calibrate --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_calibrate::{Calibration, Outcome, Role};
use stillwell_method::{CalibrationLink, DetectionClaim, Report};

use super::{FindingJson, MethodJson, findings, in_unit};

/// The calibrations of an input.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    calibrations: Vec<CalibrationJson>,
}

/// `calibrate --format json`.
pub fn of(report: &Report) -> Document {
    Document {
        method: MethodJson::from(&report.method),
        calibrations: report.calibrations.iter().map(|link| calibration(report, link)).collect(),
    }
}

/// Signals are in A; a coefficient of the curve is in A per level to its power.
#[derive(Serialize, JsonSchema)]
pub(crate) struct CalibrationJson {
    lot: String,
    channel: String,
    accepted: bool,
    blake3: String,
    curve: Option<CurveJson>,
    detection: Option<DetectionJson>,
    findings: Vec<FindingJson>,
}

pub(crate) fn calibration(report: &Report, link: &CalibrationLink) -> CalibrationJson {
    let unit = report.method.reported_as.suffix();
    CalibrationJson {
        lot: link.key.lot.clone(),
        channel: link.key.channel.clone(),
        accepted: link.is_accepted(),
        blake3: link.hash.to_string(),
        curve: link.calibration.as_ref().map(|made| curve(made, &unit)),
        detection: link.detection.as_ref().map(|claim| detection(claim, &unit)),
        findings: findings(&link.findings),
    }
}

#[derive(Serialize, JsonSchema)]
struct CurveJson {
    model: String,
    coefficients: [f64; 3],
    standard_errors: [f64; 3],
    unscaled_covariance: [[f64; 3]; 3],
    relative_variance: [f64; 3],
    residual_sd_a: f64,
    degrees_of_freedom: u32,
    t_quantile: f64,
    /// Range of the levels and process standard deviation.
    #[serde(flatten)]
    in_levels: Map<String, Value>,
    r_squared: f64,
    n_scans: usize,
    n_electrode_means: usize,
    electrode_variance_a2: f64,
    scan_variance_a2: f64,
    standards: Vec<StandardJson>,
    acceptance: Vec<CriterionJson>,
}

#[derive(Serialize, JsonSchema)]
struct StandardJson {
    /// The level, stated and read back.
    #[serde(flatten)]
    in_levels: Map<String, Value>,
    electrode: String,
    mean_signal_a: f64,
    residual_a: f64,
    leverage: f64,
}

#[derive(Serialize, JsonSchema)]
struct CriterionJson {
    check: &'static str,
    decides: bool,
    outcome: &'static str,
    found: Option<f64>,
    limit: Option<f64>,
}

fn curve(made: &Calibration, unit: &str) -> CurveJson {
    let curve = &made.curve;
    let figures = &made.statistics;
    CurveJson {
        model: made.settings.model.to_string(),
        coefficients: curve.coefficients,
        standard_errors: figures.standard_errors,
        unscaled_covariance: curve.unscaled_covariance,
        relative_variance: curve.relative_variance,
        residual_sd_a: curve.residual_sd,
        degrees_of_freedom: curve.degrees_of_freedom,
        t_quantile: curve.t_quantile,
        in_levels: in_unit(
            unit,
            [
                ("level_min", Some(curve.level_min)),
                ("level_max", Some(curve.level_max)),
                ("process_sd", Some(figures.process_sd)),
            ],
        ),
        r_squared: figures.r_squared,
        n_scans: figures.n_scans,
        n_electrode_means: figures.n_points,
        electrode_variance_a2: made.components.electrode_variance_a2,
        scan_variance_a2: made.components.scan_variance_a2,
        standards: standards(made, unit),
        acceptance: criteria(made),
    }
}

fn standards(made: &Calibration, unit: &str) -> Vec<StandardJson> {
    made.points
        .iter()
        .map(|point| StandardJson {
            in_levels: in_unit(
                unit,
                [("level", Some(point.level)), ("back_calculated", point.back_calculated)],
            ),
            electrode: point.electrode.clone(),
            mean_signal_a: point.mean_signal_a,
            residual_a: point.residual_a,
            leverage: point.leverage,
        })
        .collect()
}

fn criteria(made: &Calibration) -> Vec<CriterionJson> {
    made.findings
        .iter()
        .map(|finding| CriterionJson {
            check: finding.id(),
            decides: finding.role == Role::Acceptance,
            outcome: match finding.outcome {
                Outcome::Passed => "passed",
                Outcome::Failed => "failed",
                Outcome::NotTestable => "not-testable",
            },
            found: finding.found,
            limit: finding.limit,
        })
        .collect()
}

#[derive(Serialize, JsonSchema)]
struct DetectionJson {
    basis: String,
    /// Decision, detection and quantification limit.
    #[serde(flatten)]
    in_levels: Map<String, Value>,
    notes: Vec<&'static str>,
}

fn detection(claim: &DetectionClaim, unit: &str) -> DetectionJson {
    DetectionJson {
        basis: claim.basis.clone(),
        in_levels: in_unit(
            unit,
            [
                ("decision_limit", Some(claim.decision_limit.value())),
                ("detection_limit", Some(claim.detection_limit.value())),
                ("quantification_limit", Some(claim.quantification_limit.value())),
            ],
        ),
        notes: claim.notes.clone(),
    }
}
