//! What a place shows of the method's validation: evidence from its calibrations, check standards and spikes, held against what the
//! method states under `[validation]` and, where that is silent, under `[calibration.acceptance]`.

use std::collections::BTreeMap;

use stillwell_assure::validate::{
    Criterion, LinearityEvidence, ReferenceCheck, Requirement, ValidationEvidence, ValidationRequirements,
    ValidationRow, ValidationTable, validation_table,
};
use stillwell_calibrate::Calibration;
use stillwell_quantity::Concentration;

use crate::check_history::{CheckedLevel, checked_levels, recovered_spikes};
use crate::file::Method;
use crate::interferences::{interferences, tried_words};
use crate::link::CalibrationLink;
use crate::walks::{Walk, side_by_side};

/// Said beside trueness: what a check standard cannot show.
const OWN_CHECK_STANDARD: &str = "A check standard from the laboratory's own stock shows less than a certified reference: an error of the stock stays unseen. Compare with an accredited laboratory as well.";

/// The table, and what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct ValidationReview {
    /// The table.
    pub table: ValidationTable,
    /// What was found.
    pub evidence: ValidationEvidence,
    /// The reporting unit, as it is shown.
    pub unit: String,
    /// Lots with an accepted calibration.
    pub lots: Vec<String>,
    /// Days with check standards.
    pub n_days: usize,
}

/// Makes the table from all series of a place. With several calibrations the worst of each figure counts.
///
/// # Units
/// Levels and limits in the method's reporting unit, the rest in %.
///
/// # Source
/// [`validation_table`]. Which scans are evidence of what: common practice, no source.
pub fn validation_review(method: &Method, walks: &[Walk<'_>]) -> ValidationReview {
    let accepted = accepted(walks);
    let curves: Vec<&Calibration> = accepted.iter().filter_map(|link| link.calibration.as_ref()).collect();
    let checks = checks(method, walks);
    let spikes = walks.iter().flat_map(|walk| recovered_spikes(method, walk.report));
    let limit = |of: fn(&CalibrationLink) -> Option<f64>| accepted.iter().filter_map(of).reduce(f64::max);
    let evidence = ValidationEvidence {
        calibrated_range: range(&curves),
        linearity: linearity(&curves),
        detection_limit: limit(|link| Some(link.detection.as_ref()?.detection_limit.value())),
        quantification_limit: limit(|link| Some(link.detection.as_ref()?.quantification_limit.value())),
        days: checks.as_ref().map_or_else(Vec::new, |(_, days)| days.clone()),
        references: checks.iter().map(|(level, days)| reference(method, *level, days)).collect(),
        recoveries_percent: spikes.map(|spike| spike.recovery_percent).collect(),
        interferences: interferences(method, walks),
    };
    let unit = method.analyte.reported_as.to_string();
    let mut table = validation_table(&evidence, &requirements(method), &unit);
    for row in table.rows.iter_mut().filter(|row| is_own_check(row)) {
        row.advice.push(OWN_CHECK_STANDARD.to_owned());
    }
    let selectivity = table.rows.iter_mut().filter(|row| row.criterion == Criterion::Selectivity);
    for (row, tried) in selectivity.zip(&evidence.interferences) {
        row.advice.insert(0, tried_words(method, tried));
    }
    let n_days = evidence.days.len();
    let mut lots: Vec<String> = accepted.iter().map(|link| link.key.label()).collect();
    lots.dedup();
    ValidationReview { table, evidence, unit, lots, n_days }
}

fn is_own_check(row: &ValidationRow) -> bool {
    row.criterion == Criterion::Trueness && !row.subject.is_empty()
}

fn accepted(walks: &[Walk<'_>]) -> Vec<CalibrationLink> {
    let all = side_by_side(walks).map_or_else(Vec::new, |all| all.calibrations);
    all.into_iter().filter(CalibrationLink::is_accepted).collect()
}

/// What every calibration covers.
fn range(curves: &[&Calibration]) -> Option<[f64; 2]> {
    let low = curves.iter().map(|made| made.curve.level_min).reduce(f64::max)?;
    let high = curves.iter().map(|made| made.curve.level_max).reduce(f64::min)?;
    Some([low, high])
}

fn linearity(curves: &[&Calibration]) -> Option<LinearityEvidence> {
    let errors = curves.iter().flat_map(|made| &made.levels).filter_map(|level| level.error_percent);
    let largest = errors.map(f64::abs).reduce(f64::max)?;
    let lack_of_fit = |made: &&Calibration| made.tests.lack_of_fit.map(|test| test.p);
    let all: Option<Vec<f64>> = curves.iter().map(lack_of_fit).collect();
    let n_levels = curves.iter().map(|made| made.levels.iter().filter(|level| level.level > 0.0).count());
    Some(LinearityEvidence {
        largest_deviation_percent: largest,
        lack_of_fit_p: all.and_then(|all| all.into_iter().reduce(f64::min)),
        n_levels: n_levels.min().unwrap_or(0),
    })
}

/// The level of most check standards, and what was found there day by day.
fn checks(method: &Method, walks: &[Walk<'_>]) -> Option<(f64, Vec<Vec<f64>>)> {
    let mut levels: BTreeMap<u64, BTreeMap<String, Vec<f64>>> = BTreeMap::new();
    for Walk { series, report } in walks {
        for check in checked_levels(method, report) {
            let date = report.scans.get(check.first_scan).map_or("", |link| link.row.date.as_str());
            let day = day_name(series, date, &check);
            levels.entry(check.level.to_bits()).or_default().entry(day).or_default().push(check.found);
        }
    }
    let n = |days: &BTreeMap<String, Vec<f64>>| days.values().map(Vec::len).sum::<usize>();
    let (level, days) = levels.into_iter().max_by_key(|(_, days)| n(days))?;
    Some((f64::from_bits(level), days.into_values().collect()))
}

/// The date; where the run sheet states none, the batch stands for a day of its own.
fn day_name(series: &str, date: &str, check: &CheckedLevel) -> String {
    if date.is_empty() { format!("{series} {}", check.batch) } else { date.to_owned() }
}

/// Determinations of one day share that day: its mean is what repeats.
fn reference(method: &Method, level: f64, days: &[Vec<f64>]) -> ReferenceCheck {
    let kind = &method.analyte.reported_as;
    let name = Concentration::of_kind(level, kind.clone())
        .map_or_else(|_| "check standard".to_owned(), |level| format!("check standard {level}"));
    ReferenceCheck {
        name,
        reference: level,
        reference_u: level * method.calibration.level_relative_u,
        found: days.iter().map(|day| day.iter().sum::<f64>() / day.len().max(1) as f64).collect(),
    }
}

fn requirements(method: &Method) -> ValidationRequirements {
    let acceptance = &method.calibration.acceptance;
    let asked = method.validation.clone();
    let own = |value: f64, key: &str| Requirement::new(value, format!("the method's {key}"));
    let deviation = || acceptance.back_calculated_percent.map(|value| own(value, "back_calculated_percent"));
    let recovery =
        || Requirement::new(acceptance.spike_recovery_percent, "the method's spike_recovery_percent");
    ValidationRequirements {
        deviation_percent: asked.deviation_percent.clone().or_else(deviation),
        recovery_percent: Some(asked.recovery_percent.clone().unwrap_or_else(recovery)),
        ..asked
    }
}
