//! `calibrate --format json`.

use serde::Serialize;
use stillwell_calibrate::{Calibration, Outcome, Role};
use stillwell_method::{CalibrationLink, DetectionClaim, Report};

use super::{FindingJson, MethodJson, findings};

#[derive(Serialize)]
pub(crate) struct Document {
    method: MethodJson,
    calibrations: Vec<CalibrationJson>,
}

pub(crate) fn of(report: &Report) -> Document {
    Document {
        method: MethodJson::from(&report.method),
        calibrations: report.calibrations.iter().map(CalibrationJson::from).collect(),
    }
}

/// Levels are in the method's reporting unit, signals in A.
#[derive(Serialize)]
pub(super) struct CalibrationJson {
    lot: String,
    channel: String,
    accepted: bool,
    blake3: String,
    curve: Option<CurveJson>,
    detection: Option<DetectionJson>,
    findings: Vec<FindingJson>,
}

impl From<&CalibrationLink> for CalibrationJson {
    fn from(link: &CalibrationLink) -> Self {
        Self {
            lot: link.key.lot.clone(),
            channel: link.key.channel.clone(),
            accepted: link.is_accepted(),
            blake3: link.hash.to_string(),
            curve: link.calibration.as_ref().map(CurveJson::from),
            detection: link.detection.as_ref().map(DetectionJson::from),
            findings: findings(&link.findings),
        }
    }
}

#[derive(Serialize)]
struct CurveJson {
    model: String,
    coefficients: [f64; 3],
    standard_errors: [f64; 3],
    unscaled_covariance: [[f64; 3]; 3],
    relative_variance: [f64; 3],
    residual_sd_a: f64,
    degrees_of_freedom: u32,
    t_quantile: f64,
    level_min: f64,
    level_max: f64,
    r_squared: f64,
    process_sd: f64,
    n_scans: usize,
    n_electrode_means: usize,
    electrode_variance_a2: f64,
    scan_variance_a2: f64,
    standards: Vec<StandardJson>,
    acceptance: Vec<CriterionJson>,
}

#[derive(Serialize)]
struct StandardJson {
    level: f64,
    electrode: String,
    mean_signal_a: f64,
    residual_a: f64,
    leverage: f64,
    back_calculated: Option<f64>,
}

#[derive(Serialize)]
struct CriterionJson {
    check: &'static str,
    decides: bool,
    outcome: &'static str,
    found: Option<f64>,
    limit: Option<f64>,
}

impl From<&Calibration> for CurveJson {
    fn from(made: &Calibration) -> Self {
        let curve = &made.curve;
        Self {
            model: made.settings.model.to_string(),
            coefficients: curve.coefficients,
            standard_errors: made.statistics.standard_errors,
            unscaled_covariance: curve.unscaled_covariance,
            relative_variance: curve.relative_variance,
            residual_sd_a: curve.residual_sd,
            degrees_of_freedom: curve.degrees_of_freedom,
            t_quantile: curve.t_quantile,
            level_min: curve.level_min,
            level_max: curve.level_max,
            r_squared: made.statistics.r_squared,
            process_sd: made.statistics.process_sd,
            n_scans: made.statistics.n_scans,
            n_electrode_means: made.statistics.n_points,
            electrode_variance_a2: made.components.electrode_variance_a2,
            scan_variance_a2: made.components.scan_variance_a2,
            standards: standards(made),
            acceptance: criteria(made),
        }
    }
}

fn standards(made: &Calibration) -> Vec<StandardJson> {
    made.points
        .iter()
        .map(|point| StandardJson {
            level: point.level,
            electrode: point.electrode.clone(),
            mean_signal_a: point.mean_signal_a,
            residual_a: point.residual_a,
            leverage: point.leverage,
            back_calculated: point.back_calculated,
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

#[derive(Serialize)]
struct DetectionJson {
    basis: String,
    decision_limit: f64,
    detection_limit: f64,
    quantification_limit: f64,
    notes: Vec<&'static str>,
}

impl From<&DetectionClaim> for DetectionJson {
    fn from(claim: &DetectionClaim) -> Self {
        Self {
            basis: claim.basis.clone(),
            decision_limit: claim.decision_limit.value(),
            detection_limit: claim.detection_limit.value(),
            quantification_limit: claim.quantification_limit.value(),
            notes: claim.notes.clone(),
        }
    }
}
