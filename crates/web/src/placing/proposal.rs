//! Another revision of the method: looked at over all of history first, then kept with a reason, or not.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{LOCATION, SET_COOKIE};
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};
use stillwell_method::Method;
use stillwell_quantity::{round_down, round_to_uncertainty, round_up};
use stillwell_study::{Act, Brief, By, Difference, Digest, Reevaluation, Study};

use super::asked::placement;
use super::document::not_accepted;
use crate::guard::{FormFields, Posted, Visitor, actor_cookie};
use crate::jobs::{self, Outcome};
use crate::layout::{ActForm, Refusal};
use crate::site::Site;
use crate::view::View;
use crate::wording::counted;

/// Proposals that are remembered.
const MOST: usize = 30;
/// Differences that a page lists.
const MOST_LISTED: usize = 500;

/// Revisions that somebody looked at and may keep, by the job that looked.
#[derive(Default)]
pub(crate) struct Proposals(Mutex<BTreeMap<usize, Arc<Proposal>>>);

/// A revision that may be kept.
pub(super) struct Proposal {
    text: String,
    /// The ledger's head when it was looked at: what was shown holds for no other.
    head: Digest,
    revision: String,
}

impl Proposals {
    fn keep(&self, job: usize, proposal: Arc<Proposal>) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.insert(job, proposal);
        while all.len() > MOST {
            all.pop_first();
        }
    }

    fn of(&self, job: usize) -> Result<Arc<Proposal>, Refusal> {
        let found = self.0.lock().unwrap_or_else(PoisonError::into_inner).get(&job).cloned();
        found.ok_or_else(|| {
            Refusal::new(
                StatusCode::NOT_FOUND,
                "that revision is not remembered any more",
                "look at it again first",
            )
        })
    }
}

/// `/method/look`: what another revision would change; nothing is recorded.
pub(super) async fn look(
    State(site): State<Site>,
    visitor: Visitor,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let proposal = site.look(visitor, move |view| proposed(view, &fields)).await?;
    let proposal = Arc::new(proposal);
    let title = format!("Revision {} over all of history", proposal.revision);
    let number = site.jobs().begin(title, "series", {
        let (proposal, path) = (Arc::clone(&proposal), site.study_path().to_owned());
        move |ticket| {
            let study = Study::open_to_read(&path)?;
            let found = study.try_revision_while(&proposal.text, |done, of| ticket.at(done, of))?;
            let revision = proposal.revision.clone();
            Ok(Box::new(move |view: &View| would_change(view, &revision, &found)) as Outcome)
        }
    })?;
    site.proposals().keep(number, proposal);
    Ok((StatusCode::SEE_OTHER, [(LOCATION, jobs::address(number))]).into_response())
}

/// The text that a form asks for: a placement in the method as it stands, or the text of an earlier revision.
fn proposed(view: &View, fields: &FormFields) -> Result<Proposal, Refusal> {
    let head = view.overview.anchor.head;
    let source = view.study.method_text()?;
    let method = Method::parse("method.toml", &source).map_err(|problems| not_accepted(&problems))?;
    if let Some(earlier) = Digest::parse(fields.text("text_of")) {
        let Act::Revision(act) = view.study.record(&earlier)?.act()? else {
            return Err(Refusal::unknown("revision of that record"));
        };
        let text = String::from_utf8_lossy(&view.study.raw_file(&act.text)?).into_owned();
        return Ok(Proposal { text, head, revision: act.revision });
    }
    let revision = fields.text("revision").to_owned();
    let refused = |found: &str, cure: &str| Err(Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, found, cure));
    if revision.is_empty() || revision.chars().count() > 100 || revision.chars().any(char::is_control) {
        return refused("a revision needs a name", "a short one, such as the next number");
    }
    if revision == method.revision {
        return refused("the method's own revision has this name", "another name, such as the next number");
    }
    let placement = placement(&method, &fields.all())?;
    let text = placement.written_into(&source, &revision).map_err(|problems| not_accepted(&problems))?;
    Ok(Proposal { text, head, revision })
}

/// `/method/proposals/{job}/keep`
pub(super) async fn keep(
    State(site): State<Site>,
    Path(job): Path<usize>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let proposal = site.proposals().of(job)?;
    let by = By::new(fields.text("actor"), fields.text("reason"))?;
    let cookie = actor_cookie(by.actor());
    let path = site.study_path().to_owned();
    let title = format!("Revision {} becomes the method", proposal.revision);
    let number = site.jobs().begin(title, "series", move |ticket| {
        let mut study = Study::open_now(&path)?;
        if study.anchor()?.head != proposal.head {
            return Err(Refusal::new(
                StatusCode::CONFLICT,
                "something was recorded since this revision was looked at: what was shown may not hold any more; nothing was recorded now",
                "look at it again, then keep it",
            ));
        }
        ticket.records()?;
        let found = study.reevaluate_saying(&proposal.text, &by, |done, of| {
            let _cannot_be_stopped = ticket.at(done, of);
        })?;
        let revision = proposal.revision.clone();
        Ok(Box::new(move |_: &View| kept(&revision, &found)) as Outcome)
    })?;
    Ok((StatusCode::SEE_OTHER, [(LOCATION, jobs::address(number)), (SET_COOKIE, cookie)]).into_response())
}

fn would_change(view: &View, revision: &str, found: &Reevaluation) -> Markup {
    let job = view.visitor.path.trim_start_matches("/jobs/").to_owned();
    html! {
        p class="answer look" { "Nothing is recorded yet. Under revision " strong dir="auto" { (revision) } ": " (counts(found)) "." }
        (differences(found))
        h2 { "Keep it" }
        p { "Every result is issued anew, names the one it replaces, and is NOT APPROVED until the approver signs. It cannot be stopped once it records; the way back is a new act, to the text of the revision before." }
        (ActForm {
            path: &format!("/method/proposals/{job}/keep"),
            fields: html! {},
            example: "the reference of the new batch sits 20 mV lower",
            button: "Make it the method",
            person: None,
        }.drawn(view))
    }
}

fn kept(revision: &str, found: &Reevaluation) -> Markup {
    html! {
        div class="done" { p { "Revision " strong dir="auto" { (revision) } " is the method now: " (counts(found)) ". The results before it are kept." } }
        p { "The new calibrations and results are NOT APPROVED until the approver signs: " a href="/results?only=not-approved" { "what waits for it" } "." }
        p { a href="/method" { "The method and its revisions" } ", with the way back." }
        (differences(found))
    }
}

fn counts(found: &Reevaluation) -> String {
    let n_verdicts = found.differences.iter().filter(|one| !one.changed_verdicts.is_empty()).count();
    format!(
        "{} series; {} the same to the last bit, {} otherwise, {n_verdicts} with another verdict",
        found.n_series,
        counted(found.n_same, "result"),
        found.differences.len()
    )
}

fn differences(found: &Reevaluation) -> Markup {
    let mut listed: Vec<&Difference> = found.differences.iter().collect();
    // What a reader must see first.
    listed.sort_by_key(|one| one.changed_verdicts.is_empty());
    html! {
        @for (series, why) in &found.unreadable {
            p class="answer stops" { "Series " (series) " cannot be read under it; its old results stand. " span dir="auto" { (why) } }
        }
        @for one in &found.withdrawn {
            p class="answer stops" { span dir="auto" { (one.sample) } " of series " (one.series) " stays withdrawn by " span dir="auto" { (one.said.by) ": " (one.said.reason) } }
        }
        @if !listed.is_empty() {
            div class="wide" tabindex="0" role="region" aria-label="Differences" { table {
                caption { "Changed verdicts first" @if listed.len() > MOST_LISTED { "; the first " (MOST_LISTED) " of " (listed.len()) } }
                thead { tr { th scope="col" { "Series" } th scope="col" { "Sample" } th scope="col" { "As issued" } th scope="col" { "Under the new revision" } th scope="col" { "Changed verdicts" } } }
                tbody { @for one in listed.iter().take(MOST_LISTED) { (row(one)) } }
            } }
        }
    }
}

fn row(one: &Difference) -> Markup {
    let word = |code: &Option<String>| code.as_deref().unwrap_or("none").replace('-', " ");
    html! {
        tr {
            td dir="auto" { (one.series) }
            th scope="row" dir="auto" { (one.sample) @if one.role != "sample" { " (" (one.role) ")" } }
            td { @match &one.before { Some((_, brief)) => (number(brief)), None => "not issued" } }
            td { (number(&one.now)) }
            td {
                @if one.changed_verdicts.is_empty() { "–" }
                @for (limit, before, now) in &one.changed_verdicts { p { (limit) ": " (word(before)) " → " (word(now)) } }
            }
        }
    }
}

fn number(brief: &Brief) -> String {
    let Some(value) = brief.value else { return "refused".to_owned() };
    let text = match (brief.outcome.as_str(), brief.expanded_u()) {
        ("quantified", Some(expanded_u)) => {
            let rounded = round_to_uncertainty(value, expanded_u);
            format!("{} ± {}", rounded.value, rounded.expanded_u)
        }
        ("above-range", _) => format!("above {}", round_down(value, 2)),
        _ => format!("< {}", round_up(value, 2)),
    };
    format!("{text} {}", brief.unit)
}
