//! Acts about what is on record: `study withdraw`, `exclude`, `override`, `custody`, `validity`.

use stillwell_report::json::study::Receipt;
use stillwell_study::{By, Custody, Digest, Record, Shown, Study, shell_path};

use super::passphrase::unlock;
use super::source::series_of;
use super::{printed, scan_of};
use crate::exit::{Failure, Outcome};
use crate::study_args::{
    Actor, CustodyArguments, ExcludeArguments, OverrideArguments, ValidityArguments, WithdrawArguments,
};

type Printed = Result<(String, Outcome), Failure>;

fn by(actor: &Actor) -> Result<By, Failure> {
    Ok(By::new(&actor.actor, &actor.reason)?)
}

pub(super) fn withdraw(arguments: &WithdrawArguments) -> Printed {
    let by = by(&arguments.by)?;
    let mut study = Study::open_now(&arguments.study)?;
    let (name, target, is_calibration) = withdrawn(&study, arguments)?;
    let record = if arguments.signed {
        let person = unlock(&arguments.signing, &arguments.by.actor)?;
        study.withdraw_signed(&target, &person, &arguments.by.reason)?
    } else {
        study.withdraw(&target, &by)?
    };
    let mut receipt = Receipt::of(&study, format!("{name} is withdrawn; its record stays"), vec![record])?;
    let mut outcome = Outcome::Done;
    if is_calibration {
        receipt.results = Shown::all(&study, study.touched_by(&target)?)?;
        receipt.said.push(touched(receipt.results.len()));
        outcome = Outcome::attention_if(receipt.results.iter().any(Shown::needs_attention));
    }
    Ok((printed(&receipt, arguments.output.format), outcome))
}

fn touched(n: usize) -> String {
    match n {
        0 => "no issued result was read off it".to_owned(),
        n => format!("it touches {n} issued results; no verdict may be drawn from them:"),
    }
}

fn withdrawn(study: &Study, arguments: &WithdrawArguments) -> Result<(String, Digest, bool), Failure> {
    if let Some(name) = &arguments.calibration {
        let one = study.calibration(name)?;
        return Ok((format!("calibration {}", one.label), one.record.hash, true));
    }
    if let Some(name) = &arguments.result {
        let one = study.determination(name)?;
        let sample = &one.act.result.sample;
        return Ok((format!("result {} of {sample}", one.label), one.record.hash, false));
    }
    if let Some(name) = &arguments.campaign {
        let one = study.campaign(name)?;
        return Ok((format!("campaign {} \"{}\"", one.label, one.act.name), one.record.hash, false));
    }
    if let Some(name) = &arguments.laboratory {
        let one = study.laboratory(name)?;
        return Ok((format!("laboratory record {} ({})", one.label, one.act.file), one.record.hash, false));
    }
    let owner = arguments.owner.as_deref().unwrap_or_default();
    let keys = study.keys()?;
    let known: Vec<String> = keys.iter().map(|(_, key)| key.name.clone()).collect();
    // The newest key of that person that is still in force.
    let mut found: Option<Record> = None;
    for (record, key) in keys {
        if key.name == owner && study.standing(&record)?.withdrawn.is_none() {
            found = Some(record);
        }
    }
    let record = found.ok_or_else(|| Failure::NotThere {
        what: format!("there is no key of \"{owner}\" in force"),
        cure: if known.is_empty() {
            "this study knows no key yet: `stillwell study key add` tells it one".to_owned()
        } else {
            format!("keys of: {}", known.join(", "))
        },
    })?;
    Ok((format!("the key of {owner}"), record.hash, false))
}

pub(super) fn exclude(arguments: &ExcludeArguments) -> Printed {
    let by = by(&arguments.by)?;
    let scan = scan_of(&arguments.scan)?;
    let mut study = Study::open_now(&arguments.study)?;
    let series = series_of(&study, arguments.series.as_deref())?;
    let record = study.exclude(&series.record.hash, &scan, &by)?;
    let said = format!("{} of series {} is left out from now on", scan.label(), series.label);
    let mut receipt = Receipt::of(&study, said, vec![record])?;
    receipt.hints.push(to_issue(&study));
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}

pub(super) fn override_check(arguments: &OverrideArguments) -> Printed {
    let by = by(&arguments.by)?;
    let scan = scan_of(&arguments.scan)?;
    let mut study = Study::open_now(&arguments.study)?;
    let series = series_of(&study, arguments.series.as_deref())?;
    let record = study.override_check(&series.record.hash, &scan, &arguments.check, &by)?;
    let said = format!(
        "{} of series {} is used from now on in spite of {}",
        scan.label(),
        series.label,
        arguments.check
    );
    let mut receipt = Receipt::of(&study, said, vec![record])?;
    receipt.hints.push(to_issue(&study));
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}

fn to_issue(study: &Study) -> String {
    format!("issued results stand as they are until: stillwell study determine {}", shell_path(study.path()))
}

pub(super) fn custody(arguments: &CustodyArguments) -> Printed {
    let by = by(&arguments.by)?;
    let mut study = Study::open_now(&arguments.study)?;
    let custody = Custody {
        sample: arguments.sample.clone(),
        place: arguments.place.clone(),
        taken: arguments.taken.clone(),
        taken_by: arguments.taken_by.clone(),
        preservation: arguments.preservation.clone(),
        holding_time_h: arguments.holding_time_h,
        dilution: arguments.dilution.clone(),
    };
    let record = study.record_custody(&custody, &by)?;
    let said = format!("custody of {}: taken at {}, {}", custody.sample, custody.place, custody.taken);
    let mut receipt = Receipt::of(&study, said, vec![record])?;
    receipt.said.extend(study.unknown_sample(&custody.sample)?);
    let mut results = study.determinations()?;
    results.retain(|one| one.act.result.sample == custody.sample && one.standing.counts());
    receipt.results = Shown::all(&study, results)?;
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}

pub(super) fn validity(arguments: &ValidityArguments) -> Printed {
    let by = by(&arguments.by)?;
    let mut study = Study::open_now(&arguments.study)?;
    let calibration = study.calibration(&arguments.calibration)?;
    let (hash, label) = (calibration.record.hash, &calibration.label);
    let triggers: Vec<&str> = arguments.ends_with.iter().map(String::as_str).collect();
    let (record, said) = match (&arguments.last_day, &arguments.ended_on) {
        (Some(day), _) => {
            let record = if arguments.signed {
                let person = unlock(&arguments.signing, &arguments.by.actor)?;
                study.set_validity_signed(&hash, day, &triggers, &person, by.reason())?
            } else {
                study.set_validity(&hash, day, &triggers, &by)?
            };
            let in_force = study.calibration_last_day(&hash)?.unwrap_or_default();
            (record, until(&format!("calibration {label} may be used"), day, &in_force))
        }
        (None, day) => {
            let day = day.as_deref().unwrap_or_default();
            let said = format!("calibration {label} ended on {day}: {}", by.reason());
            (study.end_validity(&hash, day, &by)?, said)
        }
    };
    let mut receipt = Receipt::of(&study, said, vec![record])?;
    let mut results = Shown::all(&study, study.touched_by(&hash)?)?;
    results.retain(|shown| !shown.today.is_empty());
    if !results.is_empty() {
        receipt.said.push(touched(results.len()));
    }
    receipt.results = results;
    let outcome = Outcome::attention_if(receipt.results.iter().any(Shown::needs_attention));
    Ok((printed(&receipt, arguments.output.format), outcome))
}

/// Until when something may be used; a later day than before counts only by an approver's signature.
pub(super) fn until(what: &str, stated: &str, in_force: &str) -> String {
    if stated.trim() == in_force {
        return format!("{what} until {in_force}");
    }
    format!(
        "{what} until {in_force}, as before: {} is later, is on record, and does not extend it, since no approver's key signed it",
        stated.trim()
    )
}
