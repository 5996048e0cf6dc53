//! `study new` and `study add`.

use stillwell_report::json::study::Receipt;
use stillwell_study::{Clock, Delivery, Study};

use super::{name_of, printed, routine};
use crate::commands::text_files::method_of;
use crate::exit::{Failure, Outcome};
use crate::progress::Progress;
use crate::study_args::{AddArguments, NewArguments};

pub(super) fn new(arguments: &NewArguments) -> Result<(String, Outcome), Failure> {
    let (method, text) = method_of(&arguments.method)?;
    let by = routine(&arguments.by, "a study was begun")?;
    let name = name_of(arguments.name.as_deref(), &arguments.study);
    let study = Study::create(&arguments.study, &name, &text, &by, Clock::system())?;
    let path = study.path().display();
    let said = format!("study \"{name}\" begun in {path} with {}, revision {}", method.name, method.revision);
    let records = study.history(None)?.into_iter().map(|entry| entry.record).collect();
    let mut receipt = Receipt::of(&study, said, records)?;
    receipt.hints.push(format!("next: stillwell study add {path} FOLDER --as {}", quoted(by.actor())));
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}

pub(super) fn add(arguments: &AddArguments) -> Result<(String, Outcome), Failure> {
    let by = routine(&arguments.by, "raw scans taken in")?;
    if let Some(missing) = arguments.paths.iter().find(|path| !path.exists()) {
        return Err(Failure::NotThere {
            what: format!("there is no {}", missing.display()),
            cure: "name a folder that holds run-sheet.csv and the raw files beside it".to_owned(),
        });
    }
    let mut study = Study::open_now(&arguments.study)?;
    let delivery = Delivery::of(&arguments.paths)?;
    let mut progress = Progress::new();
    let n_files = delivery.raw_files.len();
    let added =
        study.add(&delivery, &by, |kept| progress.show(&format!("{kept} of {n_files} raw files kept")))?;
    drop(progress);
    let label = study.series()?.into_iter().find(|one| one.record.hash == added.series).map(|one| one.label);
    let label = label.unwrap_or_default();
    let name = &delivery.name;
    let said = if added.was_there {
        format!("{name} is there already as series {label}: nothing was done")
    } else {
        format!(
            "{name} is series {label}: {} raw files, {} of them new, {} scans, kept whole",
            added.n_files, added.n_new_files, added.n_scans
        )
    };
    let records = if added.was_there { Vec::new() } else { vec![study.record(&added.series)?] };
    let mut receipt = Receipt::of(&study, said, records)?;
    let path = study.path().display();
    receipt.hints.push(format!("next: stillwell study determine {path} --as {}", quoted(by.actor())));
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}

/// As a shell takes it.
fn quoted(name: &str) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "-_.".contains(c);
    if name.chars().all(is_plain) { name.to_owned() } else { format!("'{}'", name.replace('\'', "'\\''")) }
}
