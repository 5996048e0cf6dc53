//! What leaves a study and what comes from a colleague: `study export`, `import`, `merge`, `archive`.

use stillwell_report::json::study::Receipt;
use stillwell_study::{Clock, Merged, Study};

use super::{name_of, printed, routine};
use crate::exit::{Failure, Outcome};
use crate::progress::during;
use crate::render::numbers::counted;
use crate::study_args::{ImportArguments, MergeArguments, ToFileArguments, ToFolderArguments};

type Printed = Result<(String, Outcome), Failure>;

pub(super) fn export(arguments: &ToFileArguments) -> Printed {
    let study = Study::open_to_read(&arguments.study)?;
    during("writing the bundle", || study.export(&arguments.to))?;
    let to = arguments.to.display();
    let said = format!("{to} holds everything that is recorded so far, and is a study itself");
    let mut receipt = Receipt::of(&study, said, Vec::new())?;
    receipt.hints.push(format!("for the colleague: stillwell study import {to} FILE --as NAME"));
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}

pub(super) fn import(arguments: &ImportArguments) -> Printed {
    let by = routine(&arguments.by, "begun from a colleague's bundle")?;
    let name = name_of(arguments.name.as_deref(), &arguments.study);
    let (study, merged) = during("verifying and taking in", || {
        Study::import(&arguments.bundle, &arguments.study, &name, &by, Clock::system())
    })?;
    let records = study.history(None)?.into_iter().filter(|entry| !entry.is_foreign);
    let records = records.map(|entry| entry.record).collect();
    let said = format!("study \"{name}\" begun in {}: {}", study.path().display(), in_words(&merged));
    Ok((printed(&Receipt::of(&study, said, records)?, arguments.output.format), Outcome::Done))
}

pub(super) fn merge(arguments: &MergeArguments) -> Printed {
    let by = routine(&arguments.by, "a colleague's records taken in")?;
    let mut study = Study::open_now(&arguments.study)?;
    let before = study.anchor()?;
    let merged = during("verifying and taking in", || study.merge(&arguments.other, &by))?;
    let mut records = Vec::new();
    if !merged.ledgers.is_empty() {
        let entries = study.history(None)?.into_iter().map(|entry| entry.record);
        records
            .extend(entries.filter(|r| r.chain == before.chain && r.seq > before.seq && r.kind == "merge"));
    }
    let said = if merged.ledgers.is_empty() {
        format!("{} holds nothing that is new here: nothing was done", arguments.other.display())
    } else {
        in_words(&merged)
    };
    Ok((printed(&Receipt::of(&study, said, records)?, arguments.output.format), Outcome::Done))
}

fn in_words(merged: &Merged) -> String {
    format!(
        "{} taken in as it is, with {}, {} and {} that were new here",
        counted(merged.ledgers.len(), "ledger"),
        counted(merged.n_records, "record"),
        counted(merged.n_texts, "text"),
        counted(merged.n_scans, "scan")
    )
}

pub(super) fn archive(arguments: &ToFolderArguments) -> Printed {
    let study = Study::open_to_read(&arguments.study)?;
    let archived = during("writing the archive", || study.archive(&arguments.to))?;
    let to = arguments.to.display();
    let said = format!(
        "{to} holds {} plain files with their SHA-256 sums; README.txt in it says what they are",
        archived.n_files
    );
    let receipt = Receipt { anchor: archived.anchor, ..Receipt::of(&study, said, Vec::new())? };
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}
