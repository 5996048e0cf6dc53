//! Series of the study, and the chain's input made from one of them, now or as it was at any earlier record.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use rusqlite::Transaction;
use stillwell_method::{Check, Input, METHOD_BLANK, Method, Override, Role, Row, RunSheet};
use stillwell_scan::{ReadFile, ReadingPin};

use crate::act::{Act, AsOf, CalibrationAct, Exclusion, FileEntry, OverrideAct, Series};
use crate::clock::Clock;
use crate::content;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, By, Record};
use crate::numbered::{Numbered, numbered};
use crate::reading::Loader;
use crate::result::ScanRef;
use crate::study::Study;

/// A series as it was recorded.
#[derive(Clone)]
pub(crate) struct OpenedSeries {
    pub(crate) record: Record,
    pub(crate) act: Series,
    /// Its run sheet as it came in, with levels in the unit of some method's results.
    pub(crate) sheet: RunSheet,
}

/// What an input is made from.
pub(crate) struct Recipe<'a> {
    /// The series, opened for the method.
    pub(crate) series: OpenedSeries,
    pub(crate) method: Method,
    /// Exclusions and overrides count up to here; those of other ledgers do not count.
    pub(crate) as_of: Vec<AsOf>,
    /// Calibrations of other series whose standards join in.
    pub(crate) borrowed: &'a [Digest],
    /// Whether scans are read again from the raw text instead of the numbers kept.
    pub(crate) from_text: bool,
}

/// The name that the scans of a borrowed calibration get for their batch and file.
pub(crate) fn borrowed_name(calibration: &Digest, name: &str) -> String {
    format!("calibration {}/{name}", calibration.short())
}

/// Opens a study to read and gives the input of its only series.
///
/// # Errors
/// A file that is no study, and a study of no or several series: [`Study::series`] and [`Study::input`] give each.
pub fn open_input(path: &Path) -> Result<Input, StudyError> {
    let study = Study::open_to_read(path)?;
    let series = study.series()?;
    match series.as_slice() {
        [only] => study.input(&only.record.hash),
        [] => Err(StudyError::Unknown {
            what: "series yet".to_owned(),
            cure: "`stillwell study add` takes a folder in".to_owned(),
        }),
        several => {
            let labels: Vec<&str> = several.iter().map(|series| series.label.as_str()).collect();
            Err(StudyError::not_allowed(
                format!("the study holds {} series, and this works on one", several.len()),
                format!("name one of them: {}", labels.join(", ")),
            ))
        }
    }
}

impl Study {
    /// The series, the study's own first.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn series(&self) -> Result<Vec<Numbered<Series>>, StudyError> {
        numbered(self, "series", |act| match act {
            Act::Series(series) => Some(series),
            _ => None,
        })
    }

    /// The chain's input for one series: current method, every exclusion and override, and where the series has no
    /// standards of its own the newest calibration that fits.
    ///
    /// # Errors
    /// No such series, or content that is damaged.
    pub fn input(&self, series: &Digest) -> Result<Input, StudyError> {
        let method = self.method()?;
        let series = self.open_series(series, &method.method)?;
        let borrowed = self.to_borrow(&series, &method)?;
        let as_of = self.amendments_now(&series.record)?;
        self.input_by(Recipe { series, method: method.method, as_of, borrowed: &borrowed, from_text: false })
    }

    /// How far the ledgers stand whose exclusions and overrides count for a series: its own and this study's.
    pub(crate) fn amendments_now(&self, series: &Record) -> Result<Vec<AsOf>, StudyError> {
        let mut chains = vec![self.own];
        let holder = series.chain;
        if holder != self.own {
            chains.push(holder);
        }
        let at = |chain: &Digest| {
            let anchor = crate::study::anchor_of(&self.connection, chain)?;
            Ok(AsOf { chain: *chain, seq: anchor.seq })
        };
        chains.iter().map(at).collect()
    }

    /// A series with its run sheet, as it came in.
    pub(crate) fn open_series(&self, series: &Digest, method: &Method) -> Result<OpenedSeries, StudyError> {
        let record = self.must_be(series, "series")?;
        let Act::Series(act) = record.act()? else {
            return Err(StudyError::damaged("a series is not where it should be"));
        };
        let text = content::text(&self.connection, &act.run_sheet)?;
        let sheet = RunSheet::parse("run-sheet.csv", &text, &method.analyte.reported_as)?;
        Ok(OpenedSeries { record, act, sheet })
    }

    pub(crate) fn input_by(&self, recipe: Recipe<'_>) -> Result<Input, StudyError> {
        let (mut run_sheet, mut files) =
            self.sheet_and_files(recipe.series, &recipe.method, &recipe.as_of, recipe.from_text)?;
        for calibration in recipe.borrowed {
            let (more_rows, more_files) = self.borrow(calibration, &recipe.method, recipe.from_text)?;
            run_sheet.rows.extend(more_rows);
            files.extend(more_files);
        }
        Ok(Input { method: recipe.method, run_sheet, files })
    }

    fn sheet_and_files(
        &self,
        OpenedSeries { record, act: series_act, sheet: mut run_sheet }: OpenedSeries,
        method: &Method,
        as_of: &[AsOf],
        from_text: bool,
    ) -> Result<(RunSheet, BTreeMap<String, ReadFile>), StudyError> {
        self.amend(&record.hash, &mut run_sheet, as_of)?;
        let names: BTreeSet<&str> = series_act.files.iter().map(|entry| entry.name.as_str()).collect();
        let pins = Input::reading_pins(method, &run_sheet, &names)?;
        let mut files = BTreeMap::new();
        let mut loader = Loader::new(&self.connection);
        for entry in &series_act.files {
            let Some(pin) = pins.get(&entry.name) else { continue };
            let kept = if from_text { None } else { loader.load(&entry.raw, &entry.name, pin)? };
            let file = kept.map_or_else(|| self.read_again(entry, pin), Ok)?;
            files.insert(entry.name.clone(), file);
        }
        Ok((run_sheet, files))
    }

    /// The scans of a file: as kept, or read again from the text where the method now reads it otherwise.
    pub(crate) fn file(&self, entry: &FileEntry, pin: &ReadingPin) -> Result<ReadFile, StudyError> {
        let kept = Loader::new(&self.connection).load(&entry.raw, &entry.name, pin)?;
        kept.map_or_else(|| self.read_again(entry, pin), Ok)
    }

    /// The scans of a file from its text.
    fn read_again(&self, entry: &FileEntry, pin: &ReadingPin) -> Result<ReadFile, StudyError> {
        let bytes = content::get(&self.connection, &entry.raw)?;
        let read = stillwell_scan::read(&bytes, &entry.name, pin);
        read.map_err(|error| StudyError::Content(stillwell_method::Problem::from(&error).into()))
    }

    /// Applies the exclusions and overrides that were recorded after the run sheet came in.
    pub(crate) fn amend(
        &self,
        series: &Digest,
        run_sheet: &mut RunSheet,
        as_of: &[AsOf],
    ) -> Result<(), StudyError> {
        let counts = |record: &Record| {
            as_of.iter().any(|limit| limit.chain == record.chain && record.seq <= limit.seq)
        };
        let undone = self.undone(Some(as_of))?;
        for kind in ["exclusion", "override"] {
            for record in ledger::of_kind(&self.connection, &self.own, kind)?.iter().filter(|r| counts(r)) {
                match record.act()? {
                    act if undone.contains(&record.hash) => take_back(series, run_sheet, &act)?,
                    Act::Exclusion(act) if act.series == *series && !act.from_run_sheet => {
                        let row = row_of(run_sheet, &act.scan)?;
                        row.exclude.get_or_insert_with(|| record.reason.clone());
                    }
                    Act::Override(act) if act.series == *series && !act.from_run_sheet => {
                        let row = row_of(run_sheet, &act.scan)?;
                        let (check, reason) = (act.check, record.reason.clone());
                        row.overrides.push(Override { check, reason });
                    }
                    _ => {}
                }
            }
        }
        Ok(())
    }

    /// Standards, blanks and method blanks of a calibration of another series, under names that clash with nothing.
    pub(crate) fn borrow(
        &self,
        calibration: &Digest,
        method: &Method,
        from_text: bool,
    ) -> Result<(Vec<Row>, BTreeMap<String, ReadFile>), StudyError> {
        let record = self.record(calibration)?;
        let Act::Calibration(act) = record.act()? else {
            return Err(StudyError::damaged("a calibration is not where it should be"));
        };
        let as_of = [AsOf { chain: record.chain, seq: record.seq }];
        let series = self.open_series(&act.series, method)?;
        let (run_sheet, files) = self.sheet_and_files(series, method, &as_of, from_text)?;
        let rename = |name: &str| borrowed_name(calibration, name);
        let rows: Vec<Row> = run_sheet
            .rows
            .into_iter()
            .filter(|row| belongs_to_calibration(&act, method, row))
            .map(|row| Row { file: rename(&row.file), batch: rename(&row.batch), ..row })
            .collect();
        let files = files
            .into_iter()
            .map(|(name, file)| (rename(&name), file))
            .filter(|(name, _)| rows.iter().any(|row| row.file == *name))
            .collect();
        Ok((rows, files))
    }

    /// Leaves a scan out from now on.
    ///
    /// # Errors
    /// A scan that the series does not hold, or that is left out already.
    pub fn exclude(&mut self, series: &Digest, scan: &ScanRef, by: &By) -> Result<Record, StudyError> {
        self.write(|transaction, study| study.leave_out(transaction, series, scan, by))
    }

    pub(crate) fn leave_out(
        &self,
        transaction: &Transaction<'_>,
        series: &Digest,
        scan: &ScanRef,
        by: &By,
    ) -> Result<Record, StudyError> {
        let mut sheet = self.amended_sheet(series)?;
        if let Some(reason) = &row_of(&mut sheet, scan)?.exclude {
            let found = format!("{} is left out already: {reason}", scan.label());
            return Err(StudyError::not_allowed(found, "nothing needs to be done"));
        }
        let act = Exclusion { series: *series, scan: scan.clone(), from_run_sheet: false };
        self.append(transaction, by, &Act::Exclusion(act))
    }

    /// Uses a scan from now on although a check did not pass.
    ///
    /// # Errors
    /// A scan that the series does not hold, a word that is no check, or a check that cannot be overridden.
    pub fn override_check(
        &mut self,
        series: &Digest,
        scan: &ScanRef,
        check: &str,
        by: &By,
    ) -> Result<Record, StudyError> {
        row_of(&mut self.amended_sheet(series)?, scan)?;
        match Check::of_id(check) {
            Some(known) if known.can_be_overridden() => {}
            Some(_) => {
                let cure = format!("do what `stillwell explain {check}` says");
                return Err(StudyError::not_allowed(format!("{check} cannot be overridden on a scan"), cure));
            }
            None => {
                let cure = "`stillwell explain` lists the checks".to_owned();
                return Err(StudyError::Unknown { what: format!("check {check}"), cure });
            }
        }
        let (scan, check) = (scan.clone(), check.to_owned());
        let act = OverrideAct { series: *series, scan, check, from_run_sheet: false };
        self.record_act(by, &Act::Override(act))
    }

    fn amended_sheet(&self, series: &Digest) -> Result<RunSheet, StudyError> {
        let OpenedSeries { record, mut sheet, .. } = self.open_series(series, &self.method()?.method)?;
        let as_of = self.amendments_now(&record)?;
        self.amend(series, &mut sheet, &as_of)?;
        Ok(sheet)
    }
}

/// What the run sheet itself left out or overrode no longer holds.
fn take_back(series: &Digest, run_sheet: &mut RunSheet, act: &Act) -> Result<(), StudyError> {
    match act {
        Act::Exclusion(act) if act.series == *series && act.from_run_sheet => {
            row_of(run_sheet, &act.scan)?.exclude = None;
        }
        Act::Override(act) if act.series == *series && act.from_run_sheet => {
            row_of(run_sheet, &act.scan)?.overrides.retain(|given| given.check != act.check);
        }
        _ => {}
    }
    Ok(())
}

fn row_of<'a>(run_sheet: &'a mut RunSheet, scan: &ScanRef) -> Result<&'a mut Row, StudyError> {
    let found = run_sheet.rows.iter_mut().find(|row| row.file == scan.file && row.scan == scan.scan);
    found.ok_or_else(|| StudyError::Unknown {
        what: format!("scan \"{}\" in this series", scan.label()),
        cure: "name file and number as the run sheet has them".to_owned(),
    })
}

fn belongs_to_calibration(act: &CalibrationAct, method: &Method, row: &Row) -> bool {
    let is_of_group =
        crate::borrow::group_of(method, row) == (act.result.lot.as_str(), act.result.channel.as_str());
    match row.role {
        // A blank that states no lot or channel serves every lot and channel.
        Role::Blank => {
            let agree = |a: &str, b: &str| a.is_empty() || b.is_empty() || a == b;
            agree(&row.lot, &act.result.lot) && agree(&row.channel, &act.result.channel)
        }
        Role::Standard => is_of_group,
        Role::Sample | Role::Spike => is_of_group && row.sample == METHOD_BLANK,
        _ => false,
    }
}

impl Study {
    /// Opens a study for reading and writing with the computer's clock.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn open_now(path: &Path) -> Result<Self, StudyError> {
        Self::open(path, Clock::system())
    }
}
