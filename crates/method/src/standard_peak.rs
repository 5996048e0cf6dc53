//! What a peak of the standards looks like, and whether another scan's peak is like it.

use std::collections::BTreeMap;

use stillwell_evaluate::{Baseline, IndexRange, Settings, Signal};

use crate::file::Method;
use crate::finding::three_digits;
use crate::group::{group_of, median};
use crate::link::{GroupKey, ScanLink};
use crate::run_sheet::Role;

/// The peak of the standards of one calibration: medians over those that show one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct StandardPeak {
    /// Potential of the vertex, V.
    pub(crate) potential_v: f64,
    /// Width at half height, V.
    pub(crate) half_width_v: Option<f64>,
    /// Signal of the lowest standard above zero.
    pub(crate) lowest_signal: Option<f64>,
}

/// The peak of the standards for each calibration.
pub(crate) type StandardPeaks = BTreeMap<GroupKey, StandardPeak>;

/// A maximum beside the window matters from this fraction of the lowest standard's signal on (common practice, no source).
const OUTSIDE_FRACTION: f64 = 0.5;

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
    let level_of =
        |link: &ScanLink| link.row.level.as_ref().map_or(0.0, stillwell_quantity::Concentration::value);
    let lowest =
        links.iter().map(|link| level_of(link)).filter(|level| *level > 0.0).min_by(f64::total_cmp)?;
    let of_lowest = links.iter().filter(|link| level_of(link).total_cmp(&lowest).is_eq());
    median(of_lowest.filter_map(|link| link.signal.as_ref().map(|signal| signal.signal)).collect())
}

impl StandardPeak {
    /// Whether a maximum beside the window is a peak, and larger than what stands inside.
    pub(crate) fn is_larger_peak(&self, outside_a: f64, inside_a: f64) -> bool {
        outside_a > inside_a && self.lowest_signal.is_some_and(|lowest| outside_a > OUTSIDE_FRACTION * lowest)
    }

    /// In words, where the width differs from the standards' by more than the tolerance and what noise explains.
    pub(crate) fn other_width(&self, signal: &Signal, tolerance: f64) -> Option<String> {
        let (found_v, usual_v) = (signal.half_width_v?, self.half_width_v?);
        // Half height is crossed where the slope is about one height a half width: noise moves each crossing by about N/S.
        let limit = tolerance + 2.0 / signal.signal_to_noise?;
        let difference = (found_v - usual_v) / usual_v;
        (difference.abs() > limit).then(|| {
            format!(
                "width {:.0} mV, calibration's {:.0} mV ({:+.0} %), limit ±{} %",
                1e3 * found_v,
                1e3 * usual_v,
                100.0 * difference,
                three_digits(100.0 * limit)
            )
        })
    }
}

/// Place and height of the largest corrected current between the baseline's ends, but beside the peak's window.
pub(crate) fn largest_outside(settings: &Settings<'_>, corrected_a: &[f64]) -> Option<(usize, f64)> {
    let span = match settings.baseline {
        Baseline::Line { before, after }
        | Baseline::Minima { before, after }
        | Baseline::Polynomial { before, after, .. } => IndexRange { first: before.first, last: after.last },
        Baseline::Tangent { search } => search,
        Baseline::AsymmetricLeastSquares(_) => {
            IndexRange { first: 0, last: corrected_a.len().checked_sub(1)? }
        }
        // Without a baseline a height is no peak's.
        Baseline::None => return None,
    };
    let window = settings.peak.window;
    // Before the window, and after it.
    let ranges = [
        (span.first, span.last.saturating_add(1).min(window.first)),
        (span.first.max(window.last.saturating_add(1)), span.last.saturating_add(1)),
    ];
    let largest_in = |(first, end): (usize, usize)| {
        let values = corrected_a.get(first..end.min(corrected_a.len()))?;
        let largest = values.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
        largest.map(|(index, height_a)| (first + index, *height_a))
    };
    ranges.into_iter().filter_map(largest_in).max_by(|a, b| a.1.total_cmp(&b.1))
}
