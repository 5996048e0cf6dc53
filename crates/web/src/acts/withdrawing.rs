//! Withdrawing: the record stays, and a new one says that it no longer counts.

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};
use stillwell_study::{Digest, Shown, Standing};

use super::approving::approval_act;
use super::keeping::custody_act;
use super::receipt::{Done, by, done};
use crate::guard::{FormFields, Posted, Visitor};
use crate::layout::{ActForm, Refusal};
use crate::site::Site;
use crate::view::View;
use crate::wording::counted;

/// What can be done about one result.
pub(crate) fn result_acts(view: &View, shown: &Shown) -> Markup {
    let (one, result) = (&shown.one, &shown.one.act.result);
    html! {
        section class="no-print" {
            h2 { "What can be done" }
            div class="acts" {
                (approval_act(view, "result", &one.label, &one.record, &one.standing))
                (withdraw_act(view, &format!("/results/{}/withdraw", one.label), &one.standing))
                @if one.standing.counts() {
                    details {
                        summary { "Correct it" }
                        p { "Open a scan above, leave it out or use it in spite of a check, each with a reason; then issue the results of "
                            @match view.series_of(&one.act.series) {
                                Some(series) => { a href={ "/scans?series=" (series.label) } { "series " (series.label) } }
                                None => { "its series" }
                            }
                            " anew. The new result names the one it replaces, and both stay." }
                    }
                }
                details {
                    summary { "Where the sample comes from" }
                    (custody_act(view, &result.sample))
                }
            }
        }
    }
}

/// The form for whatever can be withdrawn.
pub(crate) fn withdraw_act(view: &View, path: &str, standing: &Standing) -> Markup {
    if standing.withdrawn.is_some() {
        return html! {};
    }
    html! {
        details {
            summary { "Withdraw it" }
            p { "It stays readable and no longer counts. What rests on it is named." }
            (ActForm { path, fields: html! {}, example: "standard 50 was mixed up", button: "Withdraw", person: None }.drawn(view))
        }
    }
}

pub(super) async fn result(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let found = site.look(visitor.clone(), {
        let label = label.clone();
        move |view| Ok(view.result(&label)?.one.record.hash)
    });
    let target = found.await?;
    withdrawn(site, visitor, target, format!("result {label}"), format!("/results/{label}"), &fields).await
}

pub(super) async fn calibration(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let found = site.look(visitor.clone(), {
        let label = label.clone();
        move |view| Ok(view.calibration(&label)?.record.hash)
    });
    let target = found.await?;
    withdrawn(
        site,
        visitor,
        target,
        format!("calibration {label}"),
        format!("/calibrations/{label}"),
        &fields,
    )
    .await
}

pub(super) async fn key(
    State(site): State<Site>,
    visitor: Visitor,
    Path(record): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let target = Digest::parse(&record).ok_or_else(|| {
        Refusal::new(StatusCode::NOT_FOUND, "that is no record", "withdraw a key from the page of the keys")
    })?;
    withdrawn(site, visitor, target, "the key".to_owned(), "/keys".to_owned(), &fields).await
}

pub(super) async fn withdrawn(
    site: Site,
    visitor: Visitor,
    target: Digest,
    name: String,
    back: String,
    fields: &FormFields,
) -> Result<Response, Refusal> {
    let by = by(fields)?;
    let actor = by.actor().to_owned();
    done(site, visitor, actor, move |study| {
        let record = study.withdraw(&target, &by)?;
        let mut said = vec![format!("{name} is withdrawn; its record stays.")];
        let touched = study.touched_by(&target)?;
        if !touched.is_empty() {
            let n = counted(touched.len(), "issued result");
            said.push(format!("It touches {n}; no verdict may be drawn from them."));
        }
        Ok(Done { said, records: vec![record], back: (back, format!("Back to {name}")) })
    })
    .await
}
