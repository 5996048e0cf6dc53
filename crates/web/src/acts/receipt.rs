//! After an act: what was recorded, and the way back to what it was about.

use axum::http::header::SET_COOKIE;
use axum::response::{IntoResponse as _, Response};
use maud::html;
use stillwell_study::{By, Record, Study, StudyError};

use crate::guard::{FormFields, Visitor, actor_cookie};
use crate::layout::{Page, Refusal, shell};
use crate::pages::ledger::record_address;
use crate::pages::study_spine::spine;
use crate::site::Site;
use crate::wording::moment;

/// What an act did.
pub(super) struct Done {
    /// A sentence each.
    pub(super) said: Vec<String>,
    /// What was recorded.
    pub(super) records: Vec<Record>,
    /// Where what it is about is shown, and its name.
    pub(super) back: (String, String),
}

/// Person and reason of a form.
pub(super) fn by(fields: &FormFields) -> Result<By, StudyError> {
    By::new(fields.text("actor"), fields.text("reason"))
}

/// Does it, and shows what was recorded. The name is offered again in the next form.
pub(super) async fn done(
    site: Site,
    visitor: Visitor,
    actor: String,
    act: impl FnOnce(&mut Study) -> Result<Done, StudyError> + Send + 'static,
) -> Result<Response, Refusal> {
    let done = site.act(act).await?;
    let page = site.look(visitor, move |view| {
        let page = Page {
            title: "Recorded".to_owned(),
            spine: spine(&view.overview, None),
            body: html! {
                h1 { "Recorded" }
                div class="done" { @for said in &done.said { p dir="auto" { (said) } } }
                @if done.records.is_empty() {
                    p { "Nothing new had to be recorded." }
                } @else {
                    ul {
                        @for record in &done.records {
                            li {
                                a href=(record_address(record.seq)) { "#" (record.seq) } " " (record.kind) " by "
                                span dir="auto" { (record.actor) } " at " (moment(&record.at_utc)) " UTC: "
                                span dir="auto" { (record.reason) } " " span class="hash" { (record.hash.short()) }
                            }
                        }
                    }
                }
                p { a href=(done.back.0) { (done.back.1) } }
            },
        };
        Ok(shell(view, &page))
    });
    let page = page.await?;
    Ok(([(SET_COOKIE, actor_cookie(&actor))], page).into_response())
}
