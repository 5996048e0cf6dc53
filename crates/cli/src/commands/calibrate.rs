//! `calibrate`: the curve, its statistics, its limits, its acceptance, and its figure.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use stillwell_method::{CalibrationLink, Method, Report};
use stillwell_report::calibration_figure;
use stillwell_report::json;

use super::figure;
use super::source::{Opened, opened};
use crate::args::{CalibrateArguments, Format};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &CalibrateArguments) -> Result<(String, Outcome), Failure> {
    let Opened { input, report, study } = opened(&arguments.place)?;
    if report.calibrations.is_empty() {
        return Err(Failure::NotThere {
            what: "the run sheet names no standard".to_owned(),
            cure: "add lines with role standard, their level and unit".to_owned(),
        });
    }
    let attention = report.calibrations.iter().any(|calibration| !calibration.is_accepted());
    let mut text = match arguments.output.format {
        Format::Table => render::calibrations::table_for(&report),
        Format::Json => json::text(&json::study::from(json::calibrations::of(&report), study.as_ref())),
    };
    if let (Some(study), Format::Table) = (&study, arguments.output.format) {
        text.push_str(&render::study::beside::foot(&report, study, false));
    }
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
        let chosen = chosen(&report, arguments.lot.as_deref())?;
        let paths = write_figures(&input.method, &chosen, path)?;
        if arguments.output.format == Format::Table {
            text.push_str(&figure::written(&paths));
        }
    }
    Ok((text, Outcome::attention_if(attention)))
}

fn chosen<'r>(report: &'r Report, lot: Option<&str>) -> Result<Vec<&'r CalibrationLink>, Failure> {
    let is_wanted = |link: &&CalibrationLink| lot.is_none_or(|lot| link.key.lot == lot);
    let chosen: Vec<&CalibrationLink> = report.calibrations.iter().filter(is_wanted).collect();
    if !chosen.is_empty() {
        return Ok(chosen);
    }
    let known: BTreeSet<&str> = report.calibrations.iter().map(|link| link.key.lot.as_str()).collect();
    let known: Vec<&str> = known.into_iter().filter(|lot| !lot.is_empty()).collect();
    let cure = if known.is_empty() {
        "the calibration is not by lot: leave --lot out".to_owned()
    } else {
        format!("lots: {}", known.join(", "))
    };
    Err(Failure::NotThere {
        what: format!("there is no calibration of lot \"{}\"", lot.unwrap_or_default()),
        cure,
    })
}

/// One file where there is one calibration, else one each, named after lot and channel.
fn write_figures(method: &Method, links: &[&CalibrationLink], path: &Path) -> Result<Vec<PathBuf>, Failure> {
    let mut paths: Vec<PathBuf> = Vec::new();
    for (index, link) in links.iter().enumerate() {
        let mut own =
            if links.len() == 1 { path.to_owned() } else { figure::labelled(path, &link.key.label()) };
        if paths.contains(&own) {
            own = figure::labelled(&own, &(index + 1).to_string());
        }
        figure::write(&own, &calibration_figure(method, link).standalone())?;
        paths.push(own);
    }
    Ok(paths)
}
