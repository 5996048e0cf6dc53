//! `study verify` and `study reevaluate`.

use stillwell_report::json;
use stillwell_report::json::study::revision::Revised;
use stillwell_study::{By, Digest, Recompute, Study, VerifyRequest, verify_telling};

use crate::args::Format;
use crate::commands::text_files::method_of;
use crate::exit::{Failure, Outcome};
use crate::progress::{during, share};
use crate::render;
use crate::study_args::{ReevaluateArguments, VerifyArguments};

type Printed = Result<(String, Outcome), Failure>;

pub(super) fn verify(arguments: &VerifyArguments) -> Printed {
    let request = VerifyRequest { anchor: anchor(arguments)?, recompute: recompute(arguments) };
    let found = verify_telling(&arguments.study, &request, &mut share("verifying"))?;
    let text = match arguments.output.format {
        Format::Table => render::study::verification::text(&found, &arguments.study),
        Format::Json => json::text(&json::study::verification::of(&found, &arguments.study)),
    };
    Ok((text, Outcome::attention_if(!found.is_sound())))
}

fn anchor(arguments: &VerifyArguments) -> Result<Option<Digest>, Failure> {
    let Some(text) = &arguments.anchor else { return Ok(None) };
    Digest::parse(text).map(Some).ok_or_else(|| Failure::NotThere {
        what: format!("\"{text}\" is no head of a ledger"),
        cure: "give all 64 digits, as reports and `stillwell study anchor` print them".to_owned(),
    })
}

fn recompute(arguments: &VerifyArguments) -> Recompute {
    match arguments.recompute.as_slice() {
        [] => Recompute::Nothing,
        names if names.iter().any(|name| name.trim() == "all") => Recompute::All,
        names => Recompute::Named(names.iter().map(|name| name.trim().to_owned()).collect()),
    }
}

pub(super) fn reevaluate(arguments: &ReevaluateArguments) -> Printed {
    let (method, text) = method_of(&arguments.method)?;
    let evaluating = "evaluating all of history";
    let (found, anchor) = if let (Some(actor), Some(reason)) = (&arguments.actor, &arguments.reason) {
        let by = By::new(actor, reason)?;
        let mut study = Study::open_now(&arguments.study)?;
        let found = during(evaluating, || study.reevaluate(&text, &by))?;
        (found, study.anchor()?)
    } else {
        let study = Study::open_to_read(&arguments.study)?;
        let found = during(evaluating, || study.try_revision(&text))?;
        (found, study.anchor()?)
    };
    let revised = Revised { path: arguments.study.clone(), method, found, anchor };
    let text = match arguments.output.format {
        Format::Table => render::study::revision::text(&revised),
        Format::Json => json::text(&json::study::revision::of(&revised)),
    };
    let found = &revised.found;
    let changed = found.differences.iter().any(|one| !one.changed_verdicts.is_empty());
    Ok((text, Outcome::attention_if(changed || !found.unreadable.is_empty())))
}
