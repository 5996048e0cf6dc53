//! Replicates in groups: the variance between groups, within them, and of a single value.

use crate::components::{Component, ComponentEstimate, ComponentSettings, MeanSquareTerm};
use crate::error::StatsError;
use crate::spread::{mean, pooled_standard_deviation, standard_deviation};

/// Components of a one-way layout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneWayComponents {
    /// Variance between groups.
    pub between: Component,
    /// Variance of a replicate within its group.
    pub within: ComponentEstimate,
    /// Variance of a single replicate of an unknown group: both together.
    pub total: Component,
    /// Mean of the groups' means.
    pub mean: f64,
    /// Groups.
    pub n_groups: usize,
    /// Harmonic mean of the groups' replicates; their common number when balanced.
    pub effective_replicates: f64,
}

/// Components of variance of replicates in groups, balanced or not.
///
/// Unbalanced layouts use the unweighted scatter of the group means, for which the intervals hold; balanced ones are the
/// analysis of variance.
///
/// # Units
/// `groups`: the replicates of each group, any unit; variances in its square.
///
/// # Errors
/// [`StatsError::TooFewValues`] without two groups, for an empty group or without a replicate anywhere,
/// [`StatsError::NotFinite`], [`StatsError::NotAProbability`], [`StatsError::OutOfRange`]. Fewer groups than the settings ask
/// for are no error: `between` and `total` say so.
///
/// # Source
/// Searle et al. 1992, Variance Components; unbalanced Thomas & Hultquist 1978, Ann. Stat. 6, 582; intervals by
/// [`modified_large_sample`](crate::components::modified_large_sample).
///
/// # Example
/// ```
/// use stillwell_stats::components::{ComponentSettings, one_way_components};
/// let lots = [[9.8, 10.0], [10.4, 10.2], [9.9, 10.1], [10.9, 10.6], [10.0, 10.1], [9.5, 9.7]];
/// let found = one_way_components(&lots, ComponentSettings { coverage: 0.95, least_members: 6 })?;
/// let between = found.between.estimate().unwrap();
/// assert!(between.interval.low < between.variance && between.variance < between.interval.high);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn one_way_components<G: AsRef<[f64]>>(
    groups: &[G],
    settings: ComponentSettings,
) -> Result<OneWayComponents, StatsError> {
    let n_groups = groups.len();
    if n_groups < 2 {
        return Err(StatsError::TooFewValues { what: "the list of groups", found: n_groups, needed: 2 });
    }
    let (sd, df_within) = pooled_standard_deviation(groups)?;
    let means = groups.iter().map(|g| mean(g.as_ref())).collect::<Result<Vec<f64>, _>>()?;
    let of_means = standard_deviation(&means)?;
    let inverse = groups.iter().map(|g| 1.0 / g.as_ref().len() as f64).sum::<f64>() / n_groups as f64;
    let of_groups = |factor: f64| MeanSquareTerm {
        factor,
        mean_square: of_means * of_means,
        degrees_of_freedom: (n_groups - 1) as f64,
    };
    let of_replicates =
        |factor: f64| MeanSquareTerm { factor, mean_square: sd * sd, degrees_of_freedom: df_within as f64 };
    let component = |terms: &[MeanSquareTerm]| -> Result<Component, StatsError> {
        if n_groups < settings.least_members {
            return Ok(Component::TooFew { found: n_groups, needed: settings.least_members });
        }
        Ok(Component::Estimated(ComponentEstimate::new(terms, settings.coverage)?))
    };
    Ok(OneWayComponents {
        between: component(&[of_groups(1.0), of_replicates(-inverse)])?,
        within: ComponentEstimate::new(&[of_replicates(1.0)], settings.coverage)?,
        total: component(&[of_groups(1.0), of_replicates(1.0 - inverse)])?,
        mean: mean(&means)?,
        n_groups,
        effective_replicates: 1.0 / inverse,
    })
}
