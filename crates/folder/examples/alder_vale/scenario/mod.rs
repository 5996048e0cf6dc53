//! The invented scenario "Alder Vale": farmland wells, nitrate by disposable copper-modified strips, three lots.
//!
//! In: nothing but the plan written down here and one seed. Out: every raw file and the run sheet, as bytes.
//! The currents come from a shape model, not the physics twin that replaces it later. No district, well, lot,
//! laboratory, person or product is meant. Start at [`files`]; the story is told by [`plan`].

mod dialect;
mod noise;
mod plan;
mod run_sheet;
mod shape;

use plan::{Batch, Measurement};

/// A file of the scenario: its name in the folder and its content.
pub(crate) struct ScenarioFile {
    pub(crate) name: String,
    pub(crate) bytes: Vec<u8>,
}

/// One recorded scan with what the run sheet says about it.
struct PlannedScan {
    batch: &'static Batch,
    measurement: &'static Measurement,
    file: String,
    /// Place within the file, from 1.
    ordinal: u32,
    /// Number of the strip within its lot, from 1.
    strip: u32,
    /// Number of the scan on its strip, from 1.
    electrode_scan: u32,
}

/// Every file that the generator writes: the raw files batch by batch, then `run-sheet.csv`.
pub(crate) fn files() -> Vec<ScenarioFile> {
    let scans: Vec<PlannedScan> = plan::BATCHES.iter().flat_map(planned_scans).collect();
    let mut files: Vec<ScenarioFile> = scans.chunk_by(|a, b| a.file == b.file).map(raw_file).collect();
    files.push(ScenarioFile { name: "run-sheet.csv".to_owned(), bytes: run_sheet::bytes(&scans) });
    files
}

/// The scans of one batch, file by file; strips are numbered in the order in which they were used.
fn planned_scans(batch: &'static Batch) -> Vec<PlannedScan> {
    let mut scans = Vec::new();
    let mut strip = 0;
    for (stem, measurements) in batch.files {
        let mut ordinal = 0;
        for measurement in *measurements {
            for _ in 0..measurement.strips {
                strip += 1;
                for electrode_scan in 1..=measurement.scans_per_strip {
                    ordinal += 1;
                    let file = format!("{stem}-{}.{}", batch.name, batch.dialect.extension());
                    scans.push(PlannedScan { batch, measurement, file, ordinal, strip, electrode_scan });
                }
            }
        }
    }
    scans
}

fn raw_file(of_file: &[PlannedScan]) -> ScenarioFile {
    let recorded: Vec<Vec<shape::Reading>> = of_file.iter().map(shape::record).collect();
    let (name, bytes) = match of_file.first() {
        Some(first) => (first.file.clone(), first.batch.dialect.bytes(first.batch, &recorded)),
        None => (String::new(), Vec::new()),
    };
    ScenarioFile { name, bytes }
}
