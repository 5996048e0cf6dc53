//! Scans to electrode means, and the two spreads: between electrodes, and between scans of one electrode.

use crate::error::CalibrateError;
use crate::standard::{CalibrationSettings, StandardSignal};
use std::cmp::Ordering;
use std::collections::BTreeSet;
use stillwell_evaluate::exact_mean;

/// One electrode at one level: the mean of its scans, which is what the curve is fitted to.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ElectrodeMean {
    pub(crate) level: f64,
    pub(crate) electrode: String,
    pub(crate) mean_signal_a: f64,
    pub(crate) scans: Vec<ScanOfMean>,
    /// Σ (scan − mean)².
    pub(crate) scan_sum_of_squares: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ScanOfMean {
    pub(crate) label: String,
    pub(crate) signal_a: f64,
    pub(crate) scan_number: Option<u32>,
}

/// A standard that was left out, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct ExcludedStandard {
    /// Which scan.
    pub label: String,
    /// Its level.
    pub level: f64,
    /// Its electrode.
    pub electrode: String,
    /// Why it was left out.
    pub reason: String,
}

/// Means sorted by level and electrode, and what was left out.
#[derive(Debug)]
pub(crate) struct ElectrodeTable {
    pub(crate) means: Vec<ElectrodeMean>,
    pub(crate) excluded: Vec<ExcludedStandard>,
}

impl ElectrodeTable {
    /// Sorts first, so that the order in which the standards are handed in cannot change a bit.
    pub(crate) fn from_standards(
        standards: &[StandardSignal],
        settings: &CalibrationSettings,
    ) -> Result<Self, CalibrateError> {
        let excluded = excluded_standards(standards, settings.max_excluded_fraction)?;
        let mut taken: Vec<&StandardSignal> = standards.iter().filter(|s| s.excluded.is_none()).collect();
        for standard in &taken {
            check_standard(standard)?;
        }
        taken.sort_by(|a, b| {
            order_of_levels(a.level, b.level)
                .then_with(|| a.electrode.trim().cmp(b.electrode.trim()))
                .then_with(|| a.scan_number.cmp(&b.scan_number))
                .then_with(|| a.label.cmp(&b.label))
                .then_with(|| a.signal_a.total_cmp(&b.signal_a))
        });
        let means = taken
            .chunk_by(|a, b| same_level(a.level, b.level) && a.electrode.trim() == b.electrode.trim())
            .map(electrode_mean)
            .collect();
        Ok(Self { means, excluded })
    }

    /// The means of each level, lowest level first.
    pub(crate) fn levels(&self) -> impl Iterator<Item = &[ElectrodeMean]> + Clone {
        self.means.chunk_by(|a, b| same_level(a.level, b.level))
    }

    pub(crate) fn n_levels(&self) -> usize {
        self.levels().count()
    }

    /// How many physical electrodes took part, told by name.
    pub(crate) fn n_electrodes(&self) -> usize {
        self.means.iter().map(|m| m.electrode.as_str()).collect::<BTreeSet<_>>().len()
    }
}

/// Levels are the same when their numbers are; adding zero makes −0 and 0 one level.
pub(crate) fn order_of_levels(a: f64, b: f64) -> Ordering {
    (a + 0.0).total_cmp(&(b + 0.0))
}

pub(crate) fn same_level(a: f64, b: f64) -> bool {
    order_of_levels(a, b).is_eq()
}

fn excluded_standards(
    standards: &[StandardSignal],
    allowed: f64,
) -> Result<Vec<ExcludedStandard>, CalibrateError> {
    let mut excluded = Vec::new();
    for standard in standards {
        let Some(reason) = &standard.excluded else { continue };
        if reason.trim().is_empty() {
            return Err(CalibrateError::ExclusionWithoutReason { label: standard.label.clone() });
        }
        excluded.push(ExcludedStandard {
            label: standard.label.clone(),
            level: standard.level,
            electrode: standard.electrode.clone(),
            reason: reason.clone(),
        });
    }
    if excluded.len() as f64 > allowed * standards.len() as f64 {
        let (excluded, total) = (excluded.len(), standards.len());
        return Err(CalibrateError::TooManyExcluded { excluded, total, allowed });
    }
    excluded.sort_by(|a, b| {
        a.level
            .total_cmp(&b.level)
            .then_with(|| a.electrode.cmp(&b.electrode))
            .then_with(|| a.label.cmp(&b.label))
            .then_with(|| a.reason.cmp(&b.reason))
    });
    Ok(excluded)
}

fn check_standard(standard: &StandardSignal) -> Result<(), CalibrateError> {
    let label = || standard.label.clone();
    if !standard.level.is_finite() {
        return Err(CalibrateError::LevelNotFinite { label: label(), found: standard.level });
    }
    if standard.level < 0.0 {
        return Err(CalibrateError::LevelNegative { label: label(), found: standard.level });
    }
    if !standard.signal_a.is_finite() {
        return Err(CalibrateError::SignalNotFinite { label: label(), found: standard.signal_a });
    }
    if standard.electrode.trim().is_empty() {
        return Err(CalibrateError::ElectrodeNotNamed { label: label() });
    }
    Ok(())
}

fn electrode_mean(scans: &[&StandardSignal]) -> ElectrodeMean {
    let signals: Vec<f64> = scans.iter().map(|s| s.signal_a).collect();
    let (level, electrode) =
        scans.first().map_or((0.0, ""), |first| (first.level + 0.0, first.electrode.trim()));
    let mean_signal_a = exact_mean(&signals);
    ElectrodeMean {
        level,
        electrode: electrode.to_owned(),
        mean_signal_a,
        scan_sum_of_squares: sum_of_squares_about(&signals, mean_signal_a),
        scans: scans
            .iter()
            .map(|s| ScanOfMean { label: s.label.clone(), signal_a: s.signal_a, scan_number: s.scan_number })
            .collect(),
    }
}

pub(crate) fn sum_of_squares_about(values: &[f64], centre: f64) -> f64 {
    values.iter().map(|v| (v - centre) * (v - centre)).sum()
}

/// Spread between electrodes and between scans, by nested analysis of variance within levels.
///
/// All variances belong to unit weight: for a weighted calibration multiply by the relative variance at the level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ElectrodeComponents {
    /// Physical electrodes in the whole calibration.
    pub n_electrodes: usize,
    /// Harmonic mean of the number of scans an electrode mean stands for.
    pub scans_per_electrode: f64,
    /// Variance between scans of one electrode at one level; 0 when no electrode was scanned twice.
    pub scan_variance_a2: f64,
    /// Degrees of freedom of it.
    pub scan_degrees_of_freedom: usize,
    /// Variance of an electrode mean about its level: between electrodes, the scans' share included.
    pub electrode_mean_variance_a2: f64,
    /// Degrees of freedom of it; 0 when no level has two electrodes.
    pub electrode_degrees_of_freedom: usize,
    /// Variance between electrodes alone, never below 0.
    pub electrode_variance_a2: f64,
}

impl ElectrodeComponents {
    /// `s²(scan)`, `s²(mean)` and by difference `s²(electrode) = s²(mean) − s²(scan)/n`, `n` the harmonic mean of scans.
    pub(crate) fn from_table(table: &ElectrodeTable, weights: &[f64]) -> Self {
        let scans_per_electrode = harmonic_mean_of_scans(table);
        let scan_degrees_of_freedom = table.means.iter().map(|m| m.scans.len() - 1).sum::<usize>();
        let scan_squares: f64 = table.means.iter().zip(weights).map(|(m, w)| w * m.scan_sum_of_squares).sum();
        let electrode_degrees_of_freedom = table.means.len() - table.n_levels();
        let electrode_squares = pure_error_sum_of_squares(table, weights);
        let scan_variance_a2 = ratio_or_zero(scan_squares, scan_degrees_of_freedom);
        let electrode_mean_variance_a2 = ratio_or_zero(electrode_squares, electrode_degrees_of_freedom);
        let electrode_variance_a2 =
            (electrode_mean_variance_a2 - scan_variance_a2 / scans_per_electrode).max(0.0);
        Self {
            n_electrodes: table.n_electrodes(),
            scans_per_electrode,
            scan_variance_a2,
            scan_degrees_of_freedom,
            electrode_mean_variance_a2,
            electrode_degrees_of_freedom,
            electrode_variance_a2,
        }
    }

    /// Standard deviation, at unit weight, of the mean of `electrodes` electrodes with `scans` scans each.
    ///
    /// `√((s²(electrode) + s²(scan)/scans) / electrodes)`: more scans of one strip soon stop helping.
    ///
    /// # Units
    /// Result in A.
    ///
    /// # Source
    /// Expected mean squares of the two-stage nested design, e.g. ISO 5725-3:1994, annex C; from memory.
    ///
    /// # Example
    /// ```
    /// # use stillwell_calibrate::ElectrodeComponents;
    /// let spread = ElectrodeComponents {
    ///     n_electrodes: 18, scans_per_electrode: 4.0, scan_variance_a2: 0.81, scan_degrees_of_freedom: 54,
    ///     electrode_mean_variance_a2: 9.2, electrode_degrees_of_freedom: 12, electrode_variance_a2: 9.0,
    /// };
    /// let four_scans_of_one = spread.standard_deviation_of_mean_a(1, 4);
    /// let one_scan_of_four = spread.standard_deviation_of_mean_a(4, 1);
    /// assert!(one_scan_of_four < 0.6 * four_scans_of_one);
    /// ```
    pub fn standard_deviation_of_mean_a(&self, electrodes: u32, scans: u32) -> f64 {
        let of_one = self.electrode_variance_a2 + self.scan_variance_a2 / f64::from(scans);
        libm::sqrt(of_one / f64::from(electrodes))
    }
}

/// Equal numbers give that number exactly, so that an equally scanned sample lacks nothing by rounding.
fn harmonic_mean_of_scans(table: &ElectrodeTable) -> f64 {
    let sum: f64 = table.means.iter().map(|m| 1.0 / m.scans.len() as f64).sum();
    let mean = table.means.len() as f64 / sum;
    if (mean - mean.round()).abs() < 1e-9 { mean.round() } else { mean }
}

/// Σ w (electrode mean − level mean)²; the weights are constant within a level.
pub(crate) fn pure_error_sum_of_squares(table: &ElectrodeTable, weights: &[f64]) -> f64 {
    let mut rest = weights;
    table
        .levels()
        .map(|level| {
            let weight = rest.first().copied().unwrap_or(1.0);
            rest = rest.get(level.len()..).unwrap_or_default();
            weight * level_sum_of_squares(level)
        })
        .sum()
}

pub(crate) fn level_sum_of_squares(level: &[ElectrodeMean]) -> f64 {
    let means: Vec<f64> = level.iter().map(|m| m.mean_signal_a).collect();
    sum_of_squares_about(&means, exact_mean(&means))
}

fn ratio_or_zero(sum: f64, degrees_of_freedom: usize) -> f64 {
    if degrees_of_freedom == 0 { 0.0 } else { sum / degrees_of_freedom as f64 }
}
