//! From a plan to the files of a folder: every scan simulated, read by the circuit, and written down.

use rayon::prelude::*;
use stillwell_method::{Input, NamedText, RawFile};
use stillwell_quantity::QuantityKind;
use stillwell_scan::{Scan, TextForm, write};
use stillwell_twin::{Circuit, Trace, TwinError};

use crate::bench::{Bench, Exposure, amount_mol_per_m3};
use crate::error::ForeseeError;
use crate::plan::{Batch, PlannedScan};
use crate::sheet;

/// Scans that one run makes at most.
const MOST_SCANS: usize = 200_000;

/// A folder as a laboratory would have left it, but for the method file.
#[derive(Debug, Clone)]
pub struct Recorded {
    /// The raw files.
    pub files: Vec<RawFile>,
    /// The run sheet.
    pub run_sheet: String,
}

/// The currents of every scan of a plan, before a circuit reads them. Simulated once, they may be read by many circuits.
#[derive(Debug)]
pub struct Traces<'a> {
    bench: Bench<'a>,
    batches: &'a [Batch],
    kind: &'a QuantityKind,
    exposed: Vec<(Exposure, Trace)>,
}

/// Simulates every scan of the plan, over all cores; `progress` is called after each, from whichever thread made it.
///
/// # Errors
/// What the twin refuses, with the scan it refuses; more scans than one run should make.
pub fn simulate_plan<'a>(
    bench: Bench<'a>,
    batches: &'a [Batch],
    kind: &'a QuantityKind,
    progress: impl Fn() + Sync,
) -> Result<Traces<'a>, ForeseeError> {
    bench.check()?;
    let found = batches.iter().map(Batch::n_scans).sum();
    if found > MOST_SCANS {
        return Err(ForeseeError::TooMany { found, at_most: MOST_SCANS });
    }
    let planned: Vec<PlannedScan<'_>> = batches.iter().flat_map(Batch::scans).collect();
    let exposed = planned
        .par_iter()
        .map(|scan| {
            let exposure = exposure(scan, kind)?;
            let trace = bench.trace(&exposure).map_err(|source| refused(scan, source))?;
            progress();
            Ok((exposure, trace))
        })
        .collect::<Result<Vec<_>, ForeseeError>>()?;
    Ok(Traces { bench, batches, kind, exposed })
}

impl Traces<'_> {
    /// The folder that this circuit would leave.
    ///
    /// # Errors
    /// What the twin refuses.
    pub fn recorded(&self, circuit: &Circuit) -> Result<Recorded, ForeseeError> {
        self.recorded_as(circuit, None)
    }

    /// The same, with every file written in this form instead of that of its batch.
    pub(crate) fn recorded_as(
        &self,
        circuit: &Circuit,
        form: Option<&TextForm>,
    ) -> Result<Recorded, ForeseeError> {
        let planned: Vec<PlannedScan<'_>> = self.batches.iter().flat_map(Batch::scans).collect();
        let scans = planned
            .par_iter()
            .zip(&self.exposed)
            .map(|(planned, (exposure, trace))| {
                let circuit = planned.measurement.circuit.as_ref().unwrap_or(circuit);
                self.bench.read(trace, exposure, circuit).map_err(|source| refused(planned, source))
            })
            .collect::<Result<Vec<Scan>, ForeseeError>>()?;
        let run_sheet = sheet::text(&planned, self.kind, self.bench.cell.cell.temperature_k);
        Ok(Recorded { files: files(&planned, scans, form), run_sheet })
    }
}

impl Recorded {
    /// The chain's one input, from these texts and the method's.
    ///
    /// # Errors
    /// Everything that does not hold together.
    pub fn input(&self, method: NamedText<'_>) -> Result<Input, ForeseeError> {
        let run_sheet = NamedText { name: "run-sheet.csv", text: &self.run_sheet };
        Ok(Input::assemble(method, run_sheet, &self.files, |_| {})?)
    }
}

fn files(planned: &[PlannedScan<'_>], scans: Vec<Scan>, form: Option<&TextForm>) -> Vec<RawFile> {
    let mut files = Vec::new();
    let mut scans = scans.into_iter();
    for of_file in planned.chunk_by(|a, b| core::ptr::eq(a.batch, b.batch) && a.file == b.file) {
        let Some(first) = of_file.first() else { continue };
        let of_file: Vec<Scan> = scans.by_ref().take(of_file.len()).collect();
        files.push(RawFile {
            name: first.file_name(),
            bytes: write(&of_file, form.unwrap_or(&first.batch.form)),
        });
    }
    files
}

fn exposure(planned: &PlannedScan<'_>, kind: &QuantityKind) -> Result<Exposure, ForeseeError> {
    let measurement = planned.measurement;
    let faults = measurement.faults.iter();
    Ok(Exposure {
        analyte_mol_per_m3: amount_mol_per_m3(measurement.at_strip, kind)?,
        temperature_c: measurement.temperature_c,
        lot: planned.batch.lot_number,
        electrode: u64::from(planned.strip),
        scan: planned.electrode_scan,
        faults: faults
            .filter(|(_, n_strips)| planned.strip_of_measurement <= *n_strips)
            .map(|(fault, _)| *fault)
            .collect(),
    })
}

fn refused(planned: &PlannedScan<'_>, source: TwinError) -> ForeseeError {
    let what = format!(
        "{} at {} of strip {}, scan {}",
        planned.measurement.role.word(),
        planned.measurement.at_strip,
        planned.strip_name(),
        planned.electrode_scan
    );
    ForeseeError::Twin { what, source }
}
