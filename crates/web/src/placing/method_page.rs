//! The method as it stands, its revisions, and the way back to an earlier one.

use axum::extract::State;
use maud::{Markup, html};
use stillwell_study::{Act, Record, Revision};

use crate::guard::{TOKEN_FIELD, Visitor};
use crate::layout::{Page, Refusal, shell};
use crate::pages::ledger::record_address;
use crate::pages::study_spine::{SIGNAL, spine};
use crate::site::Site;
use crate::view::View;
use crate::wording::moment;

/// `/method`
pub(super) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    site.look(visitor, |view| Ok(shell(view, &whole(view)?))).await
}

fn whole(view: &View) -> Result<Page, Refusal> {
    let own = view.overview.anchor.chain;
    let history = view.study.history(None)?;
    let revisions: Vec<(Record, Revision)> = history
        .into_iter()
        .filter(|entry| entry.record.chain == own)
        .filter_map(|entry| match entry.record.act() {
            Ok(Act::Revision(revision)) => Some((entry.record, revision)),
            _ => None,
        })
        .collect();
    let current = revisions.last().map(|(record, _)| record.hash);
    Ok(Page {
        title: "Method".to_owned(),
        spine: spine(&view.overview, Some(SIGNAL)),
        body: html! {
            h1 dir="auto" { (view.overview.method.name) }
            p { "Revision " strong dir="auto" { (view.overview.method.revision) } ". Everything that turns a scan into a verdict stands in this text, and every result names the revision it came by." }
            h2 { "Revisions" }
            ol class="ledger" { @for (record, revision) in revisions.iter().rev() { (line(view, record, revision, current == Some(record.hash))) } }
            h2 { "Its text" }
            pre tabindex="0" { code dir="ltr" { (view.study.method_text()?) } }
        },
    })
}

fn line(view: &View, record: &Record, revision: &Revision, is_current: bool) -> Markup {
    html! {
        li {
            span class="place" { a href=(record_address(record.seq)) { "#" (record.seq) } }
            span { (moment(&record.at_utc)) }
            div class="what" {
                p { "Revision " strong dir="auto" { (revision.revision) } @if is_current { ", the method now" } ", by " span dir="auto" { (record.actor) } }
                p class="why" dir="auto" { (record.reason) }
                @if !is_current {
                    form method="post" action="/method/look" class="no-print" {
                        input type="hidden" name=(TOKEN_FIELD) value=(view.form_token("/method/look"));
                        input type="hidden" name="text_of" value=(record.hash);
                        button class="plain" { "Look what going back to its text would change" }
                    }
                }
            }
        }
    }
}
