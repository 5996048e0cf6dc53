//! A folder whose truth is known: what is in it, before it is simulated.

use stillwell_method::{Method, NamedText, RawFile};

use crate::bench::Bench;
use crate::error::ForeseeError;
use crate::model::{CellModel, CircuitModel};
use crate::outlook::tried_levels;
use crate::plan::{Batch, Measurement, Water};
use crate::record::simulate_plan;
use crate::trial::{SCANS_PER_STRIP, text_form, trial_at};

/// Levels and samples that one folder holds at most; far more than a bench sees in a day.
const MOST_SOLUTIONS: usize = 200;

/// Strips of one standard at most.
const MOST_REPLICATES: u32 = 100;

/// What a folder of known truth holds.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownTruth {
    /// Levels of the standards, in the method's reporting unit.
    pub levels: Vec<f64>,
    /// Strips of each standard.
    pub replicates: u32,
    /// Names of the samples and what they truly hold, in the method's reporting unit.
    pub samples: Vec<(String, f64)>,
    /// Another seed is another world.
    pub seed: u64,
}

impl KnownTruth {
    /// What the method itself asks for, and a few samples of invented names.
    pub fn of_method(method: &Method, seed: u64) -> Self {
        // Three digits, so that what is printed is what is true.
        let rounded = |level: f64| format!("{level:.2e}").parse().unwrap_or(level);
        let tried = tried_levels(method).into_iter().map(rounded).enumerate();
        Self {
            levels: method.calibration.levels.clone(),
            replicates: method.calibration.electrodes,
            samples: tried.map(|(index, truth)| (format!("SIM-{:02}", index + 1), truth)).collect(),
            seed,
        }
    }

    /// One day's work on one lot: blanks, standards, checks and a control before the samples, a check after them.
    ///
    /// # Errors
    /// A level that cannot be, no level above zero, or more than one bench sees in a day.
    pub fn batch(&self, method: &Method, circuit: &CircuitModel) -> Result<Batch, ForeseeError> {
        self.check()?;
        let strips = method.sample.electrodes;
        let water = water(method);
        let samples = self.samples.iter().map(|(name, truth)| Measurement {
            water: water.clone(),
            ..Measurement::sample(name, *truth, strips, SCANS_PER_STRIP)
        });
        let form = text_form(&circuit.circuit);
        trial_at(&self.levels, method, 1, self.replicates, &form, samples.collect())
    }

    /// The folder's files but for the method's own, as bytes: raw files, then the run sheet. That they hold together with
    /// the method is shown before they are handed out. `progress` is called after each scan.
    ///
    /// # Errors
    /// As [`KnownTruth::batch`]; what the twin refuses.
    pub fn files(
        &self,
        method: (&Method, NamedText<'_>),
        cell: &CellModel,
        circuit: &CircuitModel,
        progress: impl Fn() + Sync,
    ) -> Result<Vec<RawFile>, ForeseeError> {
        let (method, text) = method;
        let batches = [self.batch(method, circuit)?];
        let bench = Bench { cell, circuit, technique: &method.technique, seed: self.seed };
        let traces = simulate_plan(bench, &batches, &method.analyte.reported_as, progress)?;
        let recorded = traces.recorded(&circuit.circuit)?;
        recorded.input(text)?;
        let mut files = recorded.files;
        files.push(RawFile { name: "run-sheet.csv".to_owned(), bytes: recorded.run_sheet.into_bytes() });
        Ok(files)
    }

    fn check(&self) -> Result<(), ForeseeError> {
        let out = |what, found, accepted| Err(ForeseeError::OutOfRange { what, found, accepted });
        let truths = self.samples.iter().map(|(_, truth)| truth);
        for level in self.levels.iter().chain(truths) {
            if !(0.0..=1e12).contains(level) {
                return out("a level", *level, "0 to 1e12 in the method's unit");
            }
        }
        for (index, level) in self.levels.iter().enumerate() {
            if self.levels.iter().take(index).any(|known| (known - level).abs() == 0.0) {
                return out("a level that stands twice", *level, "each level once; see the replicates");
            }
        }
        let n_solutions = self.levels.len() + self.samples.len();
        if n_solutions > MOST_SOLUTIONS {
            return out("the number of levels and samples", n_solutions as f64, "at most 200");
        }
        if !(1..=MOST_REPLICATES).contains(&self.replicates) {
            return out("the number of replicates", f64::from(self.replicates), "1 to 100");
        }
        Ok(())
    }
}

/// A water that the method covers: in the middle of its pH, at a tenth of its chloride, at half its conductivity.
fn water(method: &Method) -> Water {
    let conditions = &method.sample;
    let of_limit =
        |limit: Option<f64>, share: f64| limit.map_or_else(String::new, |l| (l * share).to_string());
    Water {
        ph: conditions.ph.map_or_else(String::new, |[low, high]| f64::midpoint(low, high).to_string()),
        chloride_mg_per_l: of_limit(conditions.chloride_mg_per_l_max, 0.1),
        conductivity_us_per_cm: of_limit(conditions.conductivity_us_per_cm_max, 0.5),
    }
}
