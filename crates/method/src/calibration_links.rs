//! The calibration link: one curve for each lot and channel that has standards.

use std::collections::BTreeMap;

use stillwell_calibrate::{
    Acceptance, Calibration, CalibrationSettings, Finding as CalibrateFinding, Model, Outcome,
    Role as CriterionRole, StandardSignal, USUAL_EXCLUDED_FRACTION, Weights, calibrate,
};

use crate::blank::mean;
use crate::check::Check;
use crate::detection::planned_claim;
use crate::file::{CalibrationPlan, Method, ModelPlan, WeightsPlan};
use crate::finding::{Effect, Finding, three_digits};
use crate::foreseen_levels::level_findings;
use crate::group::group_of;
use crate::link::{CalibrationLink, GroupKey, ScanLink};
use crate::revision::Hash;
use crate::run_sheet::Role;
use crate::standard_peak::StandardPeaks;

/// The calibrations, sorted by lot and channel.
pub(crate) fn calibration_links(
    method: &Method,
    scans: &[ScanLink],
    places: &StandardPeaks,
) -> Vec<CalibrationLink> {
    let mut groups: BTreeMap<GroupKey, Vec<usize>> = BTreeMap::new();
    for (index, link) in scans.iter().enumerate().filter(|(_, link)| link.row.role == Role::Standard) {
        groups.entry(group_of(method, &link.row)).or_default().push(index);
    }
    groups.into_iter().map(|(key, standards)| one(method, scans, places, key, standards)).collect()
}

fn one(
    method: &Method,
    scans: &[ScanLink],
    places: &StandardPeaks,
    key: GroupKey,
    standards: Vec<usize>,
) -> CalibrationLink {
    let links: Vec<&ScanLink> = standards.iter().filter_map(|index| scans.get(*index)).collect();
    let signals: Vec<StandardSignal> = links.iter().map(|link| standard_signal(link)).collect();
    let mut findings = Vec::new();
    let calibration = match calibrate(&signals, &settings(&method.calibration)) {
        Ok(calibration) => {
            findings.extend(acceptance_findings(&key, &calibration));
            Some(calibration)
        }
        Err(error) => {
            let found = error.to_string();
            findings.push(Finding::new(Check::CalibrationRefused, Effect::Refused, key.label(), found));
            None
        }
    };
    let detection = calibration.as_ref().and_then(|calibration| {
        planned_claim(method, calibration, &key, scans).map_err(|finding| findings.push(finding)).ok()
    });
    let temperatures: Vec<f64> =
        links.iter().filter(|link| link.usable(Role::Standard)).filter_map(|l| l.row.temperature_c).collect();
    findings.extend(temperature_findings(method, &key, &links));
    findings.extend(level_findings(method, &key, &links));
    findings.extend(reuse_finding(&key, &links));
    findings.extend(override_finding(&key, &links));
    CalibrationLink {
        hash: hash_of(&links, calibration.as_ref()),
        peak_potential_v: places.get(&key).map(|peak| peak.potential_v),
        temperature_c: mean(&temperatures),
        key,
        calibration,
        standards,
        detection,
        findings,
    }
}

/// A curve through standards of different temperatures bends with the temperature, not with the level.
fn temperature_findings(method: &Method, key: &GroupKey, links: &[&ScanLink]) -> Vec<Finding> {
    let Some(rule) = &method.sample.temperature else { return Vec::new() };
    let standards = links.iter().filter(|link| link.usable(Role::Standard));
    let stated: Vec<f64> = standards.clone().filter_map(|link| link.row.temperature_c).collect();
    let n_unstated = standards.count() - stated.len();
    let Some(mean_c) = mean(&stated) else { return Vec::new() };
    let refused = |found: String| Finding::new(Check::Temperature, Effect::Refused, key.label(), found);
    let mut findings = Vec::new();
    let [low, high] = rule.span_c;
    if let Some(outside) = stated.iter().find(|at_c| **at_c < low || **at_c > high) {
        findings.push(refused(format!("a standard at {outside} °C, method: {low} to {high} °C")));
    }
    let furthest = stated.iter().copied().max_by(|a, b| (a - mean_c).abs().total_cmp(&(b - mean_c).abs()));
    if let Some(furthest) = furthest.filter(|at_c| (at_c - mean_c).abs() > rule.tolerance_k) {
        findings.push(refused(format!(
            "a standard at {furthest} °C, the mean of all at {mean_c:.1} °C; tolerance {} K",
            rule.tolerance_k
        )));
    }
    if n_unstated > 0 {
        let found = format!("not stated for {n_unstated} scan(s) of standards");
        findings.push(Finding::new(Check::Temperature, Effect::Warned, key.label(), found));
    }
    findings
}

/// Single-use electrodes that served another solution before: the standards share electrodes, so the curve is not known as well
/// as its residuals say, and one solution is carried over into the next.
fn reuse_finding(key: &GroupKey, links: &[&ScanLink]) -> Option<Finding> {
    let is_reused =
        |link: &&&ScanLink| link.findings.iter().any(|finding| finding.check == Check::ElectrodeReused);
    let reused: Vec<&&ScanLink> =
        links.iter().filter(|link| link.usable(Role::Standard)).filter(is_reused).collect();
    let first = reused.first()?;
    let found = format!(
        "{} scan(s) of standards on single-use electrodes that served another solution before, first {}",
        reused.len(),
        first.row.scan_label()
    );
    Some(Finding::new(Check::ElectrodeReused, Effect::Withheld, key.label(), found))
}

/// Standards that a check refused and the analyst used all the same.
fn override_finding(key: &GroupKey, links: &[&ScanLink]) -> Option<Finding> {
    let refused_otherwise =
        |finding: &Finding| finding.effect == Effect::Refused && finding.overridden.is_some();
    let overridden: Vec<&&ScanLink> = links
        .iter()
        .filter(|link| link.usable(Role::Standard) && link.findings.iter().any(refused_otherwise))
        .collect();
    let first = overridden.first()?;
    let found = format!(
        "{} scan(s) of standards that a check refused are used all the same, first {}",
        overridden.len(),
        first.row.scan_label()
    );
    Some(Finding::new(Check::OverriddenChecks, Effect::Warned, key.label(), found))
}

/// A standard whose scan was refused takes no part; it counts as left out, with the check as the reason.
fn standard_signal(link: &ScanLink) -> StandardSignal {
    StandardSignal {
        level: link.row.level_value().unwrap_or(f64::NAN),
        signal_a: link.signal.as_ref().map_or(f64::NAN, |signal| signal.signal),
        electrode: link.row.electrode.clone(),
        label: link.row.scan_label(),
        scan_number: link.row.electrode_scan,
        excluded: link
            .row
            .exclude
            .clone()
            .or_else(|| link.signal.is_none().then(|| link.why_without_signal())),
    }
}

fn settings(plan: &CalibrationPlan) -> CalibrationSettings {
    CalibrationSettings {
        model: match plan.model {
            ModelPlan::Line => Model::Line,
            ModelPlan::Quadratic => Model::Quadratic,
            ModelPlan::LineThroughOrigin => Model::LineThroughOrigin,
        },
        weights: match plan.weights {
            WeightsPlan::None => Weights::None,
            WeightsPlan::VarianceFunction => Weights::VarianceFunction,
            WeightsPlan::InverseLevel => Weights::InverseLevel,
            WeightsPlan::InverseLevelSquared => Weights::InverseSquaredLevel,
        },
        coverage: plan.coverage,
        max_excluded_fraction: USUAL_EXCLUDED_FRACTION,
        acceptance: Acceptance {
            max_back_calculated_percent: plan.acceptance.back_calculated_percent,
            check_standard_percent: Some(plan.acceptance.check_standard_percent),
            lack_of_fit_alpha: plan.acceptance.lack_of_fit_alpha,
            linearity_alpha: plan.acceptance.linearity_alpha,
            homogeneity_alpha: plan.acceptance.homogeneity_alpha,
            residual_trend_alpha: plan.acceptance.trend_alpha,
            max_process_sd_percent: plan.acceptance.process_sd_percent,
        },
    }
}

/// Criteria that did not pass refuse; cautions warn.
fn acceptance_findings(key: &GroupKey, calibration: &Calibration) -> Vec<Finding> {
    calibration
        .findings
        .iter()
        .filter(|finding| !finding.passed())
        .map(|finding| {
            let effect = match finding.role {
                CriterionRole::Acceptance => Effect::Refused,
                CriterionRole::Caution => Effect::Warned,
            };
            Finding::new(Check::CalibrationAcceptance, effect, key.label(), in_words(finding))
        })
        .collect()
}

/// `lack-of-fit (…): 0.004, limit 0.01. The curve does not follow …`
pub(crate) fn in_words(finding: &CalibrateFinding) -> String {
    let about = finding.subject.as_ref().map_or_else(String::new, |subject| format!(" at {subject}"));
    let numbers = match (finding.outcome, finding.found, finding.limit) {
        (Outcome::NotTestable, _, _) => "cannot be tested with these data".to_owned(),
        (_, Some(found), Some(limit)) => format!("{}, limit {}", three_digits(found), three_digits(limit)),
        (_, Some(found), None) => three_digits(found),
        (_, None, _) => "no value".to_owned(),
    };
    let check = finding.check;
    format!("{}{about} ({}): {numbers}. {}", check.id(), check.looks_at(), check.remedy())
}

/// Over the standards' files, scans and levels, and the bits of the frozen constants.
fn hash_of(links: &[&ScanLink], calibration: Option<&Calibration>) -> Hash {
    let mut bytes = Vec::new();
    for link in links {
        let level = link.row.level_value().unwrap_or(f64::NAN);
        bytes.extend(link.raw.hash.to_string().bytes());
        bytes.extend((link.raw.scan as u64).to_le_bytes());
        bytes.extend(level.to_bits().to_le_bytes());
    }
    if let Some(calibration) = calibration {
        let curve = &calibration.curve;
        let constants = curve
            .coefficients
            .iter()
            .chain(curve.unscaled_covariance.iter().flatten())
            .chain(&curve.relative_variance)
            .chain([&curve.residual_sd, &curve.t_quantile, &curve.level_min, &curve.level_max]);
        for constant in constants {
            bytes.extend(constant.to_bits().to_le_bytes());
        }
    }
    Hash::of(&bytes)
}
