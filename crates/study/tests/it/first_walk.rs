//! The first walk of a user: a study is made, a folder goes in, and the chain finds what it finds in the folder.

use stillwell_method::determine;
use stillwell_study::{Delivery, StudyError, open_input};

use crate::scenario::{alder_vale, alder_vale_study, analyst, new_study};

#[test]
fn a_study_gives_the_chain_the_same_input_as_the_folder() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    alder_vale_study(&path);
    let from_folder = stillwell_folder::open(&alder_vale(), |_| {}).unwrap();
    let from_study = open_input(&path).unwrap();
    assert_eq!(from_study.files, from_folder.files);
    assert_eq!(from_study.run_sheet, from_folder.run_sheet);
    assert_eq!(format!("{:?}", determine(&from_study)), format!("{:?}", determine(&from_folder)));
}

#[test]
fn adding_again_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = alder_vale_study(&folder.path().join("wells.study"));
    let before = study.anchor().unwrap();
    let again = study.add(&Delivery::of_folder(&alder_vale()).unwrap(), &analyst(), |_| {}).unwrap();
    assert!(again.was_there);
    assert_eq!((again.n_files, again.n_new_files), (15, 0));
    assert_eq!(study.anchor().unwrap(), before);
}

#[test]
fn determinations_are_recorded_once_and_say_what_they_used() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = alder_vale_study(&folder.path().join("wells.study"));
    let series = study.series().unwrap()[0].record.hash;
    let issued = study.determine(&series, &analyst()).unwrap();
    assert_eq!(issued.determinations.len(), issued.report.determinations.len());
    assert!(issued.determinations.len() > 5);
    for one in &issued.determinations {
        assert!(!one.was_there && !one.act.result.scans.is_empty());
        assert!(one.act.result.scans.iter().all(|scan| !scan.blanks.is_empty() || scan.signal.is_none()));
    }
    let before = study.anchor().unwrap();
    let again = study.determine(&series, &analyst()).unwrap();
    assert!(again.determinations.iter().all(|one| one.was_there));
    assert_eq!(study.anchor().unwrap(), before);
}

#[test]
fn a_folder_of_another_method_and_files_without_a_run_sheet_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = new_study(&folder.path().join("wells.study"));
    let mut delivery = Delivery::of_folder(&alder_vale()).unwrap();
    let other = delivery.method.unwrap().replace("revision = \"3\"", "revision = \"4\"");
    delivery.method = Some(other);
    let before = study.anchor().unwrap();
    let refused = study.add(&delivery, &analyst(), |_| {}).unwrap_err();
    assert!(matches!(refused, StudyError::OtherMethod { .. }), "{refused}");
    assert!(refused.to_string().contains("remove method.toml"), "{refused}");
    let bare = Delivery::of(&[alder_vale().join("wells-B1.csv")]).unwrap_err();
    assert!(matches!(bare, StudyError::NoRunSheet), "{bare}");
    assert_eq!(study.anchor().unwrap(), before);
}

#[test]
fn a_study_is_never_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    new_study(&path);
    let refused = stillwell_study::Study::create(
        &path,
        "wells",
        &crate::scenario::alder_vale_method(),
        &analyst(),
        crate::scenario::clock(),
    );
    assert!(matches!(refused, Err(StudyError::AlreadyThere { .. })));
}
