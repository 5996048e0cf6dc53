//! The levels of the standards on the run sheet against those that the method foresees.
//!
//! A level typed wrongly for all standards, checks and controls alike fits a curve as well as the right one, and every
//! result is wrong by the same factor. Only the method knows what was meant to be prepared.

use std::collections::BTreeSet;

use crate::check::Check;
use crate::file::Method;
use crate::finding::{Effect, Finding};
use crate::link::{GroupKey, ScanLink};
use crate::run_sheet::Role;

/// How far a prepared level may lie from the foreseen one and still be it (common practice, no source): stocks and flasks are
/// known to about a percent, levels of one series differ by tens of percents.
const TOLERANCE: f64 = 0.02;

/// Factors between a level as typed and as foreseen that a slip of the pen makes, and the question that each one asks.
const SLIPS: [(f64, &str); 6] = [
    (10.0, "is it a decimal point: were they typed 10 times too low?"),
    (100.0, "is it the unit: were they typed 100 times too low?"),
    (1000.0, "is it the unit (g for mg): were they typed 1000 times too low?"),
    (0.1, "is it a decimal point: were they typed 10 times too high?"),
    (0.01, "is it the unit: were they typed 100 times too high?"),
    (0.001, "is it the unit (µg for mg): were they typed 1000 times too high?"),
];

/// The same for an analyte that is stated in either form.
const FORM_SLIPS: [(f64, &str); 2] = [
    (NITRATE_PER_NITROGEN, "is it the form: are they stated as N where as NO₃⁻ is meant?"),
    (1.0 / NITRATE_PER_NITROGEN, "is it the form: are they stated as NO₃⁻ where as N is meant?"),
];

/// mg of NO₃⁻ for each mg of N in it: 62.004 / 14.007, from the atomic weights that `quantity` names.
const NITRATE_PER_NITROGEN: f64 = 4.4266;

/// What is wrong with the levels of one calibration: others than foreseen, or half of the foreseen ones missing, withhold every
/// verdict; a level on fewer electrodes than foreseen is warned of. A method that states no levels foresees nothing.
pub(crate) fn level_findings(method: &Method, key: &GroupKey, links: &[&ScanLink]) -> Vec<Finding> {
    let foreseen = &method.calibration.levels;
    let used: Vec<(f64, &str)> = links
        .iter()
        .filter(|link| link.usable(Role::Standard))
        .filter_map(|link| Some((link.row.level.as_ref()?.value(), link.row.electrode.as_str())))
        .collect();
    if foreseen.is_empty() || used.is_empty() {
        return Vec::new();
    }
    let mut found: Vec<f64> = used.iter().map(|(level, _)| *level).collect();
    found.sort_by(f64::total_cmp);
    found.dedup();
    let n_unforeseen = found.iter().filter(|level| !is_among(**level, foreseen)).count();
    let n_missing = foreseen.iter().filter(|level| !is_among(**level, &found)).count();
    let mut findings = Vec::new();
    if n_unforeseen > 0 || 2 * n_missing >= foreseen.len() {
        let unit = &method.analyte.reported_as;
        let mut words =
            format!("standards at {} {unit}; the method foresees {}", listed(&found), listed(foreseen));
        if let Some(question) = question(method, &found) {
            words.push_str("; ");
            words.push_str(question);
        }
        findings.push(Finding::new(Check::LevelsForeseen, Effect::Withheld, key.label(), words));
    }
    findings.extend(too_few_electrodes(method, key, &used));
    findings
}

/// Foreseen levels that were measured on fewer electrodes than foreseen.
fn too_few_electrodes(method: &Method, key: &GroupKey, used: &[(f64, &str)]) -> Option<Finding> {
    let plan = &method.calibration;
    let lacking: Vec<String> = plan
        .levels
        .iter()
        .filter_map(|level| {
            let at_level = used.iter().filter(|(found, _)| is_same(*found, *level, &plan.levels));
            let electrodes: BTreeSet<&str> = at_level.map(|(_, electrode)| *electrode).collect();
            let n = electrodes.len();
            (n < plan.electrodes as usize)
                .then(|| format!("{level} on {n} of {} electrode(s)", plan.electrodes))
        })
        .collect();
    (!lacking.is_empty()).then(|| {
        let found = format!("fewer standards than the method foresees: {}", lacking.join(", "));
        Finding::new(Check::CalibrationAcceptance, Effect::Warned, key.label(), found)
    })
}

fn is_among(level: f64, levels: &[f64]) -> bool {
    levels.iter().any(|other| is_same(level, *other, levels))
}

/// The tolerance around zero is that of the smallest level above it.
fn is_same(level: f64, other: f64, levels: &[f64]) -> bool {
    let smallest = levels.iter().copied().filter(|level| *level > 0.0).fold(f64::INFINITY, f64::min);
    let scale = if other > 0.0 || smallest.is_infinite() { other } else { smallest };
    (level - other).abs() <= TOLERANCE * scale
}

/// The slip that would make every level found a foreseen one. Zero is zero in any unit and tells nothing.
fn question(method: &Method, found: &[f64]) -> Option<&'static str> {
    let above_zero = |levels: &[f64]| -> Vec<f64> { levels.iter().copied().filter(|l| *l > 0.0).collect() };
    let (foreseen, found) = (above_zero(&method.calibration.levels), above_zero(found));
    let knows_nitrogen = method.analyte.reported_as.species.form().is_some();
    let explains = |factor: f64| {
        let is_foreseen =
            |level: f64| foreseen.iter().any(|other| (level - other).abs() <= TOLERANCE * other);
        !found.is_empty() && found.iter().all(|level| is_foreseen(level * factor))
    };
    let forms = if knows_nitrogen { &FORM_SLIPS[..] } else { &[] };
    SLIPS.iter().chain(forms).find(|(factor, _)| explains(*factor)).map(|(_, question)| *question)
}

fn listed(levels: &[f64]) -> String {
    let mut sorted = levels.to_vec();
    sorted.sort_by(f64::total_cmp);
    // Converted levels carry digits that nobody typed.
    let words: Vec<String> = sorted.iter().map(|level| ((level * 1e4).round() / 1e4).to_string()).collect();
    words.join(", ")
}
