//! `addition --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_calibrate::{AdditionDesign, MatrixComparison, MatrixEffect};
use stillwell_method::{AdditionLink, AdditionReport, AdditionResult};

use super::determinations::{VerdictJson, verdict};
use super::{FindingJson, MethodJson, findings, in_unit};

/// Standard additions.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    series: Vec<SeriesJson>,
}

/// `addition --format json`.
pub fn of(report: &AdditionReport) -> Document {
    let unit = report.method.reported_as.suffix();
    Document {
        method: MethodJson::from(&report.method),
        series: report.series.iter().map(|link| series(report, link, &unit)).collect(),
    }
}

#[derive(Serialize, JsonSchema)]
struct SeriesJson {
    sample: String,
    batch: String,
    lot: String,
    channel: String,
    outcome: &'static str,
    /// Numbers of the result, the unit in each name; none where refused.
    #[serde(flatten)]
    numbers: Map<String, Value>,
    line: Option<LineJson>,
    matrix: Option<MatrixJson>,
    sentences: Vec<String>,
    remarks: Vec<RemarkJson>,
    verdicts: Vec<VerdictJson>,
    verdict_withheld: bool,
    findings: Vec<FindingJson>,
    raw_files: Vec<RawFileJson>,
}

#[derive(Serialize, JsonSchema)]
struct RawFileJson {
    file: String,
    blake3: String,
}

#[derive(Serialize, JsonSchema)]
struct RemarkJson {
    effect: &'static str,
    words: String,
}

#[derive(Serialize, JsonSchema)]
struct LineJson {
    design: &'static str,
    electrodes: usize,
    scans: usize,
    degrees_of_freedom: usize,
    coverage: f64,
    reach: f64,
    curvature_p: Option<f64>,
    #[serde(flatten)]
    numbers: Map<String, Value>,
}

#[derive(Serialize, JsonSchema)]
struct MatrixJson {
    effect: &'static str,
    slope_difference_percent: f64,
    low_percent: f64,
    high_percent: f64,
    ruled_out_percent: f64,
    bound_percent: f64,
    p: f64,
    degrees_of_freedom: f64,
    background_p: f64,
    #[serde(flatten)]
    numbers: Map<String, Value>,
}

fn series(report: &AdditionReport, link: &AdditionLink, unit: &str) -> SeriesJson {
    let withheld = link.withheld().next().is_some();
    let mut raw: Vec<(String, String)> = link
        .scans
        .iter()
        .filter_map(|index| report.scans.get(*index))
        .map(|scan| (scan.raw.file.clone(), scan.raw.hash.to_string()))
        .collect();
    raw.sort();
    raw.dedup();
    SeriesJson {
        sample: link.sample.clone(),
        batch: link.batch.clone(),
        lot: link.key.lot.clone(),
        channel: link.key.channel.clone(),
        outcome: if link.is_refused() { "refused" } else { "quantified" },
        numbers: link.result.as_ref().map(|result| numbers(result, unit)).unwrap_or_default(),
        line: link.result.as_ref().map(|result| line(result, unit)),
        matrix: link.matrix.as_ref().map(|found| matrix(found, unit)),
        sentences: link.sentences.clone(),
        remarks: link
            .remarks
            .iter()
            .map(|remark| RemarkJson { effect: remark.effect.word(), words: remark.words.clone() })
            .collect(),
        verdicts: link.decisions.iter().map(|decision| verdict(decision, withheld)).collect(),
        verdict_withheld: withheld,
        findings: findings(&link.findings),
        raw_files: raw.into_iter().map(|(file, blake3)| RawFileJson { file, blake3 }).collect(),
    }
}

fn numbers(result: &AdditionResult, unit: &str) -> Map<String, Value> {
    in_unit(
        unit,
        [
            ("concentration", Some(result.value.value())),
            ("expanded_u", Some(result.expanded_u())),
            ("low", Some(result.low)),
            ("high", Some(result.high)),
        ],
    )
}

fn line(result: &AdditionResult, unit: &str) -> LineJson {
    let estimate = &result.estimate;
    let mut numbers = Map::new();
    numbers.insert(format!("additions_{unit}"), estimate.additions.clone().into());
    numbers.insert(format!("slope_a_per_{unit}"), estimate.slope_a_per_level.into());
    numbers.insert(format!("slope_standard_error_a_per_{unit}"), estimate.slope_standard_error_a.into());
    LineJson {
        design: match estimate.design {
            AdditionDesign::FreshElectrodes => "fresh-electrodes",
            AdditionDesign::FollowedElectrodes { is_balanced: true } => "followed-electrodes",
            AdditionDesign::FollowedElectrodes { is_balanced: false } => "followed-electrodes-unbalanced",
        },
        electrodes: estimate.n_electrodes,
        scans: estimate.n_scans,
        degrees_of_freedom: estimate.degrees_of_freedom,
        coverage: estimate.coverage,
        reach: estimate.reach,
        curvature_p: estimate.curvature.map(|test| test.p),
        numbers,
    }
}

fn matrix(found: &MatrixComparison, unit: &str) -> MatrixJson {
    let [low, high] = found.ratio_interval;
    let percent = |ratio: f64| 100.0 * (ratio - 1.0);
    MatrixJson {
        effect: match found.effect {
            MatrixEffect::Differs => "differs",
            MatrixEffect::WithinBound => "within-bound",
            MatrixEffect::CannotTell => "cannot-tell",
        },
        slope_difference_percent: percent(found.ratio),
        low_percent: percent(low),
        high_percent: percent(high),
        ruled_out_percent: 100.0 * found.ruled_out,
        bound_percent: 100.0 * found.demands.bound,
        p: found.p,
        degrees_of_freedom: found.degrees_of_freedom,
        background_p: found.background.p,
        numbers: in_unit(
            unit,
            [
                ("external_reading", Some(found.external_reading)),
                ("background_shift", Some(found.background.shift)),
            ],
        ),
    }
}
