//! `study` and its commands: acts on a study and what it remembers.
//!
//! Each act is one transaction in the room below: whoever breaks in finds the study as it was before or after it.

mod acts;
mod campaign;
mod checking;
mod exchange;
mod intake;
mod issuing;
mod laboratory;
pub(super) mod passphrase;
mod people;
mod reading;

use std::path::Path;

use stillwell_report::json;
use stillwell_report::json::study::Receipt;
use stillwell_study::{By, ScanRef};

use super::source;
use crate::args::Format;
use crate::exit::{Failure, Outcome};
use crate::render;
use crate::study_args::{RoutineActor, StudyArguments, StudyCommand};

pub(crate) fn run(arguments: &StudyArguments) -> Result<(String, Outcome), Failure> {
    match &arguments.command {
        StudyCommand::New(arguments) => intake::new(arguments),
        StudyCommand::Add(arguments) => intake::add(arguments),
        StudyCommand::Determine(arguments) => issuing::determine(arguments),
        StudyCommand::Correct(arguments) => issuing::correct(arguments),
        StudyCommand::Show(arguments) => reading::show(arguments),
        StudyCommand::Chain(arguments) => reading::chain(arguments),
        StudyCommand::History(arguments) => reading::history(arguments),
        StudyCommand::Anchor(arguments) => reading::anchor(arguments),
        StudyCommand::Campaign(arguments) => campaign::record(arguments),
        StudyCommand::Labels(arguments) => campaign::labels(arguments),
        StudyCommand::Approve(arguments) => people::approve(arguments),
        StudyCommand::Key(arguments) => people::key(arguments),
        StudyCommand::Lot(arguments) => people::lot(arguments),
        StudyCommand::Laboratory(arguments) => laboratory::record(arguments),
        StudyCommand::Withdraw(arguments) => acts::withdraw(arguments),
        StudyCommand::Exclude(arguments) => acts::exclude(arguments),
        StudyCommand::Override(arguments) => acts::override_check(arguments),
        StudyCommand::Custody(arguments) => acts::custody(arguments),
        StudyCommand::Validity(arguments) => acts::validity(arguments),
        StudyCommand::Verify(arguments) => checking::verify(arguments),
        StudyCommand::Reevaluate(arguments) => checking::reevaluate(arguments),
        StudyCommand::Export(arguments) => exchange::export(arguments),
        StudyCommand::Import(arguments) => exchange::import(arguments),
        StudyCommand::Merge(arguments) => exchange::merge(arguments),
        StudyCommand::Archive(arguments) => exchange::archive(arguments),
    }
}

fn printed(receipt: &Receipt, format: Format) -> String {
    match format {
        Format::Table => render::study::receipt::text(receipt),
        Format::Json => json::text(&json::study::receipt(receipt)),
    }
}

/// Who acts, with the act itself as the reason where none is given.
fn routine(by: &RoutineActor, otherwise: &str) -> Result<By, Failure> {
    Ok(By::new(&by.actor, by.reason.as_deref().unwrap_or(otherwise))?)
}

/// The name of a study: as given, else that of the file.
fn name_of(given: Option<&str>, path: &Path) -> String {
    given.map_or_else(|| path.file_stem().unwrap_or_default().to_string_lossy().into_owned(), str::to_owned)
}

/// `FILE:N` as file and number of the scan.
fn scan_of(text: &str) -> Result<ScanRef, Failure> {
    let parts = text.rsplit_once(':').and_then(|(file, scan)| Some((file, scan.parse().ok()?)));
    let (file, scan) = parts.ok_or_else(|| Failure::NotThere {
        what: format!("\"{text}\" names no scan"),
        cure: "give raw file and number of the scan as FILE:N, such as wells-B2.txt:13".to_owned(),
    })?;
    Ok(ScanRef { file: file.to_owned(), scan })
}
