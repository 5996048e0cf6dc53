//! One in-memory input: the method, the run sheet and the raw files, shown to hold together.

use std::collections::{BTreeMap, BTreeSet};

use stillwell_scan::{ReadFile, Reading, ReadingPin, Scan};

use crate::file::{CalibrationScope, Method};
use crate::inspect::{hash_of, reading_problem};
use crate::link::RawLink;
use crate::problem::{Place, Problem, Problems, nearest};
use crate::run_sheet::{Row, RunSheet};

/// A text and the name under which it is known.
#[derive(Debug, Clone, Copy)]
pub struct NamedText<'a> {
    /// Name, as shown in messages.
    pub name: &'a str,
    /// Content.
    pub text: &'a str,
}

/// A raw file: its name and its bytes.
#[derive(Debug, Clone)]
pub struct RawFile {
    /// Name, as the run sheet has it.
    pub name: String,
    /// Content, untouched.
    pub bytes: Vec<u8>,
}

/// Everything that one determination takes, read and shown to hold together.
#[derive(Debug, Clone)]
pub struct Input {
    /// The method.
    pub method: Method,
    /// The run sheet.
    pub run_sheet: RunSheet,
    /// The raw files by name.
    pub files: BTreeMap<String, ReadFile>,
}

/// One line of the run sheet with the scan it names.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Record<'a> {
    pub(crate) row: &'a Row,
    pub(crate) scan: &'a Scan,
    pub(crate) file: &'a ReadFile,
}

/// How a file was understood, in one line; worded once for files in a row that were understood alike.
#[derive(Default)]
pub(crate) struct ReadingWords<'a> {
    last: Option<(&'a Reading, String)>,
}

impl<'a> ReadingWords<'a> {
    fn of(&mut self, reading: &'a Reading) -> String {
        match &self.last {
            Some((last, words)) if *last == reading => words.clone(),
            _ => {
                let words = reading.to_string();
                self.last = Some((reading, words.clone()));
                words
            }
        }
    }
}

impl<'a> Record<'a> {
    /// Where the raw scan lies.
    pub(crate) fn raw_link(&self, words: &mut ReadingWords<'a>) -> RawLink {
        RawLink {
            file: self.row.file.clone(),
            scan: self.row.scan,
            first_line: self.scan.first_line,
            last_line: self.scan.last_line,
            columns: self.scan.columns,
            hash: hash_of(self.file),
            reading: words.of(&self.file.reading),
        }
    }
}

impl Input {
    /// Reads method, run sheet and raw files, and shows that they hold together.
    ///
    /// `progress` is told each raw file's name before it is read.
    ///
    /// # Errors
    /// Everything wrong in the method file; else everything wrong in the run sheet; else every raw file that
    /// cannot be read, is named but not there, or is there but not named.
    pub fn assemble(
        method: NamedText<'_>,
        run_sheet: NamedText<'_>,
        raw_files: &[RawFile],
        mut progress: impl FnMut(&str),
    ) -> Result<Self, Problems> {
        let method = Method::parse(method.name, method.text)?;
        let sheet_name = run_sheet.name;
        let run_sheet = RunSheet::parse(sheet_name, run_sheet.text, &method.analyte.reported_as)?;
        let names: BTreeSet<&str> = raw_files.iter().map(|raw| raw.name.as_str()).collect();
        let (pins, mut problems) = pins(&method, &run_sheet, &names);
        let mut files = BTreeMap::new();
        for raw in raw_files {
            let Some(pin) = pins.get(&raw.name) else { continue };
            progress(&raw.name);
            match stillwell_scan::read(&raw.bytes, &raw.name, pin) {
                Ok(file) => {
                    files.insert(raw.name.clone(), file);
                }
                Err(error) => problems.push(reading_problem(&error)),
            }
        }
        let n_scans = files.iter().map(|(name, file)| (name.clone(), file.scans.len())).collect();
        scans_there(&run_sheet, &n_scans, &mut problems);
        Problems::or(problems, Some(Self { method, run_sheet, files }))
    }

    /// How each raw file is to be read: the method's reading, completed with what the run sheet states. For those who
    /// read the files themselves, one by one.
    ///
    /// # Errors
    /// Files that are named but not there, or there but not named, and lines that contradict the method's reading.
    pub fn reading_pins(
        method: &Method,
        run_sheet: &RunSheet,
        names: &BTreeSet<&str>,
    ) -> Result<BTreeMap<String, ReadingPin>, Problems> {
        let (pins, problems) = pins(method, run_sheet, names);
        Problems::or(problems, Some(pins))
    }

    /// Shows that a run sheet names every scan of every file, and none that is not there. `n_scans` counts the scans
    /// of each file.
    ///
    /// # Errors
    /// Every scan that is named but not there, or there but not named.
    pub fn names_every_scan(run_sheet: &RunSheet, n_scans: &BTreeMap<String, usize>) -> Result<(), Problems> {
        let mut problems = Vec::new();
        scans_there(run_sheet, n_scans, &mut problems);
        Problems::or(problems, Some(()))
    }

    /// The lines of the run sheet with their scans, in the order of the sheet.
    pub(crate) fn records(&self) -> Vec<Record<'_>> {
        self.run_sheet
            .rows
            .iter()
            .filter_map(|row| {
                let file = self.files.get(&row.file)?;
                let scan = file.scans.get(row.scan.checked_sub(1)?)?;
                Some(Record { row, scan, file })
            })
            .collect()
    }
}

/// Pins of the files that are both named and there, and what is wrong with the others.
fn pins(
    method: &Method,
    run_sheet: &RunSheet,
    names: &BTreeSet<&str>,
) -> (BTreeMap<String, ReadingPin>, Vec<Problem>) {
    let mut problems = named_and_there(run_sheet, names);
    problems.extend(lots_named(method, run_sheet));
    let mut pins = BTreeMap::new();
    for row in &run_sheet.rows {
        if !names.contains(row.file.as_str()) || pins.contains_key(&row.file) {
            continue;
        }
        for column in row.stated.contradictions(&method.reading) {
            let found = format!("{column} of {} is not what [reading] of the method says", row.file);
            let cure = "leave the cell blank, or correct it; a revision of the method changes its [reading]";
            problems.push(Problem::new(row.place.clone(), found, cure));
        }
        pins.insert(row.file.clone(), row.stated.complete(&method.reading));
    }
    (pins, problems)
}

/// With a calibration per lot a blank lot would be a lot of its own that pools whatever is in it: one fault, however many rows.
fn lots_named(method: &Method, run_sheet: &RunSheet) -> Option<Problem> {
    let blank: Vec<&Row> = run_sheet.rows.iter().filter(|row| row.lot.is_empty()).collect();
    // Electrodes that serve again and again come in no lots, unless the sheet itself speaks of some.
    let has_lots = method.electrode.single_use || blank.len() < run_sheet.rows.len();
    let first = blank.first().filter(|_| has_lots && method.calibration.per == CalibrationScope::Lot)?;
    let also = match blank.len() - 1 {
        0 => String::new(),
        n_more => format!(" (and in {n_more} more lines)"),
    };
    Some(Problem::new(
        first.place.clone(),
        format!("lot: is blank{also}; the method calibrates per lot"),
        "the lot of the electrode, as printed on its box; or `per = \"all-lots\"` under [calibration] where all lots share one \
         calibration",
    ))
}

fn named_and_there(run_sheet: &RunSheet, there: &BTreeSet<&str>) -> Vec<Problem> {
    let names: Vec<&str> = there.iter().copied().collect();
    let mut problems = Vec::new();
    let mut missed = BTreeSet::new();
    for row in run_sheet.rows.iter().filter(|row| !there.contains(row.file.as_str())) {
        if missed.insert(row.file.as_str()) {
            let cure = nearest(&row.file, &names).map_or_else(
                || "put the file into the folder, or correct the name".to_owned(),
                |hint| format!("did you mean {hint}?"),
            );
            problems.push(Problem::new(row.place.clone(), format!("there is no file {}", row.file), cure));
        }
    }
    let named: BTreeSet<&str> = run_sheet.rows.iter().map(|row| row.file.as_str()).collect();
    for name in there.iter().filter(|name| !named.contains(**name)) {
        problems.push(Problem::new(
            Place::whole_file(name),
            "is in the folder, but the run sheet does not name it",
            "add its scans to the run sheet (with a reason under `exclude` where they must not count), \
             or move it out of the folder",
        ));
    }
    problems
}

fn scans_there(run_sheet: &RunSheet, n_scans: &BTreeMap<String, usize>, problems: &mut Vec<Problem>) {
    for row in &run_sheet.rows {
        let Some(&n_scans) = n_scans.get(&row.file) else { continue };
        if row.scan > n_scans {
            problems.push(Problem::new(
                row.place.clone(),
                format!("{} has {n_scans} scan(s); there is no scan {}", row.file, row.scan),
                format!("a number from 1 to {n_scans}"),
            ));
        }
    }
    let named: BTreeSet<(&str, usize)> =
        run_sheet.rows.iter().map(|row| (row.file.as_str(), row.scan)).collect();
    for (name, n_scans) in n_scans {
        let unnamed: Vec<String> = (1..=*n_scans)
            .filter(|scan| !named.contains(&(name.as_str(), *scan)))
            .map(|scan| scan.to_string())
            .collect();
        if !unnamed.is_empty() {
            problems.push(Problem::new(
                Place::whole_file(name),
                format!("the run sheet does not name scan {}", unnamed.join(", ")),
                "add a line for each (with a reason under `exclude` where it must not count)",
            ));
        }
    }
}
