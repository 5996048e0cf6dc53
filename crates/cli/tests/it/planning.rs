//! `plan` and `prepare`: where strips' differences come from, what is refused and how, and what the numbers must obey.

use std::fs;

use serde_json::Value;

use crate::command::{Run, assert_bad_input, root, stillwell, stillwell_in};

const FOLDER: &str = "examples/alder-vale";
const METHOD: &str = "examples/alder-vale/method.toml";
const CELL: &str = "examples/cells/copper-strip.toml";

fn plan(method: &str, target: &str, at: &str, further: &[&str]) -> Run {
    stillwell(&[&["plan", method, "--target-u", target, "--at", at], further].concat())
}

fn document(run: &Run, code: i32) -> Value {
    assert_eq!((run.code, run.stderr.as_str()), (Some(code), ""), "{}", run.stdout);
    serde_json::from_str(&run.stdout).expect("JSON")
}

fn number(value: &Value, field: &str) -> f64 {
    value[field].as_f64().unwrap_or_else(|| panic!("no {field} in {value:#}"))
}

#[test]
fn a_level_is_read_in_every_unit_and_taken_as_the_method_reports_only_with_a_remark() {
    let level = |at: &str| document(&plan(FOLDER, "10%", at, &["--format", "json"]), 0);
    let stated = level("50 mg/L as NO3-");
    assert!((number(&stated, "level_mg_per_l_as_no3") - 50.0).abs() < 1e-9);
    assert_eq!(stated["level_taken_as"], Value::Null);
    let as_nitrogen = level("11.3 mg/L as N");
    assert!((number(&as_nitrogen, "level_mg_per_l_as_no3") - 50.02).abs() < 0.01);
    let open = level("50mg/L");
    assert!(open["level_taken_as"].as_str().is_some_and(|said| said.contains("taken as NO₃⁻")), "{open:#}");
    assert_eq!(open["design"], stated["design"]);
}

#[test]
fn without_standards_or_a_cell_nothing_is_supposed() {
    let says = ["nothing is known of how strips differ", "--from FOLDER", "--cell CELL.toml"];
    assert_bad_input(&plan(METHOD, "10%", "50mg/L", &[]), &says);
    let from_folder = document(&plan(METHOD, "10%", "50mg/L", &["--from", FOLDER, "--format", "json"]), 0);
    let by_default = document(&plan(FOLDER, "10%", "50mg/L", &["--format", "json"]), 0);
    assert_eq!(from_folder["design"], by_default["design"]);
    let both = plan(METHOD, "10%", "50mg/L", &["--from", FOLDER, "--cell", CELL]);
    assert_bad_input(&both, &["--from", "--cell"]);
}

/// The cell file states 2.5 % between strips in sensitivity and 0.5 % in area, 4 % between lots.
#[test]
fn simulated_lots_tell_the_spread_that_their_cell_states() {
    let asked = ["--cell", CELL, "--lots", "12", "--format", "json"];
    let found = document(&plan(METHOD, "10%", "50mg/L", &asked), 0);
    let basis = &found["basis"];
    assert_eq!(
        (basis["n_lots"].as_u64(), basis["electrode_degrees_of_freedom"].as_u64()),
        (Some(12), Some(144))
    );
    let v: Vec<f64> = (0..3).map(|i| basis["electrode_variance"][i].as_f64().expect("a number")).collect();
    let relative = libm::sqrt(v[0] + 100.0 * (v[1] + 100.0 * v[2])) / 100.0;
    // The spread at level zero is a hundredth of that at the top, where a fitted function grants a tenth: strips at low levels
    // then look better than they should, and the spread comes out at 0.74 to 0.87 of the cell's (six seeds). The chain states
    // its intervals from the same function.
    let stated = libm::sqrt(0.025 * 0.025 + 0.005 * 0.005);
    println!("between strips at 100: {relative:.4}, stated {stated:.4}");
    assert!((0.70..1.15).contains(&(relative / stated)), "{relative}");
    // 4 % between lots in sensitivity: twelve know it to 21 %.
    let lots = number(basis, "lot_relative_sd");
    println!("between lots {lots:.4}");
    assert!((0.02..0.06).contains(&lots), "{lots}");
}

#[test]
fn what_cannot_be_reached_ends_with_1_and_holds_no_design() {
    let run = plan(FOLDER, "1%", "50mg/L", &[]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(1), ""));
    let said = run.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains(
            "no number of replicates reaches 1 %: temperature alone gives 2.0 %, all that is shared 2.8 %"
        ),
        "{said}"
    );
    let refused = document(&plan(FOLDER, "1%", "50mg/L", &["--format", "json"]), 1);
    assert_eq!(refused["design"], Value::Null);
    // 1 % of the standards and 1.04 % of 1 K, times 1.96.
    assert!((number(&refused, "floor_relative_u") - 0.02827).abs() < 1e-4);
    let few = plan(FOLDER, "4%", "20mg/L", &["--strips-most", "12", "--sample-strips-most", "3"]);
    assert_eq!(few.code, Some(1));
    assert!(few.stdout.contains("do not reach 4 %"), "{}", few.stdout);
}

#[test]
fn one_calibration_for_all_lots_is_limited_by_lots() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let method = fs::read_to_string(root().join(METHOD)).expect("the method");
    let changed = method.replace(r#"per = "lot""#, r#"per = "all-lots""#);
    assert_ne!(method, changed);
    fs::write(place.path().join("method.toml"), changed).expect("a file");
    let from = root().join(FOLDER);
    let from = from.to_str().expect("UTF-8");
    let asked = ["plan", "method.toml", "--target-u", "3%", "--at", "50mg/L", "--from", from];
    let run = stillwell_in(place.path(), &asked);
    assert_eq!(run.code, Some(1), "{}", run.stderr);
    let said = run.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("between-lot spread alone gives"), "{said}");
    assert!(said.contains("more strips of one lot will not help; calibrate each lot"), "{said}");
}

#[test]
fn targets_and_levels_that_cannot_be_say_what_would_be_accepted() {
    assert_bad_input(&plan(FOLDER, "5", "50mg/L", &[]), &["accepted: a percentage", "such as 10%"]);
    assert_bad_input(&plan(FOLDER, "0%", "50mg/L", &[]), &["accepted: a percentage"]);
    assert_bad_input(&plan(FOLDER, "NaN%", "50mg/L", &[]), &["accepted: a percentage"]);
    assert_bad_input(&plan(FOLDER, "5%", "50", &[]), &["has no unit", "mg/L as NO₃⁻"]);
    assert_bad_input(&plan(FOLDER, "5%", "50 mg/L as PO4", &[]), &["is not a known form"]);
    assert_bad_input(&plan(FOLDER, "5%", "fifty mg/L", &[]), &["--at:"]);
    assert_bad_input(&plan(FOLDER, "5%", "500mg/L", &[]), &["is 500", "0, 10, 25, 50, 75, 100 mg/L as NO₃⁻"]);
    assert_bad_input(&plan(FOLDER, "5%", "-5mg/L", &[]), &["-5"]);
    assert_bad_input(&plan(FOLDER, "5%", "50mg/L", &["--strips-most", "2"]), &["3..=96"]);
    assert_bad_input(&plan(FOLDER, "5%", "50mg/L", &["--minutes-per-strip=-1"]), &["number of minutes"]);
    assert_bad_input(&plan("no-folder", "5%", "50mg/L", &[]), &["no-folder: cannot be read"]);
}

#[test]
fn a_curve_that_is_no_line_is_not_planned() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let method = fs::read_to_string(root().join(METHOD)).expect("the method");
    let bent = method.replace(r#"model = "line""#, r#"model = "quadratic""#);
    fs::write(place.path().join("method.toml"), bent).expect("a file");
    let from = root().join(FOLDER);
    let from = from.to_str().expect("UTF-8");
    let asked = ["plan", "method.toml", "--target-u", "5%", "--at", "50mg/L", "--from", from];
    assert_bad_input(&stillwell_in(place.path(), &asked), &["for a line only"]);
}

#[test]
fn the_same_seed_gives_the_same_plan() {
    let with = |seed: &str| {
        document(
            &plan(
                METHOD,
                "10%",
                "50mg/L",
                &["--cell", CELL, "--lots", "3", "--seed", seed, "--format", "json"],
            ),
            0,
        )
    };
    assert_eq!(with("5"), with("5"));
    assert_ne!(with("5")["basis"], with("6")["basis"]);
}

#[test]
fn a_sheet_keeps_the_accuracy_asked_for_and_holds_its_own_arithmetic() {
    let run = stillwell(&["prepare", FOLDER, "--volume", "100mL", "--accuracy", "0.5%", "--format", "json"]);
    let sheet = document(&run, 0);
    assert!(number(&sheet, "largest_relative_u") <= 0.005 && number(&sheet, "volume_ml") >= 100.0);
    let solutions = sheet["solutions"].as_array().expect("a list");
    for made in solutions.iter().filter(|made| made["made_by"] == "dilution") {
        let from =
            &solutions[usize::try_from(made["from_solution"].as_u64().expect("a place")).expect("small")];
        let drawn = number(made, "delivery_ml") * number(made, "n_deliveries");
        let expected = number(from, "concentration_mg_per_l") * drawn / number(made, "flask_ml");
        assert!((number(made, "concentration_mg_per_l") / expected - 1.0).abs() < 1e-12, "{made:#}");
        assert!(number(made, "flask_ml") >= 100.0);
    }
    let levels = sheet["covariance_mg2_per_l2"].as_array().map(Vec::len);
    assert_eq!(levels, Some(5));
}

#[test]
fn levels_known_less_well_than_the_method_states_need_attention() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let method = fs::read_to_string(root().join(METHOD)).expect("the method");
    let strict = method.replace("level_relative_u = 0.010", "level_relative_u = 0.001");
    assert_ne!(method, strict);
    fs::write(place.path().join("method.toml"), strict).expect("a file");
    let run = stillwell_in(place.path(), &["prepare", "method.toml", "--accuracy", "2%"]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(1), ""), "{}", run.stdout);
    assert!(run.stdout.contains("NOT MET"), "{}", run.stdout);
    // Without an accuracy of its own the method's is asked for, and this bench cannot give it.
    let refused = stillwell_in(place.path(), &["prepare", "method.toml"]);
    assert_bad_input(
        &refused,
        &["cannot be prepared with a relative standard uncertainty of 0.1 %", "cure:"],
    );
}

#[test]
fn a_bench_that_cannot_be_says_where() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let bench = fs::read_to_string(root().join("examples/benches/alder-vale.toml")).expect("the bench");
    let wrong =
        bench.replace("flasks_ml = [50,", "flasks_ml = [55,").replace("readability_mg", "readabilty_mg");
    fs::write(place.path().join("bench.toml"), wrong).expect("a file");
    let method = root().join(METHOD);
    let method = method.to_str().expect("UTF-8");
    let run = stillwell_in(place.path(), &["prepare", method, "--bench", "bench.toml"]);
    assert_bad_input(&run, &["bench.toml:", "no flask of 55 mL", "readabilty_mg"]);
    assert_bad_input(&stillwell(&["prepare", FOLDER, "--volume", "50"]), &["such as 50mL or 0.1L"]);
    assert_bad_input(&stillwell(&["prepare", FOLDER, "--volume", "0mL"]), &["a volume above 0"]);
    assert_bad_input(&stillwell(&["prepare", FOLDER, "--accuracy", "0.5"]), &["accepted: a percentage"]);
    assert_bad_input(&stillwell(&["prepare", FOLDER, "--volume", "5L"]), &["error:", "cure:"]);
}
