//! The archive: a plain folder of text files with checksums that needs no software of ours to read or check.
//!
//! Names from files are data: a file's name in the archive is made by us, and `files.csv` says which is which.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use serde::Serialize;
use sha2::{Digest as _, Sha256};

use crate::act::{Act, FileEntry};
use crate::content;
use crate::error::StudyError;
use crate::field_step::Deed;
use crate::key_file::hex;
use crate::ledger;
use crate::reading::Loader;
use crate::study::{Anchor, Study};

const READ_ME: &str = include_str!("archive_read_me.txt");

/// What an archive holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Archived {
    /// Files written, the list of checksums not counted.
    pub n_files: usize,
    /// Head of the ledger that was written.
    pub anchor: Anchor,
}

/// A line of `ledger.jsonl`.
#[derive(Serialize)]
struct LedgerLine<'a> {
    chain: String,
    seq: u64,
    kind: &'a str,
    subject: &'a str,
    actor: &'a str,
    at_utc: &'a str,
    clock_utc: &'a str,
    reason: &'a str,
    body: &'a str,
    previous: String,
    hash: String,
}

impl Study {
    /// Writes the archive into a new folder. Where it fails, the folder does not exist.
    ///
    /// # Errors
    /// A folder that is there already or cannot be written, or content that is damaged.
    pub fn archive(&self, folder: &Path) -> Result<Archived, StudyError> {
        if folder.exists() {
            return Err(StudyError::AlreadyThere { path: folder.to_owned() });
        }
        let mut unfinished = folder.as_os_str().to_owned();
        unfinished.push(".unfinished");
        let mut archive = Archive { root: PathBuf::from(unfinished), sums: Vec::new() };
        if archive.root.exists() {
            let found = format!(
                "{} lies there: an archive that was cut off, or that is being written",
                archive.root.display()
            );
            return Err(StudyError::not_allowed(
                found,
                "remove that folder, unless another program is writing it",
            ));
        }
        fs::create_dir(&archive.root).map_err(|error| StudyError::file(&archive.root, error))?;
        let written = self.write_archive(&mut archive).and_then(|anchor| {
            fs::rename(&archive.root, folder).map_err(|error| StudyError::file(folder, error))?;
            Ok(Archived { n_files: archive.sums.len(), anchor })
        });
        if written.is_err() {
            // The first error is what matters.
            let _best_effort = fs::remove_dir_all(&archive.root);
        }
        written
    }

    fn write_archive(&self, archive: &mut Archive) -> Result<Anchor, StudyError> {
        let snapshot =
            rusqlite::Transaction::new_unchecked(&self.connection, rusqlite::TransactionBehavior::Deferred)?;
        let anchor = self.anchor()?;
        archive.file("README.txt", READ_ME.as_bytes())?;
        archive.file("anchor.txt", format!("{}\n", anchor.head).as_bytes())?;
        self.archive_ledger(archive)?;
        self.archive_methods(archive)?;
        for series in self.series()? {
            let folder = format!("series-{}", series.label.replace(':', "-"));
            let sheet = content::get(&self.connection, &series.act.run_sheet)?;
            archive.file(&format!("{folder}/run-sheet.csv"), &sheet)?;
            self.archive_files(archive, &folder, &series.act.files)?;
        }
        self.archive_field(archive)?;
        self.archive_laboratory(archive)?;
        self.archive_results(archive)?;
        drop(snapshot);
        archive.finish()?;
        Ok(anchor)
    }

    fn archive_ledger(&self, archive: &mut Archive) -> Result<(), StudyError> {
        let mut lines = Vec::new();
        for chain in ledger::chains(&self.connection, &self.own)? {
            ledger::walk(&self.connection, &chain, |record| {
                let line = LedgerLine {
                    chain: record.chain.to_string(),
                    seq: record.seq,
                    kind: &record.kind,
                    subject: &record.subject,
                    actor: &record.actor,
                    at_utc: &record.at_utc,
                    clock_utc: &record.clock_utc,
                    reason: &record.reason,
                    body: &String::from_utf8_lossy(&record.body),
                    previous: record.previous.to_string(),
                    hash: record.hash.to_string(),
                };
                serde_json::to_writer(&mut lines, &line)
                    .map_err(|error| StudyError::Storage { found: error.to_string() })?;
                lines.push(b'\n');
                Ok(())
            })?;
        }
        archive.file("ledger.jsonl", &lines)
    }

    fn archive_methods(&self, archive: &mut Archive) -> Result<(), StudyError> {
        for (number, record) in (1..).zip(ledger::of_kind(&self.connection, &self.own, "revision")?) {
            if let Act::Revision(revision) = record.act()? {
                let text = content::get(&self.connection, &revision.text)?;
                let name = format!("methods/{number:03}-{}.toml", revision.method.short());
                archive.file(&name, &text)?;
            }
        }
        Ok(())
    }

    fn archive_files(
        &self,
        archive: &mut Archive,
        folder: &str,
        files: &[FileEntry],
    ) -> Result<(), StudyError> {
        let mut list = csv_line(&["name", "raw", "blake3", "scans"]);
        let mut loader = Loader::new(&self.connection);
        for (number, entry) in (1..).zip(files) {
            let plain = plain_name(number, &entry.name);
            let raw = format!("{folder}/raw/{plain}");
            archive.file(&raw, &content::get(&self.connection, &entry.raw)?)?;
            let read = loader.kept(&entry.reading, &entry.name)?;
            for scan in &read.scans {
                let name = format!("{folder}/scans/{plain}.scan-{}.csv", scan.ordinal);
                archive.file(&name, scan_csv(scan).as_bytes())?;
            }
            list += &csv_line(&[&entry.name, &raw, &entry.raw.to_string(), &read.scans.len().to_string()]);
        }
        archive.file(&format!("{folder}/files.csv"), list.as_bytes())
    }

    /// Campaign files, and every raw file that a run in the field handed in, of abandoned runs as well.
    fn archive_field(&self, archive: &mut Archive) -> Result<(), StudyError> {
        for (number, one) in (1..).zip(self.campaigns()?) {
            let text = content::get(&self.connection, &one.act.text)?;
            archive.file(&format!("campaigns/{number:03}.toml"), &text)?;
        }
        let mut files = Vec::new();
        for record in ledger::of_kind(&self.connection, &self.own, crate::field_desk::KIND)? {
            if let Act::FieldStep(step) = record.act()?
                && let Deed::File(file) = step.deed
            {
                files.push((step.run, step.place, file));
            }
        }
        if files.is_empty() {
            return Ok(());
        }
        let mut list = csv_line(&["run", "place", "name", "raw", "blake3", "scans"]);
        for (number, (run, place, file)) in (1..).zip(&files) {
            let raw = format!("field/raw/{}", plain_name(number, &file.name));
            archive.file(&raw, &content::get(&self.connection, &file.raw)?)?;
            let (place, scans) = (place.to_string(), file.n_scans.to_string());
            list += &csv_line(&[run, &place, &file.name, &raw, &file.raw.to_string(), &scans]);
        }
        archive.file("field/files.csv", list.as_bytes())
    }

    /// A laboratory's files, byte for byte, also those that no longer count.
    fn archive_laboratory(&self, archive: &mut Archive) -> Result<(), StudyError> {
        let all = self.laboratories()?;
        if all.is_empty() {
            return Ok(());
        }
        let mut list =
            csv_line(&["number", "laboratory", "name", "file", "blake3", "results", "counts", "record"]);
        for (number, one) in (1..).zip(&all) {
            let file = format!("laboratory/{}", plain_name(number, &one.act.file));
            archive.file(&file, &content::get(&self.connection, &one.act.text)?)?;
            list += &csv_line(&[
                &one.label,
                &one.act.laboratory,
                &one.act.file,
                &file,
                &one.act.text.to_string(),
                &one.act.n_results.to_string(),
                if one.standing.counts() { "yes" } else { "no" },
                &one.record.hash.to_string(),
            ]);
        }
        archive.file("laboratory/files.csv", list.as_bytes())
    }

    fn archive_results(&self, archive: &mut Archive) -> Result<(), StudyError> {
        let mut list = csv_line(&[
            "determination",
            "sample",
            "role",
            "batch",
            "lot",
            "outcome",
            "value",
            "low",
            "high",
            "unit",
            "verdicts",
            "withheld",
            "standing",
            "issued_utc",
            "by",
            "method",
            "calibration",
            "record",
        ]);
        for one in self.determinations()? {
            let result = &one.act.result;
            let number = |value: Option<f64>| value.map_or_else(String::new, |value| format!("{value:?}"));
            let numbers = result.numbers.as_ref();
            let verdicts: Vec<&str> =
                one.act.verdicts().iter().map(|decision| decision.words.as_str()).collect();
            let is_withheld = verdicts.is_empty() && !result.decisions.is_empty();
            let digest =
                |digest: Option<crate::hash::Digest>| digest.map_or_else(String::new, |d| d.to_string());
            list += &csv_line(&[
                &one.label,
                &result.sample,
                &result.role,
                &result.batch,
                &result.lot,
                &result.outcome,
                &number(numbers.map(|numbers| numbers.value)),
                &number(numbers.and_then(|numbers| numbers.low)),
                &number(numbers.and_then(|numbers| numbers.high)),
                &result.unit,
                &verdicts.join("; "),
                if is_withheld { "withheld" } else { "" },
                one.standing.word(),
                &one.record.at_utc,
                &one.record.actor,
                &result.method.to_string(),
                &digest(one.act.calibration),
                &one.record.hash.to_string(),
            ]);
        }
        archive.file("determinations.csv", list.as_bytes())
    }
}

/// The folder being written, and the checksums so far.
struct Archive {
    root: PathBuf,
    sums: Vec<String>,
}

impl Archive {
    /// Writes one file below the folder. `name` is made by us.
    fn file(&mut self, name: &str, bytes: &[u8]) -> Result<(), StudyError> {
        let path = self.root.join(name);
        let failed = |error| StudyError::file(&path, error);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(failed)?;
        }
        fs::OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&path)
            .and_then(|mut file| file.write_all(bytes))
            .map_err(failed)?;
        self.sums.push(format!("{}  {name}\n", hex(&Sha256::digest(bytes))));
        Ok(())
    }

    fn finish(&self) -> Result<(), StudyError> {
        let path = self.root.join("SHA256SUMS");
        fs::write(&path, self.sums.concat()).map_err(|error| StudyError::file(&path, error))
    }
}

/// A name that leads nowhere: its number, then letters, digits, dots and dashes of the stranger's name.
fn plain_name(number: usize, name: &str) -> String {
    let plain: String = name
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() || c == '-' || c == '.' { c } else { '_' })
        .take(80)
        .collect();
    // No dot at the start of a part, and no two in a row.
    let plain = plain.split('.').filter(|part| !part.is_empty()).collect::<Vec<_>>().join(".");
    format!("{number:05}-{plain}")
}

fn scan_csv(scan: &stillwell_scan::Scan) -> String {
    use std::fmt::Write as _;
    let optional = [("forward_a", &scan.forward_a), ("reverse_a", &scan.reverse_a), ("time_s", &scan.time_s)];
    let there: Vec<(&str, &Vec<f64>)> =
        optional.iter().filter_map(|(name, column)| Some((*name, column.as_ref()?))).collect();
    let mut text = String::from("potential_v,current_a");
    for (name, _) in &there {
        text.push(',');
        text.push_str(name);
    }
    text.push('\n');
    for (point, (potential_v, current_a)) in scan.potential_v.iter().zip(&scan.current_a).enumerate() {
        // Writing into a text does not fail.
        let _infallible = write!(text, "{potential_v:?},{current_a:?}");
        for (_, column) in &there {
            let _infallible = write!(text, ",{:?}", column.get(point).copied().unwrap_or(f64::NAN));
        }
        text.push('\n');
    }
    text
}

/// One line, every cell quoted.
fn csv_line(cells: &[&str]) -> String {
    let quoted: Vec<String> = cells.iter().map(|cell| format!("\"{}\"", cell.replace('"', "\"\""))).collect();
    quoted.join(",") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_leads_out_of_the_folder() {
        for name in
            ["../../etc/passwd", "..", "/root", "a/../../b", "C:\\x", ".hidden", "a\0b", "..\\..\\x", "é"]
        {
            let plain = plain_name(7, name);
            assert!(plain.starts_with("00007-"), "{plain}");
            assert!(!plain.contains("..") && !plain.contains(['/', '\\', ':', '\0']), "{plain}");
        }
        assert_eq!(plain_name(1, "wells-B1.csv"), "00001-wells-B1.csv");
        assert!(plain_name(1, &"x".repeat(1000)).len() < 100);
    }

    #[test]
    fn cells_are_quoted() {
        assert_eq!(csv_line(&["a\"b", "c,d", "e\nf"]), "\"a\"\"b\",\"c,d\",\"e\nf\"\n");
    }
}
