//! An approver's signed word on a result or a calibration.

use axum::extract::{Path, State};
use axum::response::Response;
use maud::{Markup, html};
use stillwell_study::{Digest, Record, Standing, StudyRole, Word};

use super::receipt::{Done, done};
use super::signer::{passphrase_field, signer, unlocked};
use crate::guard::{FormFields, Posted, Visitor};
use crate::layout::{ActForm, Refusal, text_field};
use crate::site::Site;
use crate::view::View;

/// The form, or why there is none and what to do instead. `what` is `result` or `calibration`.
pub(crate) fn approval_act(
    view: &View,
    what: &str,
    label: &str,
    record: &Record,
    standing: &Standing,
) -> Markup {
    if standing.withdrawn.is_some() || standing.replaced_by.is_some() {
        return html! {};
    }
    let command = format!(
        "stillwell study approve {} --{what} {label} --as \"YOUR NAME\" --reason \"…\"",
        stillwell_study::shell_path(view.site.study_path())
    );
    let elsewhere = html! {
        pre { code dir="ltr" { (command) } }
        p class="soft" { a href="/keys#signing" { "Why not here?" } }
    };
    let body = match signer(view) {
        Err(_) | Ok(None) => html! {
            p { "The approver signs in their own process, with a key that only they can read:" }
            (elsewhere)
        },
        Ok(Some(signer)) if signer.role != Some(StudyRole::Approver) => html! {
            p { "The key of " span dir="auto" { (signer.name) } ", with which this server was started, is not that of an approver of this study." }
            (elsewhere)
        },
        Ok(Some(signer)) if is_same(&signer.name, &record.actor) => html! {
            p { span dir="auto" { (signer.name) } " recorded this and cannot approve it: another person looks at it." }
            (elsewhere)
        },
        Ok(Some(signer)) => ActForm {
            path: &format!("/{what}s/{label}/approve"),
            fields: html! {
                fieldset {
                    legend { "Your word" }
                    label { input type="radio" name="word" value="approved" required; " it may be relied on" }
                    " "
                    label { input type="radio" name="word" value="refused"; " it may not" }
                }
                (text_field(&format!("although-{what}"), "although", "Although something did not pass, because", "goes on record", false))
                (passphrase_field(&format!("passphrase-{what}")))
            },
            example: "chain looked at; residuals without trend",
            button: "Sign",
            person: Some(&signer.name),
        }
        .drawn(view),
    };
    html! { details { summary { "Approve or refuse" } (body) } }
}

fn is_same(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

pub(super) async fn result(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let name = format!("result {label}");
    let found = site.look(visitor.clone(), {
        let label = label.clone();
        move |view| Ok(view.result(&label)?.one.record.hash)
    });
    signed(site.clone(), visitor, found.await?, name, format!("/results/{label}"), fields).await
}

pub(super) async fn calibration(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let name = format!("calibration {label}");
    let found = site.look(visitor.clone(), {
        let label = label.clone();
        move |view| Ok(view.calibration(&label)?.record.hash)
    });
    signed(site.clone(), visitor, found.await?, name, format!("/calibrations/{label}"), fields).await
}

async fn signed(
    site: Site,
    visitor: Visitor,
    target: Digest,
    name: String,
    back: String,
    fields: FormFields,
) -> Result<Response, Refusal> {
    let (word, said) = match fields.text("word") {
        "approved" => (Word::Approved, "approved"),
        "refused" => (Word::Refused, "refused"),
        _ => {
            return Err(Refusal::new(
                axum::http::StatusCode::UNPROCESSABLE_ENTITY,
                "no word was chosen",
                "say whether it may be relied on or not",
            ));
        }
    };
    let actor = visitor.actor.clone();
    let of_site = site.clone();
    done(site, visitor, actor, move |study| {
        let person = unlocked(&of_site, &fields)?;
        let although = Some(fields.text("although")).filter(|words| !words.trim().is_empty());
        let records = study.approve_although(&[target], word, &person, fields.text("reason"), although)?;
        let said = vec![format!("{name} is {said} by {}, signed.", person.name())];
        Ok(Done { said, records, back: (back, format!("Back to {name}")) })
    })
    .await
}
