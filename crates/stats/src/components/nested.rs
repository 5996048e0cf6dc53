//! Replicates in groups in classes: three levels of scatter, such as scans of electrodes of lots.

use crate::components::{Component, ComponentEstimate, ComponentSettings, MeanSquareTerm};
use crate::error::StatsError;
use crate::spread::{mean, pooled_standard_deviation, standard_deviation};

/// Components of a nested layout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NestedComponents {
    /// Variance between classes.
    pub between_classes: Component,
    /// Variance between groups of one class.
    pub between_groups: ComponentEstimate,
    /// Variance of a replicate within its group: repeatability.
    pub within_groups: ComponentEstimate,
    /// Variance of a single replicate of an unknown group of one class: intermediate precision within the class.
    pub within_classes: ComponentEstimate,
    /// Variance of a single replicate of an unknown group of an unknown class: all three together.
    pub total: Component,
    /// Mean of the classes' means.
    pub mean: f64,
    /// Classes.
    pub n_classes: usize,
    /// Groups in all classes together.
    pub n_groups: usize,
}

/// Components of variance of `classes[class][group] = replicates`, balanced or not.
///
/// Unbalanced layouts use unweighted means of means, for which the intervals hold; balanced ones are the nested analysis
/// of variance.
///
/// # Units
/// Values in any unit; variances in its square.
///
/// # Errors
/// [`StatsError::TooFewValues`] for no class, an empty class or group, no class with two groups, or no group with two
/// replicates; [`StatsError::NotFinite`], [`StatsError::NotAProbability`], [`StatsError::OutOfRange`]. Fewer classes than the
/// settings ask for are no error: `between_classes` and `total` say so.
///
/// # Source
/// Searle et al. 1992, Variance Components; ISO 5725-3:1994, annex B (nested designs); unbalanced: unweighted sums of
/// squares, Burdick & Graybill 1992, Confidence Intervals on Variance Components, 5.4 (our coefficients from the expected mean
/// squares); intervals by [`modified_large_sample`](crate::components::modified_large_sample).
///
/// # Example
/// ```
/// use stillwell_stats::components::{Component, ComponentSettings, nested_components};
/// let lots = [[[9.8, 9.9], [10.0, 10.1]], [[10.4, 10.5], [10.2, 10.2]]];
/// let found = nested_components(&lots, ComponentSettings { coverage: 0.95, least_members: 6 })?;
/// assert_eq!(found.between_classes, Component::TooFew { found: 2, needed: 6 });
/// assert!(found.within_groups.variance < found.between_groups.variance);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn nested_components<C, G>(
    classes: &[C],
    settings: ComponentSettings,
) -> Result<NestedComponents, StatsError>
where
    C: AsRef<[G]>,
    G: AsRef<[f64]>,
{
    let layout = Layout::new(classes)?;
    let coverage = settings.coverage;
    let estimate = |terms: &[MeanSquareTerm]| ComponentEstimate::new(terms, coverage);
    let (groups, replicates) = (|c| layout.of_groups(c), |c| layout.of_replicates(c));
    // Replicates that a group's mean still carries, and groups and replicates that a class's mean still carries.
    let per_group = layout.inverse_replicates;
    let (per_class, of_both) = (layout.inverse_groups, layout.inverse_both);
    let rest = of_both - per_class * per_group;
    let of_classes = |terms: [MeanSquareTerm; 2]| -> Result<Component, StatsError> {
        let needed = settings.least_members.max(2);
        match layout.of_classes() {
            Some(first) if layout.n_classes >= needed => {
                Ok(Component::Estimated(estimate(&[first, terms[0], terms[1]])?))
            }
            _ => Ok(Component::TooFew { found: layout.n_classes, needed }),
        }
    };
    Ok(NestedComponents {
        between_classes: of_classes([groups(-per_class), replicates(-rest)])?,
        between_groups: estimate(&[groups(1.0), replicates(-per_group)])?,
        within_groups: estimate(&[replicates(1.0)])?,
        within_classes: estimate(&[groups(1.0), replicates(1.0 - per_group)])?,
        total: of_classes([groups(1.0 - per_class), replicates(1.0 - per_group - rest)])?,
        mean: mean(&layout.class_means)?,
        n_classes: layout.n_classes,
        n_groups: layout.n_groups,
    })
}

/// Mean squares of the unweighted means, and how much of the lower levels each still carries.
struct Layout {
    n_classes: usize,
    n_groups: usize,
    class_means: Vec<f64>,
    of_class_means: Option<f64>,
    of_group_means: f64,
    df_groups: usize,
    within: f64,
    df_within: usize,
    /// `Σ (b−1) mean(1/n) / Σ (b−1)`: share of a replicate's variance in the scatter of group means.
    inverse_replicates: f64,
    /// `mean(1/b)` over classes: share of the groups' variance in a class's mean.
    inverse_groups: f64,
    /// `mean(Σ 1/n / b²)` over classes: share of a replicate's variance in a class's mean.
    inverse_both: f64,
}

impl Layout {
    fn new<C, G>(classes: &[C]) -> Result<Self, StatsError>
    where
        C: AsRef<[G]>,
        G: AsRef<[f64]>,
    {
        let groups: Vec<&[f64]> = classes.iter().flat_map(|c| c.as_ref().iter().map(AsRef::as_ref)).collect();
        let (sd, df_within) = pooled_standard_deviation(&groups)?;
        let mut group_means = Vec::with_capacity(classes.len());
        let (mut class_means, mut inverse_replicates) = (Vec::new(), 0.0);
        let (mut inverse_groups, mut inverse_both) = (0.0, 0.0);
        for class in classes {
            let own: Vec<&[f64]> = class.as_ref().iter().map(AsRef::as_ref).collect();
            let means = own.iter().map(|g| mean(g)).collect::<Result<Vec<f64>, _>>()?;
            let n = own.len() as f64;
            let inverse = own.iter().map(|g| 1.0 / g.len() as f64).sum::<f64>() / n;
            class_means.push(mean(&means)?);
            inverse_replicates += (n - 1.0) * inverse;
            inverse_groups += 1.0 / n / classes.len() as f64;
            inverse_both += inverse / n / classes.len() as f64;
            group_means.push(means);
        }
        let (of_group_means, df_groups) = pooled_standard_deviation(&group_means)?;
        let of_class_means = (classes.len() > 1).then(|| standard_deviation(&class_means)).transpose()?;
        Ok(Self {
            n_classes: classes.len(),
            n_groups: groups.len(),
            class_means,
            of_class_means,
            of_group_means,
            df_groups,
            within: sd,
            df_within,
            inverse_replicates: inverse_replicates / df_groups as f64,
            inverse_groups,
            inverse_both,
        })
    }

    fn of_classes(&self) -> Option<MeanSquareTerm> {
        let degrees_of_freedom = self.n_classes.saturating_sub(1) as f64;
        self.of_class_means.map(|sd| MeanSquareTerm { factor: 1.0, mean_square: sd * sd, degrees_of_freedom })
    }

    fn of_groups(&self, factor: f64) -> MeanSquareTerm {
        let mean_square = self.of_group_means * self.of_group_means;
        MeanSquareTerm { factor, mean_square, degrees_of_freedom: self.df_groups as f64 }
    }

    fn of_replicates(&self, factor: f64) -> MeanSquareTerm {
        let mean_square = self.within * self.within;
        MeanSquareTerm { factor, mean_square, degrees_of_freedom: self.df_within as f64 }
    }
}
