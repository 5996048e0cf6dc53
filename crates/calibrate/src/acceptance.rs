//! The findings of a calibration: what the method demands, and what must be shown whatever it demands.

use crate::back_calculation::LevelCheck;
use crate::calibration::Calibration;
use crate::check::{Check, Finding, Outcome, Role};
use crate::concentration::{ConcentrationEstimate, EstimatedLevel};
use crate::electrode::same_level;
use crate::error::CalibrateError;
use crate::standard::{Acceptance, CalibrationSettings, Model, Weights};
use std::collections::BTreeMap;
use stillwell_stats::distributions::student_t_quantile;
use stillwell_stats::polynomial_least_squares;

pub(crate) fn check_settings(settings: &CalibrationSettings) -> Result<(), CalibrateError> {
    if !(0.5..=0.9999).contains(&settings.coverage) {
        return Err(CalibrateError::CoverageNotUsable { found: settings.coverage });
    }
    if !(0.0..=0.5).contains(&settings.max_excluded_fraction) {
        return Err(CalibrateError::SettingNotUsable {
            setting: "the largest excluded fraction",
            found: settings.max_excluded_fraction,
            accepted: "0 to 0.5",
        });
    }
    let limits = &settings.acceptance;
    for (setting, percent) in [
        ("the largest back-calculated error", limits.max_back_calculated_percent),
        ("the check standard's allowed distance from 100 %", limits.check_standard_percent),
        ("the largest relative process standard deviation", limits.max_process_sd_percent),
    ] {
        if let Some(found) = percent.filter(|p| !(p.is_finite() && *p > 0.0)) {
            return Err(CalibrateError::SettingNotUsable {
                setting,
                found,
                accepted: "a percentage above 0",
            });
        }
    }
    for (setting, alpha) in [
        ("the significance of the lack-of-fit test", limits.lack_of_fit_alpha),
        ("the significance of the linearity test", limits.linearity_alpha),
        ("the significance of the tests of equal spread", limits.homogeneity_alpha),
        ("the significance of the residual trend", limits.residual_trend_alpha),
    ] {
        if let Some(found) = alpha.filter(|a| !(*a > 0.0 && *a < 0.5)) {
            return Err(CalibrateError::SettingNotUsable {
                setting,
                found,
                accepted: "a probability between 0 and 0.5",
            });
        }
    }
    Ok(())
}

/// Criteria first, cautions after, each in a fixed order.
pub(crate) fn findings(calibration: &Calibration) -> Vec<Finding> {
    let mut findings = criteria(calibration);
    cautions(calibration, &mut findings);
    findings
}

fn criteria(calibration: &Calibration) -> Vec<Finding> {
    let limits = &calibration.settings.acceptance;
    let tests = &calibration.tests;
    let mut findings = Vec::new();
    let stated = n_stated(limits);
    findings.push(Finding::acceptance(Check::AcceptanceStated, stated > 0, stated as f64, 1.0));
    if let Some(limit) = limits.max_back_calculated_percent {
        findings.push(back_calculated(&calibration.levels, limit));
    }
    if let Some(alpha) = limits.lack_of_fit_alpha {
        findings.push(by_p(Check::LackOfFit, tests.lack_of_fit.map(|t| t.p), alpha));
    }
    if let Some(alpha) = limits.linearity_alpha.filter(|_| calibration.settings.model != Model::Quadratic) {
        findings.push(by_p(Check::Linearity, tests.linearity.map(|t| t.test.p), alpha));
    }
    if let Some(alpha) = limits.homogeneity_alpha {
        findings.push(by_p(Check::SpreadAtRangeEnds, tests.spread_at_range_ends.map(|t| t.p), alpha));
        findings.push(by_p(Check::SpreadAcrossLevels, tests.spread_across_levels.map(|t| t.p), alpha));
    }
    if let Some(alpha) = limits.residual_trend_alpha {
        let within = tests.scan_trend_within.map(|t| by_p(Check::ScanTrendWithin, Some(t.p), alpha));
        let between = tests.scan_trend_between.map(|t| by_p(Check::ScanTrendBetween, Some(t.p), alpha));
        if within.is_none() && between.is_none() {
            findings.push(Finding::not_testable(Check::ScanTrendBetween, alpha));
        }
        findings.extend(within);
        findings.extend(between);
    }
    if let Some(limit) = limits.max_process_sd_percent {
        let found = calibration.statistics.process_sd_percent;
        findings.push(Finding::acceptance(Check::RelativeProcessSd, found <= limit, found, limit));
    }
    findings
}

/// Criteria that this calibration by itself is held against; a check standard is judged apart.
fn n_stated(limits: &Acceptance) -> usize {
    [
        limits.max_back_calculated_percent,
        limits.lack_of_fit_alpha,
        limits.linearity_alpha,
        limits.homogeneity_alpha,
        limits.residual_trend_alpha,
        limits.max_process_sd_percent,
    ]
    .iter()
    .flatten()
    .count()
}

fn by_p(check: Check, p: Option<f64>, alpha: f64) -> Finding {
    p.map_or_else(
        || Finding::not_testable(check, alpha),
        |p| Finding::acceptance(check, p >= alpha, p, alpha),
    )
}

fn back_calculated(levels: &[LevelCheck], limit: f64) -> Finding {
    let unread = levels.iter().find(|l| l.level > 0.0 && l.error_percent.is_none());
    if let Some(level) = unread {
        return Finding {
            check: Check::BackCalculated,
            role: Role::Acceptance,
            outcome: Outcome::Failed,
            subject: Some(format!("level {}", level.level)),
            found: None,
            limit: Some(limit),
        };
    }
    let worst = levels
        .iter()
        .filter_map(|l| l.error_percent.map(|error| (l.level, error.abs())))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    worst.map_or_else(
        || Finding::not_testable(Check::BackCalculated, limit),
        |(level, error)| {
            Finding::acceptance(Check::BackCalculated, error <= limit, error, limit)
                .about(format!("level {level}"))
        },
    )
}

fn cautions(calibration: &Calibration, findings: &mut Vec<Finding>) {
    let n_electrodes = calibration.components.n_electrodes;
    if n_electrodes == 1 {
        findings.push(Finding::caution(Check::OneElectrode, false, 1.0, 2.0));
    }
    if let Some((electrode, n_levels)) = busiest_electrode(calibration) {
        findings.push(
            Finding::caution(Check::ElectrodeServesSeveralLevels, false, n_levels as f64, 1.0)
                .about(electrode),
        );
    }
    if calibration.components.electrode_degrees_of_freedom == 0 {
        findings.push(Finding::caution(Check::NoReplicateElectrodes, false, 1.0, 2.0));
    }
    findings.extend(forced_origin(calibration));
    let (level, leverage) = weightiest_level(calibration);
    let limit = leverage_limit(calibration);
    findings.push(
        Finding::caution(Check::HighLeverage, leverage <= limit, leverage, limit)
            .about(format!("level {level}")),
    );
    if !calibration.excluded.is_empty() {
        findings.push(Finding::caution(
            Check::ExcludedStandards,
            false,
            calibration.excluded.len() as f64,
            0.0,
        ));
    }
    let scans = calibration.points.iter().map(|p| p.labels.len());
    let (fewest, most) = (scans.clone().min().unwrap_or(1), scans.max().unwrap_or(1));
    if fewest != most {
        findings.push(Finding::caution(Check::UnequalScans, false, most as f64 / fewest as f64, 1.0));
    }
    if let Some(ratio) = calibration.variance_function.and_then(|f| f.worst_ratio_to_stated) {
        let limit = LARGEST_RATIO_TO_STATED;
        findings.push(Finding::caution(Check::StatedSpreadOffFunction, ratio <= limit, ratio, limit));
    }
}

/// A factor of two in a standard deviation: common practice, no source.
const LARGEST_RATIO_TO_STATED: f64 = 2.0;

/// The electrode that was measured at most levels, where that is more than one.
fn busiest_electrode(calibration: &Calibration) -> Option<(String, usize)> {
    let mut n_levels: BTreeMap<&str, usize> = BTreeMap::new();
    for point in &calibration.points {
        *n_levels.entry(point.electrode.as_str()).or_default() += 1;
    }
    // `rev`: of equally busy electrodes the first by name.
    let (electrode, most) = n_levels.into_iter().rev().max_by_key(|(_, n)| *n)?;
    (most > 1).then(|| (electrode.to_owned(), most))
}

/// Beyond it a level's residual shows less than a tenth of its error: common practice, no source.
const LARGEST_LEVERAGE: f64 = 0.9;

/// Twice the average leverage (Hoaglin & Welsch 1978, with levels for points), but never above 0.9.
///
/// Weights give the precise levels more leverage on purpose, so that for them only 0.9 counts.
fn leverage_limit(calibration: &Calibration) -> f64 {
    if calibration.settings.weights != Weights::None {
        return LARGEST_LEVERAGE;
    }
    let n_coefficients = calibration.settings.model.exponents().len() as f64;
    f64::min(2.0 * n_coefficients / calibration.statistics.n_levels as f64, LARGEST_LEVERAGE)
}

/// The largest sum of leverages at one level.
fn weightiest_level(calibration: &Calibration) -> (f64, f64) {
    calibration
        .points
        .chunk_by(|a, b| same_level(a.level, b.level))
        .map(|points| (points.first().map_or(0.0, |p| p.level), points.iter().map(|p| p.leverage).sum()))
        .fold((0.0, 0.0), |most: (f64, f64), now: (f64, f64)| if now.1 > most.1 { now } else { most })
}

/// The intercept that the model leaves out, fitted for comparison: never passed, for the range says nothing about zero.
fn forced_origin(calibration: &Calibration) -> Option<Finding> {
    if calibration.settings.model != Model::LineThroughOrigin {
        return None;
    }
    let level: Vec<f64> = calibration.points.iter().map(|p| p.level).collect();
    let signal: Vec<f64> = calibration.points.iter().map(|p| p.mean_signal_a).collect();
    let weight: Vec<f64> = calibration.points.iter().map(|p| p.weight).collect();
    let free = polynomial_least_squares(&level, &signal, &[0, 1], Some(&weight)).ok();
    let t = free.and_then(|fit| {
        let t = fit.coefficients.first()? / fit.standard_errors.first()?;
        Some((t.abs(), student_t_quantile(0.975, fit.degrees_of_freedom as f64)))
    });
    Some(Finding {
        check: Check::ForcedOrigin,
        role: Role::Caution,
        outcome: Outcome::Failed,
        subject: None,
        found: t.map(|t| t.0),
        limit: t.map(|t| t.1),
    })
}

/// Judges a check standard by its recovery.
///
/// `100 |found − level| / level` against the method's limit. Above the calibrated range nothing is found, and the check fails.
///
/// # Units
/// `level` in the calibration's unit.
///
/// # Errors
/// `None` where the method states no limit for check standards.
///
/// # Source
/// Recovery of a standard of known level: common practice, no source for any particular limit.
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
/// use stillwell_calibrate::{ElectrodeSignals, check_standard_recovery, concentration};
/// let strips = [ElectrodeSignals { electrode: "strip 40".into(), signals_a: vec![12.8, 13.0] }];
/// let estimate = concentration(&calibration, &strips)?;
/// let finding = check_standard_recovery(&calibration, 6.0, &estimate).unwrap();
/// assert!(finding.passed() && finding.found.unwrap() < 3.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn check_standard_recovery(
    calibration: &Calibration,
    level: f64,
    estimate: &ConcentrationEstimate,
) -> Option<Finding> {
    let limit = calibration.settings.acceptance.check_standard_percent?;
    let value = match estimate.level {
        EstimatedLevel::Within { value, .. } | EstimatedLevel::Below { value, .. } => Some(value),
        EstimatedLevel::Above { .. } => None,
    };
    let found =
        value.map(|value| 100.0 * (value - level).abs() / level).filter(|percent| percent.is_finite());
    let passed = found.is_some_and(|percent| percent <= limit);
    Some(Finding {
        check: Check::CheckStandardRecovery,
        role: Role::Acceptance,
        outcome: if passed { Outcome::Passed } else { Outcome::Failed },
        subject: Some(format!("level {level}")),
        found,
        limit: Some(limit),
    })
}
