//! `evaluate`: one line for each scan.

use super::report_of;
use crate::args::{Format, PlainFolderArguments};
use crate::exit::{Failure, Outcome};
use crate::{json, render};

pub(crate) fn run(arguments: &PlainFolderArguments) -> Result<(String, Outcome), Failure> {
    let report = report_of(&arguments.folder)?;
    let refused = report.scans.iter().any(|scan| scan.counts() && scan.is_refused());
    let text = match arguments.format {
        Format::Table => render::scans::table_for(&report),
        Format::Json => json::text(&json::scans::of(&report)),
    };
    Ok((text, Outcome::attention_if(refused)))
}
