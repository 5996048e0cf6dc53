//! How often a fault on the strip for the water ends in a verdict that is falsely low: water at 1.3 times the limit, a sound control.
//!
//! `cargo test -p stillwell-field --test it deceived -- --ignored --nocapture` plays more runs; the README has its table.

use stillwell_field::{Outcome, Reading, Verdict};
use stillwell_study::{StepAnswer, StepSeen};
use stillwell_twin::Fault;

use crate::phone::{Phone, outcome};
use crate::wells::{Dip, Station};

const TRUTH: f64 = 65.0;

#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
struct Came {
    above: usize,
    too_close: usize,
    below: usize,
    unknown: usize,
    asked_for_strips: usize,
}

struct Case {
    name: &'static str,
    fault: Option<Fault>,
    /// Whether every strip has it, or the first only.
    every: bool,
}

fn cases() -> Vec<Case> {
    let covered = |wetted_share| Some(Fault::PartialCoverage { wetted_share });
    // Half of the active layer is gone; the strip charges as before.
    let worn = |left: f64| {
        Some(Fault::WrongElectrode { area_factor: left, rate_factor: 1.0, double_layer_factor: 1.0 / left })
    };
    let slow = Some(Fault::DryStart { dry_share: 0.6, wetting_s: 3.0, charging_a: -3e-6 });
    let case = |name, fault, every| Case { name, fault, every };
    vec![
        case("none", None, true),
        case("first strip dead", Some(Fault::DeadStrip), false),
        case("every strip dead", Some(Fault::DeadStrip), true),
        case("first strip half covered", covered(0.5), false),
        case("every strip half covered", covered(0.5), true),
        case("first strip covered to 70 %", covered(0.7), false),
        case("every strip covered to 70 %", covered(0.7), true),
        case("half of the active layer gone, first strip", worn(0.5), false),
        case("half of the active layer gone, every strip", worn(0.5), true),
        case("slow dry start, difference current only, every strip", slow, true),
    ]
}

/// One run to its end.
fn play(case: &Case, number: u32, came: &mut Came) {
    let mut at = Station::new();
    let mut phone = Phone::new(&format!("{number}"));
    phone.at_well(&mut at, "AVW-12");
    // Strips 111 to 160, others for each run.
    let strip = |place: u32| 111 + (5 * number + place) % 50;
    phone.control(&mut at, strip(0));
    for place in 1.. {
        let mut dip = Dip::new(strip(place), TRUTH);
        dip.faults.extend(case.fault.filter(|_| case.every || place == 1));
        let answered = phone.measures(&mut at, &dip);
        if answered.run.end().is_some() {
            match outcome(&at, &answered.run) {
                Outcome::Known(result) => {
                    assert!(!matches!(result.reading, Reading::NotDetected { .. }) || case.fault.is_some());
                    match result.verdict {
                        Verdict::Above => came.above += 1,
                        Verdict::TooClose => came.too_close += 1,
                        Verdict::Below => came.below += 1,
                    }
                }
                _ => came.unknown += 1,
            }
            return;
        }
        came.asked_for_strips += 1;
        let goes_on = matches!(
            answered.answer,
            StepAnswer::Taken { seen: Some(StepSeen::SecondStrip { .. } | StepSeen::Unusable { .. }) }
        );
        assert!(goes_on, "{:?}", answered.answer);
    }
}

fn scores(runs: u32) -> Vec<(&'static str, Came)> {
    let score = |case: &Case| {
        let mut came = Came::default();
        for number in 1..=runs {
            play(case, number, &mut came);
        }
        (case.name, came)
    };
    cases().iter().map(score).collect()
}

fn table(scores: &[(&str, Came)]) -> String {
    let head = "| fault on the strips for the water | above | too close | falsely below | unknown | further strips |";
    let line = |(name, came): &(&str, Came)| {
        let Came { above, too_close, below, unknown, asked_for_strips } = came;
        format!("| {name} | {above} | {too_close} | {below} | {unknown} | {asked_for_strips} |")
    };
    let lines: Vec<String> = scores.iter().map(line).collect();
    format!("{head}\n| --- | --- | --- | --- | --- | --- |\n{}", lines.join("\n"))
}

#[test]
fn sound_strips_and_single_bad_ones_never_call_water_over_the_limit_below() {
    let found = scores(3);
    println!("{}", table(&found));
    for (name, came) in found {
        let may_deceive =
            name.starts_with("every strip") || name.contains("every strip") || name.contains("70 %");
        assert!(may_deceive || came.below == 0, "{name}: {came:?}");
        if name == "none" {
            assert_eq!(came.unknown, 0, "{came:?}");
        }
    }
}

#[test]
#[ignore = "plays 500 runs"]
fn many_runs() {
    println!("{}", table(&scores(50)));
}
