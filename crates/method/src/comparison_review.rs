//! A laboratory's results beside our own: which pairs there are, which are not, and what the comparison says.

use stillwell_assure::QualityError;
use stillwell_assure::compare::{
    BiasVerdict, ComparisonRule, MethodComparison, PairedResult, Reported, ScoreGrade, compare,
};

use crate::budget_beside::limits_in_reporting_unit;
use crate::comparison_file::{LaboratoryResult, LaboratoryResults};
use crate::determination::{Determination, Estimate, Outcome, Report};
use crate::file::Method;
use crate::run_sheet::Role;
use crate::walks::Walk;

/// What a person asks; what is not said is taken from the method.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ComparisonAsked {
    /// Bias that does not matter, %.
    pub margin_percent: Option<f64>,
    /// The same where differences do not grow with the level, in the reporting unit; without it that share of the lowest limit.
    pub margin: Option<f64>,
}

/// A laboratory's result that makes no pair, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ComparedAlone {
    /// The sample.
    pub sample: String,
    /// Why.
    pub why: String,
}

/// The comparison and what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparisonReview {
    /// The reporting unit, as it is shown.
    pub unit: String,
    /// What was asked.
    pub rule: ComparisonRule,
    /// Identity of the limit that both sides are held against.
    pub limit_id: Option<String>,
    /// The pairs, in the order of the file.
    pub pairs: Vec<PairedResult>,
    /// Results of the laboratory that make no pair.
    pub alone: Vec<ComparedAlone>,
    /// Samples of ours that the laboratory did not report.
    pub unreported: Vec<String>,
    /// What the comparison says, or why there is none.
    pub comparison: Result<MethodComparison, QualityError>,
}

impl ComparisonReview {
    /// Whether someone must look: agreement not shown, a pair that does not fit, bounds that contradict, results without partner.
    pub fn needs_attention(&self) -> bool {
        let Ok(found) = &self.comparison else { return true };
        let is_bad = |grade: ScoreGrade| grade == ScoreGrade::Unsatisfactory;
        found.verdict != BiasVerdict::WithinMargin
            || found.scores.iter().any(|score| is_bad(score.grade))
            || found.contradictions().next().is_some()
            || !self.alone.is_empty()
    }
}

/// Pairs a laboratory's results with the determinations of a place, and compares them. A determination whose verdict is withheld, or
/// that was refused, makes no pair; nothing is averaged.
///
/// None where no margin is stated, neither by the person nor by the method.
///
/// # Units
/// All in the method's reporting unit.
///
/// # Source
/// [`compare`]. Standard uncertainty of ours: the larger side of the interval over the quantile that the chain made it with.
pub fn comparison_review(
    method: &Method,
    walks: &[Walk<'_>],
    laboratory: &LaboratoryResults,
    asked: ComparisonAsked,
) -> Option<ComparisonReview> {
    let unit = method.analyte.reported_as.to_string();
    let limits = limits_in_reporting_unit(method).into_iter();
    let lowest = limits.min_by(|a, b| a.1.total_cmp(&b.1));
    let stated = method.validation.bias_percent.as_ref().map(|asked| asked.value);
    let percent = asked.margin_percent.or(stated)?;
    let of_limit = lowest.as_ref().map(|(_, limit)| percent / 100.0 * limit);
    let limit = lowest.as_ref().map(|(_, limit)| *limit);
    let rule =
        ComparisonRule { largest_bias: asked.margin.or(of_limit)?, largest_bias_percent: percent, limit };
    let (mut pairs, mut alone) = (Vec::new(), Vec::new());
    for theirs in &laboratory.results {
        match ours(walks, theirs) {
            Ok(ours) => {
                let sample = theirs.sample.clone();
                pairs.push(PairedResult { sample, ours, reference: theirs.reported });
            }
            Err(why) => alone.push(ComparedAlone { sample: theirs.sample.clone(), why }),
        }
    }
    Some(ComparisonReview {
        comparison: compare(unit.clone(), &pairs, rule),
        unit,
        rule,
        limit_id: lowest.map(|(id, _)| id),
        pairs,
        alone,
        unreported: unreported(walks, laboratory),
    })
}

/// A determination with the report that it stands in.
type Ours<'r> = (&'r Report, &'r Determination);

fn samples<'r>(walks: &[Walk<'r>]) -> impl Iterator<Item = Ours<'r>> {
    let all: Vec<Ours<'r>> = walks
        .iter()
        .flat_map(|walk| walk.report.determinations.iter().map(|found| (walk.report, found)))
        .collect();
    all.into_iter().filter(|(_, found)| found.role == Role::Sample)
}

fn ours(walks: &[Walk<'_>], theirs: &LaboratoryResult) -> Result<Reported, String> {
    let is_meant = |found: &&Determination| {
        found.sample == theirs.sample && (theirs.batch.is_empty() || found.batch == theirs.batch)
    };
    let all: Vec<Ours<'_>> = samples(walks).filter(|(_, found)| is_meant(found)).collect();
    match all.as_slice() {
        [] => Err("no determination of ours bears this name; names must be spelled alike".to_owned()),
        [one] => reported(*one),
        several => {
            let batches: Vec<&str> = several.iter().map(|(_, found)| found.batch.as_str()).collect();
            Err(format!(
                "determined {} times, in batches {}; nothing is averaged: name the one that counts in column batch",
                several.len(),
                batches.join(", ")
            ))
        }
    }
}

fn reported((report, found): Ours<'_>) -> Result<Reported, String> {
    if let Some(why) = found.refusals().next() {
        return Err(format!("no number was issued ({})", why.check.id()));
    }
    if let Some(why) = found.withheld().next() {
        return Err(format!("its verdict is withheld ({}), so its number is not relied on", why.check.id()));
    }
    match &found.outcome {
        Outcome::Quantified(estimate) => {
            let standard_u = standard_u(report, found, estimate).ok_or_else(|| {
                "its calibration is not at hand, so its uncertainty is not known".to_owned()
            })?;
            Ok(Reported::Found { value: estimate.value.value(), standard_u })
        }
        Outcome::AboveRange(above) => Ok(Reported::MoreThan(above.at_least.value())),
        Outcome::BelowQuantification(less) | Outcome::NotDetected(less) => {
            Ok(Reported::LessThan(less.less_than.value()))
        }
        Outcome::Refused => Err("no number was issued".to_owned()),
    }
}

/// The chain widens every interval by its calibration's quantile: half widths over it are standard uncertainties again.
fn standard_u(report: &Report, found: &Determination, estimate: &Estimate) -> Option<f64> {
    let link = found.calibration.and_then(|place| report.calibrations.get(place))?;
    let quantile = link.calibration.as_ref()?.curve.t_quantile;
    (quantile > 0.0).then(|| estimate.expanded_u() / quantile)
}

fn unreported(walks: &[Walk<'_>], laboratory: &LaboratoryResults) -> Vec<String> {
    let is_there = |name: &str| laboratory.results.iter().any(|one| one.sample == name);
    let mut names: Vec<String> =
        samples(walks).map(|(_, found)| found.sample.clone()).filter(|name| !is_there(name)).collect();
    names.sort();
    names.dedup();
    names
}
