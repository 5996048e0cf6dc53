//! Adding a series: raw files go in whole, in portions, while the next portion is read over all cores.
//!
//! Several portions are kept at once with a record of their own, so that a crash leaves a clean beginning; the last ones
//! come together with the series, which names all files. What is there already is not read again.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, sync_channel};

use rayon::prelude::*;
use rusqlite::{Connection, Transaction};
use stillwell_folder::read_bytes;
use stillwell_method::{Input, Method, Place, Problem, Problems, RunSheet};
use stillwell_scan::ReadingPin;

use crate::act::{Act, Exclusion, FileEntry, Files, OverrideAct, Series};
use crate::connection;
use crate::content::{self, MAX_BYTES, Packed};
use crate::delivery::Delivery;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, By, said};
use crate::reading::{self, KeptReading, Keys};
use crate::result::{ScanRef, digest_of};
use crate::study::Study;

/// Most files of one portion: what is read over all cores at a time.
const PORTION_FILES: usize = 128;
/// A portion is closed when its files reach so many bytes.
const PORTION_BYTES: u64 = 24 << 20;
/// So many portions wait to be kept.
const WAITING_PORTIONS: usize = 2;
/// Portions are kept when so many files of them are new: hashes come in no order, and each time that something is kept
/// most pages of the indices are written.
const KEPT_FILES: usize = 1024;
/// Or when the new texts reach so many bytes.
const KEPT_BYTES: usize = 24 << 20;
/// Most raw files of one series.
const MAX_FILES: usize = 1_000_000;
/// Problems beyond so many are not collected.
const MAX_PROBLEMS: usize = 100;

/// What adding did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Added {
    /// Record of the series.
    pub series: Digest,
    /// Whether it was there already, so that nothing was done.
    pub was_there: bool,
    /// Raw files of the series.
    pub n_files: usize,
    /// Raw files that were not in the study before.
    pub n_new_files: usize,
    /// Scans of the series.
    pub n_scans: usize,
}

/// A raw file that was read.
struct Prepared {
    entry: FileEntry,
    n_scans: usize,
    /// The text, unless it is in the study already.
    text: Option<Packed>,
    reading: Option<KeptReading>,
}

/// A raw file whose bytes are in memory, and what the study knows of it.
struct Fetched<'a> {
    name: &'a str,
    pin: &'a ReadingPin,
    bytes: Vec<u8>,
    raw: Digest,
    key: Digest,
    /// The reading and the number of its scans, where the study has it.
    known: Option<(Digest, usize)>,
}

impl Study {
    /// Adds a series. `progress` is told how many raw files are kept, after each portion.
    ///
    /// # Errors
    /// A method other than the study's current revision, everything wrong in run sheet and raw files, and whatever
    /// keeps the file from being written. Of an ordinary folder nothing is kept then; of a large one the portions
    /// before the first bad file stay, without a series, and need not be read again.
    pub fn add(
        &mut self,
        delivery: &Delivery,
        by: &By,
        mut progress: impl FnMut(usize),
    ) -> Result<Added, StudyError> {
        self.add_while(delivery, by, |kept| {
            progress(kept);
            ControlFlow::Continue(())
        })
    }

    /// The same, until `progress` says that enough was done.
    ///
    /// # Errors
    /// As [`Self::add`], and [`StudyError::Stopped`]: then there is no series, and what portions kept of a large folder
    /// need not be read again.
    pub fn add_while(
        &mut self,
        delivery: &Delivery,
        by: &By,
        mut progress: impl FnMut(usize) -> ControlFlow<()>,
    ) -> Result<Added, StudyError> {
        let revision = self.method()?;
        check_method(delivery, &revision.method)?;
        let (run_sheet, pins) = understood(delivery, &revision.method)?;
        let work: Vec<(&str, &PathBuf, &ReadingPin)> = delivery
            .raw_files
            .iter()
            .filter_map(|(name, path)| Some((name.as_str(), path, pins.get(name)?)))
            .collect();
        let path = self.path().to_owned();
        let path = path.as_path();
        std::thread::scope(|scope| {
            // A few portions wait while those before them are written, so that all cores have something to do.
            let (sender, receiver) = sync_channel(WAITING_PORTIONS);
            let work = &work;
            scope.spawn(move || {
                let view = connection::open_to_read(path);
                // Where the writer gives up, nobody takes the next portion.
                portions(work).into_iter().try_for_each(|portion| sender.send(read(portion, &view)))
            });
            self.keep(delivery, &run_sheet, &receiver, by, &mut progress)
        })
    }

    /// Takes the portions as they come and keeps them; the last ones together with the series.
    fn keep(
        &mut self,
        delivery: &Delivery,
        run_sheet: &RunSheet,
        portions: &Receiver<Vec<Result<Prepared, StudyError>>>,
        by: &By,
        progress: &mut impl FnMut(usize) -> ControlFlow<()>,
    ) -> Result<Added, StudyError> {
        let mut gathered = Gathered::default();
        let mut portions = portions.iter().peekable();
        loop {
            // Others may write until there is something to keep.
            let _first = portions.peek();
            go_on(progress(gathered.files.len()))?;
            let step = self.write(|transaction, study| {
                let is_end = study.keep_portions(transaction, &mut portions, &mut gathered, by)?;
                if !is_end && gathered.problems.is_empty() {
                    return Ok(None);
                }
                // An error keeps nothing of this.
                gathered.is_whole(run_sheet)?;
                let series = gathered.series(delivery);
                study.keep_series(transaction, &series, run_sheet, &delivery.run_sheet, by).map(Some)
            });
            if !gathered.problems.is_empty() {
                return Err(gathered.all_problems(portions, run_sheet)?.into());
            }
            if let Some(added) = step? {
                return Ok(Added { n_new_files: gathered.n_new_files, ..added });
            }
        }
    }

    /// Keeps texts and scans of portions with one record that names the new ones, until that is enough. Says whether there
    /// are no more.
    fn keep_portions(
        &self,
        transaction: &Transaction<'_>,
        portions: &mut impl Iterator<Item = Vec<Result<Prepared, StudyError>>>,
        gathered: &mut Gathered,
        by: &By,
    ) -> Result<bool, StudyError> {
        let mut files = Vec::new();
        let mut n_bytes = 0;
        let mut is_end = true;
        for portion in portions {
            for prepared in gathered.take(portion)? {
                let (Some(text), Some(kept)) = (&prepared.text, &prepared.reading) else { continue };
                content::put(transaction, text)?;
                if kept.put(transaction)? {
                    n_bytes += text.n_bytes;
                    files.push(prepared.entry);
                }
            }
            if files.len() >= KEPT_FILES || n_bytes >= KEPT_BYTES || !gathered.problems.is_empty() {
                is_end = false;
                break;
            }
        }
        gathered.n_new_files += files.len();
        if !files.is_empty() {
            self.append(transaction, by, &Act::Files(Files { files }))?;
        }
        Ok(is_end)
    }

    /// Records the series with the exclusions and overrides of its run sheet, unless it is there.
    pub(crate) fn keep_series(
        &self,
        transaction: &Transaction<'_>,
        series: &Series,
        run_sheet: &RunSheet,
        text: &str,
        by: &By,
    ) -> Result<Added, StudyError> {
        let mut added = Added {
            series: Digest::NOTHING,
            was_there: true,
            n_files: series.files.len(),
            n_new_files: 0,
            n_scans: series.n_scans,
        };
        for record in ledger::of_kind_holding(transaction, "series", &series.run_sheet.to_string())? {
            if matches!(record.act()?, Act::Series(there) if there.is_same_as(series)) {
                return Ok(Added { series: record.hash, ..added });
            }
        }
        self.check_taken_once(series, run_sheet)?;
        content::put(transaction, &Packed::of(text.as_bytes())?)?;
        let record = self.append(transaction, by, &Act::Series(series.clone()))?;
        (added.series, added.was_there) = (record.hash, false);
        for row in &run_sheet.rows {
            let scan = ScanRef { file: row.file.clone(), scan: row.scan };
            if let Some(reason) = &row.exclude {
                let by = by.for_reason(reason);
                let act = Exclusion { series: record.hash, scan: scan.clone(), from_run_sheet: true };
                self.append(transaction, &by, &Act::Exclusion(act))?;
            }
            for given in &row.overrides {
                let by = by.for_reason(&given.reason);
                let (scan, check) = (scan.clone(), given.check.clone());
                let act = OverrideAct { series: record.hash, scan, check, from_run_sheet: true };
                self.append(transaction, &by, &Act::Override(act))?;
            }
        }
        Ok(added)
    }
}

/// Stops where it was asked to.
pub(crate) fn go_on(asked: ControlFlow<()>) -> Result<(), StudyError> {
    if asked.is_break() { Err(StudyError::Stopped) } else { Ok(()) }
}

/// What the portions so far amount to.
#[derive(Default)]
struct Gathered {
    files: Vec<FileEntry>,
    n_scans: BTreeMap<String, usize>,
    n_new_files: usize,
    problems: Vec<Problem>,
}

impl Gathered {
    /// Shows that nothing was wrong, and that the run sheet names every scan.
    fn is_whole(&self, run_sheet: &RunSheet) -> Result<(), StudyError> {
        if !self.problems.is_empty() {
            return Err(Problems { problems: self.problems.clone() }.into());
        }
        Ok(Input::names_every_scan(run_sheet, &self.n_scans)?)
    }

    /// Everything that is wrong, also in the portions that are left.
    fn all_problems(
        mut self,
        mut portions: impl Iterator<Item = Vec<Result<Prepared, StudyError>>>,
        run_sheet: &RunSheet,
    ) -> Result<Problems, StudyError> {
        portions.try_for_each(|portion| self.take(portion).map(|_| ()))?;
        if let Err(more) = Input::names_every_scan(run_sheet, &self.n_scans) {
            self.problems.extend(more.problems);
        }
        Ok(Problems { problems: self.problems })
    }

    fn series(&self, delivery: &Delivery) -> Series {
        Series {
            name: delivery.name.clone(),
            run_sheet: Digest::of(delivery.run_sheet.as_bytes()),
            n_scans: self.n_scans.values().sum(),
            files: self.files.clone(),
        }
    }

    /// Sorts a portion into what can be kept and what is wrong. Once something is wrong nothing more is kept.
    fn take(&mut self, portion: Vec<Result<Prepared, StudyError>>) -> Result<Vec<Prepared>, StudyError> {
        let mut good = Vec::new();
        for read in portion {
            match read {
                Ok(prepared) => {
                    self.files.push(prepared.entry.clone());
                    self.n_scans.insert(prepared.entry.name.clone(), prepared.n_scans);
                    good.push(prepared);
                }
                Err(StudyError::Content(more)) if self.problems.len() < MAX_PROBLEMS => {
                    self.problems.extend(more.problems);
                }
                Err(StudyError::Content(_)) => {}
                Err(error) => return Err(error),
            }
        }
        if !self.problems.is_empty() {
            good.clear();
        }
        Ok(good)
    }
}

/// The folder's method, where it has one, must be the revision that the study works with.
fn check_method(delivery: &Delivery, current: &Method) -> Result<(), StudyError> {
    let Some(text) = &delivery.method else { return Ok(()) };
    let method = Method::parse("method.toml", text)?;
    if method.hash == current.hash {
        return Ok(());
    }
    let described = |method: &Method| {
        format!("\"{}\" revision {} ({})", method.name, method.revision, digest_of(&method.hash).short())
    };
    Err(StudyError::OtherMethod { found: described(&method), expected: described(current) })
}

/// The run sheet and how each of its files is to be read.
fn understood(
    delivery: &Delivery,
    method: &Method,
) -> Result<(RunSheet, BTreeMap<String, ReadingPin>), StudyError> {
    let n_files = delivery.raw_files.len();
    if n_files > MAX_FILES {
        let what = format!("the folder {}", delivery.name);
        return Err(StudyError::TooLarge { what, found: n_files as u64, limit: MAX_FILES as u64 });
    }
    let run_sheet = RunSheet::parse("run-sheet.csv", &delivery.run_sheet, &method.analyte.reported_as)?;
    let names: BTreeSet<&str> = delivery.raw_files.iter().map(|(name, _)| name.as_str()).collect();
    let mut problems = Vec::new();
    for (name, _) in &delivery.raw_files {
        if let Err(error) = said("name", name, 255, "a file name of printable characters") {
            problems.push(Problem::new(Place::whole_file(name), error.to_string(), ""));
        }
    }
    match Input::reading_pins(method, &run_sheet, &names) {
        Ok(pins) if problems.is_empty() => return Ok((run_sheet, pins)),
        Ok(_) => {}
        Err(more) => problems.extend(more.problems),
    }
    Err(Problems { problems }.into())
}

/// Cuts the work into portions by number and size of files.
fn portions<'a, 'b>(
    work: &'a [(&'b str, &'b PathBuf, &'b ReadingPin)],
) -> Vec<&'a [(&'b str, &'b PathBuf, &'b ReadingPin)]> {
    let mut portions = Vec::new();
    let mut rest = work;
    while !rest.is_empty() {
        let mut n_bytes = 0;
        let mut n_files = 0;
        for (_, path, _) in rest.iter().take(PORTION_FILES) {
            n_bytes += std::fs::metadata(path).map_or(0, |metadata| metadata.len());
            n_files += 1;
            if n_bytes >= PORTION_BYTES {
                break;
            }
        }
        let (portion, after) = rest.split_at(n_files);
        portions.push(portion);
        rest = after;
    }
    portions
}

/// Reads a portion over all cores, in its order: fetched and hashed, looked up, read as scans.
fn read(
    portion: &[(&str, &PathBuf, &ReadingPin)],
    view: &Result<Connection, StudyError>,
) -> Vec<Result<Prepared, StudyError>> {
    let mut fetched: Vec<Result<Fetched<'_>, StudyError>> = portion
        .par_iter()
        .map_init(Keys::default, |keys, (name, path, pin)| fetch(keys, (name, path, pin)))
        .collect();
    if let Ok(view) = view {
        // One lock for all look-ups; without it they only take longer.
        let _one_state = view.unchecked_transaction().ok();
        for file in fetched.iter_mut().flatten() {
            // What cannot be looked up is read again.
            file.known = reading::by_key(view, &file.key).unwrap_or_default();
        }
    }
    fetched.into_par_iter().map(|fetched| fetched.and_then(|fetched| prepare(&fetched))).collect()
}

fn fetch<'a>(
    keys: &mut Keys,
    (name, path, pin): (&'a str, &Path, &'a ReadingPin),
) -> Result<Fetched<'a>, StudyError> {
    let bytes = read_bytes(path)?;
    if bytes.len() > MAX_BYTES {
        let (found, limit) = (bytes.len() as u64, MAX_BYTES as u64);
        return Err(StudyError::TooLarge { what: name.to_owned(), found, limit });
    }
    let raw = Digest::of(&bytes);
    let key = keys.of(&raw, name, pin)?;
    Ok(Fetched { name, pin, bytes, raw, key, known: None })
}

/// Reads one raw file as scans, and packs its text.
fn prepare(fetched: &Fetched<'_>) -> Result<Prepared, StudyError> {
    let Fetched { name, pin, bytes, raw, key, known } = fetched;
    let entry = |reading| FileEntry { name: (*name).to_owned(), raw: *raw, reading };
    if let Some((hash, n_scans)) = known {
        return Ok(Prepared { entry: entry(*hash), n_scans: *n_scans, text: None, reading: None });
    }
    let file = stillwell_scan::read_hashed(bytes, &raw.to_string(), name, pin)
        .map_err(|error| StudyError::Content(Problem::from(&error).into()))?;
    let kept = KeptReading::of(&file, *key, *raw)?;
    let packed = Packed::with(bytes, *raw)?;
    let n_scans = kept.scans.len();
    Ok(Prepared { entry: entry(kept.hash), n_scans, text: Some(packed), reading: Some(kept) })
}
