//! What somebody took back stays taken back: no look, no routine act and no new revision gives its verdict again.

use stillwell_method::Check;
use stillwell_study::{By, Digest, Shown, Study, StudyRole, Word};

use crate::people::person;
use crate::scenario::{alder_vale_study, analyst};

fn because(reason: &str) -> By {
    By::new("Ines Field", reason).unwrap()
}

fn determined(folder: &std::path::Path) -> (Study, Digest) {
    let mut study = alder_vale_study(&folder.join("wells.study"));
    let series = study.series().unwrap()[0].record.hash;
    study.determine(&series, &analyst()).unwrap();
    (study, series)
}

/// Findings of a sample by the check on its record, as a look shows them today.
fn taken_back(study: &Study, series: &Digest, sample: &str) -> Vec<String> {
    let report = stillwell_method::determine(&study.input(series).unwrap());
    let looked = study.look(series, report).unwrap();
    let found = looked.report.determinations.iter().find(|one| one.sample == sample).unwrap();
    let of_record = found.findings.iter().filter(|one| one.check == Check::ResultNotInForce);
    of_record
        .filter(|one| one.is_in_force(stillwell_method::Effect::Withheld))
        .map(|one| one.found.clone())
        .collect()
}

#[test]
fn a_look_draws_no_verdict_from_a_result_that_was_withdrawn_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    let (mut study, series) = determined(folder.path());
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let all = study.determinations().unwrap();
    let one = &all[0];
    let two = all.iter().find(|two| two.act.result.sample != one.act.result.sample).unwrap();
    let (first, second) = (one.act.result.sample.as_str(), two.act.result.sample.as_str());
    assert!(taken_back(&study, &series, first).is_empty());
    study.withdraw(&one.record.hash, &because("the bottle was another well's")).unwrap();
    study.approve(&two.record.hash, Word::Refused, &approver, "the peaks look cut").unwrap();
    assert_eq!(
        taken_back(&study, &series, first),
        [format!("result {} was withdrawn by Ines Field: the bottle was another well's", one.label)]
    );
    assert_eq!(
        taken_back(&study, &series, second),
        [format!("result {} was refused by Tomas Reed: the peaks look cut", two.label)]
    );
    let third =
        all.iter().map(|one| one.act.result.sample.as_str()).find(|third| ![first, second].contains(third));
    assert!(taken_back(&study, &series, third.unwrap()).is_empty());
    let shown = Shown::all(&study, study.determinations().unwrap()).unwrap();
    let gone: Vec<&str> =
        Shown::no_longer_counting(&shown).iter().map(|one| one.one.act.result.sample.as_str()).collect();
    assert_eq!(gone, [first, second]);
}

#[test]
fn a_withdrawn_result_comes_back_only_by_a_correction_with_a_reason() {
    let folder = tempfile::tempdir().unwrap();
    let (mut study, series) = determined(folder.path());
    let old = study.determinations().unwrap().into_iter().find(|one| one.act.result.scans.len() > 3).unwrap();
    study.withdraw(&old.record.hash, &because("the bottle was another well's")).unwrap();
    let n_before = study.determinations().unwrap().len();
    let otto = By::new("Otto Lane", "routine").unwrap();
    // The same numbers again, and others after a record that changes what is said of it.
    for is_changed in [false, true] {
        if is_changed {
            let scan = old.act.result.scans[0].scan.clone();
            study.exclude(&series, &scan, &because("touched")).unwrap();
        }
        let issued = study.determine(&series, &otto).unwrap();
        let one = issued.determinations.iter().find(|one| one.record == old.record.hash).unwrap();
        assert!(one.was_there);
        assert_eq!(one.withdrawn.as_ref().unwrap().reason, "the bottle was another well's");
        assert_eq!(study.determinations().unwrap().len(), n_before);
    }
    let method = crate::scenario::alder_vale_method()
        .replace("revision = \"3\"", "revision = \"4\"")
        .replace("level_relative_u = 0.010", "level_relative_u = 0.004");
    for revised in [study.try_revision(&method).unwrap(), study.reevaluate(&method, &otto).unwrap()] {
        assert_eq!(revised.withdrawn.len(), 1);
        assert_eq!(revised.withdrawn[0].record, old.record.hash);
    }
    let of_sample = |study: &Study| -> Vec<_> {
        let all = study.determinations().unwrap().into_iter();
        let is_it = |one: &stillwell_study::Numbered<stillwell_study::DeterminationAct>| {
            let (here, there) = (&one.act.result, &old.act.result);
            (&here.sample, &here.role, &here.batch) == (&there.sample, &there.role, &there.batch)
        };
        all.filter(is_it).collect()
    };
    assert_eq!(of_sample(&study).len(), 1);
    assert!(of_sample(&study)[0].standing.leaves_unknown());
    study.correct(&old.record.hash, &[], &because("the labels were right after all")).unwrap();
    let anew = of_sample(&study).pop().unwrap();
    assert_eq!(anew.act.replaces, Some(old.record.hash));
    assert_eq!(anew.record.reason, "the labels were right after all");
    assert!(taken_back(&study, &series, &old.act.result.sample).is_empty());
}

#[test]
fn the_reason_of_a_correction_stands_only_with_what_it_is_about() {
    let folder = tempfile::tempdir().unwrap();
    let (mut study, _) = determined(folder.path());
    let all = study.determinations().unwrap();
    let target = all.iter().find(|one| one.act.result.scans.len() > 3).unwrap();
    let other = all.iter().find(|one| one.act.result.sample != target.act.result.sample).unwrap();
    let custody = stillwell_study::Custody {
        sample: other.act.result.sample.clone(),
        place: "invented well".to_owned(),
        taken: "2026-05-01".to_owned(),
        taken_by: "Ines Field".to_owned(),
        preservation: "cooled".to_owned(),
        holding_time_h: Some(48.0),
        dilution: "none".to_owned(),
    };
    let custody = study.record_custody(&custody, &because("from the field sheet")).unwrap();
    let scan = target.act.result.scans[0].scan.clone();
    let bubble = because("air bubble on the strip, seen by eye");
    study.correct(&target.record.hash, std::slice::from_ref(&scan), &bubble).unwrap();
    let anew = |old: &Digest| {
        let all = study.determinations().unwrap();
        all.into_iter().find(|one| one.act.replaces == Some(*old)).unwrap().record.reason
    };
    assert_eq!(anew(&target.record.hash), "air bubble on the strip, seen by eye");
    let reason = anew(&other.record.hash);
    assert!(
        reason.contains(&format!("custody is #{}", custody.seq)) && !reason.contains("bubble"),
        "{reason}"
    );
}

#[test]
fn the_same_scans_come_in_once_and_again_only_where_they_were_left_out() {
    let folder = tempfile::tempdir().unwrap();
    crate::folders::folder_of_scans(&folder.path().join("raw"), 3, 40, 1);
    let mut study = crate::scenario::new_study(&folder.path().join("wells.study"));
    let delivery = || stillwell_study::Delivery::of_folder(&folder.path().join("raw")).unwrap();
    let first = study.add(&delivery(), &analyst(), |_| {}).unwrap();
    assert!(study.add(&delivery(), &analyst(), |_| {}).unwrap().was_there, "the same delivery");
    let sheet = folder.path().join("raw/run-sheet.csv");
    let text = std::fs::read_to_string(&sheet).unwrap();
    std::fs::write(&sheet, text.replace("well-1,", "well-7,")).unwrap();
    let head = study.anchor().unwrap();
    let twice = study.add(&delivery(), &analyst(), |_| {}).unwrap_err();
    assert!(twice.to_string().contains("series 1 holds 3 of these scans already"), "{twice}");
    assert_eq!(study.anchor().unwrap(), head);
    for index in 0..3 {
        let scan = stillwell_study::ScanRef { file: format!("scan-{index:06}.csv"), scan: 1 };
        study.exclude(&first.series, &scan, &because("the run sheet named another well")).unwrap();
    }
    assert!(!study.add(&delivery(), &analyst(), |_| {}).unwrap().was_there);
}
