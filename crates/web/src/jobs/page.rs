//! Long work on a page: how far it is, how to stop it, what came out.

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, html};

use super::job::{Job, Progress, State as JobState};
use crate::guard::{Posted, TOKEN_FIELD, Visitor};
use crate::layout::{LinkState, Page, Refusal, shell, sign};
use crate::pages::study_spine::spine;
use crate::site::Site;
use crate::view::View;

/// Where a job is shown.
pub(crate) fn address(number: usize) -> String {
    format!("/jobs/{number}")
}

/// `/jobs`
pub(super) async fn list(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    site.look(visitor, |view| {
        let jobs = view.site.jobs().all();
        let page = Page {
            title: "Long work".to_owned(),
            spine: spine(&view.overview, None),
            body: html! {
                h1 { "Long work" }
                p { "It runs apart from the pages, a few at once, and goes on when a tab is closed. It ends with the server; what was recorded stays." }
                @if jobs.is_empty() { p class="empty" { "Nothing was begun since the server was started." } }
                ul { @for job in &jobs {
                    li { a href=(address(job.number)) dir="auto" { (job.title) } ": " (in_words(&job.progress())) }
                } }
            },
        };
        Ok(shell(view, &page))
    })
    .await
}

/// `/jobs/{job}`
pub(super) async fn one(
    State(site): State<Site>,
    visitor: Visitor,
    Path(number): Path<usize>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| {
        let job = view.site.jobs().one(number)?;
        let page = Page {
            title: job.title.clone(),
            spine: spine(&view.overview, None),
            body: html! { h1 dir="auto" { (job.title) } (shown(view, &job)) },
        };
        Ok(shell(view, &page))
    })
    .await
}

fn shown(view: &View, job: &Job) -> Markup {
    let progress = job.progress();
    // Between the last word of its progress and its outcome lies a moment.
    let ended = job.shown(|ended| match ended {
        Ok(outcome) => outcome(view),
        Err(refusal) => html! {
            p class="answer stops" { (sign(LinkState::Stops)) " " (progress.state.word()) ": " span dir="auto" { (refusal.words()) } }
        },
    });
    ended.unwrap_or_else(|| under_way(view, job))
}

/// How far a job is; where a script runs, the page is loaded again once it is over.
pub(crate) fn under_way(view: &View, job: &Job) -> Markup {
    let progress = &job.progress();
    let stop = format!("{}/stop", address(job.number));
    html! {
        section class="job" data-events={ (address(job.number)) "/events" } {
            p role="status" data-words="" { (in_words(progress)) }
            progress aria-label="How far it is" max=(progress.of.max(1)) value=[(progress.of > 0).then_some(progress.done)] {}
            p { a href=(address(job.number)) { "Look again" } " · this page may be closed; " a href="/jobs" { "all long work" } " leads back." }
            @if progress.state.can_be_stopped() {
                form method="post" action=(stop) {
                    input type="hidden" name=(TOKEN_FIELD) value=(view.form_token(&stop));
                    button class="do" { "Stop it: nothing is recorded then" }
                }
            }
        }
    }
}

fn in_words(progress: &Progress) -> String {
    let state = progress.state;
    match (state, progress.of) {
        (JobState::Waits, _) | (_, 0) => state.word().to_owned(),
        (_, of) => format!("{}: {} of {of} {}", state.word(), progress.done, progress.what),
    }
}

/// `/jobs/{job}/stop`
pub(super) async fn stop(
    State(site): State<Site>,
    Path(number): Path<usize>,
    Posted(_): Posted,
) -> Result<Response, Refusal> {
    let job = site.jobs().one(number)?;
    if job.stop() || job.state() == JobState::Stopped {
        return Ok(Redirect::to(&address(number)).into_response());
    }
    let found = if job.state().is_over() {
        "it is over already"
    } else {
        "it records already and goes through to its end"
    };
    Err(Refusal::new(StatusCode::CONFLICT, found, "look at its page for what came out"))
}
