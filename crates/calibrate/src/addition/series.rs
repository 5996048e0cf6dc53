//! Scans to electrode means of one standard addition, and which of the two designs they are.

use super::error::AdditionError;
use super::{AdditionDesign, AdditionScan};
use std::collections::BTreeMap;
use stillwell_evaluate::exact_mean;

/// Fewest different additions, the sample itself included.
pub(super) const ADDITIONS_NEEDED: usize = 3;
/// Fewest electrodes that show how electrodes differ.
const FOLLOWED_ELECTRODES_NEEDED: usize = 2;

/// One electrode at one addition.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ElectrodeAt {
    pub(super) added: f64,
    pub(super) sample_fraction: f64,
    pub(super) electrode: String,
    pub(super) mean_signal_a: f64,
    pub(super) n_scans: usize,
}

/// Means sorted by electrode, addition and fraction.
#[derive(Debug)]
pub(super) struct Series {
    pub(super) means: Vec<ElectrodeAt>,
    pub(super) design: AdditionDesign,
}

impl Series {
    /// Sorts first, so that the order of the scans cannot change a bit.
    pub(super) fn from_scans(
        scans: &[AdditionScan],
        max_excluded_fraction: f64,
    ) -> Result<Self, AdditionError> {
        for scan in scans {
            check(scan)?;
        }
        let excluded = scans.iter().filter(|scan| scan.excluded.is_some()).count();
        if excluded as f64 > max_excluded_fraction * scans.len() as f64 {
            let (total, allowed) = (scans.len(), max_excluded_fraction);
            return Err(AdditionError::TooManyExcluded { excluded, total, allowed });
        }
        let mut taken: Vec<&AdditionScan> = scans.iter().filter(|scan| scan.excluded.is_none()).collect();
        taken.sort_by(|a, b| {
            a.electrode
                .trim()
                .cmp(b.electrode.trim())
                .then(a.added.total_cmp(&b.added))
                .then(a.sample_fraction.total_cmp(&b.sample_fraction))
                .then(a.signal_a.total_cmp(&b.signal_a))
        });
        let means: Vec<ElectrodeAt> = taken
            .chunk_by(|a, b| {
                a.electrode.trim() == b.electrode.trim()
                    && same(a.added, b.added)
                    && same(a.sample_fraction, b.sample_fraction)
            })
            .filter_map(mean)
            .collect();
        let design = design(&means)?;
        Ok(Self { means, design })
    }

    /// The means of each electrode.
    pub(super) fn electrodes(&self) -> impl Iterator<Item = &[ElectrodeAt]> + Clone {
        self.means.chunk_by(|a, b| a.electrode == b.electrode)
    }

    pub(super) fn n_electrodes(&self) -> usize {
        self.electrodes().count()
    }

    pub(super) fn n_scans(&self) -> usize {
        self.means.iter().map(|mean| mean.n_scans).sum()
    }

    /// The different additions, smallest first.
    pub(super) fn additions(&self) -> Vec<f64> {
        additions(&self.means)
    }

    pub(super) fn largest_signal_a(&self) -> f64 {
        self.means.iter().fold(0.0_f64, |largest, mean| largest.max(mean.mean_signal_a.abs()))
    }
}

/// Numbers of the sheet are the same when they are; adding zero makes −0 and 0 one.
fn same(a: f64, b: f64) -> bool {
    (a + 0.0).total_cmp(&(b + 0.0)).is_eq()
}

fn check(scan: &AdditionScan) -> Result<(), AdditionError> {
    let label = || scan.label.clone();
    if let Some(reason) = &scan.excluded {
        return if reason.trim().is_empty() {
            Err(AdditionError::ExclusionWithoutReason { label: label() })
        } else {
            Ok(())
        };
    }
    let refused =
        |what, found, accepted| Err(AdditionError::NotUsable { label: label(), what, found, accepted });
    if !(scan.added.is_finite() && scan.added >= 0.0) {
        return refused("addition", scan.added, "a concentration of 0 or more");
    }
    if !(scan.sample_fraction > 0.0 && scan.sample_fraction <= 1.0) {
        return refused(
            "sample's share of the measured volume",
            scan.sample_fraction,
            "a number above 0, at most 1",
        );
    }
    if !scan.signal_a.is_finite() {
        return refused("signal", scan.signal_a, "a finite number");
    }
    if scan.electrode.trim().is_empty() {
        return Err(AdditionError::ElectrodeNotNamed { label: label() });
    }
    Ok(())
}

fn mean(scans: &[&AdditionScan]) -> Option<ElectrodeAt> {
    let first = scans.first()?;
    let signals: Vec<f64> = scans.iter().map(|scan| scan.signal_a).collect();
    Some(ElectrodeAt {
        added: first.added + 0.0,
        sample_fraction: first.sample_fraction,
        electrode: first.electrode.trim().to_owned(),
        mean_signal_a: exact_mean(&signals),
        n_scans: scans.len(),
    })
}

fn additions(means: &[ElectrodeAt]) -> Vec<f64> {
    let mut added: Vec<f64> = means.iter().map(|mean| mean.added).collect();
    added.sort_by(f64::total_cmp);
    added.dedup_by(|a, b| same(*a, *b));
    added
}

/// Every electrode at one addition, or every electrode at several: nothing between.
fn design(means: &[ElectrodeAt]) -> Result<AdditionDesign, AdditionError> {
    let levels = additions(means);
    if levels.len() < ADDITIONS_NEEDED {
        return Err(AdditionError::TooFewAdditions { found: levels.len(), needed: ADDITIONS_NEEDED });
    }
    if let Some(&smallest) = levels.first().filter(|smallest| **smallest > 0.0) {
        return Err(AdditionError::SampleItselfMissing { smallest });
    }
    let mut of_electrodes: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for group in means.chunk_by(|a, b| a.electrode == b.electrode) {
        if let Some(first) = group.first() {
            of_electrodes.insert(&first.electrode, additions(group));
        }
    }
    let single = of_electrodes.iter().find(|(_, seen)| seen.len() == 1);
    let followed = of_electrodes.iter().find(|(_, seen)| seen.len() > 1);
    match (single, followed) {
        (Some((single, _)), Some((followed, _))) => Err(AdditionError::DesignsMixed {
            single: (*single).to_owned(),
            followed: (*followed).to_owned(),
        }),
        (_, Some(_)) => followed_design(&of_electrodes, &levels),
        _ => Ok(AdditionDesign::FreshElectrodes),
    }
}

fn followed_design(
    of_electrodes: &BTreeMap<&str, Vec<f64>>,
    levels: &[f64],
) -> Result<AdditionDesign, AdditionError> {
    let (found, needed) = (of_electrodes.len(), FOLLOWED_ELECTRODES_NEEDED);
    if found < needed {
        return Err(AdditionError::TooFewElectrodes { found, needed });
    }
    if let Some((electrode, seen)) = of_electrodes.iter().find(|(_, seen)| seen.len() < ADDITIONS_NEEDED) {
        return Err(AdditionError::FollowedTooShort {
            electrode: (*electrode).to_owned(),
            found: seen.len(),
            needed: ADDITIONS_NEEDED,
        });
    }
    let is_balanced = of_electrodes.values().all(|seen| seen.len() == levels.len());
    Ok(AdditionDesign::FollowedElectrodes { is_balanced })
}
