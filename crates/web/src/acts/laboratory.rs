//! Taking in what an accredited laboratory found: its file comes with the form, whole or not at all.

use axum::extract::{Multipart, Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};
use stillwell_study::{LaboratoryAct, MOST_LABORATORY_BYTES, Numbered};

use super::receipt::{Done, by, done};
use super::withdrawing::{withdraw_act, withdrawn};
use crate::guard::{FormFields, Posted, TOKEN_FIELD, Visitor, admit_parts, bytes_of};
use crate::intake::sanitized;
use crate::layout::Refusal;
use crate::site::Site;
use crate::view::View;
use crate::wording::laboratory_words;

const PATH: &str = "/laboratory";
/// No field of the form beside the file is longer.
const MOST_FIELD_BYTES: usize = 16 * 1024;
/// The whole form.
pub(super) const MOST_FORM_BYTES: usize = MOST_LABORATORY_BYTES + 4 * MOST_FIELD_BYTES;

/// What can be done about a laboratory's results.
pub(crate) fn laboratory_acts(view: &View) -> Markup {
    html! {
        div class="acts no-print" {
            details open[view.overview.laboratories.is_empty()] {
                summary { "Record a laboratory's results" }
                p { "One line for each result: " code { "sample,value,unit,u" } " (or " code { "expanded_u" } ", k = 2); " code { "batch" } " and " code { "date" } " may be added. Names as the run sheet has them; \"<5\" and \">100\" stay bounds. Up to " (MOST_LABORATORY_BYTES >> 20) " MB. A later file adds." }
                (form(view))
            }
            @for one in view.overview.laboratories.iter().filter(|one| one.standing.counts()) {
                div {
                    p { "Record " (one.label) ", " span dir="auto" { (one.act.file) } }
                    (withdraw_act(view, &format!("{PATH}/{}/withdraw", one.label), &one.standing))
                }
            }
        }
    }
}

/// The token stands first: without it nothing of the file is read.
fn form(view: &View) -> Markup {
    let known = view.overview.laboratories.iter().rfind(|one| one.standing.counts());
    let known = known.map_or("", |one| one.act.laboratory.as_str());
    html! {
        form class="act" method="post" action=(PATH) enctype="multipart/form-data" {
            input type="hidden" name=(TOKEN_FIELD) value=(view.form_token(PATH));
            p { label for="laboratory-file" { "The laboratory's file (CSV)" } input id="laboratory-file" name="file" type="file" accept=".csv,text/csv,text/plain" required; }
            p { label for="laboratory-name" { "Which laboratory, if it is to be named; two are not mixed" } input id="laboratory-name" name="laboratory" maxlength="200" autocomplete="off" value=(known); }
            p { label for="laboratory-actor" { "Who" } input id="laboratory-actor" name="actor" required maxlength="200" autocomplete="name" value=(view.visitor.actor); }
            p { label for="laboratory-reason" { "Why" } input id="laboratory-reason" name="reason" required maxlength="2000" autocomplete="off" placeholder="report of the laboratory, May"; }
            p { button class="do" { "Record it" } }
        }
    }
}

/// `/laboratory`
pub(super) async fn record(
    State(site): State<Site>,
    visitor: Visitor,
    mut parts: Multipart,
) -> Result<Response, Refusal> {
    admit_parts(&site, &visitor, &mut parts).await?;
    let (fields, file) = received(parts).await?;
    let (name, bytes) = file.ok_or_else(|| {
        Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, "no file was chosen", "choose the laboratory's file")
    })?;
    let by = by(&fields)?;
    let actor = by.actor().to_owned();
    done(site, visitor, actor, move |study| {
        let taken = study.record_laboratory(&name, &bytes, fields.text("laboratory"), &by)?;
        let one = study.laboratory(&taken.record.hash.to_string())?;
        let words = laboratory_words(&one.act);
        let (said, records) = if taken.was_there {
            (format!("Record {} holds this very file already: {words}.", one.label), Vec::new())
        } else {
            (format!("Record {}: {words}.", one.label), vec![taken.record])
        };
        let back = ("/quality/comparison".to_owned(), "To the comparison".to_owned());
        Ok(Done { said: vec![said], records, back })
    })
    .await
}

type File = (String, Vec<u8>);

/// Every field, and the file with the last part of its name.
async fn received(mut parts: Multipart) -> Result<(FormFields, Option<File>), Refusal> {
    let (mut fields, mut file) = (Vec::new(), None);
    while let Some(part) = parts.next_field().await.map_err(|error| broken(&error))? {
        let name = part.name().unwrap_or_default().to_owned();
        match part.file_name().map(str::to_owned) {
            // A form without a chosen file sends one without a name.
            Some(sent) if sent.is_empty() => {}
            Some(sent) => {
                let sent = sanitized(&sent).map_err(|why| {
                    Refusal::new(
                        StatusCode::UNPROCESSABLE_ENTITY,
                        &format!("the file is not taken: {why}"),
                        "give it a plain name",
                    )
                })?;
                let bytes = bytes_of(part, MOST_LABORATORY_BYTES).await?.ok_or_else(|| too_large(&sent))?;
                file = Some((sent, bytes));
            }
            None => {
                let bytes = bytes_of(part, MOST_FIELD_BYTES).await?.ok_or_else(|| too_large(&name))?;
                fields.push((name, String::from_utf8_lossy(&bytes).into_owned()));
            }
        }
    }
    Ok((FormFields::of(fields), file))
}

fn too_large(what: &str) -> Refusal {
    let found = format!(
        "{what} is larger than is taken; a laboratory's file may have {} MB",
        MOST_LABORATORY_BYTES >> 20
    );
    Refusal::new(StatusCode::PAYLOAD_TOO_LARGE, &found, "split it, and record its parts one after the other")
}

fn broken(error: &axum::extract::multipart::MultipartError) -> Refusal {
    Refusal::new(error.status(), &error.body_text(), "send the form again; nothing was recorded")
}

/// `/laboratory/{record}/withdraw`
pub(super) async fn withdraw(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let of = label.clone();
    let found = site.look(visitor.clone(), move |view| {
        let is_it = |one: &&Numbered<LaboratoryAct>| one.label == of;
        let found = view.overview.laboratories.iter().find(is_it);
        found.map(|one| one.record.hash).ok_or_else(|| Refusal::unknown(&format!("laboratory record {of}")))
    });
    let target = found.await?;
    let back = "/quality/comparison".to_owned();
    withdrawn(site, visitor, target, format!("laboratory record {label}"), back, &fields).await
}
