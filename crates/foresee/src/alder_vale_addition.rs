//! The invented scenario "Alder Vale, two more wells": one whose water takes a part of the signal, and one that does not.
//!
//! In: the plan below, the strip and the handheld of `examples/cells`, one seed. Out: every file of
//! `examples/alder-vale-addition`, as bytes, the same every time. No district, well, lot, laboratory, person or product is meant.

use stillwell_method::{Method, NamedText, RawFile, Role};
use stillwell_twin::Fault;

use crate::alder_vale::{CELL_TEXT, CIRCUIT_TEXT, decimal_comma_form};
use crate::bench::Bench;
use crate::error::ForeseeError;
use crate::model::{CellModel, CircuitModel};
use crate::plan::{Batch, Measurement, Water};
use crate::record::simulate_plan;

/// The method file of the scenario.
pub const METHOD_TEXT: NamedText<'static> = NamedText {
    name: "method.toml",
    text: include_str!("../../../examples/alder-vale-addition/method.toml"),
};

/// The story with the true values.
pub const README: &str = include_str!("../../../examples/alder-vale-addition/README.md");

const SEED: u64 = 2026;
const BENCH_C: f64 = 21.0;
const STRIPS: u32 = 3;
const SCANS: u32 = 2;
/// What is added to the vials, mg/L as NO₃⁻ in the measured volume.
const ADDITIONS: [f64; 5] = [0.0, 15.0, 30.0, 45.0, 60.0];

/// A well of which a vial is measured as it is, and further vials with additions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AddedWell {
    /// Name on the run sheet.
    pub name: &'static str,
    /// True value in the well, mg/L as NO₃⁻.
    pub truth_mg_per_l: f64,
    /// Share of the strip's active sites that its water leaves free.
    pub free_share: f64,
}

/// The wells in the order of the work.
pub const ADDED_WELLS: [AddedWell; 2] = [
    AddedWell { name: "AV-09", truth_mg_per_l: 57.0, free_share: 0.76 },
    AddedWell { name: "AV-10", truth_mg_per_l: 33.0, free_share: 1.0 },
];

/// Every file that is simulated: the raw files, then `run-sheet.csv`. `progress` is called after each scan.
///
/// # Errors
/// None that a user could cause: a fault in the texts beside this room would show here.
pub fn files(progress: impl Fn() + Sync) -> Result<Vec<RawFile>, ForeseeError> {
    let method = Method::parse(METHOD_TEXT.name, METHOD_TEXT.text)?;
    let cell = CellModel::parse(CELL_TEXT.name, CELL_TEXT.text)?;
    let circuit = CircuitModel::parse(CIRCUIT_TEXT.name, CIRCUIT_TEXT.text)?;
    let bench = Bench { cell: &cell, circuit: &circuit, technique: &method.technique, seed: SEED };
    let batches = [batch()];
    let traces = simulate_plan(bench, &batches, &method.analyte.reported_as, progress)?;
    let recorded = traces.recorded(&circuit.circuit)?;
    let mut files = recorded.files;
    files.push(RawFile { name: "run-sheet.csv".to_owned(), bytes: recorded.run_sheet.into_bytes() });
    Ok(files)
}

fn batch() -> Batch {
    let levels = [0.0, 10.0, 25.0, 50.0, 75.0, 100.0];
    let standards = levels.map(|level| Measurement::known(Role::Standard, level, STRIPS, SCANS));
    let control = Measurement::known(Role::ElectrodeControl, 25.0, 2, SCANS);
    let files = [
        ("blanks", vec![Measurement::new(Role::Blank, 0.0, STRIPS)]),
        ("standards", standards.to_vec()),
        ("opening-checks", vec![check("before the wells"), control]),
        ("wells", ADDED_WELLS.iter().map(as_it_is).collect()),
        ("additions", ADDED_WELLS.iter().flat_map(with_additions).collect()),
        ("closing-checks", vec![check("after the wells")]),
    ];
    Batch {
        name: "B4".to_owned(),
        date: "2026-06-09".to_owned(),
        lot: "L24".to_owned(),
        lot_number: 24,
        strips_used: 0,
        form: decimal_comma_form(),
        extension: "csv",
        files: files
            .into_iter()
            .map(|(stem, measurements)| (stem.to_owned(), measurements.into_iter().map(at_bench).collect()))
            .collect(),
    }
}

fn at_bench(measurement: Measurement) -> Measurement {
    Measurement { temperature_c: Some(BENCH_C), ..measurement }
}

fn check(note: &str) -> Measurement {
    Measurement { note: note.to_owned(), ..Measurement::known(Role::CheckStandard, 50.0, 2, SCANS) }
}

fn as_it_is(well: &AddedWell) -> Measurement {
    in_its_water(well, Measurement::sample(well.name, well.truth_mg_per_l, STRIPS, SCANS))
}

/// A fresh strip for each vial; the additions are small and strong, so that the sample is not diluted.
fn with_additions(well: &AddedWell) -> Vec<Measurement> {
    let additions = ADDITIONS.iter().map(|added| Measurement {
        role: Role::Addition,
        level: Some(*added),
        ..Measurement::sample(well.name, well.truth_mg_per_l + added, STRIPS, SCANS)
    });
    additions.map(|measurement| in_its_water(well, measurement)).collect()
}

/// What the water holds covers sites on every strip that is dipped into it. The double layer under it stays as it was.
fn in_its_water(well: &AddedWell, measurement: Measurement) -> Measurement {
    let [ph, chloride, conductivity] =
        if well.free_share < 1.0 { ["3.1", "64", "810"] } else { ["3.0", "38", "590"] };
    let covered = Fault::WrongElectrode {
        area_factor: well.free_share,
        rate_factor: 1.0,
        double_layer_factor: 1.0 / well.free_share,
    };
    let faults = if well.free_share < 1.0 { vec![(covered, measurement.strips)] } else { Vec::new() };
    Measurement {
        water: Water {
            ph: ph.to_owned(),
            chloride_mg_per_l: chloride.to_owned(),
            conductivity_us_per_cm: conductivity.to_owned(),
        },
        faults,
        ..measurement
    }
}
