//! Faults that the twin plants, found and named by the commands as a person runs them; sound laboratories raise no alarm.

use std::fs;

use serde_json::Value;
use stillwell_foresee::alder_vale::{CELL_TEXT, CIRCUIT_TEXT};
use stillwell_foresee::alder_vale_year::METHOD_TEXT;
use stillwell_foresee::{Batch, Bench, CellModel, CircuitModel, Measurement, Water, simulate_plan};
use stillwell_method::{Method, Role};
use stillwell_scan::TextForm;
use stillwell_twin::Fault;

use crate::command::{Run, on};

const MONTHS: usize = 12;
const LEVELS: [f64; 6] = [0.0, 10.0, 25.0, 50.0, 75.0, 100.0];

fn batch(name: &str, date: String, lot: &str, strips_used: u32, measurements: Vec<Measurement>) -> Batch {
    let at_bench = |measurement: Measurement| Measurement { temperature_c: Some(21.0), ..measurement };
    Batch {
        name: name.to_owned(),
        date,
        lot: lot.to_owned(),
        lot_number: 30,
        strips_used,
        form: TextForm::plain(6),
        extension: "csv",
        files: vec![("day".to_owned(), measurements.into_iter().map(at_bench).collect())],
    }
}

/// One lot for a year: standards in the first month; each month blanks, a check standard, a zero, a well and a check standard.
fn year(plant: impl Fn(usize, &mut Measurement)) -> Vec<Batch> {
    let mut used = 0;
    (0..MONTHS)
        .map(|month| {
            let mut work = vec![Measurement::new(Role::Blank, 0.0, 2)];
            if month == 0 {
                work.extend(LEVELS.map(|level| Measurement::known(Role::Standard, level, 3, 2)));
            }
            let check = || Measurement::known(Role::CheckStandard, 50.0, 2, 1);
            let well = Measurement::sample(&format!("W{:02}", month + 1), 30.0, 2, 1);
            let [ph, chloride_mg_per_l, conductivity_us_per_cm] = ["3.0", "31", "540"].map(str::to_owned);
            let water = Water { ph, chloride_mg_per_l, conductivity_us_per_cm };
            let zero = Measurement::known(Role::CheckStandard, 0.0, 2, 1);
            work.extend([check(), zero, Measurement { water, ..well }, check()]);
            for measurement in &mut work {
                plant(month, measurement);
            }
            let n_strips: u32 = work.iter().map(|measurement| measurement.strips).sum();
            let date = format!("2026-{:02}-10", month + 1);
            let made = batch(&(month + 1).to_string(), date, "L30", used, work);
            used += n_strips;
            made
        })
        .collect()
}

/// The folder that a laboratory leaves.
fn laboratory(seed: u64, batches: &[Batch]) -> tempfile::TempDir {
    let method = Method::parse(METHOD_TEXT.name, METHOD_TEXT.text).expect("the method");
    let cell = CellModel::parse(CELL_TEXT.name, CELL_TEXT.text).expect("the strip");
    let circuit = CircuitModel::parse(CIRCUIT_TEXT.name, CIRCUIT_TEXT.text).expect("the circuit");
    let bench = Bench { cell: &cell, circuit: &circuit, technique: &method.technique, seed };
    let traces = simulate_plan(bench, batches, &method.analyte.reported_as, || {}).expect("simulated");
    let recorded = traces.recorded(&circuit.circuit).expect("recorded");
    let folder = tempfile::tempdir().expect("a temporary folder");
    for file in &recorded.files {
        fs::write(folder.path().join(&file.name), &file.bytes).expect("written");
    }
    fs::write(folder.path().join("run-sheet.csv"), &recorded.run_sheet).expect("written");
    fs::write(folder.path().join("method.toml"), METHOD_TEXT.text).expect("written");
    folder
}

fn said(run: &Run) -> String {
    assert_eq!(run.stderr, "");
    run.stdout.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn control(folder: &tempfile::TempDir) -> (Value, String) {
    let document = on("control", folder.path(), &["--format", "json"]);
    let words = said(&on("control", folder.path(), &[]));
    (serde_json::from_str(&document.stdout).expect("JSON"), words)
}

fn states(document: &Value) -> Vec<(&str, &str)> {
    let charts = document["charts"].as_array().expect("charts").iter();
    charts
        .map(|chart| (chart["chart"].as_str().expect("a name"), chart["state"].as_str().expect("a state")))
        .collect()
}

fn withheld(document: &Value) -> Vec<&str> {
    document["withheld"].as_array().expect("a list").iter().filter_map(|one| one["sample"].as_str()).collect()
}

#[test]
fn a_drifting_blank_is_named_with_its_chart_its_beginning_and_its_wells() {
    let creeping = year(|month, measurement| {
        if measurement.level == Some(0.0) && measurement.role == Role::CheckStandard {
            measurement.at_strip = 0.8 * month.saturating_sub(9) as f64;
        }
    });
    let (document, words) = control(&laboratory(21, &creeping));
    assert!(states(&document).contains(&("blank", "out-of-control")), "{words}");
    assert!(!states(&document).contains(&("check standard recovery", "out-of-control")), "{words}");
    assert!(words.contains("high, since batch 11 of 2026-11-10"), "{words}");
    assert!(words.contains("look for traces in water, electrolyte, vessels and pipette"), "{words}");
    let wells = withheld(&document);
    assert!(wells.contains(&"W12") && !wells.contains(&"W08"), "{wells:?}");
}

#[test]
fn a_swapped_check_standard_is_named_with_its_batch() {
    let swapped = year(|month, measurement| {
        if month == 9 && measurement.level == Some(50.0) && measurement.role == Role::CheckStandard {
            measurement.at_strip = 25.0;
        }
    });
    let folder = laboratory(22, &swapped);
    let (document, words) = control(&folder);
    assert!(words.contains("beyond the action limits, low, since batch 10 of 2026-10-10"), "{words}");
    assert!(withheld(&document).contains(&"W10"), "{words}");
    let determined = said(&on("determine", folder.path(), &[]));
    assert!(
        determined.contains("withheld check-standard") && determined.contains("batch 10"),
        "{determined}"
    );
}

#[test]
fn standards_swapped_in_the_calibration_are_named_with_their_level() {
    let swapped = year(|_, measurement| {
        if measurement.role == Role::Standard {
            measurement.at_strip = match measurement.level {
                Some(25.0) => 50.0,
                Some(50.0) => 25.0,
                _ => measurement.at_strip,
            };
        }
    });
    let run = on("calibrate", laboratory(23, &swapped).path(), &[]);
    let words = said(&run);
    println!("{}", run.stdout);
    assert_eq!(run.code, Some(1), "{words}");
    assert!(words.contains("refused"), "{words}");
    assert!(words.contains("back-calculated") && words.contains("25"), "{words}");
}

/// Standards of two lots; the second one's strips give this share of the signal and are otherwise the first one's.
fn two_lots(share: f64) -> Vec<Batch> {
    let standards = |faults: &[(Fault, u32)]| {
        let known = |level: f64| Measurement {
            faults: faults.to_vec(),
            ..Measurement::known(Role::Standard, level, 4, 2)
        };
        let mut work = vec![Measurement::new(Role::Blank, 0.0, 3)];
        work.extend(LEVELS.map(known));
        work
    };
    let low = [(Fault::PartialCoverage { wetted_share: share }, 4)];
    vec![
        batch("1", "2026-03-01".to_owned(), "L30", 0, standards(&[])),
        batch("2", "2026-03-02".to_owned(), "L31", 40, standards(if share < 1.0 { &low } else { &[] })),
    ]
}

fn lot(folder: &tempfile::TempDir) -> (Value, String) {
    let asked = ["--margin", "4", "--zero-margin", "2"];
    let document = on("lot", folder.path(), &[&asked[..], &["--format", "json"]].concat());
    let words = said(&on("lot", folder.path(), &asked));
    let document: Value = serde_json::from_str(&document.stdout).expect("JSON");
    (document["lots"][0].clone(), words)
}

#[test]
fn a_lot_eight_percent_low_is_named_and_a_sound_one_is_not() {
    let (found, words) = lot(&laboratory(24, &two_lots(0.92)));
    assert_eq!((&found["lot"], &found["verdict"]), (&"L31".into(), &"not-equivalent".into()), "{words}");
    let difference = found["difference_percent"].as_f64().expect("a difference");
    assert!((difference + 8.0).abs() < 3.0, "{difference}");
    assert!(words.contains("L31") && words.contains("NOT EQUIVALENT"), "{words}");
    for seed in [24, 25, 26] {
        let (found, words) = lot(&laboratory(seed, &two_lots(1.0)));
        println!("{}", found["words"]);
        assert_ne!(found["verdict"], "not-equivalent", "{words}");
    }
}

/// Sound laboratories, judged by the four gating charts: less than one false alarm in a hundred runs is meant, and of these fixed seeds
/// none may alarm more often than that lets expect once in a hundred times.
#[test]
fn sound_laboratories_raise_no_alarm() {
    const LABORATORIES: u64 = 8;
    let (mut n_judged, mut n_alarms) = (0, 0);
    for seed in 0..LABORATORIES {
        let folder = laboratory(100 + seed, &year(|_, _| {}));
        let (document, words) = control(&folder);
        for chart in document["charts"].as_array().expect("charts") {
            let name = chart["chart"].as_str().expect("a name");
            if name.starts_with("peak") {
                continue;
            }
            let states =
                chart["points"].as_array().expect("points").iter().map(|point| point["state"].as_str());
            let judged: Vec<&str> =
                states.flatten().filter(|state| !matches!(*state, "training" | "not-judged")).collect();
            n_judged += judged.len();
            let alarmed = judged.iter().filter(|state| **state == "out-of-control").count();
            n_alarms += alarmed;
            if alarmed > 0 {
                println!("laboratory {seed}: {name}: {}", chart["words"]);
            }
        }
        let determined = on("determine", folder.path(), &["--format", "json"]);
        let determined: Value = serde_json::from_str(&determined.stdout).expect("JSON");
        let n_wells = determined["determinations"].as_array().expect("a list").len();
        assert_eq!(n_wells, MONTHS, "{words}");
    }
    println!(
        "{n_alarms} of {n_judged} judged points of {LABORATORIES} sound laboratories lie out of control"
    );
    assert!(n_judged >= 150, "{n_judged}");
    // At 1 in 100, five or more of 160 have a probability of 2 %.
    assert!(n_alarms < 5, "{n_alarms} of {n_judged}");
}
