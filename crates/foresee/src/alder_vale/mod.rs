//! The invented scenario "Alder Vale": farmland wells, nitrate by disposable copper-modified strips, three lots.
//!
//! In: the plan written down in `plan.rs`, the strip and the handheld of `examples/cells`, one seed. Out: every file of the
//! folder, as bytes, the same every time. No district, well, lot, laboratory, person or product is meant.

mod plan;

pub(crate) use plan::decimal_comma_form;

use stillwell_method::{Method, NamedText, RawFile};

use crate::bench::Bench;
use crate::error::ForeseeError;
use crate::model::{CellModel, CircuitModel};
use crate::plan::Batch;
use crate::record::simulate_plan;

/// The method file of the scenario.
pub const METHOD_TEXT: NamedText<'static> =
    NamedText { name: "method.toml", text: include_str!("../../../../examples/alder-vale/method.toml") };

/// The strip.
pub const CELL_TEXT: NamedText<'static> = NamedText {
    name: "copper-strip.toml",
    text: include_str!("../../../../examples/cells/copper-strip.toml"),
};

/// The circuit that reads it.
pub const CIRCUIT_TEXT: NamedText<'static> =
    NamedText { name: "handheld.toml", text: include_str!("../../../../examples/cells/handheld.toml") };

/// The story, well by well, with the true values.
pub const README: &str = include_str!("../../../../examples/alder-vale/README.md");

const SEED: u64 = 2026;

/// One well: its name, the true value in mg/L as NO₃⁻, and what it is meant to show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Well {
    /// Name on the run sheet.
    pub name: &'static str,
    /// True value in the well, mg/L as NO₃⁻.
    pub truth_mg_per_l: f64,
    /// What it is meant to show, in one line.
    pub shows: &'static str,
}

/// The wells in the order of their names.
pub const WELLS: [Well; 8] = [
    Well { name: "AV-01", truth_mg_per_l: 17.6, shows: "clearly below the limit" },
    Well { name: "AV-02", truth_mg_per_l: 49.3, shows: "too close to the limit to call" },
    Well { name: "AV-03", truth_mg_per_l: 78.0, shows: "over the limit, conductivity not measured" },
    Well { name: "AV-04", truth_mg_per_l: 71.0, shows: "over the limit, but the range was too small" },
    Well { name: "AV-05", truth_mg_per_l: 0.0, shows: "no nitrate, on strips proved to be alive" },
    Well { name: "AV-06", truth_mg_per_l: 148.0, shows: "more than the calibration covers" },
    Well { name: "AV-07", truth_mg_per_l: 61.0, shows: "over the limit once its dilution is counted" },
    Well { name: "AV-08", truth_mg_per_l: 31.0, shows: "measured cold, corrected by the method" },
];

/// How many scans the scenario holds.
pub fn n_scans() -> usize {
    plan::batches().iter().map(Batch::n_scans).sum()
}

/// Every file that is simulated: the raw files batch by batch, then `run-sheet.csv`. `progress` is called after each scan.
///
/// # Errors
/// None that a user could cause: a fault in the texts beside this room would show here.
pub fn files(progress: impl Fn() + Sync) -> Result<Vec<RawFile>, ForeseeError> {
    let method = Method::parse(METHOD_TEXT.name, METHOD_TEXT.text)?;
    let cell = CellModel::parse(CELL_TEXT.name, CELL_TEXT.text)?;
    let circuit = CircuitModel::parse(CIRCUIT_TEXT.name, CIRCUIT_TEXT.text)?;
    let bench = Bench { cell: &cell, circuit: &circuit, technique: &method.technique, seed: SEED };
    let batches = plan::batches();
    let traces = simulate_plan(bench, &batches, &method.analyte.reported_as, progress)?;
    let recorded = traces.recorded(&circuit.circuit)?;
    let mut files = recorded.files;
    files.push(RawFile { name: "run-sheet.csv".to_owned(), bytes: recorded.run_sheet.into_bytes() });
    Ok(files)
}
