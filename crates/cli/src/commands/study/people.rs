//! Acts that need a key: `study key`, `study approve`, `study lot`.

use stillwell_report::json;
use stillwell_report::json::study::Receipt;
use stillwell_study::{By, Digest, LotStatement, Shown, SigningPerson, Study, StudyRole, Word};

use super::acts::until;
use super::passphrase::{self, key_path, unlock, unlock_file};
use super::printed;
use crate::args::Format;
use crate::exit::{Failure, Outcome};
use crate::render;
use crate::study_args::{
    ApproveArguments, KeyAddArguments, KeyArguments, KeyCommand, KeyMakeArguments, LotArguments, Role,
};

type Printed = Result<(String, Outcome), Failure>;

pub(super) fn key(arguments: &KeyArguments) -> Printed {
    match &arguments.command {
        KeyCommand::Make(arguments) => make(arguments),
        KeyCommand::Add(arguments) => add(arguments),
    }
}

fn make(arguments: &KeyMakeArguments) -> Printed {
    let path = key_path(arguments.signing.key.as_deref(), &arguments.name);
    if path.exists() {
        return Err(Failure::NotThere {
            what: format!("{} is there already", path.display()),
            cure: "a key is never written over; name another file with --key".to_owned(),
        });
    }
    let passphrase = passphrase::new(&path, arguments.signing.passphrase_file.as_deref())?;
    let person = SigningPerson::create(&path, &arguments.name, &passphrase)?;
    let text = match arguments.output.format {
        Format::Table => render::study::people::made(&person, &path),
        Format::Json => json::text(&json::study::key(&person, &path)),
    };
    Ok((text, Outcome::Done))
}

fn add(arguments: &KeyAddArguments) -> Printed {
    let by = By::new(&arguments.by.actor, &arguments.by.reason)?;
    let (name, public_key) = owner(arguments)?;
    let mut study = Study::open_now(&arguments.study)?;
    let role = match arguments.role {
        Role::Analyst => StudyRole::Analyst,
        Role::Approver => StudyRole::Approver,
    };
    let file = arguments.passphrase_file.as_deref();
    let voucher = arguments.voucher.as_deref().map(|path| unlock_file(path, file)).transpose()?;
    let record = study.add_key(&name, public_key, role, voucher.as_ref(), &by)?;
    let said = format!("{name} is {} here with the key {}", role.word(), public_key.short());
    Ok((printed(&Receipt::of(&study, said, vec![record])?, arguments.output.format), Outcome::Done))
}

fn owner(arguments: &KeyAddArguments) -> Result<(String, Digest), Failure> {
    if let Some(path) = &arguments.key {
        return Ok(SigningPerson::open_part(path)?);
    }
    let text = arguments.public_key.as_deref().unwrap_or_default();
    let public_key = Digest::parse(text).ok_or_else(|| Failure::NotThere {
        what: format!("\"{text}\" is no public key"),
        cure: "give the 64 digits that `stillwell study key make` printed".to_owned(),
    })?;
    Ok((arguments.name.clone().unwrap_or_default(), public_key))
}

pub(super) fn approve(arguments: &ApproveArguments) -> Printed {
    let mut study = Study::open_now(&arguments.study)?;
    let targets = targets(&study, arguments)?;
    let person = unlock(&arguments.signing, &arguments.by.actor)?;
    let word = if arguments.refuse { Word::Refused } else { Word::Approved };
    let hashes: Vec<Digest> = targets.iter().map(|(_, hash)| *hash).collect();
    let although = arguments.although.as_deref();
    let records = study.approve_although(&hashes, word, &person, &arguments.by.reason, although)?;
    let in_spite: Vec<String> =
        records.iter().filter(|_| although.is_some()).map(|one| one.reason.clone()).collect();
    let done = match word {
        Word::Approved => "approved",
        Word::Refused => "refused",
    };
    let mut receipt = Receipt::of(&study, "", records)?;
    receipt.said = targets.iter().map(|(name, _)| format!("{name} is {done} by {}", person.name())).collect();
    receipt.said.extend(in_spite);
    let mut results = study.determinations()?;
    let is_named = |hash: &Digest| targets.iter().any(|(_, target)| target == hash);
    results.retain(|one| {
        // Where a calibration is refused, the results that it touches are shown as well.
        let is_touched = arguments.refuse && one.act.calibration.as_ref().is_some_and(is_named);
        is_named(&one.record.hash) || (is_touched && one.standing.counts())
    });
    receipt.results = Shown::all(&study, results)?;
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}

/// Everything that was named; a slip in one of them is found before anything is signed.
fn targets(study: &Study, arguments: &ApproveArguments) -> Result<Vec<(String, Digest)>, Failure> {
    let mut found = Vec::new();
    if arguments.method {
        let revision = study.method()?;
        let name = format!("revision {} of the method {}", revision.method.revision, revision.method.name);
        found.push((name, revision.record));
    }
    for name in &arguments.calibration {
        let one = study.calibration(name.trim())?;
        found.push((format!("calibration {} (lot {})", one.label, one.act.result.lot), one.record.hash));
    }
    for name in &arguments.result {
        let one = study.determination(name.trim())?;
        found.push((format!("result {} of {}", one.label, one.act.result.sample), one.record.hash));
    }
    for name in &arguments.campaign {
        let one = study.campaign(name.trim())?;
        found.push((format!("campaign {} \"{}\"", one.label, one.act.name), one.record.hash));
    }
    Ok(found)
}

pub(super) fn lot(arguments: &LotArguments) -> Printed {
    let mut study = Study::open_now(&arguments.study)?;
    let person = unlock(&arguments.signing, &arguments.by.actor)?;
    let statement = LotStatement {
        lot: arguments.lot.clone(),
        identity: arguments.identity.clone(),
        last_day: arguments.last_day.clone(),
        storage: arguments.storage.clone(),
        sensitivity_a_per_unit: arguments.sensitivity_a_per_unit,
        blank_a: arguments.blank_a,
    };
    let record = study.record_lot(&statement, &person, &arguments.by.reason)?;
    let in_force = study.lot_last_day(&statement.lot)?.unwrap_or_default();
    let said = if in_force == statement.last_day.trim() {
        format!(
            "lot {}: {}; last day {in_force}; signed by {}",
            statement.lot,
            statement.identity,
            person.name()
        )
    } else {
        until(&format!("lot {} may be used", statement.lot), &statement.last_day, &in_force)
    };
    let mut receipt = Receipt::of(&study, said, vec![record])?;
    receipt.said.extend(study.unknown_lot(&statement.lot)?);
    let mut results = study.determinations()?;
    results.retain(|one| one.act.result.lot == statement.lot && one.standing.counts());
    let mut results = Shown::all(&study, results)?;
    results.retain(|shown| !shown.today.is_empty());
    let attention = !results.is_empty();
    receipt.results = results;
    Ok((printed(&receipt, arguments.output.format), Outcome::attention_if(attention)))
}
