//! A weak link: steps handed in late, twice, out of order, after a restart of the server or of the phone; two phones at one well.

use stillwell_field::{AbandonReason, NotTaken, Outcome, Run};
use stillwell_study::StepAnswer;

use crate::phone::{Own, Phone, Queued, outcome, steps_of};
use crate::wells::{Dip, Station};

/// A whole run, step by step in its own time, none of it handed in.
fn offline(phone: &mut Phone, strips: [u32; 2], truth: f64) -> Vec<Queued> {
    let mut queue = vec![phone.queue(Own::Well("AVW-11".into()))];
    for dip in [Dip::new(strips[0], 25.0), Dip::new(strips[1], truth)] {
        for (wait, deed) in steps_of(&dip) {
            phone.wait(wait);
            queue.push(phone.queue(deed));
        }
    }
    queue
}

fn result_record(at: &Station, run: &Run) -> stillwell_study::Digest {
    match outcome(at, run) {
        Outcome::Known(result) => result.record,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_whole_run_without_a_link_gives_the_same_result_hours_later() {
    let mut at = Station::new();
    let mut phone = Phone::new("late");
    let queue = offline(&mut phone, [101, 102], 17.6);
    phone.wait(5 * 3600);
    let mut last = None;
    for queued in &queue {
        let answered = phone.hand_in(&mut at, queued).unwrap();
        assert!(matches!(answered.answer, StepAnswer::Taken { .. }), "{:?}", answered.answer);
        last = Some(answered.run);
    }
    let run = last.unwrap();
    let record = result_record(&at, &run);
    // The day of the measurement is that of the step, not that of its receipt.
    let one = at.study.determination(&record.to_string()).unwrap();
    assert!(one.act.withheld.is_empty());
    // The same with a link all the time.
    let mut live = Station::new();
    let mut phone = Phone::new("late");
    phone.at_well(&mut live, "AVW-11");
    phone.control(&mut live, 101);
    let answered = phone.measures(&mut live, &Dip::new(102, 17.6));
    let other = live.study.determination(&result_record(&live, &answered.run).to_string()).unwrap();
    assert_eq!(one.act.result.numbers, other.act.result.numbers);
    at.sound();
}

#[test]
fn every_step_twice_and_the_server_killed_at_each_counts_once() {
    let mut at = Station::new();
    let mut phone = Phone::new("twice");
    let queue = offline(&mut phone, [101, 102], 17.6);
    let mut run = Run::default();
    for queued in &queue {
        phone.wait(1);
        let first = phone.hand_in(&mut at, queued).unwrap();
        // The answer is lost, the server is killed and started again, the phone hands the step in once more.
        at = at.restarted();
        phone.wait(30);
        let second = phone.hand_in(&mut at, queued).unwrap();
        assert!(!first.again && second.again);
        assert_eq!(first.answer, second.answer);
        assert_eq!(first.run, second.run);
        run = second.run;
    }
    assert_eq!(at.study.field_steps().unwrap().len(), queue.len());
    assert_eq!(at.study.determinations().unwrap().len(), 1);
    result_record(&at, &run);
    at.sound();
}

#[test]
fn steps_out_of_order_wait_and_nothing_is_recorded_meanwhile() {
    let mut at = Station::new();
    let mut phone = Phone::new("order");
    let queue = offline(&mut phone, [101, 102], 17.6);
    for place in (0..queue.len()).rev() {
        if place > 0 {
            let waits = phone.hand_in(&mut at, &queue[place]).unwrap_err();
            assert_eq!(waits, NotTaken::Waits { expected: 1 });
        }
    }
    assert!(at.study.field_steps().unwrap().is_empty());
    for queued in &queue {
        phone.hand_in(&mut at, queued).unwrap();
    }
    assert_eq!(at.study.field_steps().unwrap().len(), queue.len());
    // Another step in a place that is taken, and a key that stands elsewhere.
    let other = Queued { key: "key-of-another-step".into(), ..queue[3].clone() };
    assert_eq!(phone.hand_in(&mut at, &other).unwrap_err(), NotTaken::PlaceTaken);
    let other = Queued { place: 99, ..queue[3].clone() };
    assert_eq!(phone.hand_in(&mut at, &other).unwrap_err(), NotTaken::KeyTaken);
}

#[test]
fn a_timer_cut_short_without_a_link_is_found_when_the_link_returns() {
    let mut at = Station::new();
    let mut phone = Phone::new("short");
    let mut queue = vec![phone.queue(Own::Well("AVW-11".into()))];
    let dip = Dip::new(101, 25.0);
    for (wait, deed) in steps_of(&dip) {
        // Nobody waits for the clock.
        phone.wait(if matches!(deed, Own::Start) { 20 } else { wait });
        queue.push(phone.queue(deed));
    }
    phone.wait(3600);
    let answers: Vec<StepAnswer> =
        queue.iter().map(|queued| phone.hand_in(&mut at, queued).unwrap().answer).collect();
    assert!(matches!(&answers[5], StepAnswer::Refused { code, .. } if code == "too-early"), "{answers:?}");
    assert!(matches!(&answers[6], StepAnswer::Refused { code, .. } if code == "not-now"), "{answers:?}");
    assert!(at.study.determinations().unwrap().is_empty());
}

#[test]
fn a_clock_set_back_changes_no_timer_and_is_noticed() {
    let mut at = Station::new();
    let mut phone = Phone::new("set-back");
    phone.at_well(&mut at, "AVW-11");
    let dip = Dip::new(101, 25.0);
    let mut run = Run::default();
    for (wait, deed) in steps_of(&dip) {
        phone.wait(wait);
        if matches!(deed, Own::Apply) {
            phone.device_clock_ms -= 7_200_000;
        }
        run = phone.goes_on(&mut at, deed).run;
    }
    assert_eq!(run.clock_set_s(), Some(-7200.0));
}

#[test]
fn a_phone_that_restarts_or_runs_away_costs_the_strip() {
    let mut at = Station::new();
    let mut phone = Phone::new("restart");
    phone.at_well(&mut at, "AVW-11");
    for (wait, deed) in steps_of(&Dip::new(101, 25.0)).into_iter().take(4) {
        phone.wait(wait);
        phone.goes_on(&mut at, deed);
    }
    phone.boot = "boot-0002".into();
    phone.steady_ms = 1000;
    phone.is_refused(&mut at, Own::Start, "device-restarted");
    phone.is_refused(&mut at, Own::Start, "not-now");
    for (wait, deed) in steps_of(&Dip::new(102, 25.0)).into_iter().take(4) {
        phone.wait(wait);
        phone.goes_on(&mut at, deed);
    }
    // The phone says that two minutes have passed; the receipts say that none has.
    phone.steady_ms += 120_000;
    phone.is_refused(&mut at, Own::Start, "device-clock");
    // A step that claims to have been handed in before it was taken.
    let mut queued = phone.queue(Own::Strip("K21A".into(), 103));
    queued.steady_ms += 600_000;
    let answered = phone.hand_in(&mut at, &queued).unwrap();
    assert!(matches!(answered.answer, StepAnswer::Refused { code, .. } if code == "device-clock"));
}

#[test]
fn what_waited_on_the_phone_for_four_days_is_too_late() {
    let mut at = Station::new();
    let mut phone = Phone::new("days");
    let queued = phone.queue(Own::Well("AVW-11".into()));
    phone.wait(4 * 86_400);
    let answered = phone.hand_in(&mut at, &queued).unwrap();
    assert!(matches!(answered.answer, StepAnswer::Refused { code, .. } if code == "handed-in-too-late"));
}

#[test]
fn two_phones_at_one_well_share_nothing_and_know_of_each_other() {
    let mut at = Station::new();
    let mut one = Phone::new("one");
    let mut other = Phone::called("other", "phone 2");
    one.at_well(&mut at, "AVW-11");
    other.at_well(&mut at, "AVW-11");
    let others = at.field.others_at_well(&at.study, &other.run, "AVW-11", other.server_ms, 3600.0).unwrap();
    assert_eq!(others, [one.run.clone()]);
    one.goes_on(&mut at, Own::Strip("K21A".into(), 101));
    // The strip that one holds, the other cannot have; given back, it can.
    other.is_refused(&mut at, Own::Strip("K21A".into(), 101), "strip-used");
    one.goes_on(&mut at, Own::Abandon(AbandonReason::HadToLeave));
    other.goes_on(&mut at, Own::Strip("K21A".into(), 101));
    // Nobody acts in another's run.
    let mut thief = Phone::called("other", "phone 3");
    thief.place = other.place;
    let queued = thief.queue(Own::Temperature(20.0));
    assert_eq!(thief.hand_in(&mut at, &queued).unwrap_err(), NotTaken::OtherDevice);
    at.sound();
}

#[test]
fn two_phones_one_well_two_results() {
    let mut at = Station::new();
    let mut phones = [Phone::new("first"), Phone::called("second", "phone 2")];
    let mut runs = Vec::new();
    let strips = [[101, 102], [103, 104]];
    let queues: Vec<Vec<Queued>> =
        phones.iter_mut().zip(strips).map(|(phone, strips)| offline(phone, strips, 17.6)).collect();
    for place in 0..queues[0].len() {
        runs = phones
            .iter()
            .zip(&queues)
            .map(|(phone, queue)| phone.hand_in(&mut at, &queue[place]).unwrap().run)
            .collect();
    }
    let records: Vec<_> = runs.iter().map(|run| result_record(&at, run)).collect();
    assert_ne!(records[0], records[1]);
    for record in &records {
        let one = at.study.determination(&record.to_string()).unwrap();
        assert!(one.standing.counts(), "neither takes the other's place");
    }
    at.sound();
}

#[test]
fn names_that_no_phone_draws_are_refused_and_leave_nothing() {
    let mut at = Station::new();
    let phone = Phone::new("x");
    for run in ["", "short", "../../etc/passwd", "a b c d e f g", &"x".repeat(65)] {
        let handed = stillwell_field::HandedIn {
            run,
            place: 1,
            key: "key-0000001",
            device: "phone 1",
            when: stillwell_study::StepTime {
                boot: phone.boot.clone(),
                steady_ms: 1,
                handed_in_steady_ms: 1,
                device_clock_ms: 0,
                received_ms: phone.server_ms,
            },
            deed: stillwell_field::Handed::Rinse,
            label: None,
        };
        assert!(at.field.hand_in(&mut at.study, &handed).is_err(), "{run}");
    }
    assert!(at.study.field_steps().unwrap().is_empty());
}
