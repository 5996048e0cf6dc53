//! How much each electrode mean counts: weights and the variance function they stand for.

use crate::electrode::{ElectrodeTable, level_sum_of_squares, same_level};
use crate::error::CalibrateError;
use crate::standard::{LevelDeviation, Weights};

/// Weights of the electrode means, in their order, with the variance function they imply.
#[derive(Debug)]
pub(crate) struct ResolvedWeights {
    /// Normalised so that they sum to the number of means.
    pub(crate) of_means: Vec<f64>,
    /// `v0, v1, v2` of the kernel's curve: the variance of a sample's electrode mean, 1 being that at unit weight.
    pub(crate) relative_variance: [f64; 3],
    /// The fitted function, where one was fitted.
    pub(crate) function: Option<VarianceFunction>,
}

/// How the variance of an electrode mean depends on level: `variance ∝ (1 − share) + share (level / highest level)²`.
///
/// These are the best values, which weigh the standards. For samples the curve's `relative_variance` is larger where a
/// function fitted to few electrodes leaves doubt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VarianceFunction {
    /// Share of the variance at the highest level that grows with level: 0 is a constant standard deviation.
    pub growing_share: f64,
    /// Standard deviation of an electrode mean at level 0, from the function.
    pub sd_at_zero_a: f64,
    /// Standard deviation of an electrode mean at the highest level, from the function.
    pub sd_at_top_a: f64,
    /// Degrees of freedom between electrodes that it was fitted to; 0 for stated standard deviations.
    pub degrees_of_freedom: usize,
    /// Probability of so much growth if the spread were constant; `None` for stated standard deviations.
    pub p_constant: Option<f64>,
    /// Largest ratio between a stated standard deviation and the function, either way; `None` when fitted to spread.
    pub worst_ratio_to_stated: Option<f64>,
}

/// Fewer data cannot tell a rising spread from chance: common practice, no source.
const FUNCTION_LEVELS_NEEDED: usize = 3;
const FUNCTION_DF_NEEDED: usize = 8;

/// At most 99 % of the top variance may grow with level: the standard deviation at zero is then a tenth of that at the top.
///
/// Without it, three electrodes that happen to agree at level zero would claim a spread of nothing there.
/// Common practice, no source.
const LARGEST_GROWING_SHARE: f64 = 0.99;
/// Stated standard deviations are believed down to a hundredth of the top one, and so far is the spread of samples at the top
/// taken from: strips whose sensitivity differs by some per cent differ a hundred times less in the blank.
const STEEPEST_SHARE: f64 = 0.9999;

impl ResolvedWeights {
    pub(crate) fn resolve(weights: &Weights, table: &ElectrodeTable) -> Result<Self, CalibrateError> {
        let unbounded_at_zero = |name| match table.means.first() {
            Some(lowest) if lowest.level == 0.0 => Err(CalibrateError::WeightUnboundedAtZero {
                weights: name,
                label: lowest.scans.first().map_or_else(String::new, |scan| scan.label.clone()),
            }),
            _ => Ok(()),
        };
        match weights {
            Weights::None => Ok(Self::from_polynomial(table, [1.0, 0.0, 0.0], None)),
            Weights::InverseLevel => {
                unbounded_at_zero("1/level")?;
                Ok(Self::from_polynomial(table, [0.0, 1.0, 0.0], None))
            }
            Weights::InverseSquaredLevel => {
                unbounded_at_zero("1/level²")?;
                Ok(Self::from_polynomial(table, [0.0, 0.0, 1.0], None))
            }
            Weights::VarianceFunction => from_spread(table),
            Weights::StandardDeviations(stated) => from_stated(table, stated),
        }
    }

    fn from_polynomial(
        table: &ElectrodeTable,
        variance: [f64; 3],
        function: Option<VarianceFunction>,
    ) -> Self {
        let raw: Vec<f64> = table.means.iter().map(|m| 1.0 / polynomial(variance, m.level)).collect();
        let (of_means, scale) = normalised(&raw);
        // weight = scale / variance, hence the variance at unit weight is variance / scale.
        Self { of_means, relative_variance: variance.map(|v| v / scale), function }
    }
}

fn polynomial([v0, v1, v2]: [f64; 3], level: f64) -> f64 {
    v0 + level * (v1 + level * v2)
}

/// Weights that sum to their number, and the factor that did it.
fn normalised(raw: &[f64]) -> (Vec<f64>, f64) {
    let scale = raw.len() as f64 / raw.iter().sum::<f64>();
    (raw.iter().map(|w| w * scale).collect(), scale)
}

/// Variances found or stated at some levels, each with its degrees of freedom.
struct LevelVariance {
    /// Level over the highest level.
    relative_level: f64,
    variance_a2: f64,
    degrees_of_freedom: f64,
}

/// Pseudo-likelihood fit of the shape: for each share the scale follows, and what is left is a search in one dimension.
struct ShapeFit {
    share: f64,
    /// Variance at the highest level.
    top_variance_a2: f64,
    /// Twice the gain in log likelihood over a constant variance.
    twice_gain: f64,
    /// Smallest and largest share that the spreads support nearly as well.
    plausible: [f64; 2],
}

/// Shares whose −2 log likelihood is at most this above the best one count as plausible.
///
/// Chosen by simulation: with 12 degrees of freedom the best share alone covers 92 to 96 % where 95 are meant, its plausible
/// neighbours 94 to 98 %. No other source.
const PLAUSIBLE_DEVIANCE: f64 = 0.5;

fn shape(share: f64, relative_level: f64) -> f64 {
    (1.0 - share) + share * relative_level * relative_level
}

fn top_variance(levels: &[LevelVariance], share: f64) -> f64 {
    let df: f64 = levels.iter().map(|l| l.degrees_of_freedom).sum();
    let sum: f64 =
        levels.iter().map(|l| l.degrees_of_freedom * l.variance_a2 / shape(share, l.relative_level)).sum();
    sum / df
}

/// −2 log likelihood of the spreads, up to a constant: scaled chi-squared at each level.
fn deviance(levels: &[LevelVariance], share: f64) -> f64 {
    let df: f64 = levels.iter().map(|l| l.degrees_of_freedom).sum();
    let shapes: f64 =
        levels.iter().map(|l| l.degrees_of_freedom * libm::log(shape(share, l.relative_level))).sum();
    df * libm::log(top_variance(levels, share)) + shapes
}

/// Half the derivative of the deviance by the share: negative where a larger share fits better.
fn tilt(levels: &[LevelVariance], share: f64) -> f64 {
    let (mut of_scale, mut of_shapes) = (0.0, 0.0);
    for l in levels {
        let g = shape(share, l.relative_level);
        let by_share = l.relative_level * l.relative_level - 1.0;
        of_scale += l.degrees_of_freedom * l.variance_a2 * by_share / (g * g);
        of_shapes += l.degrees_of_freedom * by_share / g;
    }
    of_shapes - of_scale / top_variance(levels, share)
}

const GRID_STEPS: u32 = 99;
const HALVINGS: u32 = 60;

/// Where `holds` turns true between `no` and `yes`, halved down to neighbouring numbers.
fn boundary(mut no: f64, mut yes: f64, holds: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..HALVINGS {
        let middle = 0.5 * (no + yes);
        if holds(middle) {
            yes = middle;
        } else {
            no = middle;
        }
    }
    yes
}

fn fit_shape(levels: &[LevelVariance], largest_share: f64) -> ShapeFit {
    let step = largest_share / f64::from(GRID_STEPS);
    let constant = deviance(levels, 0.0);
    let grid = |k: u32| step * f64::from(k);
    let (best_on_grid, _) = (1..=GRID_STEPS).fold((0, constant), |best: (u32, f64), k| {
        let found = deviance(levels, grid(k));
        if found < best.1 { (k, found) } else { best }
    });
    let low = grid(best_on_grid.saturating_sub(1));
    let high = grid((best_on_grid + 1).min(GRID_STEPS));
    let share = if tilt(levels, low) >= 0.0 {
        low
    } else if tilt(levels, high) <= 0.0 {
        high
    } else {
        boundary(low, high, |share| tilt(levels, share) >= 0.0)
    };
    let lowest_deviance = deviance(levels, share);
    let is_plausible = |share: f64| deviance(levels, share) <= lowest_deviance + PLAUSIBLE_DEVIANCE;
    let first = (0..=GRID_STEPS)
        .find(|k| is_plausible(grid(*k)))
        .map_or(share, |k| if k == 0 { 0.0 } else { boundary(grid(k - 1), grid(k), is_plausible) });
    let last = (0..=GRID_STEPS).rev().find(|k| is_plausible(grid(*k))).map_or(share, |k| {
        if k == GRID_STEPS { largest_share } else { boundary(grid(k + 1), grid(k), is_plausible) }
    });
    ShapeFit {
        share,
        top_variance_a2: top_variance(levels, share),
        twice_gain: (constant - lowest_deviance).max(0.0),
        plausible: [first.min(share), last.max(share)],
    }
}

/// Fits `v0 + v2 level²` to the spread of electrode means at each level.
///
/// # Source
/// Model: EURACHEM/CITAC QUAM:2012, E.5 (`u² = s0² + (x s1)²`), from memory. Estimation: pseudo-likelihood on replicate
/// variances, Carroll & Ruppert 1988, Transformation and Weighting in Regression, 3.2, from memory. The chance of so much growth:
/// half a chi-squared with one degree of freedom, Self & Liang 1987, since the share cannot be negative; approximate.
/// The caution for samples: see [`cautious_variance`], by simulation.
fn from_spread(table: &ElectrodeTable) -> Result<ResolvedWeights, CalibrateError> {
    let top = table.means.last().map_or(0.0, |m| m.level);
    let levels: Vec<LevelVariance> = table
        .levels()
        .filter(|level| level.len() > 1)
        .map(|level| {
            let degrees_of_freedom = (level.len() - 1) as f64;
            LevelVariance {
                relative_level: level.first().map_or(0.0, |m| m.level) / top,
                variance_a2: level_sum_of_squares(level) / degrees_of_freedom,
                degrees_of_freedom,
            }
        })
        .collect();
    let found_df = table.means.len() - table.n_levels();
    if levels.len() < FUNCTION_LEVELS_NEEDED || found_df < FUNCTION_DF_NEEDED {
        return Err(CalibrateError::VarianceFunctionNeedsMoreData {
            found_levels: levels.len(),
            needed_levels: FUNCTION_LEVELS_NEEDED,
            found_df,
            needed_df: FUNCTION_DF_NEEDED,
        });
    }
    let fit = fit_shape(&levels, LARGEST_GROWING_SHARE);
    if !(fit.top_variance_a2.is_finite() && fit.top_variance_a2 > 0.0) {
        return Err(CalibrateError::VarianceFunctionWithoutSpread);
    }
    let p_constant = if fit.twice_gain > 0.0 {
        0.5 * stillwell_stats::distributions::chi_squared_sf(fit.twice_gain, 1.0)
    } else {
        1.0
    };
    let function = VarianceFunction {
        growing_share: fit.share,
        sd_at_zero_a: libm::sqrt(fit.top_variance_a2 * (1.0 - fit.share)),
        sd_at_top_a: libm::sqrt(fit.top_variance_a2),
        degrees_of_freedom: found_df,
        p_constant: Some(p_constant),
        worst_ratio_to_stated: None,
    };
    let best = [1.0 - fit.share, 0.0, fit.share / top / top];
    let mut resolved = ResolvedWeights::from_polynomial(table, best, Some(function));
    let steepest = fit_shape(&levels, STEEPEST_SHARE);
    resolved.relative_variance = cautious_variance(&levels, &fit, &steepest, resolved.relative_variance, top);
    Ok(resolved)
}

/// What samples get: at zero the variance of the smallest plausible share, at the top that of the largest, which may be steeper
/// than the weights of the standards allow.
///
/// The weights of the standards only need to be about right; the spread of a sample must not be understated because three
/// electrodes happened to agree at level zero, nor because those that always agree there dilute the spread at the top.
fn cautious_variance(
    levels: &[LevelVariance],
    fit: &ShapeFit,
    steepest: &ShapeFit,
    best: [f64; 3],
    top: f64,
) -> [f64; 3] {
    let [smallest, _] = fit.plausible;
    let [_, largest] = steepest.plausible;
    let [best_at_zero, ..] = best;
    let scale = best_at_zero / (fit.top_variance_a2 * (1.0 - fit.share));
    let at_zero = scale * top_variance(levels, smallest) * (1.0 - smallest);
    let at_top = scale * top_variance(levels, largest);
    [at_zero, 0.0, (at_top - at_zero).max(0.0) / top / top]
}

/// Stated standard deviations weigh the fit exactly as stated; between and beyond their levels a function through them serves.
fn from_stated(table: &ElectrodeTable, stated: &[LevelDeviation]) -> Result<ResolvedWeights, CalibrateError> {
    let top = table.means.last().map_or(0.0, |m| m.level);
    let mut raw = Vec::with_capacity(table.means.len());
    let mut levels = Vec::new();
    for group in table.levels() {
        let level = group.first().map_or(0.0, |m| m.level);
        let sd = stated
            .iter()
            .find(|s| same_level(s.level, level))
            .ok_or(CalibrateError::LevelWithoutDeviation { level })?
            .standard_deviation_a;
        if !(sd.is_finite() && sd > 0.0) {
            return Err(CalibrateError::DeviationNotPositive { level, found: sd });
        }
        raw.extend(group.iter().map(|_| 1.0 / (sd * sd)));
        levels.push(LevelVariance {
            relative_level: level / top,
            variance_a2: sd * sd,
            degrees_of_freedom: 1.0,
        });
    }
    for (index, deviation) in stated.iter().enumerate() {
        let belongs = table.means.iter().any(|m| same_level(m.level, deviation.level));
        let repeated = stated.iter().take(index).any(|s| same_level(s.level, deviation.level));
        if !belongs || repeated {
            return Err(CalibrateError::DeviationWithoutLevel { level: deviation.level });
        }
    }
    let fit = fit_shape(&levels, STEEPEST_SHARE);
    let worst_ratio = levels
        .iter()
        .map(|l| libm::sqrt(l.variance_a2 / (fit.top_variance_a2 * shape(fit.share, l.relative_level))))
        .map(|ratio| ratio.max(1.0 / ratio))
        .fold(1.0, f64::max);
    let (of_means, scale) = normalised(&raw);
    let v = fit.top_variance_a2 / scale;
    Ok(ResolvedWeights {
        of_means,
        relative_variance: [v * (1.0 - fit.share), 0.0, v * fit.share / top / top],
        function: Some(VarianceFunction {
            growing_share: fit.share,
            sd_at_zero_a: libm::sqrt(fit.top_variance_a2 * (1.0 - fit.share)),
            sd_at_top_a: libm::sqrt(fit.top_variance_a2),
            degrees_of_freedom: 0,
            p_constant: None,
            worst_ratio_to_stated: Some(worst_ratio),
        }),
    })
}
