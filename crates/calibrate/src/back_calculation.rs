//! The standards read back from their own curve.

use crate::electrode::ElectrodeTable;
use stillwell_evaluate::{Curve, exact_mean};
use stillwell_stats::Fit;

/// One electrode mean of the calibration beside the curve.
#[derive(Debug, Clone, PartialEq)]
pub struct StandardPoint {
    /// The level.
    pub level: f64,
    /// The electrode.
    pub electrode: String,
    /// The scans behind the mean.
    pub labels: Vec<String>,
    /// Their mean.
    pub mean_signal_a: f64,
    /// Weight in the fit; the weights sum to the number of points.
    pub weight: f64,
    /// The curve at this level.
    pub fitted_signal_a: f64,
    /// Mean minus curve.
    pub residual_a: f64,
    /// Share of this point in its own fitted value.
    pub leverage: f64,
    /// The level that the curve gives for this mean, beyond the range too; `None` beyond a quadratic's turn.
    pub back_calculated: Option<f64>,
}

/// One level read back from the mean of its electrodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelCheck {
    /// The level.
    pub level: f64,
    /// Electrodes measured there.
    pub n_electrodes: usize,
    /// Mean of the electrode means.
    pub mean_signal_a: f64,
    /// The level that the curve gives for it; `None` beyond a quadratic's turn.
    pub back_calculated: Option<f64>,
    /// Error in % of the level; `None` at level zero.
    pub error_percent: Option<f64>,
}

pub(crate) fn standard_points(
    table: &ElectrodeTable,
    fit: &Fit,
    weights: &[f64],
    curve: &Curve,
) -> Vec<StandardPoint> {
    let figures = fit.fitted.iter().zip(&fit.residuals).zip(&fit.leverage);
    table
        .means
        .iter()
        .zip(weights)
        .zip(figures)
        .map(|((mean, weight), ((fitted, residual), leverage))| StandardPoint {
            level: mean.level,
            electrode: mean.electrode.clone(),
            labels: mean.scans.iter().map(|scan| scan.label.clone()).collect(),
            mean_signal_a: mean.mean_signal_a,
            weight: *weight,
            fitted_signal_a: *fitted,
            residual_a: *residual,
            leverage: *leverage,
            back_calculated: curve.level_at(mean.mean_signal_a),
        })
        .collect()
}

pub(crate) fn level_checks(table: &ElectrodeTable, curve: &Curve) -> Vec<LevelCheck> {
    table
        .levels()
        .map(|means| {
            let level = means.first().map_or(0.0, |m| m.level);
            let mean_signal_a = exact_mean(&means.iter().map(|m| m.mean_signal_a).collect::<Vec<_>>());
            let back_calculated = curve.level_at(mean_signal_a);
            let error_percent =
                back_calculated.filter(|_| level > 0.0).map(|found| 100.0 * (found - level) / level);
            LevelCheck { level, n_electrodes: means.len(), mean_signal_a, back_calculated, error_percent }
        })
        .collect()
}
