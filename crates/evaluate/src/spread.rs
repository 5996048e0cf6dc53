//! How far the mean signal of a sample's electrodes may be off: fewer scans, and electrodes that disagree.

use crate::curve::{Curve, prediction_half_width_a};
use libm::sqrt;

/// One electrode of a sample.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ElectrodeMean {
    /// Mean of its scans (A).
    pub mean_signal_a: f64,
    /// Its scans.
    pub n_scans: usize,
}

/// How the electrodes of a calibration scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandardSpread {
    /// Harmonic mean of the scans that a standard's electrode mean stands for.
    pub scans_per_electrode: f64,
    /// Variance between scans of one electrode at unit weight (A²).
    pub scan_variance_a2: f64,
    /// Variance of electrode means at unit weight (A²).
    pub electrode_variance_a2: f64,
}

/// Variances of a sample's mean signal (A²), and how its electrodes agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanSpread {
    /// From the calibration's spread of electrode means.
    pub of_electrodes_a2: f64,
    /// For electrodes with fewer scans than the standards'.
    pub of_fewer_scans_a2: f64,
    /// For electrodes that differ by more than the calibration's would.
    pub of_disagreement_a2: f64,
    /// Their variance over the one expected; none for one electrode.
    pub ratio: Option<f64>,
    /// Whether the ratio exceeds its limit.
    pub disagrees: bool,
}

/// Standard uncertainties in level units, to first order (signal over slope); the interval itself is Fieller's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelUncertainty {
    /// Of the mean of the sample's electrodes, from the calibration's spread.
    pub of_electrodes: f64,
    /// Added because the sample's electrodes had fewer scans than the standards'.
    pub of_fewer_scans: f64,
    /// Added because the sample's electrodes disagree more than the calibration's.
    pub of_disagreement: f64,
    /// Of the calibration curve.
    pub of_curve: f64,
    /// All together.
    pub combined: f64,
}

impl MeanSpread {
    /// Of the mean `mean_signal_a` of some electrodes, whose variance may be `disagreement_limit` times the expected one.
    ///
    /// `s² v(x)/m`, plus `Σ s²(scan) v(x) max(0, 1/n_j − 1/n_std)/m²`: more scans never shrink it. Where the sample's own
    /// electrodes differ by more than the calibration's would, their own spread counts instead; where they agree better,
    /// nothing shrinks.
    ///
    /// # Units
    /// A and A².
    ///
    /// # Source
    /// The electrode as a level of its own: two-stage nested design; the comparison: F test.
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::{Curve, ElectrodeMean, MeanSpread, StandardSpread};
    /// let curve = Curve { coefficients: [0.0, 2.0, 0.0], n_coefficients: 2, unscaled_covariance: [[0.0; 3]; 3], residual_sd: 0.1,
    ///     degrees_of_freedom: 4, t_quantile: 2.8, relative_variance: [1.0, 0.0, 0.0], level_min: 0.0, level_max: 10.0 };
    /// let standards = StandardSpread { scans_per_electrode: 2.0, scan_variance_a2: 0.005, electrode_variance_a2: 0.01 };
    /// let electrodes = [3.0, 5.0].map(|mean_signal_a| ElectrodeMean { mean_signal_a, n_scans: 2 });
    /// let spread = MeanSpread::of(&curve, &standards, &electrodes, 4.0, 7.0);
    /// assert!(spread.disagrees && (spread.of_disagreement_a2 - (1.0 - 0.005)).abs() < 1e-15);
    /// ```
    pub fn of(
        curve: &Curve,
        standards: &StandardSpread,
        electrodes: &[ElectrodeMean],
        mean_signal_a: f64,
        disagreement_limit: f64,
    ) -> Self {
        let m = electrodes.len() as f64;
        let level = curve.level_at(mean_signal_a).unwrap_or(curve.level_max);
        let relative = curve.relative_variance_at(level);
        let missing = electrodes.iter().fold(0.0, |sum, electrode| {
            sum + not_negative(1.0 / electrode.n_scans as f64 - 1.0 / standards.scans_per_electrode)
        });
        let mut spread = Self {
            of_electrodes_a2: curve.residual_sd * curve.residual_sd * relative / m,
            of_fewer_scans_a2: standards.scan_variance_a2 * relative * missing / (m * m),
            of_disagreement_a2: 0.0,
            ratio: None,
            disagrees: false,
        };
        if electrodes.len() < 2 {
            return spread;
        }
        // Strips may differ more beyond the range; only whether they agree is judged there, no number is issued.
        let expected = if level > curve.level_max { curve.relative_variance_beyond(level) } else { relative };
        let squares = electrodes.iter().fold(0.0, |sum, electrode| {
            sum + (electrode.mean_signal_a - mean_signal_a) * (electrode.mean_signal_a - mean_signal_a)
        });
        let found = squares / (m - 1.0);
        let ratio = found / (standards.electrode_variance_a2 * expected + spread.of_fewer_scans_a2 * m);
        spread.ratio = Some(ratio);
        // A ratio without a number (both variances zero) is no disagreement; an infinite one is.
        spread.disagrees = ratio > disagreement_limit;
        if spread.disagrees {
            spread.of_disagreement_a2 =
                not_negative(found / m - spread.of_electrodes_a2 - spread.of_fewer_scans_a2);
        }
        spread
    }

    /// What the interval of a sample must hold beyond the calibration's spread (A²).
    pub fn extra_variance_a2(&self) -> f64 {
        self.of_fewer_scans_a2 + self.of_disagreement_a2
    }

    /// Standard uncertainty of the level that the mean of `electrodes` electrodes gives, and its parts.
    ///
    /// # Units
    /// The curve's level unit.
    ///
    /// # Source
    /// Half the band over t, and signal over slope: JCGM 100:2008, 5.1.2.
    pub fn in_levels(&self, curve: &Curve, level: f64, electrodes: u32) -> LevelUncertainty {
        let slope = curve.reading_slope(level).abs();
        let extra_a2 = self.extra_variance_a2();
        let combined_a = prediction_half_width_a(curve, level, electrodes, extra_a2) / curve.t_quantile;
        let of_curve_a2 = not_negative(combined_a * combined_a - self.of_electrodes_a2 - extra_a2);
        LevelUncertainty {
            of_electrodes: sqrt(self.of_electrodes_a2) / slope,
            of_fewer_scans: sqrt(self.of_fewer_scans_a2) / slope,
            of_disagreement: sqrt(self.of_disagreement_a2) / slope,
            of_curve: sqrt(of_curve_a2) / slope,
            combined: combined_a / slope,
        }
    }
}

fn not_negative(x: f64) -> f64 {
    if x > 0.0 { x } else { 0.0 }
}
