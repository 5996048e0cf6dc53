//! A new lot's strips at known levels, read off the calibration of another lot: what a lot is judged by.

use std::collections::BTreeMap;

use stillwell_assure::lots::{ApprovedScatter, LotStrip, SharedUncertainty};

use crate::conditions::at_temperature;
use crate::determination::Report;
use crate::estimate::measured;
use crate::file::Method;
use crate::link::{CalibrationLink, GroupKey, ScanLink};
use crate::run_sheet::Role;

/// What a lot shows on another lot's calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct LotReading {
    /// Its strips, level by level and strip by strip; those above the calibrated range are missing and counted.
    pub strips: Vec<LotStrip>,
    /// Strips whose reading lies above the calibrated range, or whose scans were refused.
    pub n_unread: usize,
    /// What all readings share: the uncertainty of the curve and of the levels.
    pub shared: SharedUncertainty,
    /// The highest level of the calibration.
    pub range_top: f64,
    /// How strips of the approved lot scatter at its own standards above zero; none where no level has two strips.
    pub approved: Option<ApprovedScatter>,
}

/// Reads every strip of `lot` that measured a known level (standards, check standards, controls) off the calibration `approved`.
///
/// None where that calibration was not accepted, or no such strip could be read.
///
/// # Units
/// Levels and readings in the method's reporting unit.
pub fn lot_reading(method: &Method, report: &Report, lot: &str, approved: &GroupKey) -> Option<LotReading> {
    let link = report.calibrations.iter().find(|link| link.key == *approved && link.is_accepted())?;
    let made = link.calibration.as_ref()?;
    let known = [Role::Standard, Role::CheckStandard, Role::ElectrodeControl];
    let mut strips: BTreeMap<&str, (f64, Vec<&ScanLink>)> = BTreeMap::new();
    for scan in &report.scans {
        let is_meant = scan.counts()
            && scan.row.lot == lot
            && scan.row.channel == approved.channel
            && known.contains(&scan.row.role);
        let Some(level) = scan.row.level_value().filter(|_| is_meant) else {
            continue;
        };
        strips.entry(&scan.row.electrode).or_insert_with(|| (level, Vec::new())).1.push(scan);
    }
    let (mut read, mut n_unread) = (Vec::new(), 0);
    let (mut relative, mut at_zero): (f64, f64) = (0.0, 0.0);
    for (electrode, (level, scans)) in &strips {
        let Some((found, of_curve)) = strip_reading(method, link, scans) else {
            n_unread += 1;
            continue;
        };
        read.push(LotStrip { electrode: (*electrode).to_owned(), level: *level, found });
        if *level > 0.0 {
            relative = relative.max(of_curve / level);
        } else {
            at_zero = at_zero.max(of_curve);
        }
    }
    if read.is_empty() {
        return None;
    }
    let of_levels = method.calibration.level_relative_u;
    let curve = &made.curve;
    let df = f64::from(curve.degrees_of_freedom);
    Some(LotReading {
        strips: read,
        n_unread,
        shared: SharedUncertainty {
            relative: libm::sqrt(relative * relative + of_levels * of_levels),
            at_zero,
            degrees_of_freedom: df,
        },
        range_top: curve.level_max,
        approved: approved_scatter(method, report, link),
    })
}

/// What one strip reads, and the standard uncertainty of the curve there.
pub(crate) fn strip_reading(
    method: &Method,
    link: &CalibrationLink,
    scans: &[&ScanLink],
) -> Option<(f64, f64)> {
    let read = measured(link.calibration.as_ref()?, &at_temperature(method, link, scans)).ok()?;
    let parts = read.uncertainty?;
    let own = [parts.of_electrodes, parts.of_fewer_scans, parts.of_disagreement].map(|u| u * u);
    let of_curve = parts.combined * parts.combined - own.iter().sum::<f64>();
    Some((read.value()?, libm::sqrt(f64::max(0.0, of_curve))))
}

/// Pooled relative standard deviation of strips of one level, of the approved lot's own standards.
fn approved_scatter(method: &Method, report: &Report, link: &CalibrationLink) -> Option<ApprovedScatter> {
    let own: Vec<&ScanLink> = report
        .scans
        .iter()
        .filter(|scan| scan.usable(Role::Standard) && crate::group::group_of(method, &scan.row) == link.key)
        .collect();
    let mut levels: BTreeMap<u64, BTreeMap<&str, Vec<&ScanLink>>> = BTreeMap::new();
    for scan in own {
        let level = scan.row.level_value().unwrap_or(0.0);
        if level > 0.0 {
            let of_level = levels.entry(level.to_bits()).or_default();
            of_level.entry(&scan.row.electrode).or_default().push(scan);
        }
    }
    let ratios: Vec<Vec<f64>> = levels
        .iter()
        .map(|(level, strips)| {
            let level = f64::from_bits(*level);
            strips.values().filter_map(|scans| Some(strip_reading(method, link, scans)?.0 / level)).collect()
        })
        .filter(|of_level: &Vec<f64>| !of_level.is_empty())
        .collect();
    let (relative_sd, df) = stillwell_stats::pooled_standard_deviation(&ratios).ok()?;
    (relative_sd > 0.0).then_some(ApprovedScatter { relative_sd, degrees_of_freedom: df as f64 })
}

/// Readings of one known solution on strips of several lots, scan by scan, all off the calibration `approved`:
/// `lots[lot][electrode] = scans`. The level is that which most lots measured, and of these the one with most strips.
///
/// None where that calibration was not accepted, or no strip above zero could be read.
///
/// # Units
/// Level and readings in the method's reporting unit.
pub fn readings_by_lot(method: &Method, report: &Report, approved: &GroupKey) -> Option<LotScans> {
    let link = report.calibrations.iter().find(|link| link.key == *approved && link.is_accepted())?;
    let known = [Role::Standard, Role::CheckStandard, Role::ElectrodeControl];
    let mut levels: BTreeMap<u64, BTreeMap<&str, BTreeMap<&str, Vec<f64>>>> = BTreeMap::new();
    for scan in report.scans.iter().filter(|scan| scan.counts() && known.contains(&scan.row.role)) {
        let level = scan.row.level_value().unwrap_or(0.0);
        if level <= 0.0 || scan.row.channel != approved.channel {
            continue;
        }
        let Some((found, _)) = strip_reading(method, link, &[scan]) else { continue };
        let lots = levels.entry(level.to_bits()).or_default();
        lots.entry(&scan.row.lot).or_default().entry(&scan.row.electrode).or_default().push(found);
    }
    let size = |lots: &BTreeMap<&str, BTreeMap<&str, Vec<f64>>>| {
        (lots.len(), lots.values().map(BTreeMap::len).sum::<usize>())
    };
    let (level, lots) = levels.into_iter().max_by_key(|(_, lots)| size(lots))?;
    Some(LotScans {
        level: f64::from_bits(level),
        names: lots.keys().map(|lot| (*lot).to_owned()).collect(),
        lots: lots.into_values().map(|electrodes| electrodes.into_values().collect()).collect(),
    })
}

/// One known solution on strips of several lots.
#[derive(Debug, Clone, PartialEq)]
pub struct LotScans {
    /// Its level.
    pub level: f64,
    /// The lots.
    pub names: Vec<String>,
    /// `lots[lot][electrode] = scans`, in the order of the names.
    pub lots: Vec<Vec<Vec<f64>>>,
}
