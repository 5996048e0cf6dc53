//! Mean, standard deviation and one-way analysis of variance, plain or within classes, without cancellation.

use crate::distributions::f_sf;
use crate::double_double::{DoubleDouble, power_of_two_to_unit};
use crate::error::StatsError;

/// Arithmetic mean, rounded once.
///
/// # Units
/// Those of the values.
///
/// # Errors
/// [`StatsError::TooFewValues`] for none, [`StatsError::NotFinite`].
///
/// # Source
/// Definition; checked against the NIST StRD univariate sets.
///
/// # Example
/// ```
/// assert_eq!(stillwell_stats::mean(&[0.1, 0.2, 0.6])?, 0.3);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn mean(values: &[f64]) -> Result<f64, StatsError> {
    let sample = Sample::new(&[values], 1)?;
    Ok(sample.plain(sample.overall_mean()))
}

/// Standard deviation with `n − 1`, from the values' distances to their unrounded mean.
///
/// # Units
/// Those of the values.
///
/// # Errors
/// [`StatsError::TooFewValues`] below two, [`StatsError::NotFinite`].
///
/// # Source
/// Definition; checked against the NIST StRD univariate sets.
///
/// # Example
/// ```
/// assert_eq!(stillwell_stats::standard_deviation(&[10000001.0, 10000003.0, 10000002.0])?, 1.0);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn standard_deviation(values: &[f64]) -> Result<f64, StatsError> {
    let sample = Sample::new(&[values], 2)?;
    let variance = sample.squares_within() / count(values.len() - 1);
    Ok(sample.plain(variance.sqrt()))
}

/// Standard deviation within groups, all groups together, and its degrees of freedom.
///
/// # Units
/// Those of the values.
///
/// # Errors
/// [`StatsError::TooFewValues`] when a group is empty or none has a replicate, [`StatsError::NotFinite`].
///
/// # Source
/// Definition, `sqrt(Σ (n−1) s² / Σ (n−1))`.
///
/// # Example
/// ```
/// let (sd, df) = stillwell_stats::pooled_standard_deviation(&[[1.0, 3.0], [10.0, 12.0]])?;
/// assert_eq!((sd, df), (2.0_f64.sqrt(), 2));
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn pooled_standard_deviation<G: AsRef<[f64]>>(groups: &[G]) -> Result<(f64, usize), StatsError> {
    let sample = Sample::new(groups, 1)?;
    let df = sample.n_values() - sample.groups.len();
    require_at_least(1, df, "the replicates beyond the first of their groups")?;
    Ok((sample.plain((sample.squares_within() / count(df)).sqrt()), df))
}

/// Analysis of variance between groups and within them, with the components by the method of moments.
#[derive(Debug, Clone, PartialEq)]
pub struct AnalysisOfVariance {
    /// Sum of squares of the group means about their (class) mean, each counted with its replicates.
    pub ss_between: f64,
    /// Sum of squares of the replicates about their group mean.
    pub ss_within: f64,
    /// Groups minus classes.
    pub df_between: usize,
    /// Values minus groups.
    pub df_within: usize,
    /// `n0`: the number of replicates that an unbalanced layout is worth; their common number when balanced.
    pub effective_replicates: f64,
    /// Variance of a replicate within its group (the mean square within).
    pub within_variance: f64,
    /// Variance between groups, `(MS between − MS within)/n0`; negative when the groups differ less than chance would
    /// have it, to be read as zero.
    pub between_variance: f64,
    /// `MS between / MS within`; infinite when replicates agree exactly and groups do not, 0 when nothing varies.
    pub f_statistic: f64,
    /// Probability of a larger ratio if the groups were alike.
    pub p_value: f64,
}

/// One-way analysis of variance: do the groups differ by more than their replicates?
///
/// # Units
/// `groups`: the replicates of each group, any number; sums of squares and variances in squared units of the values.
///
/// # Errors
/// [`StatsError::TooFewValues`] for fewer than two groups, an empty group, or no replicate anywhere;
/// [`StatsError::NotFinite`] (rows counted through all groups).
///
/// # Source
/// Searle et al. 1992, Variance Components (unbalanced one-way layout, method of moments); checked against the NIST
/// StRD analysis-of-variance sets.
///
/// # Example
/// ```
/// let anova = stillwell_stats::analysis_of_variance(&[vec![1.0, 3.0], vec![10.0, 12.0]])?;
/// assert_eq!((anova.ss_between, anova.ss_within), (81.0, 4.0));
/// assert_eq!(anova.between_variance, (81.0 - 2.0) / 2.0);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn analysis_of_variance<G: AsRef<[f64]>>(groups: &[G]) -> Result<AnalysisOfVariance, StatsError> {
    nested_analysis_of_variance(&[groups])
}

/// Nested analysis of variance: groups within classes, replicates within groups; the classes' own means are set aside.
///
/// For a calibration the classes are the levels, the groups the electrodes, the replicates their repeated scans.
///
/// # Units
/// As [`analysis_of_variance`].
///
/// # Errors
/// As [`analysis_of_variance`]; at least one class must have two groups.
///
/// # Source
/// Searle et al. 1992, Variance Components (unbalanced nested layout, method of moments);
/// `n0 = (N − Σ_classes Σ_groups n²/n_class) / df_between`.
///
/// # Example
/// ```
/// let low = [[1.0, 3.0], [2.0, 4.0]];
/// let high = [[100.0, 102.0], [104.0, 106.0]];
/// let anova = stillwell_stats::nested_analysis_of_variance(&[low, high])?;
/// assert_eq!((anova.df_between, anova.df_within), (2, 4));
/// assert_eq!((anova.ss_between, anova.ss_within), (1.0 + 16.0, 8.0));
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn nested_analysis_of_variance<C, G>(classes: &[C]) -> Result<AnalysisOfVariance, StatsError>
where
    C: AsRef<[G]>,
    G: AsRef<[f64]>,
{
    let groups: Vec<&[f64]> = classes.iter().flat_map(|c| c.as_ref().iter().map(AsRef::as_ref)).collect();
    let sample = Sample::new(&groups, 1)?;
    let occupied = classes.iter().filter(|c| !c.as_ref().is_empty()).count();
    let df_between = groups.len() - occupied;
    let df_within = sample.n_values() - groups.len();
    require_at_least(1, df_between, "the groups beyond the first of their classes")?;
    require_at_least(1, df_within, "the replicates beyond the first of their groups")?;

    let mut squares_between = DoubleDouble::ZERO;
    let mut not_shared = 0.0;
    let mut first = 0;
    for class in classes {
        let next = first + class.as_ref().len();
        let members = &sample.groups[first..next];
        squares_between = squares_between + squares_between_means(members);
        not_shared += values_not_shared(members);
        first = next;
    }
    let squares_within = sample.squares_within();
    let ms_between = squares_between / count(df_between);
    let ms_within = squares_within / count(df_within);
    let effective_replicates = not_shared / df_between as f64;
    let between = (ms_between - ms_within) / DoubleDouble::from(effective_replicates);
    let f_statistic = ratio(ms_between, ms_within);
    Ok(AnalysisOfVariance {
        ss_between: sample.plain_square(squares_between),
        ss_within: sample.plain_square(squares_within),
        df_between,
        df_within,
        effective_replicates,
        within_variance: sample.plain_square(ms_within),
        between_variance: sample.plain_square(between),
        f_statistic,
        p_value: f_sf(f_statistic, df_between as f64, df_within as f64),
    })
}

fn ratio(above: DoubleDouble, below: DoubleDouble) -> f64 {
    match (above.to_f64() > 0.0, below.to_f64() > 0.0) {
        (_, true) => (above / below).to_f64(),
        (true, false) => f64::INFINITY,
        (false, false) => 0.0,
    }
}

/// `Σ n (group mean − class mean)²`.
fn squares_between_means(groups: &[Vec<DoubleDouble>]) -> DoubleDouble {
    let total: DoubleDouble = groups.iter().flatten().copied().sum();
    let n_values = groups.iter().map(Vec::len).sum();
    if n_values == 0 {
        return DoubleDouble::ZERO;
    }
    let class_mean = total / count(n_values);
    groups.iter().map(|g| (group_mean(g) - class_mean).square() * count(g.len())).sum()
}

/// `n_class − Σ n²/n_class`.
fn values_not_shared(groups: &[Vec<DoubleDouble>]) -> f64 {
    let n_values: usize = groups.iter().map(Vec::len).sum();
    let squares: usize = groups.iter().map(|g| g.len() * g.len()).sum();
    if n_values == 0 { 0.0 } else { (n_values * n_values - squares) as f64 / n_values as f64 }
}

fn group_mean(group: &[DoubleDouble]) -> DoubleDouble {
    group.iter().copied().sum::<DoubleDouble>() / count(group.len())
}

pub(crate) fn count(n: usize) -> DoubleDouble {
    DoubleDouble::from(n as f64)
}

fn require_at_least(needed: usize, found: usize, what: &'static str) -> Result<(), StatsError> {
    if found < needed { Err(StatsError::TooFewValues { what, found, needed }) } else { Ok(()) }
}

/// Groups of finite values, divided by a power of two so that no square overflows.
pub(crate) struct Sample {
    pub(crate) groups: Vec<Vec<DoubleDouble>>,
    power_of_two: f64,
}

impl Sample {
    pub(crate) fn new<G: AsRef<[f64]>>(groups: &[G], least_in_group: usize) -> Result<Self, StatsError> {
        require_at_least(1, groups.len(), "the list of groups")?;
        let mut largest: f64 = 0.0;
        let mut row = 0;
        for group in groups {
            require_at_least(least_in_group, group.as_ref().len(), "a group")?;
            for &value in group.as_ref() {
                if !value.is_finite() {
                    return Err(StatsError::NotFinite { what: "the value", row, value });
                }
                largest = f64::max(largest, value.abs());
                row += 1;
            }
        }
        let power_of_two = power_of_two_to_unit(largest);
        let scale = |v: &f64| DoubleDouble::from(v * power_of_two);
        let groups = groups.iter().map(|g| g.as_ref().iter().map(scale).collect()).collect();
        Ok(Self { groups, power_of_two })
    }

    fn n_values(&self) -> usize {
        self.groups.iter().map(Vec::len).sum()
    }

    pub(crate) fn overall_mean(&self) -> DoubleDouble {
        self.groups.iter().flatten().copied().sum::<DoubleDouble>() / count(self.n_values())
    }

    fn squares_within(&self) -> DoubleDouble {
        let squares = |group: &Vec<DoubleDouble>| -> DoubleDouble {
            let centre = group_mean(group);
            group.iter().map(|&v| (v - centre).square()).sum()
        };
        self.groups.iter().map(squares).sum()
    }

    fn plain(&self, scaled: DoubleDouble) -> f64 {
        scaled.to_f64() / self.power_of_two
    }

    fn plain_square(&self, scaled: DoubleDouble) -> f64 {
        scaled.to_f64() / self.power_of_two / self.power_of_two
    }
}
