//! Issuing results: what a series gives by the current method goes on record.

use axum::extract::{Path, State};
use axum::response::Response;
use maud::{Markup, html};
use stillwell_study::{Issued, Numbered, Record, Series, Study, StudyError};

use super::receipt::{Done, by, done};
use crate::guard::{Posted, Visitor};
use crate::layout::{ActForm, Refusal};
use crate::site::Site;
use crate::view::View;
use crate::wording::counted;

/// The form on the page of a series.
pub(crate) fn issue_act(view: &View, series: &Numbered<Series>) -> Markup {
    ActForm {
        path: &format!("/series/{}/issue", series.label),
        fields: html! {},
        example: "results after the closing check",
        button: "Issue results",
        person: None,
    }
    .drawn(view)
}

pub(super) async fn issue(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let series = site.look(visitor.clone(), {
        let label = label.clone();
        move |view| Ok(view.series(&label)?.record.hash)
    });
    let series = series.await?;
    let by = by(&fields)?;
    let actor = by.actor().to_owned();
    done(site, visitor, actor, move |study| {
        let before = study.anchor()?.seq;
        let issued = study.determine(&series, &by)?;
        Ok(Done {
            said: in_words(&label, &issued),
            records: since(study, before)?,
            back: ("/results".to_owned(), "To the samples and their verdicts".to_owned()),
        })
    })
    .await
}

fn in_words(label: &str, issued: &Issued) -> Vec<String> {
    let withdrawn = issued.determinations.iter().filter_map(|one| Some((one, one.withdrawn.as_ref()?)));
    let withdrawn: Vec<String> = withdrawn
        .map(|(one, said)| {
            format!(
                "{} was withdrawn by {}: {}. Nothing is issued in its place; `stillwell study correct` with a reason does.",
                one.act.result.sample, said.by, said.reason
            )
        })
        .collect();
    let n_kept = issued.determinations.iter().filter(|one| one.was_there).count();
    let n_there = n_kept - withdrawn.len();
    let n_new = issued.determinations.len() - n_kept;
    let n_replacing =
        issued.determinations.iter().filter(|one| !one.was_there && one.act.replaces.is_some()).count();
    let mut said = vec![format!("Series {label}: {} issued.", counted(n_new, "result"))];
    if n_replacing > 0 {
        said.push(format!("{n_replacing} of them take the place of an earlier one, which is kept."));
    }
    if n_there > 0 {
        said.push(format!("{n_there} stood on record already, the same to the last bit."));
    }
    said.extend(withdrawn);
    said
}

/// The study's own records behind a place in its ledger.
pub(super) fn since(study: &Study, before: u64) -> Result<Vec<Record>, StudyError> {
    let chain = study.anchor()?.chain;
    let entries = study.history(None)?.into_iter().map(|entry| entry.record);
    Ok(entries.filter(|record| record.chain == chain && record.seq > before).collect())
}
