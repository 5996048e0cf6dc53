//! Uncertainty the top-down way: what the laboratory's own check standards and recoveries show, without a model.

use crate::budget::two_sided_factor;
use crate::{Budget, BudgetError, ExpandedUncertainty, budget_wording};

/// A standard uncertainty in percent of the value, and how well it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RelativeUncertainty {
    /// In %.
    pub percent: f64,
    /// Degrees of freedom; infinite where it was given as known.
    pub degrees_of_freedom: f64,
}

/// One comparison with a value known otherwise: a reference material, a spike, a ring test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BiasFinding {
    /// Found minus reference, in % of the reference.
    pub bias_percent: f64,
    /// Standard uncertainty of the reference, in %.
    pub reference_u_percent: f64,
}

/// What is known of the bias.
#[derive(Debug, Clone, PartialEq)]
pub enum BiasEvidence {
    /// One reference measured again and again.
    OneReference {
        /// The comparison, with the mean of what was found.
        finding: BiasFinding,
        /// Standard deviation of what was found, in %.
        sd_percent: f64,
        /// How often it was measured.
        n: u32,
    },
    /// Several references, recoveries or rounds.
    Several(Vec<BiasFinding>),
}

/// Fewest rounds, references or recoveries that may stand for the bias of a method.
const FEWEST_FINDINGS: usize = 6;

/// The top-down uncertainty and its two parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TopDown {
    /// Within-laboratory reproducibility.
    pub within_laboratory: RelativeUncertainty,
    /// Root mean square of the biases, in %: a bias that is not corrected counts as uncertainty.
    pub rms_bias_percent: f64,
    /// Standard uncertainty of the references, in %.
    pub reference_u_percent: f64,
    /// Method and laboratory bias.
    pub bias: RelativeUncertainty,
    /// Both together.
    pub combined: RelativeUncertainty,
    /// Number of comparisons behind the bias.
    pub n_findings: usize,
}

/// Within-laboratory reproducibility from check standards measured on different days.
///
/// # Units
/// Results in any one unit; the answer in % of their mean.
///
/// # Errors
/// [`BudgetError::TooFewResults`] below two, [`BudgetError::ResultsUnusable`] for a mean that is not above zero or no spread.
///
/// # Source
/// Nordtest TR 537, section 4.1.
///
/// # Example
/// ```
/// let u = stillwell_assure::within_laboratory(&[49.0, 50.5, 51.0, 49.5])?;
/// assert!((u.percent - 1.83).abs() < 0.01 && u.degrees_of_freedom == 3.0);
/// # Ok::<(), stillwell_assure::BudgetError>(())
/// ```
pub fn within_laboratory(check_standard_results: &[f64]) -> Result<RelativeUncertainty, BudgetError> {
    let n = check_standard_results.len();
    if n < 2 {
        return Err(BudgetError::TooFewResults { what: "check standards", found: n, needed: 2 });
    }
    let unusable = || BudgetError::ResultsUnusable { what: "check standards" };
    let (Ok(mean), Ok(sd)) = (
        stillwell_stats::mean(check_standard_results),
        stillwell_stats::standard_deviation(check_standard_results),
    ) else {
        return Err(unusable());
    };
    if !(mean > 0.0 && sd > 0.0) {
        return Err(unusable());
    }
    Ok(RelativeUncertainty { percent: 100.0 * sd / mean, degrees_of_freedom: n as f64 - 1.0 })
}

/// Repeatability from duplicates: mean of the relative ranges over 1.128.
///
/// # Units
/// Pairs in any one unit; the answer in %.
///
/// # Errors
/// [`BudgetError::TooFewResults`] without a pair, [`BudgetError::ResultsUnusable`] for a pair whose mean is not above zero or no
/// spread at all.
///
/// # Source
/// Nordtest TR 537, section 4.3, d₂ = 2/√π = 1.128 for two values. Degrees of freedom 0.876 for each pair: those of a scaled χ
/// with the same relative variance of the mean range, (d₂/d₃)²/2 with d₃ = 0.8525 (Patnaik 1950), to first order.
///
/// # Example
/// ```
/// let u = stillwell_assure::repeatability_from_duplicates(&[[49.0, 51.0], [30.0, 30.6]])?;
/// assert!((u.percent - 2.65).abs() < 0.01);
/// # Ok::<(), stillwell_assure::BudgetError>(())
/// ```
pub fn repeatability_from_duplicates(pairs: &[[f64; 2]]) -> Result<RelativeUncertainty, BudgetError> {
    const DF_PER_PAIR: f64 = 0.876;
    let d2 = 2.0 / libm::sqrt(std::f64::consts::PI);
    if pairs.is_empty() {
        return Err(BudgetError::TooFewResults { what: "duplicates", found: 0, needed: 1 });
    }
    let mut sum = 0.0;
    for [a, b] in pairs {
        let range = 100.0 * (a - b).abs() / f64::midpoint(*a, *b);
        if !(range.is_finite() && a + b > 0.0) {
            return Err(BudgetError::ResultsUnusable { what: "duplicates" });
        }
        sum += range;
    }
    if sum == 0.0 {
        return Err(BudgetError::ResultsUnusable { what: "duplicates" });
    }
    let n = pairs.len() as f64;
    Ok(RelativeUncertainty { percent: sum / n / d2, degrees_of_freedom: DF_PER_PAIR * n })
}

impl RelativeUncertainty {
    /// An uncertainty that is given, by control limits for instance, without its degrees of freedom.
    pub const fn given(percent: f64) -> Self {
        Self { percent, degrees_of_freedom: f64::INFINITY }
    }

    /// Both together, with effective degrees of freedom.
    ///
    /// # Source
    /// JCGM 100:2008, 5.1.2 and equation G.2b.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        let (a, b) = (self.percent * self.percent, other.percent * other.percent);
        let doubt = a * a / self.degrees_of_freedom + b * b / other.degrees_of_freedom;
        let degrees_of_freedom = if doubt > 0.0 { (a + b) * (a + b) / doubt } else { f64::INFINITY };
        Self { percent: libm::sqrt(a + b), degrees_of_freedom }
    }

    /// Expanded uncertainty in %, with Student's t.
    ///
    /// # Errors
    /// [`BudgetError::CoverageUnusable`], [`BudgetError::TooFewDegreesOfFreedom`].
    pub fn expanded(self, coverage: f64) -> Result<ExpandedUncertainty, BudgetError> {
        let degrees_of_freedom = libm::floor(self.degrees_of_freedom);
        let coverage_factor = two_sided_factor(coverage, degrees_of_freedom)?;
        Ok(ExpandedUncertainty {
            coverage,
            coverage_factor,
            half_width: coverage_factor * self.percent,
            degrees_of_freedom,
        })
    }
}

/// Within-laboratory reproducibility and bias, combined.
///
/// A single reference: `u(bias) = √(bias² + s²/n + u(ref)²)`; several: `√(RMS bias² + mean u(ref)²)`. The biases count whole,
/// since nothing is corrected by them.
///
/// # Units
/// All in %.
///
/// # Errors
/// [`BudgetError::ResultsUnusable`] for numbers that are none or negative spreads, [`BudgetError::TooFewResults`] without any
/// comparison or where one reference was measured less than twice.
///
/// # Source
/// Nordtest TR 537, sections 3.2, 5 and 6. Degrees of freedom: one for each comparison (the mean is not taken off), n − 1 for a
/// single reference; references count as known: common practice, no source.
///
/// # Example
/// ```
/// use stillwell_assure::{BiasEvidence, BiasFinding, RelativeUncertainty, top_down};
/// let rounds = [2.5, 2.7, 1.9, 1.4, 1.8, 2.9].map(|bias_percent| BiasFinding { bias_percent, reference_u_percent: 1.52 });
/// let found = top_down(RelativeUncertainty::given(1.67), &BiasEvidence::Several(rounds.to_vec()))?;
/// assert!((found.combined.percent - 3.20).abs() < 0.005);
/// # Ok::<(), stillwell_assure::BudgetError>(())
/// ```
pub fn top_down(
    within_laboratory: RelativeUncertainty,
    evidence: &BiasEvidence,
) -> Result<TopDown, BudgetError> {
    let unusable = || BudgetError::ResultsUnusable { what: "comparisons with references" };
    let is_usable = |finding: &BiasFinding| {
        finding.bias_percent.is_finite()
            && finding.reference_u_percent.is_finite()
            && finding.reference_u_percent >= 0.0
    };
    if !(within_laboratory.percent.is_finite() && within_laboratory.percent > 0.0) {
        return Err(BudgetError::ResultsUnusable { what: "the within-laboratory reproducibility" });
    }
    let (rms_bias_percent, reference_u_percent, observed, n_findings) = match evidence {
        BiasEvidence::OneReference { finding, sd_percent, n } => {
            if *n < 2 {
                return Err(BudgetError::TooFewResults {
                    what: "a single reference",
                    found: *n as usize,
                    needed: 2,
                });
            }
            if !(is_usable(finding) && sd_percent.is_finite() && *sd_percent >= 0.0) {
                return Err(unusable());
            }
            let of_mean = sd_percent * sd_percent / f64::from(*n);
            let seen = libm::sqrt(finding.bias_percent * finding.bias_percent + of_mean);
            let observed = RelativeUncertainty { percent: seen, degrees_of_freedom: f64::from(*n) - 1.0 };
            (finding.bias_percent.abs(), finding.reference_u_percent, observed, 1)
        }
        BiasEvidence::Several(findings) => {
            if findings.is_empty() {
                return Err(BudgetError::TooFewResults {
                    what: "comparisons with references",
                    found: 0,
                    needed: 1,
                });
            }
            if !findings.iter().all(is_usable) {
                return Err(unusable());
            }
            let n = findings.len() as f64;
            let squares: f64 = findings.iter().map(|f| f.bias_percent * f.bias_percent).sum();
            let reference = findings.iter().map(|f| f.reference_u_percent).sum::<f64>() / n;
            let rms = libm::sqrt(squares / n);
            (rms, reference, RelativeUncertainty { percent: rms, degrees_of_freedom: n }, findings.len())
        }
    };
    let bias = observed.and(RelativeUncertainty::given(reference_u_percent));
    Ok(TopDown {
        within_laboratory,
        rms_bias_percent,
        reference_u_percent,
        bias,
        combined: within_laboratory.and(bias),
        n_findings,
    })
}

/// Budget and top-down uncertainty side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideBySide {
    /// From the budget.
    pub bottom_up: RelativeUncertainty,
    /// From check standards and recoveries.
    pub top_down: RelativeUncertainty,
    /// Top-down over bottom-up.
    pub ratio: f64,
    /// Ratios between which both may be the same uncertainty, seen with their degrees of freedom (95 %).
    pub compatible: [f64; 2],
    /// Whether fewer comparisons stand behind the bias than the handbook asks for.
    pub has_few_findings: bool,
}

impl TopDown {
    /// The same uncertainty found two ways: is the ratio within what their degrees of freedom allow?
    ///
    /// # Errors
    /// [`BudgetError::ResultsUnusable`] for a budget whose value is zero.
    ///
    /// # Source
    /// Ratio of two variances, F distribution at 2.5 % and 97.5 %: common practice, no source for its use on combined
    /// uncertainties. Fewer than 6 comparisons: Nordtest TR 537, section 5.
    pub fn beside(&self, budget: &Budget) -> Result<SideBySide, BudgetError> {
        let relative = budget
            .relative_standard_uncertainty()
            .ok_or(BudgetError::ResultsUnusable { what: "a budget whose value is zero" })?;
        let bottom_up =
            RelativeUncertainty { percent: 100.0 * relative, degrees_of_freedom: budget.degrees_of_freedom };
        // Beyond a million the F distribution is that of infinitely many.
        let df = |u: RelativeUncertainty| u.degrees_of_freedom.clamp(1.0, 1e6);
        let end = |p: f64| {
            libm::sqrt(stillwell_stats::distributions::f_quantile(p, df(self.combined), df(bottom_up)))
        };
        Ok(SideBySide {
            bottom_up,
            top_down: self.combined,
            ratio: self.combined.percent / bottom_up.percent,
            compatible: [end(0.025), end(0.975)],
            has_few_findings: self.n_findings < FEWEST_FINDINGS,
        })
    }
}

impl SideBySide {
    /// Which of the two is reported and what their difference says.
    pub fn words(&self) -> String {
        budget_wording::side_by_side(self)
    }

    /// Whether the ratio lies within [`Self::compatible`].
    pub fn agrees(&self) -> bool {
        (self.compatible[0]..=self.compatible[1]).contains(&self.ratio)
    }
}
