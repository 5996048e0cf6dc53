//! Series that were walked one by one, side by side: for what is asked of all their scans together.

use std::collections::BTreeSet;

use crate::determination::Report;
use crate::link::ScanLink;

/// A series that was walked.
#[derive(Debug, Clone, Copy)]
pub struct Walk<'r> {
    /// Its name; empty for a folder that stands alone.
    pub series: &'r str,
    /// What the chain found.
    pub report: &'r Report,
}

/// Scans and calibrations of all walks in one report, each once: a series that borrows a calibration holds its standards again.
/// Determinations and findings of batches stay with their walks. None without a walk.
pub(crate) fn side_by_side(walks: &[Walk<'_>]) -> Option<Report> {
    let mut all = Report { scans: Vec::new(), ..walks.first()?.report.clone() };
    all.determinations.clear();
    all.batch_findings.clear();
    all.calibrations.clear();
    let (mut seen_scans, mut seen_curves) = (BTreeSet::new(), BTreeSet::new());
    let identity = |link: &ScanLink| (link.raw.hash.to_string(), link.raw.scan);
    for Walk { report, .. } in walks {
        let new = report.scans.iter().filter(|link| seen_scans.insert(identity(link)));
        all.scans.extend(new.cloned());
        let new = report.calibrations.iter().filter(|link| seen_curves.insert(link.hash.to_string()));
        all.calibrations.extend(new.cloned());
    }
    Some(all)
}
