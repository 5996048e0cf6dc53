//! What is to be measured, in the order of the work: batches of solutions on strips, with what the run sheet says of them.

use stillwell_method::Role;
use stillwell_scan::TextForm;
use stillwell_twin::{Circuit, Fault};

/// One day's work on one lot of strips.
#[derive(Debug, Clone, PartialEq)]
pub struct Batch {
    /// Its name on the run sheet.
    pub name: String,
    /// Its date on the run sheet; may be empty.
    pub date: String,
    /// Name of the lot.
    pub lot: String,
    /// Number of the lot in the world of the twin.
    pub lot_number: u64,
    /// Strips of the lot that earlier batches used up: a strip serves once.
    pub strips_used: u32,
    /// How its raw files are written.
    pub form: TextForm,
    /// Ending of its raw files.
    pub extension: &'static str,
    /// Start of a file's name, and what the file holds.
    pub files: Vec<(String, Vec<Measurement>)>,
}

/// One solution measured on some strips. A strip serves one solution only.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    /// What it is.
    pub role: Role,
    /// Identity of the sample; empty where the role has none.
    pub sample: String,
    /// Level as the run sheet states it, in the method's reporting unit.
    pub level: Option<f64>,
    /// What the strip really sees, in the same unit: after dilution, after a spike.
    pub at_strip: f64,
    /// How many strips.
    pub strips: u32,
    /// How many scans on each.
    pub scans_per_strip: u32,
    /// True temperature, °C; `None`: that of the cell.
    pub temperature_c: Option<f64>,
    /// Temperature on the run sheet, where it is not the true one.
    pub stated_temperature_c: Option<f64>,
    /// What the run sheet says of the water.
    pub water: Water,
    /// Dilution factor and its standard uncertainty, as written.
    pub dilution: Option<(String, String)>,
    /// Another circuit than the bench's.
    pub circuit: Option<Circuit>,
    /// What goes wrong, and on how many of the strips (the first ones).
    pub faults: Vec<(Fault, u32)>,
    /// Note on the run sheet.
    pub note: String,
    /// What the run sheet says was added to a solution of role interference: substance and mg/L. What it does to the signal is
    /// said by `at_strip` and `faults`.
    pub interferent: Option<(String, f64)>,
}

/// pH, chloride and conductivity as the run sheet has them; empty where not stated.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Water {
    /// pH after preparation.
    pub ph: String,
    /// Chloride, mg/L.
    pub chloride_mg_per_l: String,
    /// Conductivity, µS/cm.
    pub conductivity_us_per_cm: String,
}

impl Measurement {
    /// A solution with nothing special about it: one scan on each strip, at the cell's temperature.
    pub fn new(role: Role, at_strip: f64, strips: u32) -> Self {
        Self {
            role,
            sample: String::new(),
            level: None,
            at_strip,
            strips,
            scans_per_strip: 1,
            temperature_c: None,
            stated_temperature_c: None,
            water: Water::default(),
            dilution: None,
            circuit: None,
            faults: Vec::new(),
            note: String::new(),
            interferent: None,
        }
    }

    /// A solution whose level the run sheet states, truthfully.
    pub fn known(role: Role, level: f64, strips: u32, scans_per_strip: u32) -> Self {
        Self { level: Some(level), scans_per_strip, ..Self::new(role, level, strips) }
    }

    /// Number of the strip and of the scan on it, both from 1, in the order of the work.
    fn strips_and_scans(&self) -> impl Iterator<Item = (u32, u32)> {
        let scans = self.scans_per_strip;
        (1..=self.strips).flat_map(move |strip| (1..=scans).map(move |scan| (strip, scan)))
    }

    /// A sample of this name and truth.
    pub fn sample(name: &str, at_strip: f64, strips: u32, scans_per_strip: u32) -> Self {
        Self { sample: name.to_owned(), scans_per_strip, ..Self::new(Role::Sample, at_strip, strips) }
    }
}

/// One scan of the plan.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PlannedScan<'a> {
    pub(crate) batch: &'a Batch,
    pub(crate) measurement: &'a Measurement,
    /// Place of its file in the batch.
    pub(crate) file: usize,
    /// Place within the file, from 1.
    pub(crate) ordinal: u32,
    /// Number of the strip within its lot, from 1.
    pub(crate) strip: u32,
    /// Number of the strip within its measurement, from 1.
    pub(crate) strip_of_measurement: u32,
    /// Number of the scan on its strip, from 1.
    pub(crate) electrode_scan: u32,
}

impl PlannedScan<'_> {
    pub(crate) fn file_name(&self) -> String {
        let stem = self.batch.files.get(self.file).map_or("", |(stem, _)| stem);
        format!("{stem}-{}.{}", self.batch.name, self.batch.extension)
    }

    /// `L21-07`.
    pub(crate) fn strip_name(&self) -> String {
        format!("{}-{:02}", self.batch.lot, self.strip)
    }
}

impl Batch {
    /// Its scans, file by file; strips are numbered in the order in which they are used.
    pub(crate) fn scans(&self) -> Vec<PlannedScan<'_>> {
        let mut scans = Vec::new();
        let mut strip = self.strips_used;
        for (file, (_, measurements)) in self.files.iter().enumerate() {
            let mut ordinal = 0;
            for measurement in measurements {
                for (strip_of_measurement, electrode_scan) in measurement.strips_and_scans() {
                    strip += u32::from(electrode_scan == 1);
                    ordinal += 1;
                    scans.push(PlannedScan {
                        batch: self,
                        measurement,
                        file,
                        ordinal,
                        strip,
                        strip_of_measurement,
                        electrode_scan,
                    });
                }
            }
        }
        scans
    }

    /// How many scans that are.
    pub fn n_scans(&self) -> usize {
        let measurements = self.files.iter().flat_map(|(_, measurements)| measurements);
        measurements.map(|m| m.strips as usize * m.scans_per_strip as usize).sum()
    }
}
