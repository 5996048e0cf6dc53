//! `compare --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_assure::compare::{BiasVerdict, BoundVerdict, PairedResult, Reported, Scale, ScoreGrade};
use stillwell_method::{ComparisonReview, Method};
use stillwell_study::{LaboratoryAct, Numbered};

use super::{MethodJson, in_unit};

/// The comparison with a laboratory.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    verdict: &'static str,
    words: Vec<String>,
    advice: Vec<String>,
    largest_bias_percent: f64,
    #[serde(flatten)]
    largest_bias: Map<String, Value>,
    limit: Option<String>,
    agreement: Option<AgreementJson>,
    pairs: Vec<PairJson>,
    without_partner: Vec<AloneJson>,
    not_reported_by_laboratory: Vec<String>,
    /// The records that hold the laboratory's results; empty where they came from a file beside.
    laboratory_records: Vec<LaboratoryRecordJson>,
}

/// A record of a laboratory's results.
#[derive(Serialize, JsonSchema)]
pub(super) struct LaboratoryRecordJson {
    number: String,
    laboratory: String,
    file: String,
    file_blake3: String,
    results: usize,
    counts: bool,
    record_blake3: String,
}

#[derive(Serialize, JsonSchema)]
struct AgreementJson {
    /// "percent" or "absolute": the unit of the numbers beside it, % or the reporting unit.
    scale: &'static str,
    pairs: usize,
    bias: f64,
    bias_interval: [f64; 2],
    limits: [f64; 2],
    limit_intervals: [[f64; 2]; 2],
}

#[derive(Serialize, JsonSchema)]
struct PairJson {
    sample: String,
    grade: &'static str,
    zeta: Option<f64>,
    #[serde(flatten)]
    numbers: Map<String, Value>,
}

#[derive(Serialize, JsonSchema)]
struct AloneJson {
    sample: String,
    why: String,
}

/// `compare --format json`. `records` hold the laboratory's results, where they are on record.
pub fn of(method: &Method, review: &ComparisonReview, records: &[Numbered<LaboratoryAct>]) -> Document {
    let unit = method.analyte.reported_as.suffix();
    let found = review.comparison.as_ref();
    let refusal = found.err().map(ToString::to_string);
    Document {
        method: MethodJson::from(method),
        verdict: match found.map(|found| found.verdict) {
            Ok(BiasVerdict::WithinMargin) => "agrees",
            Ok(BiasVerdict::BeyondMargin) => "does-not-agree",
            Ok(BiasVerdict::CannotSay { .. }) => "cannot-say",
            Ok(BiasVerdict::TooFew { .. }) => "too-few-pairs",
            Err(_) => "refused",
        },
        words: found.map_or_else(
            |_| refusal.into_iter().collect(),
            stillwell_assure::compare::MethodComparison::words,
        ),
        advice: found.map_or_else(|_| Vec::new(), stillwell_assure::compare::MethodComparison::advice),
        largest_bias_percent: review.rule.largest_bias_percent,
        largest_bias: in_unit(&unit, [("largest_bias", Some(review.rule.largest_bias))]),
        limit: review.limit_id.clone(),
        agreement: found.ok().and_then(|found| found.agreement).map(|found| AgreementJson {
            scale: if found.scale == Scale::Percent { "percent" } else { "absolute" },
            pairs: found.n,
            bias: found.bias,
            bias_interval: found.bias_interval,
            limits: found.limits,
            limit_intervals: found.limit_intervals,
        }),
        pairs: review.pairs.iter().map(|one| pair(one, &unit)).collect(),
        without_partner: review
            .alone
            .iter()
            .map(|one| AloneJson { sample: one.sample.clone(), why: one.why.clone() })
            .collect(),
        not_reported_by_laboratory: review.unreported.clone(),
        laboratory_records: records.iter().map(LaboratoryRecordJson::from).collect(),
    }
}

impl From<&Numbered<LaboratoryAct>> for LaboratoryRecordJson {
    fn from(one: &Numbered<LaboratoryAct>) -> Self {
        Self {
            number: one.label.clone(),
            laboratory: one.act.laboratory.clone(),
            file: one.act.file.clone(),
            file_blake3: one.act.text.to_string(),
            results: one.act.n_results,
            counts: one.standing.counts(),
            record_blake3: one.record.hash.to_string(),
        }
    }
}

fn pair(one: &PairedResult, unit: &str) -> PairJson {
    let score = one.score();
    let [ours, ours_u, ours_below, ours_above] = parts(one.ours);
    let [laboratory, laboratory_u, laboratory_below, laboratory_above] = parts(one.reference);
    let grade = match (score.as_ref().map(|score| score.grade), one.bound().map(|bound| bound.verdict)) {
        (Some(ScoreGrade::Satisfactory), _) => "satisfactory",
        (Some(ScoreGrade::Questionable), _) => "questionable",
        (Some(ScoreGrade::Unsatisfactory), _) => "unsatisfactory",
        (None, Some(BoundVerdict::Contradicts)) => "contradicts",
        (None, Some(BoundVerdict::Consistent)) => "consistent",
        (None, _) => "says-nothing",
    };
    PairJson {
        sample: one.sample.clone(),
        grade,
        zeta: score.map(|score| score.zeta),
        numbers: in_unit(
            unit,
            [
                ("ours", ours),
                ("ours_standard_u", ours_u),
                ("ours_less_than", ours_below),
                ("ours_more_than", ours_above),
                ("laboratory", laboratory),
                ("laboratory_standard_u", laboratory_u),
                ("laboratory_less_than", laboratory_below),
                ("laboratory_more_than", laboratory_above),
            ],
        ),
    }
}

/// Value, standard uncertainty, less than, more than.
fn parts(reported: Reported) -> [Option<f64>; 4] {
    match reported {
        Reported::Found { value, standard_u } => [Some(value), Some(standard_u), None, None],
        Reported::LessThan(bound) => [None, None, Some(bound), None],
        Reported::MoreThan(bound) => [None, None, None, Some(bound)],
    }
}
