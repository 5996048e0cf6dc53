//! An accredited laboratory's results on record: what is taken, what is refused, how files add, and that nothing gets lost.

use std::fs;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use stillwell_study::{Act, Delivery, Study, StudyError, VerifyRequest};

use crate::scenario::{alder_vale_study, analyst, clock, new_study};

const MAY: &str = "sample,value,unit,u\nW1,11.3,mg/L as N,0.2\nW2,<5,mg/L as NO3-,\n";
const JUNE: &str = "sample,value,unit,expanded_u\nW3,48.0,mg/L as NO3-,2.0\n";

fn study(folder: &Path) -> Study {
    new_study(&folder.join("wells.study"))
}

fn samples(study: &Study) -> Vec<String> {
    let on_record = study.laboratory_on_record().unwrap();
    on_record.map_or_else(Vec::new, |found| found.results.results.into_iter().map(|one| one.sample).collect())
}

fn sound(study: &Study) {
    let found = study.verify(&VerifyRequest::default()).unwrap();
    assert!(found.is_sound(), "{:?}", found.damages);
}

#[test]
fn a_later_file_adds_and_the_same_bytes_again_are_nothing_new() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = study(folder.path());
    assert!(study.laboratory_on_record().unwrap().is_none());
    let first = study.record_laboratory("may.csv", MAY.as_bytes(), "", &analyst()).unwrap();
    assert!(!first.was_there);
    let Act::Laboratory(act) = first.record.act().unwrap() else { panic!("another act") };
    assert_eq!((act.file.as_str(), act.n_results), ("may.csv", 2));
    assert_eq!(study.raw_file(&act.text).unwrap(), MAY.as_bytes(), "byte for byte");
    let head = study.anchor().unwrap();
    let again = study.record_laboratory("other-name.csv", MAY.as_bytes(), "", &analyst()).unwrap();
    assert!(again.was_there && again.record.hash == first.record.hash);
    assert_eq!(study.anchor().unwrap(), head, "nothing was recorded");
    study.record_laboratory("june.csv", JUNE.as_bytes(), "", &analyst()).unwrap();
    assert_eq!(samples(&study), ["W1", "W2", "W3"]);
    assert_eq!(study.laboratory_on_record().unwrap().unwrap().records.len(), 2);
    sound(&study);
}

#[test]
fn what_is_wrong_is_refused_whole_with_its_place() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = study(folder.path());
    let head = study.anchor().unwrap();
    let large = format!("sample,value,unit,u\n{}", "W,1,mg/L as N,0.1\n".repeat(70_000));
    for (bytes, says) in [
        (&b"sample,value,unit\nW1,11.3,mg/L as N\n"[..], "may.csv:2"),
        (b"sample,valeu,unit\n", "did you mean `value`?"),
        (b"sample,value,unit,u\nW1,1,mg/L as P,0.1\n", "may.csv:2"),
        (b"", "no column `sample`"),
        (b"sample,value,unit,u\nW1,\xff,mg/L as N,1\n", "not UTF-8 from byte 23"),
        (large.as_bytes(), "more than 1048576 is not taken"),
    ] {
        let refused = study.record_laboratory("may.csv", bytes, "", &analyst()).unwrap_err().to_string();
        assert!(refused.contains(says), "{refused}");
    }
    for name in ["", " ", "a\u{7}b", &"w".repeat(201)] {
        let refused = study.record_laboratory(name, MAY.as_bytes(), "", &analyst()).unwrap_err();
        assert!(matches!(refused, StudyError::Unsayable { .. }), "{name}");
    }
    assert_eq!(study.anchor().unwrap(), head, "nothing of it was recorded");
    sound(&study);
}

#[test]
fn no_sample_is_reported_twice_and_two_laboratories_are_not_mixed() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = study(folder.path());
    study.record_laboratory("may.csv", MAY.as_bytes(), "Invented Water Laboratory", &analyst()).unwrap();
    let other = "sample,value,unit,u,batch\nW1,12.0,mg/L as N,0.2,2\n";
    let name = "Invented Water Laboratory";
    let refused =
        study.record_laboratory("june.csv", other.as_bytes(), name, &analyst()).unwrap_err().to_string();
    assert!(
        refused.contains("june.csv:2") && refused.contains("reported already, in may.csv:2"),
        "{refused}"
    );
    let refused =
        study.record_laboratory("june.csv", JUNE.as_bytes(), "Other", &analyst()).unwrap_err().to_string();
    assert!(refused.contains("\"Invented Water Laboratory\", by record 1"), "{refused}");
    assert_eq!(samples(&study), ["W1", "W2"]);
}

#[test]
fn what_was_withdrawn_no_longer_counts_and_stays() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = study(folder.path());
    let first = study.record_laboratory("may.csv", MAY.as_bytes(), "", &analyst()).unwrap().record;
    let refused = study.undo(&first.hash, &analyst()).unwrap_err().to_string();
    assert!(refused.contains("cannot be undone"), "{refused}");
    study.withdraw(&first.hash, &analyst()).unwrap();
    assert!(study.withdraw(&first.hash, &analyst()).is_err());
    assert!(study.laboratory_on_record().unwrap().is_none());
    let entry =
        study.history(None).unwrap().into_iter().find(|entry| entry.record.hash == first.hash).unwrap();
    assert_eq!(entry.standing.unwrap().word(), "withdrawn");
    // The same bytes may be taken in anew: as a record of its own.
    let again = study.record_laboratory("may.csv", MAY.as_bytes(), "", &analyst()).unwrap();
    assert!(!again.was_there && again.record.hash != first.hash);
    assert_eq!(study.laboratories().unwrap().len(), 2);
    assert_eq!(study.laboratory("2").unwrap().record.hash, again.record.hash);
    assert!(study.laboratory("3").unwrap_err().to_string().contains("one of 1, 2"));
    sound(&study);
}

#[test]
fn bundle_merge_and_archive_carry_it() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| -> PathBuf { folder.path().join(name) };
    let mut ours = alder_vale_study(&at("ours.study"));
    ours.record_laboratory("../../may é.csv", MAY.as_bytes(), "", &analyst()).unwrap();
    ours.export(&at("bundle.study")).unwrap();
    let (mut theirs, _) =
        Study::import(&at("bundle.study"), &at("theirs.study"), "theirs", &analyst(), clock()).unwrap();
    assert_eq!(samples(&theirs), ["W1", "W2"]);
    // The same file, recorded in both ledgers, is one report.
    theirs.record_laboratory("may.csv", JUNE.as_bytes(), "", &analyst()).unwrap();
    ours.record_laboratory("june.csv", JUNE.as_bytes(), "", &analyst()).unwrap();
    ours.merge(&at("theirs.study"), &analyst()).unwrap();
    assert_eq!(samples(&ours), ["W1", "W2", "W3"]);
    sound(&ours);
    sound(&theirs);
    ours.archive(&at("archive")).unwrap();
    let names = fs::read_dir(at("archive/laboratory")).unwrap().map(|entry| entry.unwrap().path());
    let first = names.into_iter().find(|path| path.to_string_lossy().contains("00001")).unwrap();
    assert_eq!(fs::read(first).unwrap(), MAY.as_bytes());
    let list = fs::read_to_string(at("archive/laboratory/files.csv")).unwrap();
    assert_eq!(list.lines().count(), 4, "{list}");
}

#[test]
fn a_changed_byte_of_it_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    let mut study = new_study(&path);
    let taken = study.record_laboratory("may.csv", MAY.as_bytes(), "", &analyst()).unwrap();
    let Act::Laboratory(act) = taken.record.act().unwrap() else { panic!("another act") };
    let (old, seq) = (act.text, taken.record.seq);
    drop(study);
    let forged = MAY.replace("11.3", "10.3");
    let connection = rusqlite::Connection::open(&path).unwrap();
    let packed = zstd_of(forged.as_bytes());
    connection.execute_batch("DROP TRIGGER content_is_never_changed").unwrap();
    connection
        .execute("UPDATE content SET packed = ?1 WHERE hash = ?2", rusqlite::params![packed, old.as_bytes()])
        .unwrap();
    connection.execute_batch("CREATE TRIGGER content_is_never_changed BEFORE UPDATE ON content BEGIN SELECT RAISE(ABORT, 'a study only grows'); END;").unwrap();
    drop(connection);
    let study = Study::open_now(&path).unwrap();
    let found = study.verify(&VerifyRequest::default()).unwrap();
    let first = found.damages.first().unwrap().record.as_ref().unwrap();
    assert_eq!((first.seq, first.kind.as_str()), (seq, "laboratory"));
    assert!(study.laboratory_on_record().is_err(), "a changed text is not compared with");
}

fn zstd_of(bytes: &[u8]) -> Vec<u8> {
    zstd::bulk::compress(bytes, 1).unwrap()
}

#[test]
fn every_series_is_walked_once_in_the_order_of_time() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    let study = alder_vale_study(&path);
    let mut told = Vec::new();
    let walked = study
        .walk_in_time(&mut |done, of| {
            told.push((done, of));
            ControlFlow::Continue(())
        })
        .unwrap();
    let stopped = study.walk_in_time(&mut |_, _| ControlFlow::Break(()));
    assert!(matches!(stopped, Err(StudyError::Stopped)));
    assert_eq!(told, [(0, 1), (1, 1)]);
    assert_eq!(walked.anchor, study.anchor().unwrap());
    assert!(walked.unread.is_empty());
    let series = study.series().unwrap()[0].record.hash;
    let looked = study.look(&series, stillwell_method::determine(&study.input(&series).unwrap())).unwrap();
    let [ours, by_itself] = [&walked.series[0].1.report, &looked.report].map(|report| format!("{report:?}"));
    assert_eq!(ours, by_itself, "the same as a series by itself");
    // Adding one that the method cannot read makes it no error.
    drop(study);
    let mut study = Study::open_now(&path).unwrap();
    let raw = folder.path().join("raw");
    crate::folders::folder_of_scans(&raw, 3, 40, 1);
    study.add(&Delivery::of_folder(&raw).unwrap(), &analyst(), |_| {}).unwrap();
    let walked = study.walk_in_time(&mut |_, _| ControlFlow::Continue(())).unwrap();
    assert_eq!(walked.series.len() + walked.unread.len(), 2);
}
