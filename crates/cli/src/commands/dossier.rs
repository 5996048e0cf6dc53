//! `dossier`: one document, ready to print, from which an assessor sees why a study's numbers may be believed.

use std::path::{Path, PathBuf};

use stillwell_report::dossier::{DossierInput, dossier};
use stillwell_report::json;
use stillwell_report::json::dossiers::Written;
use stillwell_study::Study;

use super::{figure, source};
use crate::args::{DossierArguments, Format};
use crate::exit::{Failure, Outcome};
use crate::progress::during;
use crate::render;

pub(crate) fn run(arguments: &DossierArguments) -> Result<(String, Outcome), Failure> {
    let path = arguments.out.clone().unwrap_or_else(|| PathBuf::from("dossier.html"));
    check_name(&path, "the dossier")?;
    if !source::is_a_study(&arguments.study)? {
        return Err(Failure::NotThere {
            what: format!("{} is no study", arguments.study.display()),
            cure: "a dossier rests on a ledger: begin one with stillwell study new, and take the folder in with stillwell study add".to_owned(),
        });
    }
    let study = Study::open_to_read(&arguments.study)?;
    let series = source::series_of(&study, arguments.series.as_deref())?;
    let input = during("gathering", || DossierInput::gather(&study, &series))?;
    let document = dossier(&input);
    figure::write(&path, &document)?;
    let written = Written { input: &input, path: &path, document: &document };
    let text = match arguments.output.format {
        Format::Table => render::dossiers::text(&written),
        Format::Json => json::text(&json::dossiers::of(&written)),
    };
    Ok((text, Outcome::attention_if(!input.is_free())))
}

/// Only names that end in .html are taken: a slip of the keyboard must not cost a raw file or the study.
pub(super) fn check_name(path: &Path, what: &str) -> Result<(), Failure> {
    if path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("html")) {
        return Ok(());
    }
    Err(Failure::NotThere {
        what: format!("{} does not end in .html", path.display()),
        cure: format!("{what} is HTML: give a name such as page.html"),
    })
}
