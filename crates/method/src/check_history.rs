//! What the known solutions of a folder show: check standards moment by moment, and spikes recovered.

use std::collections::BTreeMap;

use crate::batch::runs;
use crate::conditions::at_temperature;
use crate::determination::{Outcome, Report};
use crate::estimate::measured;
use crate::file::Method;
use crate::group::group_of;
use crate::input::Input;
use crate::link::{CalibrationLink, GroupKey, ScanLink};
use crate::run_sheet::Role;

/// A check standard measured at one moment of a batch and read off its calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckedLevel {
    /// Its batch.
    pub batch: String,
    /// Its calibration.
    pub key: GroupKey,
    /// Place of its first scan in the report.
    pub first_scan: usize,
    /// Its raw file.
    pub file: String,
    /// What it should read, in the reporting unit.
    pub level: f64,
    /// What it reads.
    pub found: f64,
    /// Standard uncertainty of the reading from its electrodes, in the same unit.
    pub u_of_electrodes: f64,
    /// Standard uncertainty of the reading with that of the curve.
    pub standard_u: f64,
    /// Degrees of freedom of the calibration's spread.
    pub degrees_of_freedom: f64,
    /// Electrodes behind it.
    pub n_electrodes: u32,
}

impl CheckedLevel {
    /// Found less level, in % of the level.
    pub fn error_percent(&self) -> f64 {
        100.0 * (self.found - self.level) / self.level
    }

    /// Standard uncertainty of [`Self::error_percent`]; `level_relative_u` is that of the check standard itself.
    pub fn u_percent(&self, level_relative_u: f64) -> f64 {
        let relative = self.standard_u / self.level;
        100.0 * libm::sqrt(relative * relative + level_relative_u * level_relative_u)
    }
}

/// A known addition to a sample, found again.
#[derive(Debug, Clone, PartialEq)]
pub struct RecoveredSpike {
    /// The sample.
    pub sample: String,
    /// Place of its first scan in the report.
    pub first_scan: usize,
    /// What was added, in the reporting unit.
    pub added: f64,
    /// How much of it was found, in %.
    pub recovery_percent: f64,
}

/// Everything of the kind in one folder.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CheckHistory {
    /// Check standards above zero that could be read, in the order of the run sheet.
    pub checks: Vec<CheckedLevel>,
    /// Spikes whose sample has a number.
    pub spikes: Vec<RecoveredSpike>,
}

impl CheckHistory {
    /// How many batches the check standards are of.
    pub fn n_batches(&self) -> usize {
        let mut batches: Vec<&str> = self.checks.iter().map(|check| check.batch.as_str()).collect();
        batches.sort_unstable();
        batches.dedup();
        batches.len()
    }
}

/// Collects them from a report.
///
/// # Units
/// Levels in the method's reporting unit.
pub fn check_history(input: &Input, report: &Report) -> CheckHistory {
    CheckHistory {
        checks: checked_levels(&input.method, report),
        spikes: recovered_spikes(&input.method, report),
    }
}

/// The check standards of a report.
pub(crate) fn checked_levels(method: &Method, report: &Report) -> Vec<CheckedLevel> {
    let mut checks: Vec<CheckedLevel> = report
        .calibrations
        .iter()
        .filter(|link| link.is_accepted())
        .flat_map(|link| checks_on(method, &report.scans, link))
        .collect();
    checks.sort_by_key(|check| check.first_scan);
    checks
}

fn checks_on(method: &Method, scans: &[ScanLink], calibration: &CalibrationLink) -> Vec<CheckedLevel> {
    let mut batches: BTreeMap<&str, Vec<(usize, &ScanLink)>> = BTreeMap::new();
    let of_group = |link: &ScanLink| link.counts() && group_of(method, &link.row) == calibration.key;
    for (index, link) in scans.iter().enumerate().filter(|(_, link)| of_group(link)) {
        batches.entry(&link.row.batch).or_default().push((index, link));
    }
    batches
        .values()
        .flat_map(|of_batch| runs(of_batch, Role::CheckStandard))
        .filter_map(|run| checked(method, calibration, &run))
        .collect()
}

fn checked(
    method: &Method,
    calibration: &CalibrationLink,
    run: &[(usize, &ScanLink)],
) -> Option<CheckedLevel> {
    let (first_scan, first) = run.first()?;
    let level = first.row.level_value().filter(|level| *level > 0.0)?;
    let links: Vec<&ScanLink> = run.iter().map(|(_, link)| *link).collect();
    let made = calibration.calibration.as_ref()?;
    let read = measured(made, &at_temperature(method, calibration, &links)).ok()?;
    let uncertainty = read.uncertainty?;
    let own = [uncertainty.of_electrodes, uncertainty.of_fewer_scans, uncertainty.of_disagreement];
    Some(CheckedLevel {
        batch: first.row.batch.clone(),
        key: calibration.key.clone(),
        first_scan: *first_scan,
        file: first.raw.file.clone(),
        level,
        found: read.value()?,
        u_of_electrodes: libm::sqrt(own.iter().map(|u| u * u).sum()),
        standard_u: uncertainty.combined,
        degrees_of_freedom: f64::from(made.curve.degrees_of_freedom),
        n_electrodes: read.n_electrodes,
    })
}

/// One for each spiked sample, batch and addition.
pub(crate) fn recovered_spikes(method: &Method, report: &Report) -> Vec<RecoveredSpike> {
    let mut groups: Vec<Vec<(usize, &ScanLink)>> = Vec::new();
    let is_spike = |link: &ScanLink| link.row.role == Role::Spike && link.counts();
    for (place, link) in report.scans.iter().enumerate().filter(|(_, link)| is_spike(link)) {
        let alike = |group: &&mut Vec<(usize, &ScanLink)>| {
            group.first().is_some_and(|(_, first)| {
                (&first.row.sample, &first.row.batch, &first.row.level)
                    == (&link.row.sample, &link.row.batch, &link.row.level)
            })
        };
        match groups.iter_mut().find(alike) {
            Some(group) => group.push((place, link)),
            None => groups.push(vec![(place, link)]),
        }
    }
    groups.iter().filter_map(|group| recovered(method, report, group)).collect()
}

fn recovered(method: &Method, report: &Report, run: &[(usize, &ScanLink)]) -> Option<RecoveredSpike> {
    let (first_scan, first) = run.first()?;
    let links: Vec<&ScanLink> = run.iter().map(|(_, link)| *link).collect();
    let added = first.row.level_value().filter(|added| *added > 0.0)?;
    let key = group_of(method, &first.row);
    let calibration = report.calibrations.iter().find(|link| link.key == key && link.is_accepted())?;
    let own = report.determinations.iter().find_map(|determination| match &determination.outcome {
        Outcome::Quantified(estimate) if determination.sample == first.row.sample => {
            Some(estimate.value.value())
        }
        _ => None,
    })?;
    let scans = at_temperature(method, calibration, &links);
    let spiked = measured(calibration.calibration.as_ref()?, &scans).ok()?.value()?;
    let dilution = first.row.dilution_factor();
    Some(RecoveredSpike {
        sample: first.row.sample.clone(),
        first_scan: *first_scan,
        added,
        recovery_percent: 100.0 * (spiked * dilution - own) / added,
    })
}
