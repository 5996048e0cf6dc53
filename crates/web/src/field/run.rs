//! The page of a run: the step that comes now, or the end.

use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};
use stillwell_field::{Campaign, Field, FieldError, Outcome, Prompt, Run, Stage, Words};
use stillwell_study::{StepAnswer, StepSeen, Study};

use super::ending;
use super::frame::{Look, document, said};
use super::guard::{Asker, Paired};
use super::phones::drawn;
use super::picture::NoCode;
use super::scan::{Asked as AskedOfPhoto, Scanned};
use super::site::FieldSite;
use super::steps::{self, Addressed, Asked};
use super::trouble::Trouble;

/// Two people at one well are told of each other for so long, s (common practice, no source).
const OTHERS_WITHIN_S: f64 = 3600.0;

/// Everything a run's page shows.
pub(super) struct Shown {
    run: String,
    place: u32,
    prompt: Option<Prompt>,
    outcome: Option<Outcome>,
    answer: Option<StepAnswer>,
    scanned: Option<Scanned>,
    others: bool,
    clock_set: bool,
    campaign: Campaign,
    now_ms: i64,
    wait_ended_s: f64,
}

impl Shown {
    /// A run as it stands; none where it is another phone's.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub(super) fn of(
        study: &Study,
        field: &Field,
        run: &str,
        device: &str,
        now_ms: i64,
    ) -> Result<Option<Self>, FieldError> {
        let steps = study.field_steps_of(run)?;
        if steps.iter().any(|step| step.device != device || step.campaign != *field.record_hash()) {
            return Ok(None);
        }
        let stands = Run::of_record(field.campaign(), &steps)?;
        let others = match stands.stage() {
            Stage::AtWork { well, .. } => {
                let names = field.others_at_well(study, run, &well.get().code, now_ms, OTHERS_WITHIN_S)?;
                others_at_work(study, field, &names, device)?
            }
            _ => false,
        };
        // The phone's steady clock as it is now, for a wait that began on it.
        let steady_now = steps.last().map_or(0.0, |last| {
            last.when.handed_in_steady_ms as f64 + now_ms.saturating_sub(last.when.received_ms) as f64
        });
        Ok(Some(Self {
            run: run.to_owned(),
            place: u32::try_from(steps.len()).unwrap_or(u32::MAX).saturating_add(1),
            prompt: Prompt::of(field.campaign(), &stands),
            outcome: field.outcome(study, &stands)?,
            answer: steps.last().map(|last| last.answer.clone()),
            scanned: None,
            others,
            clock_set: stands.clock_set_s().is_some(),
            campaign: field.campaign().clone(),
            now_ms,
            wait_ended_s: steady_now / 1000.0,
        }))
    }

    /// The same with what a photo says.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    fn with_photo(
        mut self,
        study: &Study,
        field: &Field,
        asked: &AskedOfPhoto,
        day: &str,
    ) -> Result<Self, FieldError> {
        self.scanned = match (&asked.label, &asked.scan) {
            (Some(text), _) => Some(match field.pick(study, &self.run, text, day)? {
                Ok(picked) => Scanned::Picked(picked, text.clone()),
                Err(why) => Scanned::Unpicked(why),
            }),
            (None, Some(word)) => NoCode::of_word(word).map(Scanned::NoCode),
            (None, None) => None,
        };
        Ok(self)
    }

    /// What the last step's answer says, where it says anything, and how it looks.
    fn said(&self, look: &Look<'_>) -> Option<(&'static str, &'static str, Words)> {
        let answer = self.answer.as_ref()?;
        let words = look.texts.answer(answer)?;
        Some(match answer {
            StepAnswer::Taken { seen: Some(StepSeen::Alive { .. }) } => ("good", "below", words),
            StepAnswer::Taken { seen: Some(StepSeen::SecondStrip { .. }) } => ("look", "strip", words),
            _ => ("bad", "stop", words),
        })
    }

    /// The page.
    pub(super) fn page(&self, look: &Look<'_>, token: &str, key: &str) -> Markup {
        let to = Addressed { run: &self.run, place: self.place, key, token };
        // What a photo says is the last thing that happened.
        let answer = match &self.scanned {
            _ if self.outcome.is_some() => None,
            Some(scanned) => Some(scanned.said(look)),
            None => self.said(look),
        };
        let picked = self.scanned.as_ref().and_then(Scanned::picked);
        let well = self.prompt.as_ref().and_then(|prompt| prompt.well.as_ref());
        let well = well.or(match &self.outcome {
            Some(Outcome::Known(result)) => Some(&result.well),
            _ => None,
        });
        let wait = self.prompt.as_ref().and_then(|prompt| prompt.wait);
        let left = wait.map(|wait| {
            let gone_s = self.wait_ended_s - wait.since_steady_ms as f64 / 1000.0;
            (wait.least_s - gone_s, wait.most_s - gone_s)
        });
        let body = html! {
            main id="step" tabindex="-1" data-run=(self.run) data-place=(self.place) data-now=(self.now_ms)
                data-deed=[self.prompt.as_ref().map(|prompt| prompt.deed)]
                data-purpose=[self.prompt.as_ref().and_then(|prompt| prompt.purpose)]
                data-least=[left.map(|left| left.0)] {
                @if let Some(well) = well {
                    p class="well" { b { (well.code) } " " span dir="auto" { (well.place) } }
                }
                @if self.others { (said("look", "people", &Words { says: look.say("note-other-run"), to_do: String::new() })) }
                @if self.clock_set { (said("look", "start", &Words { says: look.say("note-clock-set"), to_do: String::new() })) }
                @if let Some((class, name, words)) = &answer { (said(class, name, words)) }
                @if let Some(prompt) = &self.prompt {
                    @let asked = Asked { text: prompt.text, deed: prompt.deed, purpose: prompt.purpose, wait_s: left, picked };
                    (steps::form(look, &self.campaign, &asked, &to))
                    @if prompt.deed != "well" { (steps::stop(look, &to)) }
                }
                @if let Some(outcome) = &self.outcome { (ending::end(look, &self.campaign, outcome)) }
            }
        };
        document(look, &look.say("page-title"), &body)
    }
}

/// Whether one of these runs is another phone's and goes on: one's own test that was stopped is nobody else.
fn others_at_work(study: &Study, field: &Field, names: &[String], device: &str) -> Result<bool, FieldError> {
    for name in names {
        let theirs = study.field_steps_of(name)?;
        let is_ours = theirs.iter().any(|step| step.device == device);
        if !is_ours && Run::of_record(field.campaign(), &theirs)?.end().is_none() {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Draws a name for a new run and leads to it. Nothing is recorded before its first step.
pub(super) async fn new(_paired: Paired) -> Result<Response, Trouble> {
    let name = drawn().map_err(|_no_randomness| Trouble::Busy)?;
    let way = format!("/field/run/{}", name.chars().take(24).collect::<String>());
    Ok((StatusCode::SEE_OTHER, [(LOCATION, way)]).into_response())
}

/// The run as it stands.
pub(super) async fn page(
    State(site): State<FieldSite>,
    paired: Paired,
    Path(run): Path<String>,
    Query(asked): Query<AskedOfPhoto>,
) -> Result<Markup, Trouble> {
    let (device, now_ms, today) = (paired.device.clone(), site.now_ms(), site.today());
    let shown = site.with_study(move |study, field| {
        let shown = Shown::of(study, field, &run, &device, now_ms)?;
        shown.map(|shown| shown.with_photo(study, field, &asked, &today)).transpose()
    });
    let shown = shown.await?.ok_or(Trouble::Elsewhere)?;
    drawn_for(&site, &paired, &shown)
}

/// The page with a key of its own.
pub(super) fn drawn_for(site: &FieldSite, paired: &Paired, shown: &Shown) -> Result<Markup, Trouble> {
    let key = drawn().map_err(|_no_randomness| Trouble::Busy)?;
    let key: String = key.chars().take(24).collect();
    Ok(shown.page(&look_of(site, &paired.asker), &paired.form_token(), &key))
}

/// How a page looks for who asks.
pub(super) fn look_of<'a>(site: &'a FieldSite, asker: &Asker) -> Look<'a> {
    Look { texts: site.texts(asker.language), ground: asker.ground }
}
