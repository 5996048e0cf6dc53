//! The Kaplan–Meier estimate for values below limits: no distribution, no invented numbers.

use crate::censored::Observation;
use crate::error::{StatsError, require_in_range, require_probability};
use crate::robust::equal_runs;

/// One found value and what is estimated there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KaplanMeierStep {
    /// The found value.
    pub value: f64,
    /// Observations found at or below it, or known to lie below a limit that is no higher.
    pub n_at_risk: usize,
    /// Observations found at exactly this value.
    pub n_found: usize,
    /// Estimated share of values at or below it.
    pub share_at_or_below: f64,
    /// Standard error of that share (Greenwood).
    pub standard_error: f64,
}

/// The estimated distribution.
#[derive(Debug, Clone, PartialEq)]
pub struct KaplanMeier {
    /// One a distinct found value, rising.
    pub steps: Vec<KaplanMeierStep>,
    /// Share of values below the lowest found one: known only to lie below the limits named in `lowest_limits`.
    pub share_below_lowest: f64,
    /// The limits of the observations that lie below the lowest found value, rising; empty when there are none.
    pub lowest_limits: Vec<f64>,
}

/// What the data say of the mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KaplanMeierMean {
    /// The mean if everything below the lowest found value were zero: no lower for quantities that cannot be negative.
    pub at_least: f64,
    /// The mean if everything below the lowest found value lay at its limit: no higher.
    pub at_most: f64,
    /// Standard error of the upper end by sampling alone; 0 when only one value was found.
    pub standard_error: f64,
}

/// Kaplan–Meier estimate of values of which some lie below limits (one or several), by counting from above.
///
/// # Units
/// Observations in one unit and of one quantity.
///
/// # Errors
/// [`StatsError::TooFewValues`] when nothing was found, [`StatsError::NotFinite`], [`StatsError::CensoredAbove`].
///
/// # Source
/// Kaplan & Meier 1958, J. Am. Stat. Assoc. 53, 457, on the flipped scale: Helsel 2012, Statistics for Censored
/// Environmental Data, ch. 6; standard error Greenwood 1926.
///
/// # Example
/// ```
/// use stillwell_stats::censored::{Observation::{Below, Found}, kaplan_meier};
/// let found = kaplan_meier(&[Below(5.0), Below(5.0), Found(8.0), Below(10.0), Found(12.0)])?;
/// assert_eq!(found.percentile(0.9)?, Found(12.0));
/// assert_eq!(found.percentile(0.5)?, Below(5.0));
/// let mean = found.mean();
/// assert!(mean.at_least < mean.at_most);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn kaplan_meier(observations: &[Observation]) -> Result<KaplanMeier, StatsError> {
    Observation::require_finite(observations)?;
    Observation::require_none_above(observations, "the Kaplan–Meier estimate")?;
    let mut found = Observation::found(observations);
    if found.is_empty() {
        return Err(StatsError::TooFewValues { what: "the values found", found: 0, needed: 1 });
    }
    found.sort_by(f64::total_cmp);
    let lowest = found[0];
    let mut limits: Vec<f64> = Vec::new();
    for observation in observations {
        if let Observation::Below(limit) = *observation {
            limits.push(limit);
        }
    }
    limits.sort_by(f64::total_cmp);

    let groups = equal_runs(&found);
    let mut steps = Vec::with_capacity(groups.len());
    let (mut share, mut relative_variance, mut n_left) = (1.0, 0.0, found.len());
    for group in groups.iter().rev() {
        let value = group[0];
        let n_limits = limits.partition_point(|limit| *limit <= value);
        let (n_at_risk, n_found) = (n_left + n_limits, group.len());
        let standard_error = share * libm::sqrt(relative_variance);
        steps.push(KaplanMeierStep { value, n_at_risk, n_found, share_at_or_below: share, standard_error });
        let (r, d) = (n_at_risk as f64, n_found as f64);
        share *= (r - d) / r;
        relative_variance += if n_at_risk > n_found { d / (r * (r - d)) } else { 0.0 };
        n_left -= n_found;
    }
    steps.reverse();
    let lowest_limits = limits.into_iter().filter(|limit| *limit <= lowest).collect();
    let estimate = KaplanMeier { steps, share_below_lowest: share, lowest_limits };
    let mean = estimate.mean();
    require_in_range("the mean", &[mean.at_least, mean.at_most, mean.standard_error])?;
    Ok(estimate)
}

impl KaplanMeier {
    /// The mean, as far as the data determine it.
    ///
    /// # Units
    /// Those of the observations.
    ///
    /// # Source
    /// Helsel 2012, ch. 6; what lies below the lowest found value is shared by the observations known to lie there
    /// (Efron 1967), each between zero and its limit. Standard error: Klein & Moeschberger 2003, Survival Analysis, 4.5.
    ///
    /// # Example
    /// ```
    /// use stillwell_stats::censored::{Observation::{Below, Found}, kaplan_meier};
    /// let mean = kaplan_meier(&[Below(2.0), Found(4.0), Found(6.0), Found(8.0)])?.mean();
    /// assert_eq!((mean.at_least, mean.at_most), (4.5, 5.0));
    /// # Ok::<(), stillwell_stats::StatsError>(())
    /// ```
    pub fn mean(&self) -> KaplanMeierMean {
        let mut below = self.share_below_lowest;
        let mut at_least = 0.0;
        for step in &self.steps {
            at_least += step.value * (step.share_at_or_below - below);
            below = step.share_at_or_below;
        }
        let at_limits = self.lowest_limit_mean() * self.share_below_lowest;
        let at_most = at_least + at_limits;
        KaplanMeierMean { at_least: f64::min(at_least, at_most), at_most, standard_error: self.mean_error() }
    }

    /// Smallest value at or below which at least `share` of the values lie; below a limit where nothing was found.
    ///
    /// Where the share is met exactly, the middle between that value and the next: so that the median without limits is
    /// the usual one.
    ///
    /// # Units
    /// Those of the observations; `share` in (0, 1).
    ///
    /// # Errors
    /// [`StatsError::NotAProbability`].
    ///
    /// # Source
    /// Helsel 2012, ch. 6.
    pub fn percentile(&self, share: f64) -> Result<Observation, StatsError> {
        const ROUNDING: f64 = 1e-12;
        require_probability("the share", share)?;
        if share <= self.share_below_lowest + ROUNDING
            && let Some(limit) = self.lowest_limits.last()
        {
            return Ok(Observation::Below(*limit));
        }
        let reached =
            self.steps.iter().position(|s| s.share_at_or_below >= share - ROUNDING).unwrap_or_default();
        let step = &self.steps[reached];
        let next = self.steps.get(reached + 1);
        Ok(Observation::Found(match next {
            Some(next) if step.share_at_or_below <= share + ROUNDING => 0.5 * step.value + 0.5 * next.value,
            _ => step.value,
        }))
    }

    fn lowest_limit_mean(&self) -> f64 {
        if self.lowest_limits.is_empty() {
            return 0.0;
        }
        self.lowest_limits.iter().sum::<f64>() / self.lowest_limits.len() as f64
    }

    /// `√Σ A² d/(r (r − d))` with `A` the area below the distribution function up to each found value.
    fn mean_error(&self) -> f64 {
        let first = self.steps.first().map_or(0.0, |s| s.value);
        let mut area = self.share_below_lowest * (first - self.lowest_limit_mean());
        let mut variance = 0.0;
        for (at, step) in self.steps.iter().enumerate() {
            let (r, d) = (step.n_at_risk as f64, step.n_found as f64);
            if step.n_at_risk > step.n_found {
                variance += area * area * d / (r * (r - d));
            }
            if let Some(next) = self.steps.get(at + 1) {
                area += step.share_at_or_below * (next.value - step.value);
            }
        }
        libm::sqrt(variance)
    }
}
