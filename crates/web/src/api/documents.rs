//! The documents, as the report room writes them for the command line too.

use axum::Json;
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse as _, Response};
use serde::{Deserialize, Serialize};
use stillwell_report::json;
use stillwell_study::{Beside, History, Overview};

use crate::guard::Visitor;
use crate::layout::Refusal;
use crate::pages;
use crate::site::Site;
use crate::view::{View, Walked};

type Answered = Result<Response, Refusal>;

fn answered<T: Serialize>(document: T) -> Response {
    Json(document).into_response()
}

pub(super) async fn study(State(site): State<Site>, visitor: Visitor) -> Answered {
    site.look(visitor, |view| {
        let overview: &Overview = &view.overview;
        Ok(answered(json::study::overview(overview, view.site.study_path())))
    })
    .await
}

pub(super) async fn head(State(site): State<Site>, visitor: Visitor) -> Answered {
    site.look(visitor, |view| Ok(answered(json::study::head(&view.overview.anchor, view.site.study_path()))))
        .await
}

/// What of the ledger is asked for.
#[derive(Deserialize)]
pub(super) struct Asked {
    of: Option<String>,
}

pub(super) async fn history(
    State(site): State<Site>,
    visitor: Visitor,
    Query(asked): Query<Asked>,
) -> Answered {
    site.look(visitor, move |view| {
        let of = asked.of.as_deref().map(str::trim).filter(|of| !of.is_empty());
        let history = History::beside(&view.study, &view.overview, of)?;
        Ok(answered(json::study::history::of(&history, view.site.study_path())))
    })
    .await
}

pub(super) async fn result(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Answered {
    site.look(visitor, move |view| {
        let shown = view.result(&label)?;
        let issued = view.as_issued(shown)?;
        let mut found = issued.found(shown)?.clone();
        found.findings.extend(shown.findings());
        let document = json::chain::of(&issued.report, &[&found]);
        Ok(answered(json::study::chain(document, shown, &view.overview.anchor, view.site.study_path())))
    })
    .await
}

pub(super) async fn budget(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Answered {
    site.look(visitor, move |view| {
        let shown = view.result(&label)?;
        let issued = view.as_issued(shown)?;
        let determination = issued.found(shown)?;
        let made = pages::budget::taken_apart(view, shown, &issued, determination);
        let page = json::budgets::Page {
            method: &issued.input.method,
            report: &issued.report,
            folder: view.site.study_path(),
            determination,
            is_named: true,
            found: made.map(|made| made.as_ref().clone()),
            seed: pages::budget::SEED,
        };
        Ok(answered(json::budgets::of(&page)))
    })
    .await
}

pub(super) async fn scans(State(site): State<Site>, visitor: Visitor, Path(label): Path<String>) -> Answered {
    of_series(site, visitor, label, |walked| json::scans::of(&walked.report)).await
}

pub(super) async fn calibrations(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Answered {
    of_series(site, visitor, label, |walked| json::calibrations::of(&walked.report)).await
}

pub(super) async fn determinations(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Answered {
    of_series(site, visitor, label, |walked| json::determinations::of(&walked.report)).await
}

/// A document of a series with what the study says beside it.
async fn of_series<T: Serialize>(
    site: Site,
    visitor: Visitor,
    label: String,
    document: impl FnOnce(&Walked) -> T + Send + 'static,
) -> Answered {
    site.look(visitor, move |view| {
        let series = view.series(&label)?;
        let walked = view.walked(&series.record.hash)?;
        let beside = beside(view, &label, &walked)?;
        Ok(answered(json::study::from(document(&walked), Some(&beside))))
    })
    .await
}

fn beside(view: &View, label: &str, walked: &Walked) -> Result<Beside, Refusal> {
    let mut beside = Beside::series(&view.study, view.series(label)?)?;
    beside.calibrations.clone_from(&walked.calibrations);
    beside.determinations.clone_from(&walked.determinations);
    Ok(beside)
}
