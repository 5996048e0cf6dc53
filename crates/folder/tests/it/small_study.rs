//! The smallest study that the chain accepts, made in memory with known truth: one lot, one batch, one well.
//!
//! Five levels on three strips each, two blanks, check standards before and after, an electrode control, and the well
//! W1. A test bends what it is about and looks at what the chain says. The currents are a shape, not physics.

use std::collections::BTreeMap;
use std::path::Path;

use stillwell_stats::random::RandomStream;

/// Height of the peak per mg/L, and what strips and scans add to it by chance.
const SENSITIVITY_A_PER_MG_PER_L: f64 = 0.30e-6;
const STRIP_RELATIVE_SD: f64 = 0.02;
const SCAN_RELATIVE_SD: f64 = 0.004;
const NOISE_SD_A: f64 = 0.02e-6;

/// The columns of the run sheet, in its order.
const COLUMNS: [&str; 20] = [
    "file",
    "scan",
    "role",
    "sample",
    "level",
    "unit",
    "lot",
    "electrode",
    "electrode_scan",
    "channel",
    "batch",
    "date",
    "temperature_c",
    "ph",
    "chloride_mg_per_l",
    "conductivity_us_per_cm",
    "dilution",
    "dilution_u",
    "exclude",
    "override",
];

pub(crate) const METHOD: &str = r#"[method]
name = "Nitrate by test strips"
revision = "1"

[method.analyte]
name = "nitrate"
reported_as = "mg/L as NO3-"

[technique]
kind = "square-wave"
start_v = -0.300
end_v = -0.900
step_v = 0.004
amplitude_v = 0.025
frequency_hz = 25.0

[electrode]
material = "copper-modified carbon"
single_use = true

[reference]
kind = "printed silver / silver chloride"
shift_limit_v = 0.030

[sample]
electrolyte = "0.1 mol/L sodium sulphate, pH 3"
electrodes = 3
temperature_c = [10.0, 30.0]
temperature_tolerance_k = 1.0

[evaluation]
blank = "subtract"
smooth = { kind = "savitzky-golay", window = 11, degree = 2 }
baseline = { kind = "line", left_v = [-0.42, -0.38], right_v = [-0.84, -0.80] }
peak = { window_v = [-0.50, -0.72], direction = "reduction", measure = "height" }

[calibration]
model = "line"
weights = "none"

[calibration.acceptance]
back_calculated_percent = 20.0

[[limits]]
use = "who-nitrate"
"#;

/// One scan to be recorded: what the strip sees, and its line of the run sheet.
#[derive(Debug, Clone)]
pub(crate) struct PlannedScan {
    /// What the strip sees, mg/L.
    pub(crate) truth: f64,
    /// End of the instrument's range on either side of zero, A.
    pub(crate) range_end_a: f64,
    /// Cells of the run sheet by column; what is not here stays blank.
    pub(crate) cells: BTreeMap<&'static str, String>,
}

impl PlannedScan {
    pub(crate) fn cell(&self, column: &str) -> &str {
        self.cells.get(column).map_or("", String::as_str)
    }

    pub(crate) fn set(&mut self, column: &'static str, text: &str) {
        self.cells.insert(column, text.to_owned());
    }

    fn currents_a(&self) -> Vec<f64> {
        let index =
            self.cell("electrode").bytes().fold(7, |sum: u64, byte| sum * 31 % 1_000_003 + u64::from(byte));
        let scan_number = self.cell("electrode_scan").parse::<u64>().unwrap_or(0);
        let mut strip = RandomStream::new(41, index * 100);
        let mut scan = RandomStream::new(41, index * 100 + scan_number);
        let sensitivity = -SENSITIVITY_A_PER_MG_PER_L * (1.0 + STRIP_RELATIVE_SD * strip.normal());
        let height_a = self.truth * sensitivity * (1.0 + SCAN_RELATIVE_SD * scan.normal());
        potentials_v()
            .map(|at_v| {
                let cosh = libm::cosh((at_v + 0.61) / 0.0624);
                let background_a = -1.2e-6 + 1.5e-6 * (at_v + 0.3) - 5e-6 * libm::exp(-(at_v + 0.9) / 0.05);
                let current_a = background_a + height_a / (cosh * cosh) + NOISE_SD_A * scan.normal();
                current_a.clamp(-self.range_end_a, self.range_end_a)
            })
            .collect()
    }
}

fn potentials_v() -> impl Iterator<Item = f64> {
    (0..151).map(|point| -0.3 - 0.004 * f64::from(point))
}

/// The study before it is written down. Scans stand in the order in which they were recorded.
#[derive(Debug, Clone)]
pub(crate) struct Study {
    pub(crate) method: String,
    pub(crate) scans: Vec<PlannedScan>,
    /// 1 for IUPAC's sign, −1 for an instrument that writes reduction currents as positive.
    pub(crate) sign: f64,
}

impl Study {
    /// A study in which everything is as it should be; W1 holds 30 mg/L.
    pub(crate) fn new() -> Self {
        let mut study = Self { method: METHOD.to_owned(), scans: Vec::new(), sign: 1.0 };
        study.record("blanks.csv", "blank", "", None, 0.0, &["B1", "B2"]);
        for level in [0, 25, 50, 75, 100] {
            let strips = [format!("S{level}a"), format!("S{level}b"), format!("S{level}c")];
            let strips: Vec<&str> = strips.iter().map(String::as_str).collect();
            study.record("standards.csv", "standard", "", Some(level), f64::from(level), &strips);
        }
        study.record("opening.csv", "check-standard", "", Some(50), 50.0, &["C1", "C2"]);
        study.record("opening.csv", "electrode-control", "", Some(25), 25.0, &["E1", "E2"]);
        study.record("wells.csv", "sample", "W1", None, 30.0, &["W1a", "W1b", "W1c"]);
        study.record("closing.csv", "check-standard", "", Some(50), 50.0, &["C3", "C4"]);
        study
    }

    /// As [`Study::new`], with W1 at another concentration.
    pub(crate) fn with_well_at(truth: f64) -> Self {
        let mut study = Self::new();
        for scan in study.of_sample("W1") {
            scan.truth = truth;
        }
        study
    }

    /// Appends one scan on each strip.
    pub(crate) fn record(
        &mut self,
        file: &str,
        role: &str,
        sample: &str,
        level: Option<i32>,
        truth: f64,
        strips: &[&str],
    ) {
        for strip in strips {
            let number = 1 + self.scans.iter().filter(|scan| scan.cell("electrode") == *strip).count();
            let mut scan = PlannedScan { truth, range_end_a: 100e-6, cells: BTreeMap::new() };
            for (column, text) in [("file", file), ("role", role), ("sample", sample), ("electrode", strip)] {
                scan.set(column, text);
            }
            if let Some(level) = level {
                scan.set("level", &level.to_string());
                scan.set("unit", "mg/L as NO3-");
            }
            scan.set("electrode_scan", &number.to_string());
            scan.set("lot", "L1");
            scan.set("batch", "D1");
            scan.set("temperature_c", "21.0");
            self.scans.push(scan);
        }
    }

    /// The scans of one role.
    pub(crate) fn of_role(&mut self, role: &str) -> Vec<&mut PlannedScan> {
        self.scans.iter_mut().filter(|scan| scan.cell("role") == role).collect()
    }

    /// The scans of one sample.
    pub(crate) fn of_sample(&mut self, sample: &str) -> Vec<&mut PlannedScan> {
        self.scans.iter_mut().filter(|scan| scan.cell("sample") == sample).collect()
    }

    /// Replaces a text of the method that must be there.
    pub(crate) fn edit_method(&mut self, from: &str, to: &str) {
        assert!(self.method.contains(from), "the method does not hold {from:?}");
        self.method = self.method.replace(from, to);
    }

    /// Everything as files: the method, the run sheet, the raw files with their scans side by side.
    pub(crate) fn files(&self) -> Files {
        let mut of_file: BTreeMap<&str, Vec<Vec<f64>>> = BTreeMap::new();
        let mut sheet = COLUMNS.join(",") + "\n";
        for scan in &self.scans {
            let recorded = of_file.entry(scan.cell("file")).or_default();
            recorded.push(scan.currents_a());
            let ordinal = recorded.len().to_string();
            let cells = COLUMNS.map(|column| if column == "scan" { &ordinal } else { scan.cell(column) });
            sheet.push_str(&cells.join(","));
            sheet.push('\n');
        }
        let mut files = Files(BTreeMap::new());
        for (name, currents_a) in of_file {
            files.put(name, raw_text(&currents_a, self.sign));
        }
        files.put("method.toml", self.method.clone());
        files.put("run-sheet.csv", sheet);
        files
    }
}

fn raw_text(currents_a: &[Vec<f64>], sign: f64) -> String {
    let mut text = format!("E / V{}\n", ",i / µA".repeat(currents_a.len()));
    for (point, at_v) in potentials_v().enumerate() {
        let mut cells = vec![format!("{at_v:.3}")];
        cells.extend(currents_a.iter().map(|scan| format!("{:.4}", sign * 1e6 * scan[point])));
        text.push_str(&cells.join(","));
        text.push('\n');
    }
    text
}

/// The files of a folder by name.
#[derive(Debug, Clone)]
pub(crate) struct Files(pub(crate) BTreeMap<String, Vec<u8>>);

impl Files {
    pub(crate) fn put(&mut self, name: &str, content: impl Into<Vec<u8>>) {
        self.0.insert(name.to_owned(), content.into());
    }

    pub(crate) fn text(&self, name: &str) -> &str {
        std::str::from_utf8(&self.0[name]).expect("text")
    }

    /// Replaces the first place of a text that must be there.
    pub(crate) fn edit(&mut self, name: &str, from: &str, to: &str) {
        let text = self.text(name);
        assert!(text.contains(from), "{name} does not hold {from:?}");
        let text = text.replacen(from, to, 1);
        self.put(name, text);
    }

    /// Writes them into a folder.
    pub(crate) fn write_into(&self, folder: &Path) {
        for (name, content) in &self.0 {
            std::fs::write(folder.join(name), content).expect("a folder that may be written to");
        }
    }
}
