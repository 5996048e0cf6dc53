//! The whole comparison, and what to do.

use stillwell_stats::comparison::{DemingErrors, deming};
use stillwell_stats::equivalence::{EquivalenceDesign, Margins, Samples, equivalence_sample_size};

use super::agreement::{Agreement, FEWEST_PAIRS, Scale, agreement};
use super::pair::{BoundFinding, BoundVerdict, PairScore, PairedResult};
use super::wording;
use crate::QualityError;
use crate::quality_error::must_lie_between;

/// The most pairs that are ever advised.
const MOST_PAIRS: usize = 400;

/// Chance with which the advised number of pairs shows agreement, if the bias is as it looks now.
const POWER: f64 = 0.8;

/// What is asked of the comparison, stated before it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ComparisonRule {
    /// Largest bias that does not matter, in the unit of the results.
    pub largest_bias: f64,
    /// The same in %, for results whose differences grow with the level.
    pub largest_bias_percent: f64,
    /// A limit against which both sides' values are held, if there is one, in the unit of the results.
    pub limit: Option<f64>,
}

/// The line of our results against the laboratory's, with errors in both.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StraightLineInBoth {
    /// Ours over the laboratory's: 1 without a proportional bias.
    pub slope: f64,
    /// Its 95 % interval.
    pub slope_interval: [f64; 2],
    /// Ours where the laboratory finds zero: 0 without a constant bias.
    pub intercept: f64,
    /// Its 95 % interval.
    pub intercept_interval: [f64; 2],
}

/// What the bias means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BiasVerdict {
    /// Its whole interval lies within what may be.
    WithinMargin,
    /// Its whole interval lies beyond.
    BeyondMargin,
    /// The interval holds the margin.
    CannotSay {
        /// Pairs that would show that it lies within, if it is as it looks now; none where no number would.
        more_pairs: Option<usize>,
    },
    /// Too few pairs of numbers.
    TooFew {
        /// Pairs of numbers.
        found: usize,
        /// Pairs needed.
        needed: usize,
    },
}

/// How both sides' values call one limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LimitCalls {
    /// Both at or below, or both above.
    pub alike: usize,
    /// Ours at or below, the laboratory's above: the dangerous one.
    pub ours_low_only: usize,
    /// Ours above, the laboratory's at or below.
    pub ours_high_only: usize,
}

/// A method beside an accredited laboratory.
#[derive(Debug, Clone, PartialEq)]
pub struct MethodComparison {
    /// Unit of the results, as it is shown.
    pub unit: String,
    /// What was asked.
    pub rule: ComparisonRule,
    /// Bias and limits of agreement of the pairs of numbers; none below eight.
    pub agreement: Option<Agreement>,
    /// What the bias means.
    pub verdict: BiasVerdict,
    /// The line with errors in both; none below eight pairs, or where all waters are alike.
    pub line: Option<StraightLineInBoth>,
    /// Scores, one for each pair of numbers.
    pub scores: Vec<PairScore>,
    /// Pairs with a bound.
    pub bounds: Vec<BoundFinding>,
    /// How both sides call the limit, by their values alone.
    pub limit_calls: Option<LimitCalls>,
}

/// Compares a method with an accredited laboratory.
///
/// # Units
/// All results in `unit`, one form of one species.
///
/// # Errors
/// [`QualityError::NotFinite`] for a pair with a number that is none or an uncertainty that is not above zero,
/// [`QualityError::Unusable`] for a margin that is not above zero, and what the statistics refuse. Too few pairs are no error.
///
/// # Source
/// [`agreement`], [`PairedResult::score`]; the line: [`deming`], variances in the ratio of the stated uncertainties; bias
/// against a margin: interval inclusion, as in two one-sided tests at 2.5 %.
pub fn compare(
    unit: impl Into<String>,
    pairs: &[PairedResult],
    rule: ComparisonRule,
) -> Result<MethodComparison, QualityError> {
    for (what, margin) in [
        ("the bias that may be", rule.largest_bias),
        ("the bias that may be, in %", rule.largest_bias_percent),
    ] {
        must_lie_between(what, margin, (0.0, f64::INFINITY), "a number above zero")?;
    }
    if let Some(at) = pairs.iter().position(|pair| !(pair.ours.is_usable() && pair.reference.is_usable())) {
        return Err(QualityError::NotFinite { what: "the pairs", place: at + 1 });
    }
    let numbers: Vec<[f64; 4]> = pairs.iter().filter_map(PairedResult::numbers).collect();
    let column = |at: usize| -> Vec<f64> { numbers.iter().map(|pair| pair[at]).collect() };
    let agreement = match numbers.len() {
        n if n < FEWEST_PAIRS => None,
        _ => Some(agreement(&column(0), &column(1))?),
    };
    let verdict = agreement
        .map_or(BiasVerdict::TooFew { found: numbers.len(), needed: FEWEST_PAIRS }, |found| {
            bias_verdict(&found, &rule)
        });
    Ok(MethodComparison {
        unit: unit.into(),
        agreement,
        verdict,
        line: agreement.and_then(|found| line(&numbers, found.scale)),
        scores: pairs.iter().filter_map(PairedResult::score).collect(),
        bounds: pairs.iter().filter_map(PairedResult::bound).collect(),
        limit_calls: rule.limit.map(|limit| calls(&numbers, limit)),
        rule,
    })
}

fn bias_verdict(found: &Agreement, rule: &ComparisonRule) -> BiasVerdict {
    let margin = match found.scale {
        Scale::Absolute => rule.largest_bias,
        Scale::Percent => rule.largest_bias_percent,
    };
    let [low, high] = found.bias_interval;
    if -margin < low && high < margin {
        return BiasVerdict::WithinMargin;
    }
    if high < -margin || low > margin {
        return BiasVerdict::BeyondMargin;
    }
    let design = EquivalenceDesign {
        samples: Samples::One,
        margins: Margins { lower: -margin, upper: margin },
        true_difference: found.bias,
        sd: found.sd,
        alpha: 0.025,
    };
    // A bias at or beyond the margin is no design; no number of pairs would show agreement.
    let needed = equivalence_sample_size(&design, POWER, MOST_PAIRS).ok().flatten();
    BiasVerdict::CannotSay { more_pairs: needed.map(|n| n.saturating_sub(found.n).max(1)) }
}

/// The line of our results against the laboratory's; none where they do not go together.
fn line(numbers: &[[f64; 4]], scale: Scale) -> Option<StraightLineInBoth> {
    let column = |at: usize| -> Vec<f64> { numbers.iter().map(|pair| pair[at]).collect() };
    let (ours, reference) = (column(0), column(1));
    let errors = match scale {
        Scale::Absolute => DemingErrors::Constant,
        Scale::Percent => DemingErrors::Proportional,
    };
    let share = |[ours, reference, u, u_reference]: &[f64; 4]| match errors {
        DemingErrors::Constant => [u * u, u_reference * u_reference],
        DemingErrors::Proportional => {
            [(u / ours) * (u / ours), (u_reference / reference) * (u_reference / reference)]
        }
    };
    let shares: Vec<[f64; 2]> = numbers.iter().map(share).collect();
    let sum = |side: usize| shares.iter().map(|share| share[side]).sum::<f64>();
    let fit = deming(&reference, &ours, errors, sum(0) / sum(1), 0.95).ok()?;
    Some(StraightLineInBoth {
        slope: fit.slope,
        slope_interval: [fit.slope_interval.low, fit.slope_interval.high],
        intercept: fit.intercept,
        intercept_interval: [fit.intercept_interval.low, fit.intercept_interval.high],
    })
}

fn calls(numbers: &[[f64; 4]], limit: f64) -> LimitCalls {
    let mut found = LimitCalls::default();
    for [ours, reference, ..] in numbers {
        match (*ours > limit, *reference > limit) {
            (false, true) => found.ours_low_only += 1,
            (true, false) => found.ours_high_only += 1,
            _ => found.alike += 1,
        }
    }
    found
}

impl MethodComparison {
    /// Pairs whose bounds contradict each other.
    pub fn contradictions(&self) -> impl Iterator<Item = &str> {
        let contradicts = |found: &&BoundFinding| found.verdict == BoundVerdict::Contradicts;
        self.bounds.iter().filter(contradicts).map(|found| found.sample.as_str())
    }

    /// The comparison in sentences: the verdict first.
    pub fn words(&self) -> Vec<String> {
        wording::comparison(self)
    }

    /// What to do.
    pub fn advice(&self) -> Vec<String> {
        wording::advice(self)
    }
}
