//! The run sheet: which scan of which file is what.

use std::collections::BTreeMap;

use stillwell_quantity::{Concentration, QuantityKind};
use stillwell_scan::{CurrentUnit, PotentialUnit, ReadingPin, ReductionCurrent};

use crate::problem::{Place, Problem, Problems, nearest};
use crate::sheet_row::{RowReader, read_row};
use crate::sheet_text::{Cell, cut, delimiter_of};

/// What a scan is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// The supporting electrolyte alone, to be subtracted.
    Blank,
    /// A standard of the calibration.
    Standard,
    /// A sample.
    Sample,
    /// A standard measured between the samples to show that the calibration still holds.
    CheckStandard,
    /// A second determination of a sample.
    Duplicate,
    /// A sample to which a known amount was added.
    Spike,
    /// A solution of known level that shows that an electrode of this lot is alive.
    ElectrodeControl,
    /// A sample, with or without an addition, of a standard-addition series: its level is what was added, as concentration
    /// in the measured volume (0 for the sample itself), its dilution the measured volume over the sample's.
    Addition,
    /// A solution of known level with an interferent, or the same without one: shows what else changes the signal.
    Interference,
}

impl Role {
    /// The words of the run sheet.
    pub const WORDS: [(&'static str, Self); 9] = [
        ("blank", Self::Blank),
        ("standard", Self::Standard),
        ("sample", Self::Sample),
        ("check-standard", Self::CheckStandard),
        ("duplicate", Self::Duplicate),
        ("spike", Self::Spike),
        ("electrode-control", Self::ElectrodeControl),
        ("addition", Self::Addition),
        ("interference", Self::Interference),
    ];

    /// The word of the run sheet for this role.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, role)| *role == self).map_or("", |(word, _)| word)
    }

    /// Whether a known level belongs to the role.
    pub(crate) fn has_level(self) -> bool {
        matches!(
            self,
            Self::Standard
                | Self::CheckStandard
                | Self::Spike
                | Self::ElectrodeControl
                | Self::Addition
                | Self::Interference
        )
    }

    /// Whether a sample's identity belongs to the role.
    pub(crate) fn has_sample(self) -> bool {
        matches!(self, Self::Sample | Self::Duplicate | Self::Spike | Self::Addition)
    }
}

/// A factor by which a sample was diluted before it was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dilution {
    /// Concentration of the sample divided by that of the measured solution; 1 or more.
    pub factor: f64,
    /// Standard uncertainty of the factor.
    pub standard_u: f64,
}

/// Another substance in a solution of known level.
#[derive(Debug, Clone, PartialEq)]
pub struct Interferent {
    /// Its name, as written.
    pub name: String,
    /// Its level, mg/L.
    pub mg_per_l: f64,
}

/// An analyst's decision to use a scan although a check did not pass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Override {
    /// Identity of the check.
    pub check: String,
    /// Why.
    pub reason: String,
}

/// One line of the run sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Where the line stands.
    pub place: Place,
    /// Raw file, as named in the sheet.
    pub file: String,
    /// 1-based number of the scan within the file.
    pub scan: usize,
    /// What the scan is of.
    pub role: Role,
    /// Identity of the sample; empty where the role has none.
    pub sample: String,
    /// Known level, or what was added.
    pub level: Option<Concentration>,
    /// Electrode lot; empty where not stated.
    pub lot: String,
    /// Identity of the electrode; scans of one electrode share it.
    pub electrode: String,
    /// 1-based number of the scan on that electrode.
    pub electrode_scan: Option<u32>,
    /// Channel of the instrument; empty where not stated.
    pub channel: String,
    /// Batch; empty where not stated.
    pub batch: String,
    /// Date, as written; empty where not stated.
    pub date: String,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
    /// pH after preparation.
    pub ph: Option<f64>,
    /// Chloride, mg/L.
    pub chloride_mg_per_l: Option<f64>,
    /// Conductivity, µS/cm.
    pub conductivity_us_per_cm: Option<f64>,
    /// Dilution, if any.
    pub dilution: Option<Dilution>,
    /// Why the scan is left out, if it is.
    pub exclude: Option<String>,
    /// Checks that the analyst overrides.
    pub overrides: Vec<Override>,
    /// Whatever the analyst noted.
    pub note: String,
    /// What the sheet states of the file's units and sign, where the file does not.
    pub stated: StatedReading,
    /// What was added to a solution of role interference; none for the same solution without it.
    pub interferent: Option<Interferent>,
}

/// Units and sign of a file, as far as the run sheet states them. It holds for the whole file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct StatedReading {
    /// Unit of the potentials.
    pub potential_unit: Option<PotentialUnit>,
    /// Unit of the currents.
    pub current_unit: Option<CurrentUnit>,
    /// The sign that a reduction current has in the file.
    pub reduction_current: Option<ReductionCurrent>,
}

impl StatedReading {
    /// What the sheet states otherwise than the method's reading.
    pub(crate) fn contradictions(self, pin: &ReadingPin) -> Vec<&'static str> {
        fn differ<T: PartialEq>(stated: Option<T>, pinned: Option<T>) -> bool {
            matches!((stated, pinned), (Some(stated), Some(pinned)) if stated != pinned)
        }
        let checks = [
            ("potential_unit", differ(self.potential_unit, pin.potential_unit)),
            ("current_unit", differ(self.current_unit, pin.current_unit)),
            ("reduction_current", differ(self.reduction_current, pin.reduction_current)),
        ];
        checks.into_iter().filter(|(_, differ)| *differ).map(|(column, _)| column).collect()
    }

    /// The method's reading, completed with what the sheet states.
    pub(crate) fn complete(self, pin: &ReadingPin) -> ReadingPin {
        ReadingPin {
            potential_unit: pin.potential_unit.or(self.potential_unit),
            current_unit: pin.current_unit.or(self.current_unit),
            reduction_current: pin.reduction_current.or(self.reduction_current),
            ..pin.clone()
        }
    }
}

impl Row {
    /// The number of the known level.
    pub(crate) fn level_value(&self) -> Option<f64> {
        self.level.as_ref().map(Concentration::value)
    }

    /// Whether the level is stated as zero.
    pub(crate) fn has_zero_level(&self) -> bool {
        self.level_value() == Some(0.0)
    }

    /// How far the sample was diluted; 1 where nothing is stated.
    pub(crate) fn dilution_factor(&self) -> f64 {
        self.dilution.map_or(1.0, |dilution| dilution.factor)
    }

    /// `file, scan n`, as it is named in every message.
    pub fn scan_label(&self) -> String {
        format!("{}, scan {}", self.file, self.scan)
    }

    /// The same, worded only where a message needs it.
    pub(crate) fn label(&self) -> ScanLabel<'_> {
        ScanLabel(self)
    }
}

/// `file, scan n`, not yet worded.
#[derive(Clone, Copy)]
pub(crate) struct ScanLabel<'a>(&'a Row);

impl From<ScanLabel<'_>> for String {
    fn from(ScanLabel(row): ScanLabel<'_>) -> Self {
        row.scan_label()
    }
}

/// The columns of a run sheet. Only `file`, `scan` and `role` must be there.
pub const COLUMNS: [&str; 26] = [
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
    "note",
    "potential_unit",
    "current_unit",
    "reduction_current",
    "interferent",
    "interferent_mg_per_l",
];

/// A run sheet that holds together.
#[derive(Debug, Clone, PartialEq)]
pub struct RunSheet {
    /// Its rows in the order of the file.
    pub rows: Vec<Row>,
}

impl RunSheet {
    /// Reads a run sheet. Levels are converted to `reported_as`.
    ///
    /// # Errors
    /// Every line that is wrong, each with its place and what would be accepted.
    pub fn parse(file: &str, text: &str, reported_as: &QuantityKind) -> Result<Self, Problems> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let delimiter = delimiter_of(text);
        let mut lines = cut(text, delimiter).into_iter();
        let Some(header) = lines.next() else {
            return Err(Problem::new(
                Place::whole_file(file),
                "the run sheet is empty",
                format!("first line: {}", COLUMNS.join(",")),
            )
            .into());
        };
        let mut problems = Vec::new();
        let columns = columns(file, &header, &mut problems);
        if !problems.is_empty() {
            return Err(Problems { problems });
        }
        let reader = RowReader { file, columns, decimal_comma: delimiter != ',', reported_as };
        let mut rows = Vec::new();
        for cells in lines {
            rows.extend(read_row(&reader, &cells, &mut problems));
        }
        twice_named(&rows, &mut problems);
        stated_two_ways(&rows, &mut problems);
        if rows.is_empty() && problems.is_empty() {
            problems.push(Problem::new(
                Place::whole_file(file),
                "the run sheet names no scan",
                "write one line for each scan",
            ));
        }
        problems.sort_by_key(|problem| (problem.place.line, problem.place.column));
        Problems::or(problems, Some(Self { rows }))
    }
}

fn columns(file: &str, header: &[Cell], problems: &mut Vec<Problem>) -> BTreeMap<&'static str, usize> {
    let mut columns = BTreeMap::new();
    for (index, cell) in header.iter().enumerate() {
        let Some(name) = COLUMNS.iter().find(|name| **name == cell.text) else {
            if cell.text.is_empty() {
                continue;
            }
            let cure = nearest(&cell.text, &COLUMNS).map_or_else(
                || format!("known columns: {}", COLUMNS.join(", ")),
                |hint| format!("did you mean `{hint}`?"),
            );
            let found = format!("unknown column `{}`", cell.text);
            problems.push(Problem::new(cell.place(file), found, cure));
            continue;
        };
        if columns.insert(*name, index).is_some() {
            let found = format!("column `{name}` stands twice");
            problems.push(Problem::new(cell.place(file), found, "keep one of them"));
        }
    }
    for required in ["file", "scan", "role"] {
        if !columns.contains_key(required) && problems.is_empty() {
            let place = header.first().map_or_else(|| Place::whole_file(file), |cell| cell.place(file));
            let found = format!("the header has no column `{required}`");
            problems.push(Problem::new(place, found, format!("first line: {}", COLUMNS.join(","))));
        }
    }
    columns
}

fn stated_two_ways(rows: &[Row], problems: &mut Vec<Problem>) {
    let mut seen: BTreeMap<&str, &Row> = BTreeMap::new();
    for row in rows {
        let first = *seen.entry(&row.file).or_insert(row);
        if first.stated != row.stated {
            problems.push(Problem::new(
                row.place.clone(),
                format!(
                    "units or sign of {} are stated otherwise than in line {}",
                    row.file, first.place.line
                ),
                "state the same on every line of the file",
            ));
        }
    }
}

fn twice_named(rows: &[Row], problems: &mut Vec<Problem>) {
    let mut seen: BTreeMap<(&str, usize), &Row> = BTreeMap::new();
    for row in rows {
        if let Some(first) = seen.insert((&row.file, row.scan), row) {
            problems.push(Problem::new(
                row.place.clone(),
                format!("{} is named twice, first in line {}", row.scan_label(), first.place.line),
                "keep the line that is right",
            ));
        }
    }
}
