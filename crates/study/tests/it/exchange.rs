//! Bundles, merging, archives, and a new revision over all of history.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use stillwell_study::{By, Delivery, Recompute, Study, StudyError, StudyRole, VerifyRequest, Word};

use crate::folders::folder_of_scans;
use crate::people::person;
use crate::scenario::{alder_vale_method, alder_vale_study, analyst, clock, new_study};

fn colleague() -> By {
    By::new("Mira Dale", "second laboratory").unwrap()
}

fn sound(study: &Study) {
    let found = study.verify(&VerifyRequest::default()).unwrap();
    assert!(found.is_sound(), "{:?}", found.damages);
}

fn add_scans(study: &mut Study, folder: &Path, salt: usize, by: &By) {
    let raw = folder.join(format!("raw-{salt}"));
    folder_of_scans(&raw, 3, 40, salt);
    study.add(&Delivery::of_folder(&raw).unwrap(), by, |_| {}).unwrap();
}

#[test]
fn a_colleague_goes_on_from_a_bundle_and_both_merge_without_a_clash() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mut ours = alder_vale_study(&at("ours.study"));
    let series = ours.series().unwrap()[0].record.hash;
    ours.determine(&series, &analyst()).unwrap();
    ours.export(&at("bundle.study")).unwrap();
    assert!(matches!(ours.export(&at("bundle.study")), Err(StudyError::AlreadyThere { .. })));
    let begin = Study::import(&at("bundle.study"), &at("theirs.study"), "theirs", &colleague(), clock());
    let (mut theirs, taken) = begin.unwrap();
    assert_eq!((taken.ledgers.len(), taken.n_texts), (1, 16));
    assert_eq!(theirs.series().unwrap()[0].label, format!("{}:1", ours.anchor().unwrap().chain.short()));
    // Both add folders of the very same file names and batch, with other scans in them.
    add_scans(&mut ours, folder.path(), 1, &analyst());
    add_scans(&mut theirs, folder.path(), 2, &colleague());
    let merged = ours.merge(&at("theirs.study"), &analyst()).unwrap();
    assert_eq!(merged.ledgers.len(), 1);
    assert_eq!(ours.series().unwrap().len(), 3);
    theirs.merge(&at("ours.study"), &colleague()).unwrap();
    assert_eq!(theirs.series().unwrap().len(), 3);
    sound(&ours);
    sound(&theirs);
    // Again is a no-op, until something new is there.
    let head = ours.anchor().unwrap();
    let mut last = ours.merge(&at("theirs.study"), &analyst()).unwrap();
    assert_eq!(last.ledgers.len(), 1, "their merge of our folder is new to us");
    last = ours.merge(&at("theirs.study"), &analyst()).unwrap();
    assert_eq!((last.ledgers.len(), last.n_records), (0, 0));
    assert_eq!(ours.anchor().unwrap().seq, head.seq + 1);
    // Results of the colleague's copy are computed again from the raw text as anyone's.
    let all = VerifyRequest { recompute: Recompute::All, ..VerifyRequest::default() };
    let verified = theirs.verify(&all).unwrap();
    assert!(verified.is_sound() && verified.recomputed.len() > 5);
    // A sample of theirs is determined here under our method.
    let foreign = ours.series().unwrap().into_iter().find(|s| s.label.contains(':')).unwrap();
    ours.determine(&foreign.record.hash, &analyst()).unwrap();
    sound(&ours);
}

#[test]
fn copies_that_went_two_ways_are_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mut one = new_study(&at("one.study"));
    add_scans(&mut one, folder.path(), 1, &analyst());
    drop(one);
    fs::copy(at("one.study"), at("two.study")).unwrap();
    let mut one = Study::open(&at("one.study"), clock()).unwrap();
    let mut two = Study::open(&at("two.study"), clock()).unwrap();
    assert_eq!(one.merge(&at("two.study"), &analyst()).unwrap().n_records, 0);
    add_scans(&mut two, folder.path(), 2, &analyst());
    let refused = one.merge(&at("two.study"), &analyst()).unwrap_err().to_string();
    assert!(refused.contains("from record 5 on"), "{refused}");
    add_scans(&mut one, folder.path(), 3, &analyst());
    let refused = one.merge(&at("two.study"), &analyst()).unwrap_err().to_string();
    assert!(refused.contains("went two ways: from record 5 on"), "{refused}");
    sound(&one);
}

#[test]
fn a_bundle_that_was_changed_is_not_taken_in() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let ours = alder_vale_study(&at("ours.study"));
    ours.export(&at("bundle.study")).unwrap();
    let connection = rusqlite::Connection::open(at("bundle.study")).unwrap();
    connection
        .execute_batch(
            "DROP TRIGGER scan_is_never_changed;
             UPDATE scan SET potential_v = zeroblob(length(potential_v)) WHERE rowid = 1;
             CREATE TRIGGER scan_is_never_changed BEFORE UPDATE ON scan BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;",
        )
        .unwrap();
    drop(connection);
    let mut other = new_study(&at("other.study"));
    let refused = other.merge(&at("bundle.study"), &analyst()).unwrap_err().to_string();
    assert!(refused.contains("does not verify: record 3 (files): scans that it names"), "{refused}");
    let begun = Study::import(&at("bundle.study"), &at("new.study"), "n", &analyst(), clock());
    assert!(begun.is_err() && !at("new.study").exists());
    sound(&other);
}

#[test]
fn an_archive_is_plain_files_that_anyone_can_check() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mut study = alder_vale_study(&at("wells.study"));
    let series = study.series().unwrap()[0].record.hash;
    study.determine(&series, &analyst()).unwrap();
    let done = study.archive(&at("archive")).unwrap();
    assert!(done.n_files > 200);
    assert!(matches!(study.archive(&at("archive")), Err(StudyError::AlreadyThere { .. })));
    // What a program left that was stopped in the midst is named, and not taken for ours to remove.
    std::fs::create_dir(at("other.unfinished")).unwrap();
    let left = study.archive(&at("other")).unwrap_err().to_string();
    assert!(left.contains("other.unfinished") && at("other.unfinished").exists(), "{left}");
    let checked = Command::new("sha256sum")
        .args(["--check", "--strict", "--quiet", "SHA256SUMS"])
        .current_dir(at("archive"))
        .output();
    match checked {
        Ok(output) => assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout)),
        Err(_) => crate::crash::skip("there is no sha256sum here"),
    }
    let list = fs::read_to_string(at("archive").join("determinations.csv")).unwrap();
    assert!(list.contains("\"not approved\"") && list.lines().count() > 5);
    let raw = fs::read(at("archive").join("series-1/raw/00001-blanks-B1.csv")).unwrap();
    assert_eq!(raw, fs::read(crate::scenario::alder_vale().join("blanks-B1.csv")).unwrap());
}

#[test]
fn names_of_files_lead_nowhere_in_the_archive() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mut study = new_study(&at("wells.study"));
    let raw = at("raw");
    folder_of_scans(&raw, 2, 40, 1);
    // A delivery may come from anywhere: the names are a stranger's.
    let names = ["../../outside.csv", "/tmp/outside.csv"];
    let mut delivery = Delivery::of_folder(&raw).unwrap();
    for (index, name) in names.iter().enumerate() {
        delivery.run_sheet = delivery.run_sheet.replace(&format!("scan-{index:06}.csv"), name);
        delivery.raw_files[index].0 = (*name).to_owned();
    }
    study.add(&delivery, &analyst(), |_| {}).unwrap();
    study.archive(&at("archive")).unwrap();
    let everything = files_below(folder.path());
    assert!(
        everything
            .iter()
            .filter(|path| path.to_string_lossy().contains("outside"))
            .all(|path| path.starts_with(at("archive").join("series-1")))
    );
    assert!(!Path::new("/tmp/outside.csv").exists());
    let list = fs::read_to_string(at("archive").join("series-1/files.csv")).unwrap();
    assert!(list.contains("\"../../outside.csv\",\"series-1/raw/00001-_._outside.csv\""), "{list}");
}

fn files_below(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_owned()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() { open.push(path) } else { found.push(path) }
        }
    }
    found
}

#[test]
fn a_new_revision_keeps_old_numbers_and_names_changed_verdicts() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = alder_vale_study(&folder.path().join("wells.study"));
    let series = study.series().unwrap()[0].record.hash;
    study.determine(&series, &analyst()).unwrap();
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let old: Vec<_> = study.determinations().unwrap();
    study.approve(&old[0].record.hash, Word::Approved, &approver, "seen with its chain").unwrap();
    let same = study.try_revision(&alder_vale_method()).unwrap();
    assert_eq!((same.n_same, same.differences.len()), (old.len(), 0));
    let new = alder_vale_method()
        .replace("revision = \"3\"", "revision = \"4\"")
        .replace("temperature_coefficient_per_k = 0.018", "temperature_coefficient_per_k = 0.060");
    let before = study.anchor().unwrap();
    let looked = study.try_revision(&new).unwrap();
    assert_eq!(study.anchor().unwrap(), before, "a look records nothing");
    assert!(!looked.differences.is_empty() && looked.unreadable.is_empty());
    let by = By::new("Ines Field", "coefficient measured anew").unwrap();
    let done = study.reevaluate(&new, &by).unwrap();
    assert_eq!(done.differences, looked.differences);
    assert_eq!(study.method().unwrap().method.revision, "4");
    let all = study.determinations().unwrap();
    assert_eq!(all.len(), 2 * old.len());
    assert!(
        all[..old.len()]
            .iter()
            .zip(&old)
            .all(|(now, old)| now.act == old.act && now.standing.word() == "replaced")
    );
    assert!(
        all[old.len()..]
            .iter()
            .all(|new| new.standing.word() == "not approved" && new.act.replaces.is_some())
    );
    let again = study.reevaluate(&new, &by).unwrap();
    assert_eq!((again.differences.len(), study.determinations().unwrap().len()), (0, all.len()));
    let verified =
        study.verify(&VerifyRequest { recompute: Recompute::All, ..VerifyRequest::default() }).unwrap();
    assert!(verified.is_sound(), "{:?} {:?}", verified.damages, verified.recomputed);
}
