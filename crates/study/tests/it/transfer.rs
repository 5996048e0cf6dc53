//! What may be carried to a device, and what stops it.

use std::path::Path;

use stillwell_study::{
    By, Digest, LotStatement, SigningPerson, Study, StudyRole, VerifyRequest, Word, is_signed_by,
};

use crate::people::person;
use crate::scenario::{alder_vale_method, alder_vale_study, analyst};

/// A determined study with an approver who has said nothing yet.
fn determined(folder: &Path) -> (Study, SigningPerson) {
    let mut study = alder_vale_study(&folder.join("wells.study"));
    let series = study.series().unwrap()[0].record.hash;
    study.determine(&series, &analyst()).unwrap();
    let approver = person(&mut study, folder, "Tomas Reed", StudyRole::Approver);
    (study, approver)
}

fn know_lot(study: &mut Study, signer: &SigningPerson, last_day: &str) -> String {
    let lot = LotStatement {
        lot: study.calibration("1").unwrap().act.result.lot,
        identity: "copper-modified strips, invented".to_owned(),
        last_day: last_day.to_owned(),
        storage: "dry, below 25 °C".to_owned(),
        sensitivity_a_per_unit: None,
        blank_a: None,
    };
    study.record_lot(&lot, signer, "from the label").unwrap();
    lot.lot
}

fn refused(study: &Study) -> String {
    study.to_transfer(None, Some("1")).unwrap_err().to_string()
}

fn approve(study: &mut Study, approver: &SigningPerson, target: Digest) {
    study.approve(&target, Word::Approved, approver, "seen with its chain").unwrap();
}

/// Everything that a package needs.
fn ready(folder: &Path) -> (Study, SigningPerson) {
    let (mut study, approver) = determined(folder);
    let (method, calibration) = (study.method().unwrap().record, study.calibration("1").unwrap().record.hash);
    approve(&mut study, &approver, method);
    approve(&mut study, &approver, calibration);
    know_lot(&mut study, &approver, "2027-03-31");
    (study, approver)
}

#[test]
fn nothing_unapproved_leaves_the_study() {
    let folder = tempfile::tempdir().unwrap();
    let (mut study, approver) = determined(folder.path());
    assert!(refused(&study).starts_with("the method revision is not approved"), "{}", refused(&study));
    let method = study.method().unwrap().record;
    approve(&mut study, &approver, method);
    assert!(refused(&study).starts_with("the calibration 1 is not approved"), "{}", refused(&study));
    let calibration = study.calibration("1").unwrap().record.hash;
    approve(&mut study, &approver, calibration);
    assert!(refused(&study).starts_with("nothing is known of lot "), "{}", refused(&study));
    let lot = know_lot(&mut study, &approver, "2027-03-31");
    let carried = study.to_transfer(Some(&lot), None).unwrap();
    assert_eq!(carried.calibration.record.hash, calibration);
    assert_eq!(carried.days[1], "2027-03-31");
    assert_eq!(carried.day_numbers[1], 20_908);
    study.approve(&method, Word::Refused, &approver, "the window is too wide").unwrap();
    assert!(
        refused(&study).contains("refused by the approver: the window is too wide"),
        "{}",
        refused(&study)
    );
    assert!(study.to_transfer(Some("L0"), None).is_err());
}

#[test]
fn nothing_expired_ended_or_withdrawn_leaves_the_study() {
    let folder = tempfile::tempdir().unwrap();
    let (mut study, approver) = ready(folder.path());
    let calibration = study.calibration("1").unwrap().record.hash;
    study.set_validity(&calibration, "2026-12-31", &[], &analyst()).unwrap();
    assert_eq!(study.to_transfer(None, Some("1")).unwrap().days[1], "2026-12-31");
    study.set_validity(&calibration, "2026-05-31", &[], &analyst()).unwrap();
    assert!(refused(&study).starts_with("calibration 1 may not be used: "), "{}", refused(&study));
    study.set_validity(&calibration, "2026-12-31", &[], &analyst()).unwrap();
    assert!(refused(&study).contains("last day was 2026-05-31"), "{}", refused(&study));
    study
        .set_validity_signed(&calibration, "2026-12-31", &[], &approver, "standards measured again")
        .unwrap();
    know_lot(&mut study, &approver, "2026-05-31");
    assert!(
        refused(&study).contains("was to be used until 2026-05-31; today is 2026-06-01"),
        "{}",
        refused(&study)
    );
    know_lot(&mut study, &approver, "2027-03-31");
    assert!(study.to_transfer(None, Some("1")).is_ok());
    study.end_validity(&calibration, "2026-05-20", &By::new("Ines Field", "new reference").unwrap()).unwrap();
    assert!(refused(&study).contains("new reference"), "{}", refused(&study));
    let folder = tempfile::tempdir().unwrap();
    let (mut study, _) = ready(folder.path());
    let calibration = study.calibration("1").unwrap().record.hash;
    study.withdraw(&calibration, &By::new("Ines Field", "standard mixed up").unwrap()).unwrap();
    assert!(refused(&study).contains("withdrawn: standard mixed up"), "{}", refused(&study));
}

#[test]
fn another_revision_or_another_exclusion_asks_for_a_new_calibration() {
    let folder = tempfile::tempdir().unwrap();
    let (mut study, _) = ready(folder.path());
    let carried = study.to_transfer(None, Some("1")).unwrap();
    let standard = &carried.calibration.act.result.standards[0].scan;
    let series = carried.calibration.act.series;
    study.exclude(&series, standard, &By::new("Ines Field", "air bubble").unwrap()).unwrap();
    assert!(refused(&study).contains("does not come out again"), "{}", refused(&study));
    let folder = tempfile::tempdir().unwrap();
    let (mut study, _) = ready(folder.path());
    let text = alder_vale_method().replace("window = 11", "window = 13");
    study.reevaluate(&text, &analyst()).unwrap();
    assert!(refused(&study).starts_with("the method revision is not approved"), "{}", refused(&study));
}

#[test]
fn a_package_is_recorded_once_and_its_signature_is_an_approvers() {
    let folder = tempfile::tempdir().unwrap();
    let (mut study, approver) = ready(folder.path());
    let analyst_key = person(&mut study, folder.path(), "Ines Field", StudyRole::Analyst);
    let carried = study.to_transfer(None, Some("1")).unwrap();
    let bytes = b"a lot's record";
    assert!(study.sign_for_device(&analyst_key, bytes).is_err(), "an analyst signs for no device");
    let signature = study.sign_for_device(&approver, bytes).unwrap();
    assert_eq!(signature, study.sign_for_device(&approver, bytes).unwrap(), "the same bytes each time");
    assert!(is_signed_by(&approver.public_key(), bytes, &signature));
    assert!(!is_signed_by(&approver.public_key(), b"another record", &signature));
    assert!(!is_signed_by(&analyst_key.public_key(), bytes, &signature));
    let package = Digest::of(b"CHECKSUMS");
    assert!(study.record_transfer(&carried, package, &analyst_key, "for the wells").is_err());
    let (record, was_there) = study.record_transfer(&carried, package, &approver, "for the wells").unwrap();
    assert!(!was_there);
    let (again, was_there) = study.record_transfer(&carried, package, &approver, "for the wells").unwrap();
    assert!(was_there && again.hash == record.hash);
    assert_eq!(study.transfer_of(&package).unwrap().unwrap().hash, record.hash);
    let found = study.verify(&VerifyRequest::default()).unwrap();
    assert!(found.is_sound(), "{:?}", found.damages);
    let sample = study.determinations().unwrap()[0].act.result.sample.clone();
    let history = study.history(Some(&sample)).unwrap();
    assert!(history.iter().any(|entry| entry.record.kind == "transfer"), "it stands in the sample's history");
}
