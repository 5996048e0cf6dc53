//! `twin`: a folder of simulated raw scans whose truth is known.

use std::collections::BTreeSet;
use std::path::Path;

use stillwell_folder::METHOD_FILE;
use stillwell_foresee::{CellModel, CircuitModel, KnownTruth, alder_vale};
use stillwell_method::{Method, NamedText, RawFile};
use stillwell_report::json;
use stillwell_report::json::truth::Made;

use super::new_folder;
use super::text_files::{cell_at, circuit_at, method_of};
use crate::args::{Format, TwinArguments};
use crate::exit::{Failure, Outcome};
use crate::progress::Counter;
use crate::render;

pub(crate) fn run(arguments: &TwinArguments) -> Result<(String, Outcome), Failure> {
    new_folder::check_free(&arguments.out)?;
    let (method, text) = method_of(&arguments.method)?;
    let cell = cell_at(&arguments.cell)?;
    let (circuit, circuit_name) = circuit(arguments.circuit.as_deref())?;
    let truth = truth(arguments, &method)?;
    let files = simulated(&truth, (&method, &text), &cell, &circuit)?;
    let made = Made {
        method: &method,
        truth: &truth,
        cell: &cell,
        cell_name: &name_of(&arguments.cell),
        circuit_name: &circuit_name,
        n_scans: truth.batch(&method, &circuit)?.n_scans(),
    };
    let of_truth = RawFile { name: "TRUTH.md".to_owned(), bytes: render::truth::page(&made).into_bytes() };
    let of_method = RawFile { name: METHOD_FILE.to_owned(), bytes: text.into_bytes() };
    let files: Vec<RawFile> = [of_truth, of_method].into_iter().chain(files).collect();
    new_folder::write(&arguments.out, &files)?;
    let printed = match arguments.output.format {
        Format::Table => render::truth::summary(&made, &arguments.out, &files),
        Format::Json => json::text(&json::truth::of(&made, &files)),
    };
    Ok((printed, Outcome::Done))
}

/// The circuit and its name; the handheld of the examples where none is given.
pub(super) fn circuit(path: Option<&Path>) -> Result<(CircuitModel, String), Failure> {
    let Some(path) = path else {
        let text = alder_vale::CIRCUIT_TEXT;
        let model =
            CircuitModel::parse(text.name, text.text).map_err(|found| Failure::Problems(found.problems))?;
        return Ok((model, format!("{} of the examples, for want of another", text.name)));
    };
    Ok((circuit_at(path)?, name_of(path)))
}

pub(super) fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// What the method asks for, but for what the arguments say.
fn truth(arguments: &TwinArguments, method: &Method) -> Result<KnownTruth, Failure> {
    let mut truth = KnownTruth::of_method(method, arguments.seed);
    if !arguments.levels.is_empty() {
        truth.levels.clone_from(&arguments.levels);
    }
    truth.replicates = arguments.replicates.unwrap_or(truth.replicates);
    if !arguments.samples.is_empty() {
        truth.samples.clone_from(&arguments.samples);
    }
    let mut names = BTreeSet::new();
    match truth.samples.iter().find(|(name, _)| !names.insert(name)) {
        None => Ok(truth),
        Some((name, _)) => Err(Failure::NotThere {
            what: format!("two samples are named \"{name}\""),
            cure: "give each sample a name of its own".to_owned(),
        }),
    }
}

fn simulated(
    truth: &KnownTruth,
    (method, text): (&Method, &str),
    cell: &CellModel,
    circuit: &CircuitModel,
) -> Result<Vec<RawFile>, Failure> {
    let counter = Counter::new("simulating scan", truth.batch(method, circuit)?.n_scans() as u64);
    let text = NamedText { name: METHOD_FILE, text };
    Ok(truth.files((method, text), cell, circuit, || counter.step())?)
}
