//! What releases a batch: check standards on both sides, a zero near zero, a living electrode control.

use std::collections::{BTreeMap, BTreeSet};

use stillwell_calibrate::Calibration;

use crate::check::Check;
use crate::conditions::temperature_correction;
use crate::estimate::{bounds, measured};
use crate::file::Method;
use crate::finding::{Effect, Finding};
use crate::group::group_of;
use crate::link::{CalibrationLink, GroupKey, ScanLink};
use crate::run_sheet::Role;

/// One batch on one calibration.
pub(crate) struct Batch {
    name: String,
    key: GroupKey,
    checks: Vec<Verification>,
    blank: Option<Finding>,
    /// The electrode control of each lot: living, or why not.
    controls: BTreeMap<String, Result<String, Finding>>,
    needs_bracketing: bool,
    /// Without an accepted calibration every sample is refused already; nothing is left to withhold.
    is_calibrated: bool,
}

/// A known solution measured at one moment of the batch.
struct Verification {
    first: usize,
    last: usize,
    failed: Option<Finding>,
}

/// All batches of the run sheet.
pub(crate) fn batches(method: &Method, scans: &[ScanLink], calibrations: &[CalibrationLink]) -> Vec<Batch> {
    let mut keys: Vec<(String, GroupKey)> = scans
        .iter()
        .filter(|link| link.row.role != Role::Blank)
        .map(|link| (link.row.batch.clone(), group_of(method, &link.row)))
        .collect();
    keys.sort();
    keys.dedup();
    keys.into_iter()
        .map(|(name, key)| {
            let link = calibrations.iter().find(|link| link.key == key);
            one(method, scans, link, name, key)
        })
        .collect()
}

fn one(
    method: &Method,
    scans: &[ScanLink],
    calibration: Option<&CalibrationLink>,
    name: String,
    key: GroupKey,
) -> Batch {
    let of_batch: Vec<(usize, &ScanLink)> = scans
        .iter()
        .enumerate()
        .filter(|(_, link)| link.row.batch == name && group_of(method, &link.row) == key && link.counts())
        .collect();
    let subject = label(&name, &key);
    let plan = &method.calibration.acceptance;
    let checks = runs(&of_batch, Role::CheckStandard)
        .into_iter()
        // A zero has no error in per cent: it is judged as the batch's blank.
        .filter(|run| !run.iter().all(|(_, link)| link.row.has_zero_level()))
        .map(|run| {
            verification(
                method,
                calibration,
                &run,
                Check::CheckStandard,
                plan.check_standard_percent,
                &subject,
            )
        })
        .collect();
    Batch {
        checks,
        blank: calibration.and_then(|link| blank_finding(method, link, &of_batch, &subject)),
        controls: controls(method, calibration, &of_batch, &subject),
        needs_bracketing: plan.bracketing,
        is_calibrated: calibration.is_some_and(CalibrationLink::is_accepted),
        name,
        key,
    }
}

impl Batch {
    /// Whether a sample of this batch and calibration is meant.
    pub(crate) fn holds(&self, batch: &str, key: &GroupKey) -> bool {
        self.name == batch && self.key == *key
    }

    /// What withholds the verdict of a sample whose scans stand from `first` to `last` in the run sheet: the check
    /// standards next to it on either side, a bad zero, a control that failed.
    pub(crate) fn withholding(&self, first: usize, last: usize) -> Vec<Finding> {
        if !self.is_calibrated {
            return Vec::new();
        }
        let before = self.checks.iter().rev().find(|check| check.last < first);
        let after = self.checks.iter().find(|check| check.first > last);
        // Scans of one sample may stand on both sides of a check.
        let between = self.checks.iter().filter(|check| check.last >= first && check.first <= last);
        let mut findings: Vec<Finding> =
            before.into_iter().chain(between).chain(after).filter_map(|check| check.failed.clone()).collect();
        if self.needs_bracketing && (before.is_none() || after.is_none()) {
            let side = match (before, after) {
                (None, None) => "before or after",
                (None, _) => "before",
                _ => "after",
            };
            let found = format!("no check standard {side} this sample");
            findings.push(Finding::new(
                Check::Bracketing,
                Effect::Withheld,
                label(&self.name, &self.key),
                found,
            ));
        }
        findings.extend(self.blank.clone());
        let failed_controls = self.controls.values().filter_map(|control| control.as_ref().err());
        findings.extend(failed_controls.filter(|control| control.effect == Effect::Withheld).cloned());
        findings
    }

    /// The electrode control of a lot: living, or why not. A living strip of one lot says nothing of another lot.
    pub(crate) fn control_of(&self, lot: &str) -> Option<&Result<String, Finding>> {
        self.controls.get(lot)
    }

    /// Everything that did not pass, each once.
    pub(crate) fn findings(&self) -> Vec<Finding> {
        if !self.is_calibrated {
            return Vec::new();
        }
        let failed = self.checks.iter().filter_map(|check| check.failed.clone());
        let controls = self.controls.values().filter_map(|control| control.as_ref().err().cloned());
        failed.chain(self.blank.clone()).chain(controls).collect()
    }
}

fn label(batch: &str, key: &GroupKey) -> String {
    if batch.is_empty() { key.label() } else { format!("batch {batch}, {}", key.label()) }
}

/// Neighbouring scans of one role and level: one moment of the batch.
pub(crate) fn runs<'a>(of_batch: &[(usize, &'a ScanLink)], role: Role) -> Vec<Vec<(usize, &'a ScanLink)>> {
    let mut runs: Vec<Vec<(usize, &ScanLink)>> = Vec::new();
    let mut previous: Option<&ScanLink> = None;
    for (index, link) in of_batch {
        if link.row.role == role {
            let goes_on =
                previous.is_some_and(|last| last.row.role == role && last.row.level == link.row.level);
            match runs.last_mut().filter(|_| goes_on) {
                Some(run) => run.push((*index, *link)),
                None => runs.push(vec![(*index, *link)]),
            }
        }
        previous = Some(*link);
    }
    runs
}

/// A known solution read off the calibration, against its level.
fn verification(
    method: &Method,
    calibration: Option<&CalibrationLink>,
    run: &[(usize, &ScanLink)],
    check: Check,
    limit_percent: f64,
    subject: &str,
) -> Verification {
    let first = run.first().map_or(0, |(index, _)| *index);
    let last = run.last().map_or(0, |(index, _)| *index);
    let failed = level_and_found(method, calibration, run)
        .and_then(|(level, found)| {
            let error = 100.0 * (found - level) / level;
            if error.abs() <= limit_percent {
                return Ok(());
            }
            Err(format!(
                "found {found:.1} for a level of {level:.1} ({error:+.1} %), limit ±{limit_percent} %"
            ))
        })
        .err()
        .map(|found| Finding::new(check, Effect::Withheld, subject, found));
    Verification { first, last, failed }
}

/// Level and what was found for it.
fn level_and_found(
    method: &Method,
    calibration: Option<&CalibrationLink>,
    run: &[(usize, &ScanLink)],
) -> Result<(f64, f64), String> {
    let link = calibration.ok_or("there is no calibration to read it off")?;
    let made = link.calibration.as_ref().ok_or("there is no calibration to read it off")?;
    let level = run.iter().find_map(|(_, link)| link.row.level.as_ref()).ok_or("its level is not stated")?;
    let found = level_found(method, link, made, run)?;
    if level.value() > 0.0 { Ok((level.value(), found)) } else { Err("its level is zero".to_owned()) }
}

fn level_found(
    method: &Method,
    link: &CalibrationLink,
    made: &Calibration,
    run: &[(usize, &ScanLink)],
) -> Result<f64, String> {
    let mut scans = Vec::new();
    for (_, scan) in run.iter().filter(|(_, scan)| scan.signal.is_some()) {
        let correction =
            temperature_correction(method, &scan.row, link.temperature_c).map_err(|finding| finding.found)?;
        scans.push((*scan, correction.factor));
    }
    if scans.is_empty() {
        return Err("all its scans were refused".to_owned());
    }
    let estimate = measured(made, &scans)?;
    bounds(estimate.level)
        .map(|[value, ..]| value)
        .ok_or_else(|| "it reads above the calibrated range".to_owned())
}

/// What a zero standard reads off a calibration; none where it is no zero or cannot be read.
pub(crate) fn zero_reading(
    method: &Method,
    link: &CalibrationLink,
    run: &[(usize, &ScanLink)],
) -> Option<f64> {
    let is_zero = run.iter().all(|(_, scan)| scan.row.has_zero_level());
    let made = link.calibration.as_ref().filter(|_| is_zero)?;
    level_found(method, link, made, run).ok()
}

fn blank_finding(
    method: &Method,
    link: &CalibrationLink,
    of_batch: &[(usize, &ScanLink)],
    subject: &str,
) -> Option<Finding> {
    let made = link.calibration.as_ref()?;
    let limit =
        method.calibration.acceptance.blank_fraction * link.detection.as_ref()?.quantification_limit.value();
    // Each zero by itself: those of the calibration read zero by construction and would hide a later one that does not.
    let zeros = [Role::Standard, Role::CheckStandard].into_iter().flat_map(|role| runs(of_batch, role));
    let found =
        zeros.filter(|run| run.iter().all(|(_, scan)| scan.row.has_zero_level())).find_map(|run| {
            match level_found(method, link, made, &run) {
                // Far below zero the background is wrong, and samples read too low by as much.
                Ok(found) if found.abs() <= limit => None,
                Ok(found) => Some(format!("the zero standard reads {found:.2}, limit ±{limit:.2}")),
                Err(words) => Some(format!("the zero standard cannot be read: {words}")),
            }
        })?;
    Some(Finding::new(Check::BatchBlank, Effect::Withheld, subject, found))
}

fn controls(
    method: &Method,
    calibration: Option<&CalibrationLink>,
    of_batch: &[(usize, &ScanLink)],
    subject: &str,
) -> BTreeMap<String, Result<String, Finding>> {
    let takes_part = |link: &&ScanLink| link.row.role.has_sample() || link.row.role == Role::ElectrodeControl;
    let lots: BTreeSet<&str> =
        of_batch.iter().map(|(_, link)| *link).filter(takes_part).map(|link| link.row.lot.as_str()).collect();
    lots.into_iter()
        .map(|lot| {
            let of_lot: Vec<(usize, &ScanLink)> =
                of_batch.iter().filter(|(_, link)| link.row.lot == lot).copied().collect();
            (lot.to_owned(), control(method, calibration, &of_lot, subject))
        })
        .collect()
}

/// A control of this lot in this batch that reads what it should; missing is no failure, but proves nothing.
fn control(
    method: &Method,
    calibration: Option<&CalibrationLink>,
    of_batch: &[(usize, &ScanLink)],
    subject: &str,
) -> Result<String, Finding> {
    let limit = method.calibration.acceptance.control_percent;
    let runs = runs(of_batch, Role::ElectrodeControl);
    let Some(last) = runs.last() else {
        let found = "no electrode control in this batch";
        return Err(Finding::new(Check::ElectrodeControl, Effect::Noted, subject, found));
    };
    for run in &runs {
        let verified = verification(method, calibration, run, Check::ElectrodeControl, limit, subject);
        if let Some(finding) = verified.failed {
            return Err(finding);
        }
    }
    Ok(last.first().map_or_else(String::new, |(_, link)| link.raw.label()))
}
