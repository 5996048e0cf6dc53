//! `plan`: how many standards, strips and scans reach a target uncertainty, from standards at hand or simulated lots.

use std::path::Path;

use stillwell_calibrate::PlanError;
use stillwell_folder::METHOD_FILE;
use stillwell_foresee::Question;
use stillwell_method::{
    Method, NamedText, PlanBasis, PlanRequest, Report, determine_lot_by_lot, plan, plan_basis, scan_minutes,
};
use stillwell_quantity::{Concentration, QuantityError, ReadingNote};
use stillwell_report::json;
use stillwell_report::json::plans::Asked;

use super::source::{input_of, is_a_study};
use super::text_files::{cell_at, method_of};
use super::twin::{circuit, name_of};
use crate::args::{Format, Place};
use crate::bench_args::PlanArguments;
use crate::exit::{Failure, Outcome};
use crate::progress::Counter;
use crate::render;

/// The run sheet that makes a folder one to learn from.
const RUN_SHEET: &str = "run-sheet.csv";

pub(crate) fn run(arguments: &PlanArguments) -> Result<(String, Outcome), Failure> {
    let (method, text) = method_of(&arguments.method)?;
    let (level, remark) = level(&arguments.at, &method)?;
    let (reports, source) = reports(arguments, &method, &text)?;
    let basis = plan_basis(&method, &reports)
        .map_err(|error| Failure::NotThere { what: error.to_string(), cure: cure(&source) })?;
    let request = request(arguments, &method, level)?;
    let asked = Asked { method: &method, basis: &basis, request: &request, source: &source, remark };
    answer(&asked, arguments.output.format)
}

fn answer(asked: &Asked<'_>, format: Format) -> Result<(String, Outcome), Failure> {
    match plan(asked.method, &asked.basis.components, asked.request) {
        Ok(found) => {
            let text = match format {
                Format::Table => render::plans::text(asked, &found),
                Format::Json => json::text(&json::plans::of(asked, &found)),
            };
            Ok((text, Outcome::Done))
        }
        Err(refusal) => match &refusal.error {
            PlanError::NoReplicatesReach { .. } | PlanError::NotWithinMost { .. } => {
                let text = match format {
                    Format::Table => render::plans::refused(asked, &refusal.words),
                    Format::Json => json::text(&json::plans::refused(asked, &refusal)),
                };
                Ok((text, Outcome::Attention))
            }
            _ => {
                let levels = &asked.method.calibration.levels;
                let list: Vec<String> = levels.iter().map(f64::to_string).collect();
                let cure = format!("the method's levels are {} {}", list.join(", "), asked.unit());
                Err(Failure::NotThere { what: refusal.words, cure })
            }
        },
    }
}

/// The level in the method's reporting unit, and what was taken for granted.
fn level(text: &str, method: &Method) -> Result<(f64, Option<String>), Failure> {
    let kind = &method.analyte.reported_as;
    let failed = |error: QuantityError| Failure::NotThere {
        what: format!("--at: {error}"),
        cure: format!("write a number and its unit, such as \"50 {kind}\""),
    };
    if text.trim().parse::<f64>().is_ok() {
        return Err(Failure::NotThere {
            what: format!("--at: \"{}\" has no unit", text.trim()),
            cure: format!("write a number and its unit, such as \"50 {kind}\""),
        });
    }
    let analyte = kind.species.analyte();
    match Concentration::parse(text, Some(analyte)) {
        Ok(read) => {
            let in_kind = read.value.to_kind(kind).map_err(failed)?;
            Ok((in_kind.value(), read.note.as_ref().map(ReadingNote::to_string)))
        }
        // The method says what its numbers count; a plan may take the level so, if it says that it did.
        Err(open @ QuantityError::FormMissing { .. }) => {
            let Some(form) = kind.species.form() else { return Err(failed(open)) };
            let read = Concentration::parse(&format!("{text} as {form}"), Some(analyte)).map_err(failed)?;
            let in_kind = read.value.to_kind(kind).map_err(failed)?;
            Ok((in_kind.value(), Some(format!("\"{text}\" taken as {form}, as the method reports"))))
        }
        Err(error) => Err(failed(error)),
    }
}

/// Calibrations to take components from, and where they come from.
fn reports(arguments: &PlanArguments, method: &Method, text: &str) -> Result<(Vec<Report>, String), Failure> {
    if let Some(cell_path) = &arguments.cell {
        let cell = cell_at(cell_path)?;
        let (model, circuit_name) = circuit(arguments.circuit.as_deref())?;
        let question = Question {
            method,
            method_text: NamedText { name: METHOD_FILE, text },
            cell: &cell,
            trials: arguments.lots,
            seed: arguments.seed,
        };
        let counter = Counter::new("simulating lot", u64::from(arguments.lots));
        let reports = question.calibrated_lots(&model, || counter.step())?;
        let source = format!(
            "{} simulated lots of {}, read by {circuit_name}, seed {}: a forecast, not a measurement",
            arguments.lots,
            name_of(cell_path),
            arguments.seed
        );
        return Ok((reports, source));
    }
    let is_place = arguments.method.join(RUN_SHEET).is_file() || is_a_study(&arguments.method)?;
    let own = || is_place.then_some(arguments.method.as_path());
    let folder: &Path = arguments.from.as_deref().or_else(own).ok_or_else(|| Failure::NotThere {
        what: "nothing is known of how strips differ, and nothing is supposed".to_owned(),
        cure: "name a folder with standards (--from FOLDER), or a cell whose strips the twin simulates (--cell CELL.toml)"
            .to_owned(),
    })?;
    let report = determine_lot_by_lot(&input_of(&Place { folder: folder.to_owned(), series: None })?.0);
    Ok((vec![report], format!("the standards of {}", folder.display())))
}

fn cure(source: &str) -> String {
    format!("this was asked of {source}")
}

fn request(arguments: &PlanArguments, method: &Method, level: f64) -> Result<PlanRequest, Failure> {
    let minutes_per_scan = arguments
        .minutes_per_scan
        .or_else(|| scan_minutes(&method.technique))
        .ok_or_else(|| Failure::NotThere {
            what: "the method leaves open how long a scan takes".to_owned(),
            cure: "state it: --minutes-per-scan 1".to_owned(),
        })?;
    Ok(PlanRequest {
        target_relative_u: arguments.target_u,
        level,
        samples_per_calibration: arguments.samples,
        most_strips: arguments.strips_most,
        most_sample_strips: arguments.sample_strips_most,
        most_scans: arguments.scans_most,
        minutes_per_strip: arguments.minutes_per_strip + PlanBasis::wait_minutes(method),
        minutes_per_scan,
    })
}
