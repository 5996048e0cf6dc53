//! `study laboratory`: what an accredited laboratory found in the same waters.

use stillwell_report::json::study::Receipt;
use stillwell_report::wording::laboratory_words;
use stillwell_study::{By, Study, shell_path};

use super::printed;
use crate::commands::text_files::bytes_at;
use crate::exit::{Failure, Outcome};
use crate::study_args::LaboratoryArguments;

pub(super) fn record(arguments: &LaboratoryArguments) -> Result<(String, Outcome), Failure> {
    let by = By::new(&arguments.by.actor, &arguments.by.reason)?;
    let bytes = bytes_at(&arguments.file)?;
    let name = arguments.file.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let mut study = Study::open_now(&arguments.study)?;
    let taken = study.record_laboratory(&name, &bytes, &arguments.laboratory, &by)?;
    let one = study.laboratory(&taken.record.hash.to_string())?;
    let words = laboratory_words(&one.act);
    let (said, records) = if taken.was_there {
        (
            format!(
                "laboratory record {} holds this very file already: {words}; nothing was recorded",
                one.label
            ),
            Vec::new(),
        )
    } else {
        (format!("laboratory record {}: {words}", one.label), vec![taken.record])
    };
    let mut receipt = Receipt::of(&study, said, records)?;
    receipt.hints.push(format!("to compare: stillwell compare {}", shell_path(study.path())));
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}
