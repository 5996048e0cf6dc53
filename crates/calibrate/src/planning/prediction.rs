//! What a design promises: the expanded uncertainty of a sample before anything is measured.

use super::layout::LevelPlan;
use super::{Design, PartOfVariance, SpreadComponents};
use stillwell_stats::distributions::{chi_squared_quantile, student_t_quantile};

/// Quantiles of one number of degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Quantiles {
    /// Student's t, two-sided.
    pub(super) t: f64,
    /// Median of a standard deviation over the true one.
    pub(super) median_sd: f64,
}

impl Quantiles {
    pub(super) fn new(degrees_of_freedom: u32, coverage: f64) -> Self {
        let df = f64::from(degrees_of_freedom);
        Self {
            t: student_t_quantile(0.5 + 0.5 * coverage, df),
            median_sd: libm::sqrt(chi_squared_quantile(0.5, df) / df),
        }
    }
}

/// Expanded uncertainty and its parts, in level units.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Predicted {
    pub(super) expanded_u: f64,
    /// Expanded parts, squared.
    pub(super) parts: Vec<(PartOfVariance, f64)>,
}

/// Weighted sums over the standards, with the true variances as weights, slope 1.
struct Line {
    weight: f64,
    mean_level: f64,
    squares: f64,
}

impl Line {
    fn of(components: &SpreadComponents, levels: &[LevelPlan], scans: u32) -> Self {
        let weighted: Vec<(f64, f64)> = levels
            .iter()
            .map(|l| (f64::from(l.electrodes) / components.electrode_mean_variance(l.level, scans), l.level))
            .collect();
        let weight: f64 = weighted.iter().map(|(w, _)| w).sum();
        let mean_level = weighted.iter().map(|(w, x)| w * x).sum::<f64>() / weight;
        let squares = weighted.iter().map(|(w, x)| w * (x - mean_level) * (x - mean_level)).sum();
        Self { weight, mean_level, squares }
    }
}

/// The median of the expanded uncertainty that [`crate::concentration`] will state, the larger half of Fieller's interval, widened
/// by the relative parts as the chain does (`√(U² + (t x u)²)`).
///
/// # Source
/// Fieller 1954 with the expected slope and the median of the residual standard deviation (χ² quantile); checked by simulation.
pub(super) fn predict(
    components: &SpreadComponents,
    design: &Design,
    level: f64,
    quantiles: Quantiles,
) -> Predicted {
    let (m, scans) = (components.counted_electrodes(design.sample_electrodes), design.scans_per_electrode);
    let line = Line::of(components, &design.levels, scans);
    let t = quantiles.t * quantiles.median_sd;
    let from_mean = level - line.mean_level;
    let of_electrodes = components.electrode_variance_at(level) / m;
    let of_scans = components.scan_variance_at(level) / (m * f64::from(scans));
    let of_curve = 1.0 / line.weight + from_mean * from_mean / line.squares;
    let g = t * t / line.squares;
    let of_fieller = if g < 1.0 {
        let inner = g * g * from_mean * from_mean + (1.0 - g) * t * t * (of_electrodes + of_scans + of_curve);
        (g * from_mean.abs() + libm::sqrt(inner)) / (1.0 - g)
    } else {
        f64::INFINITY
    };
    let relative = |u: f64| {
        let part = quantiles.t * u * level;
        part * part
    };
    let fixed = [
        (PartOfVariance::Lots, relative(components.lot_u())),
        (PartOfVariance::Standards, relative(components.standards_relative_u)),
        (PartOfVariance::Further, relative(components.further_relative_u)),
    ];
    let fixed_squares: f64 = fixed.iter().map(|(_, part)| part).sum();
    let mut parts = vec![
        (PartOfVariance::SampleElectrodes, t * t * of_electrodes),
        (PartOfVariance::SampleScans, t * t * of_scans),
        (PartOfVariance::Curve, t * t * of_curve),
    ];
    parts.extend(fixed);
    Predicted { expanded_u: libm::sqrt(of_fieller * of_fieller + fixed_squares), parts }
}
