//! A flipped byte is named wherever it matters, a cut-off file wherever it is cut, and nothing panics.
//!
//! A byte is live when flipping it changes any value that SQLite gives for any table, or makes SQLite complain. This is
//! found without verification: both files are read out whole and compared. Bytes of free pages and slack are not live.

use std::fs;
use std::path::Path;

use rusqlite::types::Value;
use rusqlite::{Connection, OpenFlags};
use stillwell_stats::random::RandomStream;
use stillwell_study::{Recompute, Verification, VerifyRequest, verify};

use crate::folders::folder_of_scans;
use crate::scenario::{analyst, draw, new_study};

/// A study of a few files in one file without journals.
fn small_study(folder: &Path) -> Vec<u8> {
    let mut study = new_study(&folder.join("made.study"));
    let raw = folder.join("raw");
    folder_of_scans(&raw, 12, 60, 1);
    let delivery = stillwell_study::Delivery::of_folder(&raw).unwrap();
    let added = study.add(&delivery, &analyst(), |_| {}).unwrap();
    study.determine(&added.series, &analyst()).unwrap();
    let bundle = folder.join("bundle.study");
    study.export(&bundle).unwrap();
    fs::read(bundle).unwrap()
}

/// Everything that SQLite gives, or its complaint.
fn read_out(path: &Path) -> Result<Vec<Vec<Value>>, rusqlite::Error> {
    let connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    let mut all = Vec::new();
    let mut read = |sql: &str| -> Result<(), rusqlite::Error> {
        let mut statement = connection.prepare(sql)?;
        let n_columns = statement.column_count();
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            all.push((0..n_columns).map(|column| row.get(column)).collect::<Result<_, _>>()?);
        }
        Ok(())
    };
    read("PRAGMA application_id")?;
    read("PRAGMA user_version")?;
    read("PRAGMA integrity_check")?;
    read("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY rowid")?;
    for table in ["study", "record", "content", "reading", "scan"] {
        read(&format!("SELECT * FROM {table} ORDER BY rowid"))?;
    }
    Ok(all)
}

/// How many live bytes are flipped.
const N_FLIPS: usize = 500;

#[test]
fn every_flipped_live_byte_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = small_study(folder.path());
    let flipped = folder.path().join("flipped.study");
    fs::write(&flipped, &bytes).unwrap();
    let sound = read_out(&flipped).unwrap();
    assert!(verify(&flipped, &VerifyRequest::default()).unwrap().is_sound());
    let mut random = RandomStream::new(20260601, 0);
    let (mut n_live, mut n_dead, mut n_to_the_record) = (0, 0, 0);
    while n_live < N_FLIPS {
        let at = draw(&mut random, bytes.len());
        let bit = 1_u8 << draw(&mut random, 8);
        let mut changed = bytes.clone();
        changed[at] ^= bit;
        fs::write(&flipped, &changed).unwrap();
        if read_out(&flipped).is_ok_and(|found| found == sound) {
            n_dead += 1;
            continue;
        }
        n_live += 1;
        let found = verify(&flipped, &VerifyRequest::default());
        let names_a_record = |found: &Verification| found.damages.iter().any(|one| one.record.is_some());
        n_to_the_record += usize::from(found.as_ref().is_ok_and(names_a_record));
        assert!(
            found.as_ref().map_or(true, |found| !found.damages.is_empty()),
            "byte {at}, bit {bit:#04x} of {} was not named",
            bytes.len()
        );
    }
    println!(
        "{n_live} live bytes flipped and named, {n_to_the_record} with the record; {n_dead} were in free space of {} bytes",
        bytes.len()
    );
}

#[test]
fn a_cut_off_file_is_named_and_nothing_panics() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = small_study(folder.path());
    let cut = folder.path().join("cut.study");
    let mut random = RandomStream::new(20260601, 1);
    for index in 0..60 {
        let length = match index {
            0 => 0,
            1 => 1,
            2 => 100,
            3 => bytes.len() - 1,
            _ => draw(&mut random, bytes.len()),
        };
        fs::write(&cut, &bytes[..length]).unwrap();
        let request = VerifyRequest { recompute: Recompute::All, ..VerifyRequest::default() };
        let found = verify(&cut, &request);
        assert!(found.map_or(true, |found| !found.damages.is_empty()), "cut at {length}");
    }
}
