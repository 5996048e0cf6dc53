//! What the machine can do to a study: a program killed in the midst, a full disk, a folder without the right to
//! write, another program that holds the file, a clock that was set back.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use stillwell_stats::random::RandomStream;
use stillwell_study::{Act, By, Clock, Delivery, Study, StudyError, VerifyRequest, verify};

use crate::folders::folder_of_scans;
use crate::programs::start_adding;
use crate::scenario::{analyst, draw, new_study};

const N_SCANS: usize = 2000;

/// The full run kills 200 times and takes some minutes; an ordinary one kills less often.
fn n_kills() -> usize {
    std::env::var("STILLWELL_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(8)
}

/// Names of all files that a record names, in the order of the ledger.
fn files_kept(study: &Study) -> Vec<String> {
    let mut kept = Vec::new();
    for entry in study.history(None).unwrap() {
        if let Act::Files(files) = entry.act {
            kept.extend(files.files.into_iter().map(|file| file.name));
        }
    }
    kept
}

#[test]
fn a_killed_import_leaves_a_clean_beginning_and_a_second_one_completes_it() {
    let folder = tempfile::tempdir().unwrap();
    let raw = folder.path().join("raw");
    folder_of_scans(&raw, N_SCANS, 40, 1);
    let empty = folder.path().join("empty.study");
    new_study(&empty);
    let begun = Instant::now();
    let whole = folder.path().join("whole.study");
    fs::copy(&empty, &whole).unwrap();
    assert!(start_adding(&whole, &raw).wait().unwrap().success());
    let mut longest_ms = begun.elapsed().as_millis() as usize;
    let mut random = RandomStream::new(2026, 6);
    let mut kept = Vec::new();
    let mut index = 0;
    while kept.len() < n_kills() {
        index += 1;
        let path = folder.path().join(format!("{index}.study"));
        fs::copy(&empty, &path).unwrap();
        let mut program = start_adding(&path, &raw);
        std::thread::sleep(Duration::from_millis(draw(&mut random, longest_ms.max(2)) as u64));
        if program.try_wait().unwrap().is_some() {
            // It had finished: that kill came too late to count.
            longest_ms = (longest_ms * 9).div_ceil(10);
            continue;
        }
        program.kill().unwrap();
        program.wait().unwrap();
        let found = verify(&path, &VerifyRequest::default()).unwrap();
        assert!(found.is_sound(), "{index}: {:?}", found.damages);
        let mut study = Study::open_now(&path).unwrap();
        let names = files_kept(&study);
        let expected: Vec<String> = (0..names.len()).map(|n| format!("scan-{n:06}.csv")).collect();
        assert_eq!(names, expected, "{index}: not a beginning");
        let is_complete = !study.series().unwrap().is_empty();
        assert!(!is_complete || names.len() == N_SCANS);
        kept.push(names.len());
        let added = study.add(&Delivery::of_folder(&raw).unwrap(), &analyst(), |_| {}).unwrap();
        assert_eq!((added.n_scans, added.n_new_files), (N_SCANS, N_SCANS - names.len()));
        assert_eq!(files_kept(&study).len(), N_SCANS);
        assert!(study.verify(&VerifyRequest::default()).unwrap().is_sound());
        drop(study);
        fs::remove_file(&path).unwrap();
    }
    let partly = kept.iter().filter(|n| **n > 0 && **n < N_SCANS).count();
    println!("{} kills, {partly} of them in the midst; files kept: {kept:?}", kept.len());
}

#[test]
fn two_programs_that_add_at_once_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    new_study(&path);
    let folders: Vec<_> = (1..=2).map(|salt| folder.path().join(format!("raw-{salt}"))).collect();
    for (salt, raw) in (1..).zip(&folders) {
        folder_of_scans(raw, 700, 40, salt);
    }
    // The first folder is even added by two programs.
    let mut programs: Vec<_> = [0, 1, 0].iter().map(|index| start_adding(&path, &folders[*index])).collect();
    for program in &mut programs {
        assert!(program.wait().unwrap().success());
    }
    let study = Study::open_now(&path).unwrap();
    assert_eq!(study.series().unwrap().len(), 2);
    assert_eq!(files_kept(&study).len(), 1400);
    let found = study.verify(&VerifyRequest::default()).unwrap();
    assert!(found.is_sound(), "{:?}", found.damages);
    assert_eq!(found.n_scans, 1400);
}

#[test]
fn a_file_that_another_program_holds_is_said_to_be_held() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    let mut study = new_study(&path);
    let raw = folder.path().join("raw");
    folder_of_scans(&raw, 3, 40, 1);
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    study.set_patience(Duration::from_millis(50)).unwrap();
    let delivery = Delivery::of_folder(&raw).unwrap();
    let refused = study.add(&delivery, &analyst(), |_| {}).unwrap_err();
    assert!(matches!(refused, StudyError::Locked), "{refused}");
    assert!(study.verify(&VerifyRequest::default()).unwrap().is_sound(), "reading goes on meanwhile");
    other.execute_batch("ROLLBACK").unwrap();
    assert_eq!(study.add(&delivery, &analyst(), |_| {}).unwrap().n_files, 3);
}

#[test]
fn a_clock_set_back_does_not_turn_time_back_and_is_noted() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    let head = |study: &Study| study.history(None).unwrap().last().unwrap().record.clone();
    let mut study = new_study(&path);
    study.exclude_nothing_but_say("before");
    let before = head(&study);
    drop(study);
    let earlier = Clock::of(|| "2020-01-01T00:00:00Z".parse().unwrap());
    let mut study = Study::open(&path, earlier).unwrap();
    study.exclude_nothing_but_say("after");
    let after = head(&study);
    assert_eq!(after.at_utc, before.at_utc);
    assert_eq!(after.clock_utc, "2020-01-01T00:00:00.000000Z");
    assert!(after.clock_was_set_back() && !before.clock_was_set_back());
    assert!(study.verify(&VerifyRequest::default()).unwrap().is_sound());
}

/// An act that needs nothing.
trait Saying {
    fn exclude_nothing_but_say(&mut self, what: &str);
}

impl Saying for Study {
    fn exclude_nothing_but_say(&mut self, what: &str) {
        let custody = stillwell_study::Custody {
            sample: format!("sample {what}"),
            place: "invented well".to_owned(),
            taken: "2026-05-12".to_owned(),
            taken_by: "Ines Field".to_owned(),
            preservation: "none".to_owned(),
            holding_time_h: None,
            dilution: "none".to_owned(),
        };
        self.record_custody(&custody, &By::new("Ines Field", "from the field sheet").unwrap()).unwrap();
    }
}

/// A small disk of its own, unmounted at the end. Needs the rights of root; without them the test is skipped.
struct SmallDisk<'a>(&'a Path);

impl<'a> SmallDisk<'a> {
    fn mount(at: &'a Path, size: &str) -> Option<Self> {
        fs::create_dir_all(at).unwrap();
        let options = format!("size={size}");
        let mounted = Command::new("mount").args(["-t", "tmpfs", "-o", &options, "tmpfs"]).arg(at).status();
        if mounted.is_ok_and(|status| status.success()) {
            return Some(Self(at));
        }
        skip("mounting a small disk needs the rights of root");
        None
    }

    fn forbid_writing(&self) {
        let status = Command::new("mount").args(["-o", "remount,ro"]).arg(self.0).status().unwrap();
        assert!(status.success());
    }
}

#[expect(clippy::print_stdout, reason = "a skip says why")]
pub(crate) fn skip(why: &str) {
    assert!(std::env::var_os("STILLWELL_REQUIRE_ALL").is_none(), "{why}");
    println!("SKIPPED: {why}");
}

impl Drop for SmallDisk<'_> {
    fn drop(&mut self) {
        let _best_effort = Command::new("umount").arg(self.0).status();
    }
}

#[test]
fn a_full_disk_loses_nothing_that_was_kept() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().join("disk");
    let Some(_disk) = SmallDisk::mount(&at, "6m") else { return };
    let path = at.join("wells.study");
    let mut study = new_study(&path);
    let raw = folder.path().join("raw");
    folder_of_scans(&raw, N_SCANS, 100, 1);
    let refused = study.add(&Delivery::of_folder(&raw).unwrap(), &analyst(), |_| {}).unwrap_err();
    assert!(matches!(refused, StudyError::DiskFull), "{refused}");
    drop(study);
    let found = verify(&path, &VerifyRequest::default()).unwrap();
    assert!(found.is_sound(), "{:?}", found.damages);
    let study = Study::open_to_read(&path).unwrap();
    let kept = files_kept(&study).len();
    assert!(kept > 0 && kept < N_SCANS, "{kept}");
    assert_eq!(found.n_records, 2 + kept.div_ceil(1024));
    println!("{kept} of {N_SCANS} files were kept when the disk was full");
}

#[test]
fn a_folder_that_cannot_be_written_can_be_read_and_verified() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().join("disk");
    let Some(disk) = SmallDisk::mount(&at, "20m") else { return };
    let path = at.join("a ?study#1.study");
    let raw = folder.path().join("raw");
    folder_of_scans(&raw, 3, 40, 1);
    let delivery = Delivery::of_folder(&raw).unwrap();
    new_study(&path).add(&delivery, &analyst(), |_| {}).unwrap();
    disk.forbid_writing();
    let study = Study::open_to_read(&path).unwrap();
    assert_eq!(study.series().unwrap().len(), 1);
    assert!(study.verify(&VerifyRequest::default()).unwrap().is_sound());
    drop(study);
    let refused = Study::open_now(&path).unwrap_err();
    assert!(matches!(refused, StudyError::NotWritable { .. } | StudyError::File { .. }), "{refused}");
    assert!(Study::create(&at.join("new.study"), "n", "", &analyst(), Clock::system()).is_err());
}
