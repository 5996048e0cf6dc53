//! What the peak of the standards of each calibration looks like.

use std::collections::BTreeMap;

use stillwell_evaluate::StandardPeak;

use crate::file::Method;
use crate::group::{group_of, median};
use crate::link::{GroupKey, ScanLink};
use crate::run_sheet::Role;

/// The peak of the standards for each calibration.
pub(crate) type StandardPeaks = BTreeMap<GroupKey, StandardPeak>;

/// Medians over the standards that show a peak.
pub(crate) fn standard_peaks(method: &Method, links: &[ScanLink]) -> StandardPeaks {
    let mut groups: BTreeMap<GroupKey, Vec<&ScanLink>> = BTreeMap::new();
    for link in links.iter().filter(|link| link.usable(Role::Standard)) {
        groups.entry(group_of(method, &link.row)).or_default().push(link);
    }
    groups
        .into_iter()
        .filter_map(|(key, links)| {
            let signals = || links.iter().filter_map(|link| link.signal.as_ref());
            let potential_v = median(signals().filter_map(|signal| signal.peak_potential_v).collect())?;
            let half_width_v = median(signals().filter_map(|signal| signal.half_width_v).collect());
            Some((key, StandardPeak { potential_v, half_width_v, lowest_signal: lowest_signal(&links) }))
        })
        .collect()
}

fn lowest_signal(links: &[&ScanLink]) -> Option<f64> {
    let level_of = |link: &ScanLink| link.row.level_value().unwrap_or(0.0);
    let lowest =
        links.iter().map(|link| level_of(link)).filter(|level| *level > 0.0).min_by(f64::total_cmp)?;
    let of_lowest = links.iter().filter(|link| level_of(link).total_cmp(&lowest).is_eq());
    median(of_lowest.filter_map(|link| link.signal.as_ref().map(|signal| signal.signal)).collect())
}
