//! One file a command.

pub(crate) mod addition;
pub(crate) mod budget;
pub(crate) mod calibrate;
pub(crate) mod completions;
pub(crate) mod determine;
pub(crate) mod evaluate;
pub(crate) mod explain;
mod figure;
pub(crate) mod foresee;
pub(crate) mod inspect;
pub(crate) mod man;
mod new_folder;
pub(crate) mod plan;
pub(crate) mod prepare;
mod text_files;
pub(crate) mod twin;

use std::path::Path;

use stillwell_method::{Input, Report, determine as walk_the_chain};

use crate::exit::Failure;
use crate::progress::Progress;

/// Opens a folder and walks the chain, with progress on the way.
fn report_of(folder: &Path) -> Result<Report, Failure> {
    input_and_report_of(folder).map(|(_, report)| report)
}

/// The same, with the input, for whoever draws its curves.
fn input_and_report_of(folder: &Path) -> Result<(Input, Report), Failure> {
    let mut progress = Progress::new();
    let input = opened(folder, &mut progress)?;
    progress.show("evaluating");
    let report = walk_the_chain(&input);
    Ok((input, report))
}

/// The input alone, for whoever walks another way.
fn input_of(folder: &Path) -> Result<Input, Failure> {
    opened(folder, &mut Progress::new())
}

fn opened(folder: &Path, progress: &mut Progress) -> Result<Input, Failure> {
    stillwell_folder::open(folder, |name| progress.show(&format!("reading {name}")))
        .map_err(|error| Failure::Folder { folder: folder.to_owned(), error })
}
