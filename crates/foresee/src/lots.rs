//! Some lots of the twin calibrated by a method: how strips and lots differ, before any is bought.

use rayon::prelude::*;
use stillwell_method::{Report, determine_lot_by_lot};

use crate::bench::Bench;
use crate::error::ForeseeError;
use crate::model::CircuitModel;
use crate::outlook::Question;
use crate::record::simulate_plan;
use crate::trial::{text_form, trial};

/// Strips of one standard, at least: one alone shows no spread.
const LEAST_STRIPS: u32 = 2;

impl Question<'_> {
    /// The standards of each trial's lot, simulated and calibrated as the method asks, each lot by itself. `progress` is called
    /// after each lot.
    ///
    /// # Errors
    /// What the twin refuses; a method without levels; no trials.
    pub fn calibrated_lots(
        &self,
        circuit: &CircuitModel,
        progress: impl Fn() + Sync,
    ) -> Result<Vec<Report>, ForeseeError> {
        if self.trials == 0 {
            let accepted = "1 or more";
            return Err(ForeseeError::OutOfRange { what: "the number of lots", found: 0.0, accepted });
        }
        (1..=self.trials)
            .into_par_iter()
            .map(|number| {
                let report = self.calibrated_lot(u64::from(number), circuit)?;
                progress();
                Ok(report)
            })
            .collect()
    }

    fn calibrated_lot(&self, number: u64, circuit: &CircuitModel) -> Result<Report, ForeseeError> {
        let strips = self.method.calibration.electrodes.max(LEAST_STRIPS);
        let form = text_form(&circuit.circuit);
        let batches = [trial(self.method, number, strips, &form, Vec::new())?];
        let bench = Bench { cell: self.cell, circuit, technique: &self.method.technique, seed: self.seed };
        let traces = simulate_plan(bench, &batches, &self.method.analyte.reported_as, || {})?;
        let input = traces.recorded(&circuit.circuit)?.input(self.method_text)?;
        Ok(determine_lot_by_lot(&input))
    }
}
