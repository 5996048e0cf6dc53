//! `calibrate`: the curve, its statistics, its limits, its acceptance.

use super::report_of;
use crate::args::{Format, PlainFolderArguments};
use crate::exit::{Failure, Outcome};
use crate::{json, render};

pub(crate) fn run(arguments: &PlainFolderArguments) -> Result<(String, Outcome), Failure> {
    let report = report_of(&arguments.folder)?;
    if report.calibrations.is_empty() {
        return Err(Failure::NotThere {
            what: "the run sheet names no standard".to_owned(),
            cure: "add lines with role standard, their level and unit".to_owned(),
        });
    }
    let attention = report.calibrations.iter().any(|calibration| !calibration.is_accepted());
    let text = match arguments.format {
        Format::Table => render::calibrations::table_for(&report),
        Format::Json => json::text(&json::calibrations::of(&report)),
    };
    Ok((text, Outcome::attention_if(attention)))
}
