//! Who may give more than was there: a later last day, an approval of what did not pass, the end of the last approver.

use stillwell_study::{By, LotStatement, Study, StudyRole, VerifyRequest, Word};

use crate::people::person;
use crate::scenario::{alder_vale_study, analyst};

fn determined(folder: &std::path::Path) -> Study {
    let mut study = alder_vale_study(&folder.join("wells.study"));
    let series = study.series().unwrap()[0].record.hash;
    study.determine(&series, &analyst()).unwrap();
    study
}

fn sound(study: &Study) {
    let found = study.verify(&VerifyRequest::default()).unwrap();
    assert!(found.is_sound(), "{:?}", found.damages);
}

#[test]
fn a_later_last_day_of_a_lot_counts_only_by_an_approver() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let other = person(&mut study, folder.path(), "Zed Marsh", StudyRole::Analyst);
    let lot = |last_day: &str| LotStatement {
        lot: "L21".to_owned(),
        identity: "strips, invented".to_owned(),
        last_day: last_day.to_owned(),
        storage: "dry".to_owned(),
        sensitivity_a_per_unit: None,
        blank_a: None,
    };
    let in_force = |study: &Study| study.lot_last_day("L21").unwrap().unwrap();
    for unsound in [-5.0, 0.0, f64::NAN, 1e300] {
        let lot = LotStatement { sensitivity_a_per_unit: Some(unsound), ..lot("2026-05-01") };
        assert!(study.record_lot(&lot, &approver, "a slip").is_err(), "{unsound}");
    }
    for (day, signer, expected) in [
        ("2026-05-01", &approver, "2026-05-01"),
        ("2036-05-01", &other, "2026-05-01"),
        ("2026-04-01", &other, "2026-04-01"),
        ("2026-04-30", &other, "2026-04-01"),
        ("2026-06-30", &approver, "2026-06-30"),
    ] {
        study.record_lot(&lot(day), signer, "as the label says").unwrap();
        assert_eq!(in_force(&study), expected, "after {day}");
    }
    sound(&study);
}

#[test]
fn a_later_last_day_of_a_calibration_counts_only_by_an_approver() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let calibration = study.calibration("1").unwrap().record.hash;
    let anyone = By::new("Zed Marsh", "still good").unwrap();
    for (day, expected) in
        [("2026-05-01", "2026-05-01"), ("2030-01-01", "2026-05-01"), ("2026-04-01", "2026-04-01")]
    {
        study.set_validity(&calibration, day, &[], &anyone).unwrap();
        assert_eq!(study.calibration_last_day(&calibration).unwrap().as_deref(), Some(expected));
    }
    let history = stillwell_study::History::of(&study, None).unwrap();
    let limited: Vec<_> =
        history.entries.iter().filter_map(|entry| history.not_extending(&entry.record.hash)).collect();
    assert_eq!(limited, ["2026-05-01"]);
    assert!(study.end_validity(&calibration, "2126-05-26", &anyone).is_err(), "yet to come");
    let until = stillwell_study::Overview::of(&study).unwrap().used_until;
    assert_eq!(until.get(&calibration).map(String::as_str), Some("2026-04-01"));
    let touched = study.touched_by(&calibration).unwrap();
    let withheld = |study: &Study| {
        study.withheld_today(touched.iter().map(|one| &one.act)).unwrap().iter().all(|why| !why.is_empty())
    };
    assert!(withheld(&study));
    study.set_validity_signed(&calibration, "2026-12-31", &["new reference"], &approver, "checked").unwrap();
    assert!(!withheld(&study));
    sound(&study);
}

#[test]
fn the_last_approver_goes_only_by_an_approvers_signature() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let other = person(&mut study, folder.path(), "Zed Marsh", StudyRole::Analyst);
    let key = study.keys().unwrap()[0].0.hash;
    let refused = study.withdraw(&key, &By::new("nobody in particular", "gone").unwrap()).unwrap_err();
    assert!(refused.to_string().contains("last approver's key"), "{refused}");
    assert!(study.withdraw_signed(&key, &other, "gone").is_err(), "an analyst's key");
    study.withdraw_signed(&key, &approver, "leaves the laboratory").unwrap();
    sound(&study);
}

#[test]
fn what_did_not_pass_is_approved_only_with_words_and_nothing_twice() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let all = study.determinations().unwrap();
    let refused = all.iter().find(|one| one.act.result.numbers.is_none()).unwrap().record.hash;
    let said = study.approve(&refused, Word::Approved, &approver, "looked at").unwrap_err();
    assert!(said.to_string().contains("refused"), "{said}");
    let why = Some("it is to stay on record as unknown");
    let records = study.approve_although(&[refused], Word::Approved, &approver, "looked at", why).unwrap();
    assert!(records[0].reason.contains("although the chain refused"), "{}", records[0].reason);
    let twice = study.approve_although(&[refused], Word::Approved, &approver, "looked at", why).unwrap_err();
    assert!(twice.to_string().contains("already"), "{twice}");
    sound(&study);
}
