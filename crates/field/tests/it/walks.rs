//! Whole walks, with the study's chain and strips of known truth.

use stillwell_field::{AbandonReason, Outcome, Prompt, Reading, Verdict, Why};
use stillwell_study::{By, StepAnswer, StepSeen};
use stillwell_twin::Fault;

use crate::phone::{Own, Phone, outcome, steps_of};
use crate::wells::{Dip, Station, analyst};

fn known(at: &Station, run: &stillwell_field::Run) -> stillwell_field::Result {
    match outcome(at, run) {
        Outcome::Known(result) => *result,
        other => panic!("{other:?}"),
    }
}

#[test]
fn below_gives_one_number_with_its_basis_and_the_very_bits_of_the_desk() {
    let mut at = Station::new();
    let mut phone = Phone::new("below");
    phone.at_well(&mut at, "AVW-11");
    phone.control(&mut at, 101);
    let answered = phone.measures(&mut at, &Dip::new(102, 17.6));
    let result = known(&at, &answered.run);
    assert_eq!(result.verdict, Verdict::Below);
    assert_eq!(result.basis.unit, "mg/L as NO₃⁻");
    let Reading::Number { value, expanded_u } = &result.reading else { panic!("{result:?}") };
    let (value, expanded_u): (f64, f64) = (value.parse().unwrap(), expanded_u.parse().unwrap());
    assert!((value - 17.6).abs() <= expanded_u, "{value} ± {expanded_u}");
    assert_eq!(result.strips, ["K21A-102"]);
    assert_eq!(result.calibration_last_day.as_deref(), Some("2026-08-31"));
    // At the desk the same series gives the very same record.
    let one = at.study.determination(&result.record.to_string()).unwrap();
    let again = at.study.determine(&one.act.series, &analyst()).unwrap();
    assert!(again.determinations.iter().all(|one| one.was_there && one.record == result.record));
    at.sound();
}

#[test]
fn above_gives_its_verdict_and_beyond_the_range_a_bound() {
    let mut at = Station::new();
    for (run, strips, truth) in [("above", [101, 102], 78.0), ("beyond", [103, 104], 148.0)] {
        let mut phone = Phone::new(run);
        phone.at_well(&mut at, "AVW-12");
        phone.control(&mut at, strips[0]);
        let answered = phone.measures(&mut at, &Dip::new(strips[1], truth));
        let result = known(&at, &answered.run);
        assert_eq!(result.verdict, Verdict::Above);
        assert_eq!(matches!(result.reading, Reading::MoreThan(_)), truth > 100.0, "{result:?}");
    }
    at.sound();
}

#[test]
fn near_the_limit_a_second_strip_is_asked_for_and_two_that_agree_give_one_number() {
    let mut at = Station::new();
    let mut phone = Phone::new("near");
    phone.at_well(&mut at, "AVW-13");
    phone.control(&mut at, 101);
    let first = phone.measures(&mut at, &Dip::new(102, 40.0));
    assert!(matches!(first.answer, StepAnswer::Taken { seen: Some(StepSeen::SecondStrip { .. }) }));
    assert!(at.study.determinations().unwrap().is_empty(), "nothing is issued from half a measurement");
    assert_eq!(Prompt::of(at.field.campaign(), &first.run).unwrap().text, "step-strip-second");
    let second = phone.measures(&mut at, &Dip::new(103, 40.0));
    let result = known(&at, &second.run);
    assert_eq!(result.strips, ["K21A-102", "K21A-103"]);
    assert_eq!(at.study.determinations().unwrap().len(), 1);
    assert_eq!(
        at.study.determinations().unwrap()[0].act.result.numbers.as_ref().unwrap().electrodes,
        Some(2)
    );
    at.sound();
}

#[test]
fn two_strips_that_disagree_give_no_number() {
    let mut at = Station::new();
    let mut phone = Phone::new("apart");
    phone.at_well(&mut at, "AVW-13");
    phone.control(&mut at, 101);
    phone.measures(&mut at, &Dip::new(102, 60.0));
    // As a strip would read that is two thirds alive.
    let answered = phone.measures(&mut at, &Dip::new(103, 40.0));
    assert!(
        matches!(answered.answer, StepAnswer::Taken { seen: Some(StepSeen::Disagree { .. }) }),
        "{:?}",
        answered.answer
    );
    assert_eq!(outcome(&at, &answered.run), Outcome::Unknown(Why::Disagree));
    assert!(at.study.determinations().unwrap().is_empty());
    at.sound();
}

#[test]
fn nothing_detected_needs_a_second_strip_so_that_one_dead_strip_is_found() {
    let mut at = Station::new();
    let mut phone = Phone::new("empty");
    phone.at_well(&mut at, "AVW-11");
    phone.control(&mut at, 101);
    let first = phone.measures(&mut at, &Dip::new(102, 0.0));
    assert!(
        matches!(first.answer, StepAnswer::Taken { seen: Some(StepSeen::SecondStrip { .. }) }),
        "{:?}",
        first.answer
    );
    let second = phone.measures(&mut at, &Dip::new(103, 0.0));
    let result = known(&at, &second.run);
    let Reading::NotDetected { control, .. } = &result.reading else { panic!("{result:?}") };
    assert!(control.contains("living electrode control"), "{control}");
    assert_eq!(result.verdict, Verdict::Below);
    // The same with a dead strip in water over the limit.
    let mut phone = Phone::new("dead-strip");
    phone.at_well(&mut at, "AVW-11");
    phone.control(&mut at, 104);
    let first = phone.measures(&mut at, &Dip::new(105, 80.0).with(Fault::DeadStrip));
    assert!(
        matches!(first.answer, StepAnswer::Taken { seen: Some(StepSeen::SecondStrip { .. }) }),
        "{:?}",
        first.answer
    );
    let second = phone.measures(&mut at, &Dip::new(106, 80.0));
    assert_eq!(outcome(&at, &second.run), Outcome::Unknown(Why::Disagree));
    at.sound();
}

#[test]
fn a_dead_control_ends_the_run() {
    let mut at = Station::new();
    let mut phone = Phone::new("dead");
    phone.at_well(&mut at, "AVW-11");
    let answered = phone.measures(&mut at, &Dip::new(101, 25.0).with(Fault::DeadStrip));
    assert!(
        matches!(answered.answer, StepAnswer::Taken { seen: Some(StepSeen::NotAlive { .. }) }),
        "{:?}",
        answered.answer
    );
    assert_eq!(outcome(&at, &answered.run), Outcome::Unknown(Why::ControlNotAlive));
    phone.is_refused(&mut at, Own::Strip("K21A".into(), 102), "run-is-over");
    at.sound();
}

#[test]
fn a_half_covered_strip_costs_the_strip_and_three_cost_the_run() {
    let mut at = Station::new();
    let mut phone = Phone::new("half");
    let half = Fault::PartialCoverage { wetted_share: 0.5 };
    phone.at_well(&mut at, "AVW-12");
    let answered = phone.measures(&mut at, &Dip::new(101, 25.0).with(half));
    let StepAnswer::Taken { seen: Some(StepSeen::Unusable { check, .. }) } = &answered.answer else {
        panic!("{:?}", answered.answer)
    };
    assert_eq!(check, "drop-coverage");
    phone.control(&mut at, 102);
    for strip in [103, 104] {
        phone.measures(&mut at, &Dip::new(strip, 78.0).with(half));
    }
    let last = phone.measures(&mut at, &Dip::new(105, 78.0).with(half));
    let Outcome::Unknown(Why::StripsUsedUp { check }) = outcome(&at, &last.run) else { panic!() };
    assert_eq!(check.as_deref(), Some("drop-coverage"));
    assert!(at.study.determinations().unwrap().is_empty());
    at.sound();
}

#[test]
fn wrong_well_expired_used_unknown_and_recalled_strips_are_blocked() {
    let mut at = Station::new();
    let mut phone = Phone::new("blocked");
    phone.is_refused(&mut at, Own::Well("AVW-99".into()), "well-unknown");
    phone.is_refused(&mut at, Own::Strip("K21A".into(), 101), "not-now");
    phone.at_well(&mut at, " avw-11 ");
    phone.is_refused(&mut at, Own::Strip("K99".into(), 101), "lot-unknown");
    phone.is_refused(&mut at, Own::Strip("K21A".into(), 99), "strip-unknown");
    phone.is_refused(&mut at, Own::Strip("K21A".into(), 110), "strip-recalled");
    phone.is_refused(&mut at, Own::Strip("K21B".into(), 201), "strip-expired");
    phone.control(&mut at, 101);
    phone.is_refused(&mut at, Own::Strip("K21A".into(), 101), "strip-used");
    let answered = phone.does(&mut at, Own::Abandon(AbandonReason::WrongWell));
    let Outcome::Unknown(Why::Abandoned(reason)) = outcome(&at, &answered.run) else { panic!() };
    assert_eq!(reason, AbandonReason::WrongWell);
    // An abandoned run is a record too, with its raw file.
    let steps = at.study.field_steps().unwrap();
    assert_eq!(steps.len(), 15);
    let mut next = Phone::new("after");
    next.at_well(&mut at, "AVW-11");
    next.is_refused(&mut at, Own::Strip("K21A".into(), 101), "strip-used");
    at.sound();
}

#[test]
fn a_warm_sample_waits_until_it_is_cool() {
    let mut at = Station::new();
    let mut phone = Phone::new("warm");
    phone.at_well(&mut at, "AVW-11");
    phone.control(&mut at, 101);
    phone.goes_on(&mut at, Own::Strip("K21A".into(), 102));
    phone.is_refused(&mut at, Own::Temperature(34.0), "too-warm");
    phone.is_refused(&mut at, Own::Temperature(4.0), "too-cold");
    phone.is_refused(&mut at, Own::Temperature(f64::NAN), "temperature-not-a-number");
    phone.is_refused(&mut at, Own::Rinse, "not-now");
    phone.wait(600);
    phone.goes_on(&mut at, Own::Temperature(26.0));
    at.sound();
}

#[test]
fn no_timer_can_be_cut_short_or_overslept() {
    let mut at = Station::new();
    let mut phone = Phone::new("timers");
    phone.at_well(&mut at, "AVW-11");
    phone.goes_on(&mut at, Own::Strip("K21A".into(), 101));
    phone.goes_on(&mut at, Own::Temperature(21.0));
    phone.wait(1000);
    phone.is_refused(&mut at, Own::Rinse, "too-late");
    phone.goes_on(&mut at, Own::Temperature(21.0));
    phone.goes_on(&mut at, Own::Rinse);
    phone.is_refused(&mut at, Own::Apply, "too-early");
    phone.wait(10);
    phone.goes_on(&mut at, Own::Apply);
    phone.wait(30);
    let early = phone.is_refused(&mut at, Own::Start, "too-early");
    assert!(
        matches!(&early.answer, StepAnswer::Refused { with, .. } if with[0] == ("seconds".to_owned(), "28".to_owned()))
    );
    phone.wait(400);
    phone.is_refused(&mut at, Own::Start, "too-late");
    // The strip is lost, and with it nothing else.
    phone.is_refused(&mut at, Own::Start, "not-now");
    phone.is_refused(&mut at, Own::Strip("K21A".into(), 101), "strip-used");
    let dip = Dip::new(102, 25.0);
    for (wait, deed) in steps_of(&dip).into_iter().take(5) {
        phone.wait(wait);
        phone.goes_on(&mut at, deed);
    }
    phone.is_refused(&mut at, Own::File(dip.file(2)), "too-early");
    phone.wait(20);
    phone.is_refused(&mut at, Own::File(dip.file(1)), "file-of-other-scans");
    phone.is_refused(&mut at, Own::File(b"no numbers here".to_vec()), "file-unreadable");
    let answered = phone.goes_on(&mut at, Own::File(dip.file(2)));
    assert!(matches!(answered.answer, StepAnswer::Taken { seen: Some(StepSeen::Alive { .. }) }));
    phone.wait(4000);
    let last = steps_of(&Dip::new(103, 17.6));
    for (wait, deed) in last.into_iter().take(4) {
        phone.wait(wait);
        phone.goes_on(&mut at, deed);
    }
    phone.wait(65);
    phone.is_refused(&mut at, Own::Start, "control-too-old");
    at.sound();
}

#[test]
fn a_file_of_before_is_not_taken_again() {
    let mut at = Station::new();
    let mut phone = Phone::new("again");
    phone.at_well(&mut at, "AVW-11");
    phone.control(&mut at, 101);
    for (wait, deed) in steps_of(&Dip::new(102, 17.6)).into_iter().take(5) {
        phone.wait(wait);
        phone.goes_on(&mut at, deed);
    }
    phone.wait(20);
    phone.is_refused(&mut at, Own::File(Dip::new(101, 25.0).file(2)), "file-used-before");
    phone.goes_on(&mut at, Own::File(Dip::new(102, 17.6).file(2)));
}

#[test]
fn nothing_is_taken_without_an_approved_campaign_and_calibration_in_force() {
    let mut at = Station::unapproved();
    let mut phone = Phone::new("early");
    phone.is_refused(&mut at, Own::Well("AVW-11".into()), "campaign-not-approved");

    let mut at = Station::new();
    let mut phone = Phone::new("late-in-the-year");
    phone.server_ms += 90 * 86_400_000;
    phone.is_refused(&mut at, Own::Well("AVW-11".into()), "campaign-over");

    let mut phone = Phone::new("past-calibration");
    phone.server_ms += 60 * 86_400_000;
    phone.at_well(&mut at, "AVW-11");
    phone.is_refused(&mut at, Own::Strip("K21A".into(), 101), "calibration-not-in-force");

    let because = |words: &str| By::new("Ines Field", words).unwrap();
    let calibration = at.study.calibration("1").unwrap().record.hash;
    at.study.withdraw(&calibration, &because("standard 50 was mixed up")).unwrap();
    let mut phone = Phone::new("withdrawn");
    phone.at_well(&mut at, "AVW-11");
    phone.is_refused(&mut at, Own::Strip("K21A".into(), 101), "calibration-not-in-force");
    let campaign = at.study.campaign("1").unwrap().record.hash;
    at.study.withdraw(&campaign, &because("the boxes were left in the sun")).unwrap();
    phone.is_refused(&mut at, Own::Strip("K21A".into(), 102), "campaign-withdrawn");
    at.sound();
}

#[test]
fn a_result_whose_calibration_is_withdrawn_later_is_no_longer_given_out() {
    let mut at = Station::new();
    let mut phone = Phone::new("later");
    phone.at_well(&mut at, "AVW-11");
    phone.control(&mut at, 101);
    let run = phone.measures(&mut at, &Dip::new(102, 17.6)).run;
    assert!(matches!(outcome(&at, &run), Outcome::Known(_)));
    let calibration = at.study.calibration("1").unwrap().record.hash;
    at.study.withdraw(&calibration, &By::new("Ines Field", "standard 50 was mixed up").unwrap()).unwrap();
    assert_eq!(outcome(&at, &run), Outcome::NoLonger);
}

#[test]
fn an_open_run_is_closed_when_nobody_can_go_on_any_more() {
    let mut at = Station::new();
    let mut phone = Phone::new("open");
    phone.at_well(&mut at, "AVW-11");
    assert!(at.field.close_overdue(&mut at.study, phone.server_ms + 86_400_000).unwrap().is_empty());
    let closed = at.field.close_overdue(&mut at.study, phone.server_ms + 4 * 86_400_000).unwrap();
    assert_eq!(closed, [phone.run.clone()]);
    let runs = at.field.runs(&at.study).unwrap();
    assert_eq!(outcome(&at, &runs[&phone.run]), Outcome::Unknown(Why::Overdue));
    at.sound();
}

#[test]
fn steps_and_files_of_the_field_are_in_history_and_archive() {
    let mut at = Station::new();
    let mut phone = Phone::new("kept");
    phone.at_well(&mut at, "AVW-11");
    phone.control(&mut at, 101);
    phone.measures(&mut at, &Dip::new(102, 17.6));
    let history = at.study.history(Some("AV-11")).unwrap();
    let kinds: Vec<&str> = history.iter().map(|entry| entry.record.kind.as_str()).collect();
    assert_eq!(kinds.iter().filter(|kind| **kind == "field-step").count(), 13);
    assert!(kinds.contains(&"campaign") && kinds.contains(&"determination"), "{kinds:?}");
    let archive = at.folder().join("archive");
    at.study.archive(&archive).unwrap();
    let list = std::fs::read_to_string(archive.join("field/files.csv")).unwrap();
    assert_eq!(list.lines().count(), 3);
    assert!(archive.join("campaigns/001.toml").exists());
    // Another laboratory takes the study in with everything.
    let copy = at.folder().join("copy.study");
    let mut other = stillwell_study::Study::create(
        &copy,
        "other",
        &crate::wells::method_text(),
        &analyst(),
        stillwell_study::Clock::system(),
    )
    .unwrap();
    other.merge(at.study.path(), &analyst()).unwrap();
    assert!(other.verify(&stillwell_study::VerifyRequest::default()).unwrap().is_sound());
    assert_eq!(other.campaigns().unwrap().len(), 1);
}
