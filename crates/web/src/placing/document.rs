//! What a placement gives, as a document: for the page's script, and for programs.

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use schemars::JsonSchema;
use serde::Serialize;
use stillwell_method::{Effect, Problems};

use super::asked::placement;
use super::form::{sentences, series_words, unit};
use super::trial::{Said, Tried};
use crate::guard::Visitor;
use crate::layout::Refusal;
use crate::site::Site;

/// Nothing of it is recorded.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Document {
    placement: PlacementJson,
    scan: ScanJson,
    determinations: Vec<DeterminationJson>,
    series: SeriesJson,
    figure: String,
}

#[derive(Serialize, JsonSchema)]
struct PlacementJson {
    peak_v: [f64; 2],
    baseline_v: Vec<[f64; 2]>,
    /// Where the height is taken, if the method states a potential for it.
    height_at_v: Option<f64>,
    blank: &'static str,
}

#[derive(Serialize, JsonSchema)]
struct ScanJson {
    file: String,
    scan: usize,
    signal: Option<f64>,
    signal_unit: &'static str,
    peak_potential_v: Option<f64>,
    words: String,
    refused_by: Vec<&'static str>,
}

#[derive(Serialize, JsonSchema)]
struct DeterminationJson {
    sample: String,
    before: SaidJson,
    now: SaidJson,
    words: Vec<String>,
}

#[derive(Serialize, JsonSchema)]
struct SaidJson {
    outcome: &'static str,
    value: Option<f64>,
    expanded_u: Option<f64>,
    unit: String,
    verdicts: Vec<VerdictJson>,
}

#[derive(Serialize, JsonSchema)]
struct VerdictJson {
    limit: String,
    verdict: &'static str,
}

/// The counts are there where the whole series was walked.
#[derive(Serialize, JsonSchema)]
struct SeriesJson {
    #[serde(skip_serializing_if = "Option::is_none")]
    n_determinations: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    n_otherwise: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    n_other_verdict: Option<usize>,
    words: String,
}

impl SeriesJson {
    fn of(tried: &Tried) -> Self {
        Self {
            n_determinations: Some(tried.changes.len()),
            n_otherwise: Some(tried.changes.iter().filter(|one| one.is_other()).count()),
            n_other_verdict: Some(tried.changes.iter().filter(|one| one.has_other_verdict()).count()),
            words: series_words(&tried.changes),
        }
    }

    fn later() -> Self {
        let words = "counted once the window rests".to_owned();
        Self { n_determinations: None, n_otherwise: None, n_other_verdict: None, words }
    }
}

/// `/api/series/{series}/scans/{scan}/try`
pub(crate) async fn document(
    State(site): State<Site>,
    visitor: Visitor,
    Path((label, number)): Path<(String, usize)>,
    Query(asked): Query<BTreeMap<String, String>>,
) -> Result<Json<Document>, Refusal> {
    site.look(visitor, move |view| {
        let series = view.series(&label)?;
        let unknown = || Refusal::unknown(&format!("scan {number} of series {label}"));
        let place = number.checked_sub(1).filter(|place| *place < series.act.n_scans).ok_or_else(unknown)?;
        let trial = view.site.trials().of(view, series)?;
        let placement = placement(&trial.method, &asked)?;
        let is_alone = asked.get("alone").is_some_and(|word| word == "yes");
        let tried =
            if is_alone { trial.tried_alone(placement, place) } else { trial.tried(placement, place) };
        let tried = tried.map_err(|problems| not_accepted(&problems))?;
        let reported_as = trial.method.analyte.reported_as.to_string();
        let series = if is_alone { SeriesJson::later() } else { SeriesJson::of(&tried) };
        of(&tried, series, unit(trial.method.evaluation.peak.measure), &reported_as)
            .map(Json)
            .ok_or_else(unknown)
    })
    .await
}

/// What the method file does not accept.
pub(super) fn not_accepted(problems: &Problems) -> Refusal {
    let found: Vec<String> = problems.problems.iter().map(|one| one.found.clone()).collect();
    let cure = problems.problems.first().map_or("", |one| one.cure.as_str());
    Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, &found.join("; "), cure)
}

fn of(tried: &Tried, series: SeriesJson, unit: &'static str, reported_as: &str) -> Option<Document> {
    let scan = tried.report.scans.get(tried.place)?;
    let signal = scan.signal.as_ref();
    let refused = scan.findings.iter().filter(|finding| finding.is_in_force(Effect::Refused));
    let of_scan = tried.changes.iter().filter(|one| one.is_of_scan);
    Some(Document {
        placement: PlacementJson {
            peak_v: tried.placement.peak_v,
            baseline_v: tried.placement.baseline_v.clone(),
            height_at_v: tried.placement.height_at_v,
            blank: tried.placement.blank.word(),
        },
        scan: ScanJson {
            file: scan.raw.file.clone(),
            scan: scan.raw.scan,
            signal: signal.map(|signal| signal.signal),
            signal_unit: unit,
            peak_potential_v: signal.and_then(|signal| signal.peak_potential_v),
            words: tried.signal_words(tried.place, unit),
            refused_by: refused.map(|finding| finding.check.id()).collect(),
        },
        determinations: of_scan
            .map(|one| DeterminationJson {
                sample: one.sample.clone(),
                words: sentences(one),
                before: said(&one.before, reported_as),
                now: said(&one.now, reported_as),
            })
            .collect(),
        series,
        figure: tried.figure.clone().unwrap_or_default(),
    })
}

fn said(said: &Said, unit: &str) -> SaidJson {
    let verdicts = said.verdicts.iter();
    SaidJson {
        outcome: said.outcome,
        value: said.value,
        expanded_u: said.expanded_u,
        unit: unit.to_owned(),
        verdicts: verdicts.map(|(limit, verdict)| VerdictJson { limit: limit.clone(), verdict }).collect(),
    }
}
