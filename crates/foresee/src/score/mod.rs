//! How honest the chain is under the twin's own physics: intervals that hold, scans refused, faults that deceive.
//!
//! Start at [`round_trip`] for sound scans and at [`fault_table`] for spoilt ones.

mod coverage;
mod faults;
mod round_trip;

pub use coverage::{Coverage, CoverageRow, coverage_table};
pub use faults::{FaultRow, Scope, fault_table};
pub use round_trip::{LotState, RoundTrip, Stratum, round_trip};

use stillwell_method::{Determination, Method, NamedText, Report, Role, determine};

use crate::bench::Bench;
use crate::error::ForeseeError;
use crate::model::{CellModel, CircuitModel};
use crate::plan::{Batch, Measurement};
use crate::record::simulate_plan;
use crate::trial::{text_form, trial};

/// What is put to the test.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// The method.
    pub method: &'a Method,
    /// Its text, as it goes into each simulated folder.
    pub method_text: NamedText<'a>,
    /// The kind of electrode in its electrolyte.
    pub cell: &'a CellModel,
    /// What reads it.
    pub circuit: &'a CircuitModel,
    /// Another seed is another world.
    pub seed: u64,
}

impl Subject<'_> {
    /// The batch of one study, before anything is done to it.
    fn batch(&self, number: u64, samples: Vec<Measurement>) -> Result<Batch, ForeseeError> {
        let form = text_form(&self.circuit.circuit);
        trial(self.method, number, self.method.calibration.electrodes, &form, samples)
    }

    /// Simulated, written, read and determined.
    fn report(&self, batch: Batch) -> Result<Report, ForeseeError> {
        let bench = Bench {
            cell: self.cell,
            circuit: self.circuit,
            technique: &self.method.technique,
            seed: self.seed,
        };
        let batches = [batch];
        let traces = simulate_plan(bench, &batches, &self.method.analyte.reported_as, || {})?;
        let input = traces.recorded(&self.circuit.circuit)?.input(self.method_text)?;
        Ok(determine(&input))
    }
}

/// The determination of a sample by its name.
fn determination<'r>(report: &'r Report, sample: &str) -> Option<&'r Determination> {
    report.determinations.iter().find(|found| found.sample == sample && found.role == Role::Sample)
}
