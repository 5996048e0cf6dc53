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
    of_record.filter(|one| one.is_withholding()).map(|one| one.found.clone()).collect()
}

#[test]
fn a_look_draws_no_verdict_from_a_result_that_was_withdrawn_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    let (mut study, series) = determined(folder.path());
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let all = study.determinations().unwrap();
    let (one, two) = (&all[0], &all[1]);
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
    assert!(taken_back(&study, &series, &all[2].act.result.sample).is_empty());
    let shown = Shown::all(&study, study.determinations().unwrap()).unwrap();
    let gone: Vec<&str> =
        Shown::no_longer_counting(&shown).iter().map(|one| one.one.act.result.sample.as_str()).collect();
    assert_eq!(gone, [first, second]);
}
