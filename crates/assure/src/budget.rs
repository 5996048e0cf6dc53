//! The law of propagation of uncertainty and the budget it leads to: which input matters how much, and why.

use stillwell_stats::distributions::student_t_quantile;

use crate::budget_wording;
use crate::sensitivity::Neighbourhood;
use crate::{BudgetError, Component, DegreesOfFreedom, Distribution, Evaluation, MeasurementModel};

/// One input's place in the budget.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetLine {
    /// The input's name.
    pub name: String,
    /// What it is about.
    pub component: Component,
    /// Its estimate.
    pub estimate: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// What is known of it.
    pub distribution: Distribution,
    /// How that was evaluated.
    pub evaluation: Evaluation,
    /// How well its standard uncertainty is known.
    pub degrees_of_freedom: DegreesOfFreedom,
    /// Change of the result for one unit of the input, signed.
    pub sensitivity: f64,
    /// Sensitivity times standard uncertainty, signed: in the result's unit.
    pub contribution: f64,
    /// Square of the contribution over the combined variance. All shares and those of the correlated pairs make 1;
    /// where errors cancel, a share can exceed 1.
    pub share: f64,
    /// Combined standard uncertainty if this input were exactly known.
    pub combined_without: f64,
    /// Where its uncertainty comes from.
    pub source: String,
    /// How to shrink it.
    pub how_to_shrink: String,
}

/// What two correlated inputs add to the combined variance, or take from it.
#[derive(Debug, Clone, PartialEq)]
pub struct CorrelatedPair {
    /// One input.
    pub first: String,
    /// The other.
    pub second: String,
    /// Their correlation coefficient.
    pub coefficient: f64,
    /// `2 c₁ c₂ u₁ u₂ r` over the combined variance; negative where their errors cancel.
    pub share: f64,
}

/// A component's part of the combined variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ComponentShare {
    /// The component.
    pub component: Component,
    /// Shares of its inputs and of the correlated pairs inside it.
    pub share: f64,
}

/// Combined standard uncertainty and what it is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct Budget {
    /// The measured quantity at the estimates.
    pub value: f64,
    /// Combined standard uncertainty, first order.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom; infinite where no input's uncertainty is in doubt.
    pub degrees_of_freedom: f64,
    /// The inputs, the largest contribution first.
    pub lines: Vec<BudgetLine>,
    /// The correlated pairs, in the order in which they were given.
    pub pairs: Vec<CorrelatedPair>,
}

/// An interval from a budget.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExpandedUncertainty {
    /// Coverage probability asked for.
    pub coverage: f64,
    /// Coverage factor k.
    pub coverage_factor: f64,
    /// `k u`.
    pub half_width: f64,
    /// Degrees of freedom used: the effective ones cut to a whole number; infinite where these are.
    pub degrees_of_freedom: f64,
}

impl MeasurementModel<'_> {
    /// First-order propagation with correlations, and effective degrees of freedom.
    ///
    /// Inputs that share a spread, or are correlated, enter the Welch–Satterthwaite formula as one term, with the
    /// smallest of their degrees of freedom; the formula itself is about independent terms.
    ///
    /// # Units
    /// Results in the unit of the model's function.
    ///
    /// # Errors
    /// [`BudgetError::ModelNotFinite`] where the model has no value at or near the estimates,
    /// [`BudgetError::NoFirstOrderSpread`] where no input moves the result, [`BudgetError::CorrelationsImpossible`].
    ///
    /// # Source
    /// JCGM 100:2008, equations 13 and 16 (propagation), 5.1.3 note 2 (differences), G.2b (degrees of freedom). One term
    /// for inputs that are wrong together: common practice, no source.
    pub fn propagate(&self) -> Result<Budget, BudgetError> {
        let value = self.value()?;
        let contributions = self.contributions()?;
        let pair_terms: Vec<f64> = self
            .correlations
            .iter()
            .map(|pair| 2.0 * pair.coefficient * contributions[pair.first] * contributions[pair.second])
            .collect();
        let own: f64 = contributions.iter().map(|c| c * c).sum();
        let variance = own + pair_terms.iter().sum::<f64>();
        if own == 0.0 {
            return Err(BudgetError::NoFirstOrderSpread);
        }
        // Errors that cancel wholly leave rounding; less than that is no set of correlations.
        if variance < -1e-12 * own {
            return Err(BudgetError::CorrelationsImpossible);
        }
        if variance <= 1e-24 * own {
            return Err(BudgetError::NoFirstOrderSpread);
        }
        let budget = Budget {
            value,
            standard_uncertainty: libm::sqrt(variance),
            degrees_of_freedom: self.effective_degrees_of_freedom(&contributions, &pair_terms),
            lines: self.lines(&contributions, &pair_terms, variance),
            pairs: self.pairs(&pair_terms, variance),
        };
        Ok(budget)
    }

    /// `c u` of every input, signed.
    pub(crate) fn contributions(&self) -> Result<Vec<f64>, BudgetError> {
        if let Some(sensitivities) = self.function.sensitivities(&self.estimates()) {
            let known = sensitivities.iter().zip(&self.inputs);
            let contributions: Vec<f64> = known.map(|(c, input)| c * input.standard_uncertainty()).collect();
            let complete = contributions.len() == self.inputs.len();
            return if complete && contributions.iter().all(|c| c.is_finite()) {
                Ok(contributions)
            } else {
                Err(BudgetError::ModelNotFinite { near: None })
            };
        }
        let around = Neighbourhood::new(self);
        (0..self.inputs.len()).map(|at| around.contribution(at)).collect()
    }

    fn lines(&self, contributions: &[f64], pair_terms: &[f64], variance: f64) -> Vec<BudgetLine> {
        let mut lines: Vec<BudgetLine> = self
            .inputs
            .iter()
            .zip(contributions)
            .enumerate()
            .map(|(at, (input, contribution))| {
                let with_others = self.correlations.iter().zip(pair_terms);
                let shared: f64 = with_others
                    .filter(|(pair, _)| pair.first == at || pair.second == at)
                    .map(|(_, term)| term)
                    .sum();
                let square = contribution * contribution;
                BudgetLine {
                    name: input.name.clone(),
                    component: input.component,
                    estimate: input.estimate(),
                    standard_uncertainty: input.standard_uncertainty(),
                    distribution: input.distribution,
                    evaluation: input.evaluation,
                    degrees_of_freedom: input.degrees_of_freedom.clone(),
                    sensitivity: contribution / input.standard_uncertainty(),
                    contribution: *contribution,
                    share: square / variance,
                    combined_without: libm::sqrt((variance - square - shared).max(0.0)),
                    source: input.source.clone(),
                    how_to_shrink: input
                        .remedy
                        .clone()
                        .unwrap_or_else(|| budget_wording::how_to_shrink(input.component).to_owned()),
                }
            })
            .collect();
        lines.sort_by(|a, b| b.contribution.abs().total_cmp(&a.contribution.abs()));
        lines
    }

    fn pairs(&self, pair_terms: &[f64], variance: f64) -> Vec<CorrelatedPair> {
        let terms = self.correlations.iter().zip(pair_terms);
        terms
            .map(|(pair, term)| CorrelatedPair {
                first: self.inputs[pair.first].name.clone(),
                second: self.inputs[pair.second].name.clone(),
                coefficient: pair.coefficient,
                share: term / variance,
            })
            .collect()
    }

    /// Welch–Satterthwaite over groups of inputs that are wrong together.
    fn effective_degrees_of_freedom(&self, contributions: &[f64], pair_terms: &[f64]) -> f64 {
        let group = self.groups();
        let mut variance = 0.0;
        let mut sum = 0.0;
        for leader in 0..self.inputs.len() {
            let members = || group.iter().enumerate().filter(|(_, of)| **of == leader).map(|(at, _)| at);
            let own: f64 = members().map(|at| contributions[at] * contributions[at]).sum();
            let pairs = self.correlations.iter().zip(pair_terms);
            let shared: f64 =
                pairs.filter(|(pair, _)| group[pair.first] == leader).map(|(_, term)| term).sum();
            let degrees_of_freedom =
                members().map(|at| self.inputs[at].degrees_of_freedom.number()).fold(f64::INFINITY, f64::min);
            variance += own + shared;
            sum += (own + shared) * (own + shared) / degrees_of_freedom;
        }
        if sum > 0.0 { variance * variance / sum } else { f64::INFINITY }
    }

    /// For each input the first input of its group.
    fn groups(&self) -> Vec<usize> {
        let mut group: Vec<usize> = (0..self.inputs.len()).collect();
        let mut join = |a: usize, b: usize| {
            let (low, high) = (group[a].min(group[b]), group[a].max(group[b]));
            for of in group.iter_mut().filter(|of| **of == high) {
                *of = low;
            }
        };
        for pair in &self.correlations {
            join(pair.first, pair.second);
        }
        for (at, input) in self.inputs.iter().enumerate() {
            let DegreesOfFreedom::Pooled { spread, .. } = &input.degrees_of_freedom else { continue };
            let first = self.inputs.iter().position(|other| {
                matches!(&other.degrees_of_freedom, DegreesOfFreedom::Pooled { spread: name, .. } if name == spread)
            });
            join(first.unwrap_or(at), at);
        }
        group
    }
}

impl Budget {
    /// Combined standard uncertainty over the value; none at zero.
    pub fn relative_standard_uncertainty(&self) -> Option<f64> {
        (self.value != 0.0).then(|| self.standard_uncertainty / self.value.abs())
    }

    /// Expanded uncertainty: coverage factor from Student's t with the effective degrees of freedom, cut to a whole
    /// number.
    ///
    /// # Units
    /// `coverage` is a probability; the half width is in the unit of the value.
    ///
    /// # Errors
    /// [`BudgetError::CoverageUnusable`], [`BudgetError::TooFewDegreesOfFreedom`] below one.
    ///
    /// # Source
    /// JCGM 100:2008, G.4.1 and table G.2.
    pub fn expanded(&self, coverage: f64) -> Result<ExpandedUncertainty, BudgetError> {
        let whole = libm::floor(self.degrees_of_freedom);
        let coverage_factor = two_sided_factor(coverage, whole)?;
        Ok(ExpandedUncertainty {
            coverage,
            coverage_factor,
            half_width: coverage_factor * self.standard_uncertainty,
            degrees_of_freedom: whole,
        })
    }

    /// The components, the largest part first; pairs between two components are left out and stand in [`Self::pairs`].
    pub fn by_component(&self) -> Vec<ComponentShare> {
        let component_of = |name: &str| self.lines.iter().find(|l| l.name == name).map(|l| l.component);
        let mut shares: Vec<ComponentShare> = Vec::new();
        let mut add = |component: Component, share: f64| match shares
            .iter_mut()
            .find(|known| known.component == component)
        {
            Some(known) => known.share += share,
            None => shares.push(ComponentShare { component, share }),
        };
        for line in &self.lines {
            add(line.component, line.share);
        }
        for pair in &self.pairs {
            let (first, second) = (component_of(&pair.first), component_of(&pair.second));
            if let Some(component) = first.filter(|component| Some(*component) == second) {
                add(component, pair.share);
            }
        }
        shares.sort_by(|a, b| b.share.total_cmp(&a.share));
        shares
    }
}

/// The factor that makes a two-sided interval.
pub(crate) fn two_sided_factor(coverage: f64, degrees_of_freedom: f64) -> Result<f64, BudgetError> {
    if !(coverage > 0.0 && coverage < 1.0) {
        return Err(BudgetError::CoverageUnusable { coverage });
    }
    quantile(0.5 + 0.5 * coverage, degrees_of_freedom)
}

/// Quantile of Student's t; of the normal distribution where the degrees of freedom are infinite.
pub(crate) fn quantile(probability: f64, degrees_of_freedom: f64) -> Result<f64, BudgetError> {
    if degrees_of_freedom.is_nan() || degrees_of_freedom < 1.0 {
        return Err(BudgetError::TooFewDegreesOfFreedom { found: degrees_of_freedom });
    }
    Ok(if degrees_of_freedom.is_infinite() {
        stillwell_stats::distributions::normal_quantile(probability)
    } else {
        student_t_quantile(probability, degrees_of_freedom)
    })
}
