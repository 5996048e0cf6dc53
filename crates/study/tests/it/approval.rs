//! Two persons, signed words, withdrawals, validity: who may say what, and what follows from it.

use stillwell_study::{
    Act, By, Custody, Delivery, Digest, LotStatement, ScanRef, SigningPerson, Study, StudyError, StudyRole,
    VerifyRequest, Withholding, Word,
};

use crate::people::{PASSPHRASE, key, person};
use crate::scenario::{alder_vale, alder_vale_method, alder_vale_study, analyst};

fn sound(study: &Study) {
    let found = study.verify(&VerifyRequest::default()).unwrap();
    assert!(found.is_sound(), "{:?}", found.damages);
}

fn determined(folder: &std::path::Path) -> Study {
    let mut study = alder_vale_study(&folder.join("wells.study"));
    let series = study.series().unwrap()[0].record.hash;
    study.determine(&series, &analyst()).unwrap();
    study
}

#[test]
fn an_approver_with_another_key_approves_and_the_analyst_cannot() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let own = person(&mut study, folder.path(), "Ines Field", StudyRole::Analyst);
    let target = study.calibration("1").unwrap();
    assert_eq!(target.standing.word(), "not approved");
    let refused = study.approve(&target.record.hash, Word::Approved, &own, "looks right to me").unwrap_err();
    assert!(refused.to_string().contains("cannot approve it"), "{refused}");
    let stranger = key(folder.path(), "Nobody Known");
    assert!(study.approve(&target.record.hash, Word::Approved, &stranger, "looks right").is_err());
    study.approve(&target.record.hash, Word::Approved, &approver, "residuals without trend").unwrap();
    assert_eq!(study.calibration("1").unwrap().standing.word(), "approved");
    study.approve(&target.record.hash, Word::Refused, &approver, "standard 50 was mixed up").unwrap();
    assert_eq!(study.calibration("1").unwrap().standing.word(), "refused by the approver");
    sound(&study);
}

#[test]
fn a_second_approver_needs_the_word_of_the_first() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let first = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let second = key(folder.path(), "Ada Brook");
    let public = second.public_key();
    let alone = study.add_key("Ada Brook", public, StudyRole::Approver, None, &analyst());
    assert!(matches!(alone, Err(StudyError::NotAllowed { .. })));
    study.add_key("Ada Brook", public, StudyRole::Approver, Some(&first), &analyst()).unwrap();
    let target = study.determinations().unwrap()[0].record.hash;
    study.approve(&target, Word::Approved, &second, "seen with its chain").unwrap();
    let key_record = study.keys().unwrap().into_iter().find(|(_, key)| key.name == "Ada Brook").unwrap().0;
    study.withdraw(&key_record.hash, &By::new("Tomas Reed", "left the laboratory").unwrap()).unwrap();
    let other = study.determinations().unwrap()[1].record.hash;
    let after = study.approve(&other, Word::Approved, &second, "seen with its chain").unwrap_err();
    assert!(after.to_string().contains("was withdrawn"), "{after}");
    sound(&study);
}

#[test]
fn a_key_file_opens_only_with_its_passphrase_unchanged_and_private() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("Tomas Reed.key");
    let made = key(folder.path(), "Tomas Reed");
    let opened = SigningPerson::unlock(&path, PASSPHRASE).unwrap();
    assert_eq!((opened.name(), opened.public_key()), ("Tomas Reed", made.public_key()));
    assert!(SigningPerson::unlock(&path, "four plain invented word").is_err());
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(!text.contains(PASSPHRASE));
    std::fs::write(&path, text.replace("Tomas Reed", "Thomas Reed")).unwrap();
    assert!(SigningPerson::unlock(&path, PASSPHRASE).is_err(), "the name is part of what is locked");
    std::fs::write(&path, &text).unwrap();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).unwrap();
        let refused = SigningPerson::unlock(&path, PASSPHRASE).unwrap_err();
        assert!(refused.to_string().contains("others may read it"), "{refused}");
    }
}

#[test]
fn a_withdrawn_calibration_names_the_results_it_touches() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let calibration = study.calibration("1").unwrap();
    let touched = study.touched_by(&calibration.record.hash).unwrap();
    assert!(!touched.is_empty());
    let by = By::new("Ines Field", "the stock solution was past its date").unwrap();
    study.withdraw(&calibration.record.hash, &by).unwrap();
    assert!(study.withdraw(&calibration.record.hash, &by).is_err(), "withdrawn twice");
    let history = study.history(None).unwrap();
    let entry = history.iter().find(|entry| entry.record.kind == "withdrawal").unwrap();
    assert_eq!(entry.touches.len(), touched.len());
    let sample = &touched[0].act.result.sample;
    let of_sample = study.history(Some(sample)).unwrap();
    let kinds: Vec<&str> = of_sample.iter().map(|entry| entry.record.kind.as_str()).collect();
    for kind in ["revision", "series", "calibration", "determination", "withdrawal"] {
        assert!(kinds.contains(&kind), "{kind} is missing in {kinds:?}");
    }
    // Determined again, the results that rest on it are issued anew without a verdict.
    let series = study.series().unwrap()[0].record.hash;
    let again = study.determine(&series, &analyst()).unwrap();
    let anew: Vec<_> = again.determinations.iter().filter(|one| !one.was_there).collect();
    assert_eq!(anew.len(), touched.len());
    for one in anew {
        assert!(matches!(one.act.withheld[..], [Withholding::CalibrationWithdrawn { .. }]));
        assert!(one.act.replaces.is_some());
    }
    sound(&study);
}

#[test]
fn expired_calibrations_lots_and_samples_held_too_long_withhold_verdicts() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let signer = person(&mut study, folder.path(), "Ines Field", StudyRole::Analyst);
    let one = study.determinations().unwrap().into_iter().find(|d| d.act.calibration.is_some()).unwrap();
    let calibration = one.act.calibration.unwrap();
    let because = |text: &str| By::new("Ines Field", text).unwrap();
    study
        .set_validity(&calibration, "2026-01-31", &["new reference"], &because("a month after it was made"))
        .unwrap();
    study.end_validity(&calibration, "2026-05-01", &because("the reference was exchanged")).unwrap();
    let lot = LotStatement {
        lot: one.act.result.lot.clone(),
        identity: "copper-modified strips, invented".to_owned(),
        last_day: "2026-04-30".to_owned(),
        storage: "dry, below 25 °C".to_owned(),
        sensitivity_a_per_unit: Some(1.1e-7),
        blank_a: Some(2e-7),
    };
    study.record_lot(&lot, &signer, "from the label").unwrap();
    let custody = Custody {
        sample: one.act.result.sample.clone(),
        place: "invented well".to_owned(),
        taken: "2026-05-01".to_owned(),
        taken_by: "Ines Field".to_owned(),
        preservation: "cooled".to_owned(),
        holding_time_h: Some(48.0),
        dilution: "none".to_owned(),
    };
    study.record_custody(&custody, &because("from the field sheet")).unwrap();
    let again = study.determine(&one.act.series, &analyst()).unwrap();
    let found = again.determinations.iter().find(|d| d.act.replaces == Some(one.record.hash)).unwrap();
    let words: Vec<String> = found.act.withheld.iter().map(|w| format!("{w:?}")).collect();
    assert_eq!(found.act.withheld.len(), 4, "{words:?}");
    assert!(found.act.lot.is_some() && found.act.custody.is_some());
    assert_eq!(study.determination(&one.label).unwrap().standing.word(), "replaced");
    // A later statement takes the place of the earlier one.
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    study
        .set_validity_signed(&calibration, "2026-12-31", &[], &approver, "checked against fresh standards")
        .unwrap();
    let later = study.determine(&one.act.series, &analyst()).unwrap();
    let now = later.determinations.iter().find(|d| d.act.result.sample == one.act.result.sample).unwrap();
    assert_eq!(now.act.withheld.len(), 3);
    sound(&study);
}

#[test]
fn an_exclusion_after_the_fact_gives_a_new_result_that_names_the_old_one() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let before = study.determinations().unwrap().into_iter().find(|d| d.act.result.scans.len() > 3).unwrap();
    let scan = before.act.result.scans[0].scan.clone();
    let by = By::new("Ines Field", "the strip was touched").unwrap();
    study.exclude(&before.act.series, &scan, &by).unwrap();
    assert!(study.exclude(&before.act.series, &scan, &by).is_err(), "left out twice");
    assert!(study.override_check(&before.act.series, &scan, "no-such-check", &by).is_err());
    let again = study.determine(&before.act.series, &analyst()).unwrap();
    let now = again.determinations.iter().find(|d| d.act.replaces == Some(before.record.hash)).unwrap();
    assert_ne!(now.act.result.numbers, before.act.result.numbers);
    let history = study.history(Some(&before.act.result.sample)).unwrap();
    assert!(history.iter().any(|entry| matches!(&entry.act, Act::Exclusion(act) if act.scan == scan)));
    // The old one can still be walked as it was.
    let report = study.report_of(&before.record.hash).unwrap();
    let found = report.determinations.iter().find(|d| d.sample == before.act.result.sample).unwrap();
    assert_eq!(found.outcome.word(), before.act.result.outcome);
    let all = VerifyRequest { recompute: stillwell_study::Recompute::All, ..VerifyRequest::default() };
    let verified = study.verify(&all).unwrap();
    assert!(verified.is_sound(), "{:?} {:?}", verified.damages, verified.recomputed);
    assert_eq!(verified.recomputed.len(), study.determinations().unwrap().len());
}

/// What a person does in one go is recorded whole, or not at all.
#[test]
fn a_correction_or_several_approvals_that_cannot_be_finished_leave_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let before = study.determinations().unwrap().into_iter().find(|d| d.act.result.scans.len() > 3).unwrap();
    let known = before.act.result.scans[0].scan.clone();
    let unknown = ScanRef { scan: known.scan + 1000, ..known.clone() };
    let by = analyst();
    let head = study.anchor().unwrap();
    assert!(study.correct(&before.record.hash, &[known.clone(), unknown], &by).is_err());
    let (target, key) = (before.record.hash, study.keys().unwrap()[0].0.hash);
    assert!(study.approve_all(&[target, key], Word::Approved, &approver, "seen with its chain").is_err());
    assert_eq!(study.anchor().unwrap(), head, "nothing was recorded");
    let (left_out, issued) = study.correct(&before.record.hash, std::slice::from_ref(&known), &by).unwrap();
    assert!(matches!(left_out[0].act().unwrap(), Act::Exclusion(act) if act.scan == known));
    assert!(issued.determinations.iter().any(|one| one.act.replaces == Some(target)));
    let new: Vec<_> =
        issued.determinations.iter().filter(|one| !one.was_there).map(|one| one.record).collect();
    let said = study.approve_all(&new, Word::Approved, &approver, "seen with its chain").unwrap();
    assert_eq!(said.len(), new.len());
    sound(&study);
}

#[test]
fn samples_without_standards_of_their_own_lean_on_the_newest_calibration() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let later = folder.path().join("later");
    std::fs::create_dir(&later).unwrap();
    let sheet = std::fs::read_to_string(alder_vale().join("run-sheet.csv")).unwrap();
    let kept: Vec<&str> = sheet
        .lines()
        .filter(|line| {
            line.starts_with("file,") || (line.contains("-B1.csv") && !line.starts_with("standards"))
        })
        .collect();
    std::fs::write(later.join("run-sheet.csv"), kept.join("\n") + "\n").unwrap();
    for name in ["blanks-B1.csv", "wells-B1.csv", "opening-checks-B1.csv", "closing-checks-B1.csv"] {
        std::fs::copy(alder_vale().join(name), later.join(name)).unwrap();
    }
    let twice = study.add(&Delivery::of_folder(&later).unwrap(), &analyst(), |_| {}).unwrap_err();
    assert!(twice.to_string().contains("series 1 holds"), "{twice}");
    // Other bytes with the same numbers: another measurement, as far as anybody can tell.
    for name in ["wells-B1.csv", "opening-checks-B1.csv", "closing-checks-B1.csv"] {
        let text = std::fs::read_to_string(alder_vale().join(name)).unwrap();
        std::fs::write(later.join(name), text + "\n").unwrap();
    }
    let added = study.add(&Delivery::of_folder(&later).unwrap(), &analyst(), |_| {}).unwrap();
    assert_eq!(added.n_new_files, 3, "the blanks are there already, and may serve both");
    let n_calibrations = study.calibrations().unwrap().len();
    let issued = study.determine(&added.series, &analyst()).unwrap();
    assert_eq!(study.calibrations().unwrap().len(), n_calibrations, "no calibration is made anew");
    let first = study.series().unwrap()[0].record.hash;
    let mut n_same = 0;
    for one in &issued.determinations {
        assert_eq!(one.act.borrowed.len(), 1);
        let original = study.determinations().unwrap().into_iter().find(|d| {
            let (there, here) = (&d.act.result, &one.act.result);
            d.act.series == first
                && (&there.sample, &there.role, &there.batch) == (&here.sample, &here.role, &here.batch)
        });
        n_same += usize::from(original.unwrap().act.result.numbers == one.act.result.numbers);
    }
    assert!(
        n_same > 0 && n_same == issued.determinations.len(),
        "{n_same} of {}",
        issued.determinations.len()
    );
    sound(&study);
    a_new_revision_leaves_them_leaning(&mut study, &added.series);
}

fn a_new_revision_leaves_them_leaning(study: &mut Study, leaning: &Digest) {
    let method = alder_vale_method()
        .replace("revision = \"3\"", "revision = \"4\"")
        .replace("level_relative_u = 0.010", "level_relative_u = 0.004");
    let tried = study.try_revision(&method).unwrap();
    // Twice: doing it again must not find another calibration to lean on.
    for _ in 0..2 {
        let done = study.reevaluate(&method, &analyst()).unwrap();
        assert_eq!(done.unreadable, []);
    }
    let current = study.method().unwrap().record;
    let results = study.determinations().unwrap();
    let results: Vec<_> = results
        .iter()
        .filter(|one| one.act.series == *leaning && one.act.revision == current)
        .map(|one| &one.act)
        .collect();
    assert!(!results.is_empty());
    for act in &results {
        assert_eq!(act.borrowed.len(), 1, "{} leans on {:?}", act.result.sample, act.borrowed);
        let borrowed = act.borrowed[0];
        let of = study.calibrations().unwrap().into_iter().find(|one| one.record.hash == borrowed).unwrap();
        assert_eq!(of.act.revision, current, "a calibration of the same revision");
    }
    let tried = tried.differences.iter().filter(|one| one.series == "2");
    let pairs = tried.filter_map(|tried| {
        let same =
            results.iter().find(|act| act.result.sample == tried.sample && act.result.role == tried.role);
        Some((same?.result.numbers.as_ref().map(|numbers| numbers.value), tried.now.value))
    });
    assert!(
        pairs.clone().count() > 0 && pairs.clone().all(|(done, tried)| done == tried),
        "{:?}",
        pairs.collect::<Vec<_>>()
    );
    sound(study);
}

/// Who withdraws a calibration for a standard that was mixed up means the standard: a new revision makes a new
/// calibration from it, and must not give the verdicts back.
#[test]
fn a_calibration_made_anew_from_withdrawn_standards_gives_no_verdict_until_one_is_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let because = |text: &str| By::new("Ines Field", text).unwrap();
    let withdrawn = study.calibrations().unwrap()[1].clone();
    study.withdraw(&withdrawn.record.hash, &because("standard 50 was mixed up")).unwrap();
    let n_before = study.touched_by(&withdrawn.record.hash).unwrap().len();
    let method = alder_vale_method()
        .replace("revision = \"3\"", "revision = \"4\"")
        .replace("level_relative_u = 0.010", "level_relative_u = 0.004");
    let tried = study.try_revision(&method).unwrap();
    study.reevaluate(&method, &because("levels are known better")).unwrap();
    let anew: Vec<_> = study.calibrations().unwrap().into_iter().skip(3).collect();
    let same_lot = anew.iter().find(|one| one.act.result.lot == withdrawn.act.result.lot).unwrap();
    let resting = study.touched_by(&same_lot.record.hash).unwrap();
    assert_eq!(resting.len(), n_before);
    for one in &resting {
        assert!(matches!(one.act.withheld[..], [Withholding::CalibrationWithdrawn { .. }]), "{:?}", one.act);
        assert!(one.act.verdicts().is_empty());
    }
    let tried =
        tried.differences.iter().filter(|t| resting.iter().any(|one| one.act.result.sample == t.sample));
    assert!(tried.clone().count() > 0 && tried.clone().all(|t| t.changed_verdicts.is_empty()), "{tried:?}");
    let series = study.series().unwrap()[0].record.hash;
    let standard = withdrawn.act.result.standards[0].scan.clone();
    study.exclude(&series, &standard, &because("this is the one that was mixed up")).unwrap();
    let mended = study.determine(&series, &because("without the standard")).unwrap();
    let of_lot = mended.determinations.iter().filter(|one| one.act.result.lot == withdrawn.act.result.lot);
    assert!(of_lot.clone().count() > 0);
    for one in of_lot {
        assert_eq!(one.act.withheld, [], "{}", one.act.result.sample);
    }
    sound(&study);
}

#[test]
fn a_calibration_that_the_approver_refused_gives_no_verdict() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = determined(folder.path());
    let approver = person(&mut study, folder.path(), "Tomas Reed", StudyRole::Approver);
    let calibration = study.calibrations().unwrap()[0].record.hash;
    let touched = study.touched_by(&calibration).unwrap();
    let today = |study: &Study| study.withheld_today(touched.iter().map(|one| &one.act)).unwrap();
    assert!(today(&study).iter().all(Vec::is_empty));
    study.approve(&calibration, Word::Refused, &approver, "the residuals bend").unwrap();
    for reasons in today(&study) {
        assert!(matches!(reasons[..], [Withholding::CalibrationRefused { .. }]), "{reasons:?}");
    }
    study.approve(&calibration, Word::Approved, &approver, "the bend was a plotting fault").unwrap();
    assert!(today(&study).iter().all(Vec::is_empty));
}

#[test]
fn an_exclusion_that_is_undone_gives_the_first_result_again_and_both_acts_stay() {
    let folder = tempfile::tempdir().unwrap();
    let mut study = alder_vale_study(&folder.path().join("a.study"));
    let series = study.series().unwrap().remove(0).record.hash;
    let because = |reason: &str| By::new("Ines Field", reason).unwrap();
    let first = study.determine(&series, &because("routine")).unwrap().determinations.remove(0);
    let scan = first.act.result.scans[0].scan.clone();
    let exclusion = study.exclude(&series, &scan, &because("thought to be wet")).unwrap();
    let without = study.determine(&series, &because("without it")).unwrap().determinations.remove(0);
    assert_ne!(without.act.result, first.act.result);
    assert!(study.amendments(&series).unwrap().iter().any(|(record, _)| record.hash == exclusion.hash));

    study.undo(&exclusion.hash, &because("it was another strip")).unwrap();
    assert!(study.undo(&exclusion.hash, &because("again")).is_err(), "undone twice");
    assert!(study.undo(&first.record, &because("a result")).is_err(), "results are withdrawn, not undone");
    assert!(!study.amendments(&series).unwrap().iter().any(|(record, _)| record.hash == exclusion.hash));
    let again = study.determine(&series, &because("with it")).unwrap().determinations.remove(0);
    assert_eq!(again.act.result, first.act.result);
    // Each result comes out again as it was: the undo does not reach back.
    let recomputed = study.report_of(&without.record).unwrap();
    assert!(recomputed.scans.iter().any(|link| link.row.exclude.as_deref() == Some("thought to be wet")));
    let kinds: Vec<String> =
        study.history(Some(&first.act.result.sample)).unwrap().into_iter().map(|e| e.record.kind).collect();
    assert!(kinds.contains(&"exclusion".to_owned()) && kinds.contains(&"undo".to_owned()));
    // What the run sheet itself left out can be taken back as well.
    let from_sheet =
        study.amendments(&series).unwrap().into_iter().find(|(record, _)| record.kind == "exclusion");
    if let Some((record, _)) = from_sheet {
        study.undo(&record.hash, &because("the note was about another strip")).unwrap();
    }
    study.exclude(&series, &scan, &because("left out anew")).unwrap();
}
