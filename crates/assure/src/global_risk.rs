//! Risks over all water that is tested: these need to know what water that is, so they need a stated prior.

use stillwell_stats::distributions::{normal_cdf, normal_density};

use crate::BudgetError;

/// What is known of the water before it is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PriorDistribution {
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        sd: f64,
    },
    /// Positive and skewed, as concentrations often are: the logarithm is normal.
    LogNormal {
        /// Mean of the natural logarithm.
        log_mean: f64,
        /// Standard deviation of the natural logarithm.
        log_sd: f64,
    },
}

/// A prior that says where it comes from. Without one there is no global risk.
#[derive(Debug, Clone, PartialEq)]
pub struct StatedPrior {
    distribution: PriorDistribution,
    source: String,
}

impl StatedPrior {
    /// A prior with its source, such as the survey it was taken from.
    ///
    /// # Units
    /// Those of the limit.
    ///
    /// # Errors
    /// [`BudgetError::PriorWithoutSource`], [`BudgetError::PriorUnusable`].
    pub fn new(distribution: PriorDistribution, source: &str) -> Result<Self, BudgetError> {
        if source.trim().is_empty() {
            return Err(BudgetError::PriorWithoutSource);
        }
        let (centre, spread) = match distribution {
            PriorDistribution::Normal { mean, sd } => (mean, sd),
            PriorDistribution::LogNormal { log_mean, log_sd } => (log_mean, log_sd),
        };
        if !(centre.is_finite() && spread.is_finite() && spread > 0.0) {
            return Err(BudgetError::PriorUnusable);
        }
        Ok(Self { distribution, source: source.to_owned() })
    }

    /// Where it comes from: to be shown beside every risk.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// The quantity whose standard score under the prior is `z`.
    fn at(&self, z: f64) -> f64 {
        match self.distribution {
            PriorDistribution::Normal { mean, sd } => mean + sd * z,
            PriorDistribution::LogNormal { log_mean, log_sd } => libm::exp(log_mean + log_sd * z),
        }
    }

    /// The standard score of a value; −∞ for one that the prior excludes.
    fn score(&self, value: f64) -> f64 {
        match self.distribution {
            PriorDistribution::Normal { mean, sd } => (value - mean) / sd,
            PriorDistribution::LogNormal { .. } if value <= 0.0 => f64::NEG_INFINITY,
            PriorDistribution::LogNormal { log_mean, log_sd } => (libm::log(value) - log_mean) / log_sd,
        }
    }
}

/// Risks for whatever water comes, under a stated prior.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GlobalRisk {
    /// Probability that water comes which is above the limit, and is accepted.
    pub consumer: f64,
    /// Probability that water comes which is at or below the limit, and is not accepted.
    pub producer: f64,
}

/// Beyond this many standard deviations of the prior there is no water.
const FARTHEST_SCORE: f64 = 12.0;

/// Global consumer's and producer's risk when values up to `accept_up_to` are accepted against an upper limit.
///
/// # Units
/// Limit, acceptance limit and standard uncertainty of the measurement in the unit of the prior; probabilities come out.
///
/// # Errors
/// [`BudgetError::ResultsUnusable`] for numbers that are none or an uncertainty that is not above zero.
///
/// # Source
/// JCGM 106:2012, 9.5.2 and 9.5.3, for a normal measurement; Gauss–Legendre quadrature over the prior.
///
/// # Example
/// ```
/// use stillwell_assure::{PriorDistribution, StatedPrior, global_risk};
/// let prior = StatedPrior::new(PriorDistribution::Normal { mean: 40.0, sd: 6.0 }, "survey of the wells, invented")?;
/// let risk = global_risk(&prior, 2.0, 50.0, 46.0)?;
/// assert!((risk.consumer - 0.000234).abs() < 1e-6 && (risk.producer - 0.1238).abs() < 1e-4);
/// # Ok::<(), stillwell_assure::BudgetError>(())
/// ```
pub fn global_risk(
    prior: &StatedPrior,
    standard_uncertainty: f64,
    limit: f64,
    accept_up_to: f64,
) -> Result<GlobalRisk, BudgetError> {
    let u = standard_uncertainty;
    if !(u.is_finite() && u > 0.0 && limit.is_finite() && accept_up_to.is_finite()) {
        return Err(BudgetError::ResultsUnusable { what: "a limit and its standard uncertainty" });
    }
    // Places where the integrand turns quickly.
    let mut cuts: Vec<f64> = [-8.0, -4.0, -2.0, 0.0, 2.0, 4.0, 8.0]
        .iter()
        .map(|k| prior.score(accept_up_to + k * u))
        .chain([prior.score(limit), -FARTHEST_SCORE, -2.0, 0.0, 2.0, FARTHEST_SCORE])
        .map(|z| z.clamp(-FARTHEST_SCORE, FARTHEST_SCORE))
        .collect();
    cuts.sort_unstable_by(f64::total_cmp);
    let at_limit = prior.score(limit);
    let (mut consumer, mut producer) = (0.0, 0.0);
    for ends in cuts.windows(2) {
        let [from, to] = [ends[0], ends[1]];
        if to - from <= 0.0 {
            continue;
        }
        if f64::midpoint(from, to) > at_limit {
            let accepted = |z: f64| normal_density(z) * normal_cdf((accept_up_to - prior.at(z)) / u);
            consumer += integral(from, to, accepted);
        } else {
            let refused = |z: f64| normal_density(z) * normal_cdf((prior.at(z) - accept_up_to) / u);
            producer += integral(from, to, refused);
        }
    }
    Ok(GlobalRisk { consumer, producer })
}

/// Eight panels of Gauss–Legendre with five nodes.
fn integral(from: f64, to: f64, f: impl Fn(f64) -> f64) -> f64 {
    const NODES: [(f64, f64); 5] = [
        (0.0, 0.5688888888888889),
        (0.5384693101056831, 0.47862867049936647),
        (-0.5384693101056831, 0.47862867049936647),
        (0.906179845938664, 0.23692688505618908),
        (-0.906179845938664, 0.23692688505618908),
    ];
    const PANELS: u32 = 8;
    let half = 0.5 * (to - from) / f64::from(PANELS);
    let mut sum = 0.0;
    for panel in 0..PANELS {
        let middle = from + half * (2.0 * f64::from(panel) + 1.0);
        for (node, weight) in NODES {
            sum += weight * half * f(middle + half * node);
        }
    }
    sum
}

/// What is known after measuring, with a normal prior.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Posterior {
    /// Mean.
    pub mean: f64,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
}

/// A normal prior and a normal measurement, combined.
///
/// # Units
/// All in one unit.
///
/// # Errors
/// [`BudgetError::PriorNotNormal`], [`BudgetError::ResultsUnusable`].
///
/// # Source
/// JCGM 106:2012, A.4.4.
///
/// # Example
/// ```
/// use stillwell_assure::{PriorDistribution, StatedPrior, posterior};
/// let prior = StatedPrior::new(PriorDistribution::Normal { mean: 40.0, sd: 6.0 }, "survey of the wells, invented")?;
/// assert!((posterior(&prior, 47.0, 2.0)?.mean - 46.3).abs() < 1e-12);
/// # Ok::<(), stillwell_assure::BudgetError>(())
/// ```
pub fn posterior(
    prior: &StatedPrior,
    value: f64,
    standard_uncertainty: f64,
) -> Result<Posterior, BudgetError> {
    let PriorDistribution::Normal { mean, sd } = prior.distribution else {
        return Err(BudgetError::PriorNotNormal);
    };
    if !(value.is_finite() && standard_uncertainty.is_finite() && standard_uncertainty > 0.0) {
        return Err(BudgetError::ResultsUnusable { what: "a value and its standard uncertainty" });
    }
    let (of_prior, of_value) = (1.0 / (sd * sd), 1.0 / (standard_uncertainty * standard_uncertainty));
    let precision = of_prior + of_value;
    Ok(Posterior {
        mean: (of_prior * mean + of_value * value) / precision,
        standard_uncertainty: libm::sqrt(1.0 / precision),
    })
}
