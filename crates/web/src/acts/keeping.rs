//! Records that stand beside results: validity of a calibration, custody of a sample, lots, keys.

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};
use stillwell_study::{Custody, Digest, LotStatement, StudyRole};

use super::receipt::{Done, by, done};
use super::signer::{passphrase_field, signer, unlocked};
use crate::guard::{Posted, Visitor};
use crate::layout::{ActForm, Refusal, text_field};
use crate::site::Site;
use crate::view::View;

/// The forms on the page of a calibration.
pub(crate) fn validity_acts(view: &View, label: &str) -> Markup {
    html! {
        details {
            summary { "Until when it may be used" }
            (ActForm {
                path: &format!("/calibrations/{label}/validity"),
                fields: html! {
                    (day_field("last-day", "last_day", "Last day"))
                    (text_field("triggers", "triggers", "What ends it earlier, with commas between", "such as new reference electrode", false))
                },
                example: "four weeks by the procedure",
                button: "State it",
                person: None,
            }.drawn(view))
        }
        details {
            summary { "Something ended it" }
            (ActForm {
                path: &format!("/calibrations/{label}/end"),
                fields: day_field("end-day", "on", "From which day on"),
                example: "the reference electrode was changed",
                button: "It ended",
                person: None,
            }.drawn(view))
        }
    }
}

fn day_field(id: &str, name: &str, words: &str) -> Markup {
    html! { p { label for=(id) { (words) } input id=(id) name=(name) type="date" required; } }
}

/// Where a sample comes from.
pub(crate) fn custody_act(view: &View, sample: &str) -> Markup {
    ActForm {
        path: "/custody",
        fields: html! {
            p { label for="custody-sample" { "Sample" } input id="custody-sample" name="sample" required maxlength="200" value=(sample); }
            (text_field("custody-place", "place", "Taken at", "such as well by the mill", true))
            (text_field("custody-taken", "taken", "When: a day, or a moment", "such as 2026-05-12T08:30:00Z", true))
            (text_field("custody-taken-by", "taken_by", "Taken by", "", true))
            (text_field("custody-preservation", "preservation", "Preserved how", "such as cooled to 4 °C, dark", true))
            (text_field("custody-holding", "holding_time_h", "To be measured within, in hours", "such as 48", false))
            (text_field("custody-dilution", "dilution", "Diluted how", "such as none", true))
        },
        example: "sheet of the sampling round",
        button: "Record it",
        person: None,
    }
    .drawn(view)
}

/// A lot's record is signed: by the person whose key the server was started with.
pub(crate) fn lot_act(view: &View) -> Markup {
    let Ok(Some(person)) = signer(view) else {
        let path = view.site.study_path().display();
        return html! {
            p { "A lot's record is signed, in the process of whoever signs:" }
            pre { code { "stillwell study lot " (path) " --lot … --identity \"…\" --last-day … --storage \"…\" --as \"YOUR NAME\" --reason \"…\"" } }
        };
    };
    ActForm {
        path: "/lots",
        fields: html! {
            (text_field("lot-lot", "lot", "Lot, as the run sheet has it", "such as L21", true))
            (text_field("lot-identity", "identity", "What it is of", "such as copper-modified strips, box 3", true))
            (day_field("lot-last-day", "last_day", "Last day of use"))
            (text_field("lot-storage", "storage", "Stored how", "such as dry, below 25 °C", true))
            (text_field("lot-sensitivity", "sensitivity_a_per_unit", "Stated sensitivity, A per unit of the results", "", false))
            (text_field("lot-blank", "blank_a", "Stated signal of the blank, A", "", false))
            (passphrase_field("lot-passphrase"))
        },
        example: "sheet that came with the box",
        button: "Sign",
        person: Some(&person.name),
    }
    .drawn(view)
}

/// Telling the study whose key it is.
pub(crate) fn key_act(view: &View) -> Markup {
    ActForm {
        path: "/keys",
        fields: html! {
            (text_field("key-name", "name", "Whose key", "as it stands in the key file", true))
            (text_field("key-public", "public_key", "Public key, 64 digits", "as `stillwell study key make` printed it", true))
            p {
                label for="key-role" { "What its owner may do" }
                select id="key-role" name="role" {
                    option value="analyst" { "analyst: signs lots" }
                    option value="approver" { "approver: approves what others recorded" }
                }
            }
            @if view.site.key().is_some() {
                p {
                    label for="key-passphrase" { "Passphrase of your key, where you vouch for another approver" }
                    input id="key-passphrase" name="passphrase" type="password" maxlength="1000" autocomplete="off";
                }
            }
        },
        example: "approver since the founding",
        button: "Add the key",
        person: None,
    }
    .drawn(view)
}

/// The calibration's record, and the way back.
async fn calibration_of(
    site: &Site,
    visitor: &Visitor,
    label: &str,
) -> Result<(Digest, (String, String)), Refusal> {
    let back = (format!("/calibrations/{label}"), format!("Back to calibration {label}"));
    let label = label.to_owned();
    let found = site.look(visitor.clone(), move |view| Ok(view.calibration(&label)?.record.hash));
    Ok((found.await?, back))
}

pub(super) async fn validity(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let (target, back) = calibration_of(&site, &visitor, &label).await?;
    let by = by(&fields)?;
    let actor = by.actor().to_owned();
    done(site, visitor, actor, move |study| {
        let triggers: Vec<&str> =
            fields.text("triggers").split(',').map(str::trim).filter(|one| !one.is_empty()).collect();
        let record = study.set_validity(&target, fields.text("last_day"), &triggers, &by)?;
        let in_force = study.calibration_last_day(&target)?.unwrap_or_default();
        let mut said = vec![format!("Calibration {label} may be used until {in_force}.")];
        if in_force != fields.text("last_day").trim() {
            said.push(
                "The later day is on record and does not extend it: only an approver's signature does, by `stillwell study validity --signed`."
                    .to_owned(),
            );
        }
        Ok(Done { said, records: vec![record], back })
    })
    .await
}

pub(super) async fn end(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let (target, back) = calibration_of(&site, &visitor, &label).await?;
    let by = by(&fields)?;
    let actor = by.actor().to_owned();
    done(site, visitor, actor, move |study| {
        let record = study.end_validity(&target, fields.text("on"), &by)?;
        let said = vec![format!(
            "Calibration {label} ended on {}: no verdict is drawn from what was measured from then on.",
            fields.text("on")
        )];
        Ok(Done { said, records: vec![record], back })
    })
    .await
}

pub(super) async fn custody(
    State(site): State<Site>,
    visitor: Visitor,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let by = by(&fields)?;
    let actor = by.actor().to_owned();
    let text = |name: &str| fields.text(name).to_owned();
    let custody = Custody {
        sample: text("sample"),
        place: text("place"),
        taken: text("taken"),
        taken_by: text("taken_by"),
        preservation: text("preservation"),
        holding_time_h: fields.number("holding_time_h")?,
        dilution: text("dilution"),
    };
    done(site, visitor, actor, move |study| {
        let record = study.record_custody(&custody, &by)?;
        let said = vec![
            format!("It is on record where {} comes from.", custody.sample),
            "Results issued before keep naming the record they used.".to_owned(),
        ];
        Ok(Done { said, records: vec![record], back: ("/results".to_owned(), "To the samples".to_owned()) })
    })
    .await
}

pub(super) async fn lot(
    State(site): State<Site>,
    visitor: Visitor,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let text = |name: &str| fields.text(name).to_owned();
    let statement = LotStatement {
        lot: text("lot"),
        identity: text("identity"),
        last_day: text("last_day"),
        storage: text("storage"),
        sensitivity_a_per_unit: fields.number("sensitivity_a_per_unit")?,
        blank_a: fields.number("blank_a")?,
    };
    let actor = visitor.actor.clone();
    let of_site = site.clone();
    done(site, visitor, actor, move |study| {
        let person = unlocked(&of_site, &fields)?;
        let record = study.record_lot(&statement, &person, fields.text("reason"))?;
        let said = vec![format!(
            "Lot {}: last day {}, signed by {}.",
            statement.lot,
            statement.last_day,
            person.name()
        )];
        Ok(Done {
            said,
            records: vec![record],
            back: ("/keys".to_owned(), "Back to keys and lots".to_owned()),
        })
    })
    .await
}

pub(super) async fn key(
    State(site): State<Site>,
    visitor: Visitor,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let by = by(&fields)?;
    let actor = by.actor().to_owned();
    let public_key = Digest::parse(fields.text("public_key")).ok_or_else(|| {
        Refusal::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "that is no public key",
            "give the 64 digits that `stillwell study key make` printed",
        )
    })?;
    let role = match fields.text("role") {
        "approver" => StudyRole::Approver,
        _ => StudyRole::Analyst,
    };
    let of_site = site.clone();
    done(site, visitor, actor, move |study| {
        let is_vouched = !fields.raw("passphrase").is_empty();
        let voucher = is_vouched.then(|| unlocked(&of_site, &fields)).transpose()?;
        let record = study.add_key(fields.text("name"), public_key, role, voucher.as_ref(), &by)?;
        let said = vec![format!(
            "{} is {} here with the key {}.",
            fields.text("name"),
            role.word(),
            public_key.short()
        )];
        Ok(Done { said, records: vec![record], back: ("/keys".to_owned(), "Back to the keys".to_owned()) })
    })
    .await
}
