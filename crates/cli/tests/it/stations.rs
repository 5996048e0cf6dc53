//! `station`: the pages, real series through the command, and every bad input in plain words.

use std::fmt::Write as _;
use std::fs;

use serde_json::Value;

use crate::command::{Run, assert_bad_input, stillwell};
use crate::documents::fields;
use crate::pages::{assert_looks, printed};

const BROOK: &str = "examples/stations/brook.csv";
const TRIAL: &str = "examples/stations/trial.csv";

#[test]
fn the_pages() {
    assert_looks("station-series", &printed(&["station", BROOK]));
    assert_looks("station-trial", &printed(&["station", TRIAL]));
}

fn json_of(path: &str, further: &[&str]) -> Value {
    let run = stillwell(&[&["station", path, "--format", "json"], further].concat());
    assert_eq!(run.stderr, "", "{path}");
    serde_json::from_str(&run.stdout).expect("JSON")
}

#[test]
fn the_fields_of_the_documents() {
    let found = [BROOK, TRIAL].map(|path| fields(&json_of(path, &[])));
    assert_looks("fields-station", &found.join("\n\n"));
}

/// What the page of the examples says is planted is found and named, and nothing else is.
#[test]
fn planted_faults_of_a_series_are_named() {
    let station = &json_of(BROOK, &[])["stations"][0];
    let findings = station["series"]["findings"].as_array().expect("findings");
    let others: Vec<(&str, &str, &str)> = findings
        .iter()
        .filter(|found| found["kind"] != "gap")
        .map(|found| ["kind", "from", "to"].map(|field| found[field].as_str().expect("a text")))
        .map(|[kind, from, to]| (kind, from, to))
        .collect();
    assert_eq!(
        others,
        [("stuck", "2024-08-07", "2024-08-15"), ("stands-alone", "2024-11-06", "2024-11-06")],
        "{findings:#?}"
    );
    assert!(findings.iter().any(|found| found["from"] == "2024-06-09" && found["to"] == "2024-06-20"));
    assert_eq!(station["series"]["bounds"], 4);
    let words = printed(&["station", BROOK]);
    assert!(words.contains("LOOK: stuck at"), "{words}");
}

#[test]
fn planted_figures_of_a_trial_come_back() {
    let trial = &json_of(TRIAL, &[])["stations"][0]["trial"];
    let number = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("{trial:#}"));
    // 90 % of a first-order change: 2.303 time constants of 42 s.
    let step = trial["steps"]
        .as_array()
        .expect("steps")
        .iter()
        .find(|step| step["to_level"] == 80.0)
        .expect("a step");
    assert!((number(&step["response_s"]) - 96.7).abs() < 6.0, "{step:#}");
    let memory =
        trial["memory"].as_array().expect("a list").iter().find(|one| one["level"] == 50.0).expect("at 50");
    assert!((number(&memory["difference"]) - 0.6).abs() < 0.1, "{memory:#}");
    assert!(memory["words"].as_str().expect("words").contains("it remembers the level before"));
    let drift = &trial["drift"][0];
    assert!((number(&drift["per_24_h"]) - 1.4).abs() < 0.2, "{drift:#}");
    let days = trial["day_to_day"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|one| one["level"] == 20.0)
        .expect("at 20");
    assert!((number(&days["between_days_sd"]) - 0.24).abs() < 0.05, "{days:#}");
}

fn written(text: &str) -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("readings.csv");
    fs::write(&path, text).expect("written");
    let path = path.to_str().expect("UTF-8").to_owned();
    (folder, path)
}

fn ran(text: &str, further: &[&str]) -> Run {
    let (_folder, path) = written(text);
    stillwell(&[&["station", path.as_str()], further].concat())
}

#[test]
fn bad_input_is_named_with_place_and_cure() {
    let n = "mg/L nitrate as N";
    for (text, says) in [
        (
            format!("date,value,unit\n2026-05-01,4.1,{n}\n2026-05-02,18,mg/L as NO3-\n"),
            &["readings.csv:3", "units or species are mixed in one series", "one unit and form"][..],
        ),
        (
            format!("date,value,unit\n2026-05-01,4.1,{n}\n2026-05-02,0.1,mg/L nitrite as N\n"),
            &["readings.csv:3", "mg/L nitrite as N here, and mg/L nitrate as N in line 2", "mixed"],
        ),
        (
            format!("date,value,unit\n2026-05-01,4.1,{n}\n2026-05-01,4.2,{n}\n"),
            &["readings.csv:3", "2026-05-01 comes twice, first in line 2", "nothing is averaged here"],
        ),
        (
            format!("date,value,unit\n2026-05-02,4.1,{n}\n2026-05-01,4.2,{n}\n"),
            &["readings.csv:3", "stands after a later day"],
        ),
        (format!("date,value,unit\n2026-05-01,4.1,{n}\n"), &["readings.csv:2", "one reading only"]),
        (format!("date,value,unit\n2026-05-01,,{n}\n2026-05-02,4.1,{n}\n"), &["one reading only"]),
        (
            format!("date,value,unit\n2026-05-01,abc,{n}\n2026-05-02,4.1,{n}\n"),
            &["readings.csv:2", "\"abc\" is not accepted", "<0.04"],
        ),
        (format!("date,value,unit\n2026-05-01,NaN,{n}\n2026-05-02,4.1,{n}\n"), &["\"NaN\" is not accepted"]),
        (
            format!("date,value,unit\n01.05.2026,4,{n}\n2026-05-02,4.1,{n}\n"),
            &["readings.csv:2", "\"01.05.2026\" is no time", "2026-05-04"],
        ),
        (
            "date,value,unit\n2026-05-01,4.1,mg/L\n2026-05-02,4.2,mg/L\n".to_owned(),
            &["readings.csv:2", "mg/L nitrate as N"],
        ),
        ("date,value,unit\n2026-05-01,4.1,\n2026-05-02,4.2,\n".to_owned(), &["a reading without a unit"]),
        (format!("date,valeu,unit\n2026-05-01,4.1,{n}\n"), &["readings.csv:1", "did you mean `value`?"]),
        (format!("value,unit\n4.1,{n}\n"), &["no column of time"]),
        (
            format!("date,time_s,value,unit\n2026-05-01,4,4.1,{n}\n"),
            &["`date` and `time_s` are both columns of time"],
        ),
        ("date,value\n2026-05-01,4.1\n".to_owned(), &["no column `unit`"]),
        (String::new(), &["no column `value`"]),
        ("date,value,unit\n".to_owned(), &["holds no reading"]),
        (format!("time_s,value,unit\n1,4.1,{n}\n2,4.2,{n}\n"), &["a series without levels needs dates"]),
        (
            format!("time_s,value,unit,level\n1,4.1,{n},4\n2,4.2,{n},\n"),
            &["readings.csv:3", "some lines of a station state a level and some do not"],
        ),
        (
            format!("time_s,value,unit,level\n1,4.1,{n},4\n1,4.2,{n},4\n"),
            &["readings.csv:3", "does not come after", "each time once"],
        ),
        (format!("time_s,value,unit,level\n1,<4.1,{n},4\n2,4.2,{n},4\n"), &["a bound in a trial"]),
        (format!("time_s,value,unit,level\n1,4.1,{n},-4\n2,4.2,{n},4\n"), &["\"-4\" is not accepted"]),
    ] {
        assert_bad_input(&ran(&text, &[]), says);
    }
    assert_bad_input(&stillwell(&["station", "nowhere.csv"]), &["nowhere.csv"]);
    assert_bad_input(
        &stillwell(&["station", BROOK, "--limit", "who-nitrit"]),
        &["who-nitrit", "who-nitrate"],
    );
    assert_bad_input(
        &stillwell(&["station", BROOK, "--limit", "who-nitrite-short"]),
        &["name a limit of the substance"],
    );
    assert_bad_input(&stillwell(&["station", BROOK, "--station", "weir"]), &["there is no station \"weir\""]);
    assert_bad_input(&stillwell(&["station", TRIAL, "--range", "9,1"]), &["two rising numbers"]);
    assert_bad_input(&stillwell(&["station", TRIAL, "--figure", "f.png"]), &["does not end in .svg"]);
}

#[test]
fn a_column_that_is_wrong_throughout_is_not_told_a_thousand_times() {
    let mut text = "date,value,unit\n".to_owned();
    for day in 1..=28 {
        writeln!(text, "2026-05-{day:02},4.1,mg/L").expect("a text");
    }
    let run = ran(&text, &[]);
    assert_bad_input(&run, &["8 more problems of this kind"]);
    assert_eq!(run.stderr.matches("does not say what is counted").count(), 3, "{}", run.stderr);
    assert!(run.stderr.contains("and 17 more like it"), "{}", run.stderr);
}

/// "< x" with x above the limit decides nothing; with x below it, the day is not above.
#[test]
fn bounds_above_the_limit_leave_the_count_open() {
    let mut text = "date,value,unit\n".to_owned();
    for (day, value) in (1..=25).map(|day| {
        (
            day,
            if day == 9 {
                "<60"
            } else if day < 5 {
                "<10"
            } else {
                "22"
            },
        )
    }) {
        writeln!(text, "2026-05-{day:02},{value},mg/L as NO3-").expect("a text");
    }
    let run = ran(&text, &["--limit", "who-nitrate"]);
    assert_eq!(run.code, Some(1));
    let said = run.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("0 of 24 days with a result lie above"), "{said}");
    assert!(
        said.contains("1 more is only known as a bound on the other side of it and may lie on either"),
        "{said}"
    );
    assert!(said.contains("20 numbers and 5 bounds") && said.contains("Kaplan–Meier"), "{said}");
}

#[test]
fn figures_are_written() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let series = at("brook.svg");
    let run = stillwell(&["station", BROOK, "--figure", series.to_str().expect("UTF-8")]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(1), ""));
    let drawn = fs::read_to_string(&series).expect("a figure");
    for says in
        ["above the lowest limit", "no result", "stuck at one number (1)", "only known to be less (4)"]
    {
        assert!(drawn.contains(says), "{says}");
    }
    assert!(drawn.len() < 120_000, "{}", drawn.len());
    let step = at("trial.svg");
    let run = stillwell(&["station", TRIAL, "--figure", step.to_str().expect("UTF-8")]);
    assert!(run.stdout.contains("figure: "), "{}", run.stdout);
    assert!(
        fs::read_to_string(at("trial-step-1.svg")).expect("a figure").contains("90 % to 110 % of the change")
    );
}

/// A table of recorded data beside the repository; none where it is missing, which the strict setting forbids.
fn shared(path: &str) -> Option<String> {
    let place = stillwell_house::shared_file(&format!("realdata/{path}"))?;
    Some(fs::read_to_string(place).expect("a text"))
}

/// Real rivers through the command: counts as the notes beside the data have them, gaps, and what stands out.
#[test]
fn five_stations_in_iowa() {
    let Some(text) = shared("nitrate-river-stations-iowa/daily.csv") else { return };
    let mut own = "station,date,value,unit\n".to_owned();
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        writeln!(own, "{},{},{},mg/L nitrate+nitrite as N", cells[0], cells[1], cells[3]).expect("a text");
    }
    let (folder, path) = written(&own);
    let document = json_of(&path, &["--limit", "us-nitrate", "--limit", "who-nitrate"]);
    let stations = document["stations"].as_array().expect("stations");
    let expected = [
        ("05482300", 1452, 539, 385),
        ("05482500", 1242, 436, 272),
        ("05483600", 974, 324, 189),
        ("05484000", 1344, 119, 69),
        ("05484500", 1404, 263, 137),
    ];
    assert_eq!(stations.len(), expected.len());
    for (station, (id, n_days, above_us, above_who)) in stations.iter().zip(expected) {
        let series = &station["series"];
        let counts = [0, 1].map(|at| series["exceedances"][at]["days_above"].as_u64().expect("a count"));
        assert_eq!((station["station"].as_str(), series["numbers"].as_u64()), (Some(id), Some(n_days)));
        assert_eq!(counts, [above_us, above_who], "{id}");
        let kinds = |kind: &str| {
            series["findings"].as_array().expect("a list").iter().filter(|one| one["kind"] == kind).count()
        };
        println!(
            "{id}: {} gaps, {} stuck, {} alone, {} far",
            kinds("gap"),
            kinds("stuck"),
            kinds("stands-alone"),
            kinds("far-from-rest")
        );
        assert!(kinds("gap") >= 3, "{id}");
        if id == "05483600" {
            assert!(kinds("stuck") >= 1);
        }
    }
    let every = json_of(&path, &[]);
    let limits = every["stations"][0]["series"]["exceedances"].as_array().expect("a list").iter();
    let limits: Vec<&str> = limits.filter_map(|one| one["limit"].as_str()).collect();
    // A sum of both says nothing of nitrite alone.
    assert!(limits.contains(&"us-total") && !limits.contains(&"us-nitrite"), "{limits:?}");
    let figure = folder.path().join("iowa.svg");
    let run =
        stillwell(&["station", &path, "--station", "05482300", "--figure", figure.to_str().expect("UTF-8")]);
    assert_eq!((run.code, run.stderr.as_str()), (Some(1), ""));
    let drawn = fs::read_to_string(&figure).expect("a figure");
    println!("figure of {} readings: {} bytes", 1452, drawn.len());
    assert!(drawn.contains("above the lowest limit (539)") && drawn.len() < 250_000);
}

/// The electrode of the transfer series through the command: from its solution into clean medium, after the weakest and after the
/// strongest.
#[test]
fn carry_over_of_a_real_electrode() {
    let Some(text) = shared("swv-pyocyanin-soak-transfer/author_transfer_time_signals.csv") else { return };
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().expect("a header").split(',').collect();
    let column = |name: &str| header.iter().position(|cell| *cell == name).expect("a column");
    let (added, time, signal) = (column("PHZadded"), column("time"), column("signal"));
    let rows: Vec<Vec<&str>> = lines.map(|line| line.split(',').collect()).collect();
    let mut own = "time_min,value,unit,level,level_unit\n".to_owned();
    // The signal in the solution before, and then minutes after the transfer.
    for (start, which, level, before) in [(0.0, "10uM", 10, 2.000_4), (100.0, "100uM", 100, 12.105_1)] {
        writeln!(own, "{start},{before},µA,{level},µmol/L").expect("a text");
        writeln!(own, "{},,µA,0,µmol/L", start + 1.0).expect("a text");
        let mut of_solution: Vec<(f64, f64)> = rows
            .iter()
            .filter(|row| row[added] == which)
            .map(|row| {
                (row[time].parse().expect("a time"), 1e6 * row[signal].parse::<f64>().expect("a signal"))
            })
            .collect();
        of_solution.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (minutes, microampere) in of_solution {
            writeln!(own, "{},{microampere},µA,0,µmol/L", start + 1.0 + minutes).expect("a text");
        }
    }
    let (_folder, path) = written(&own);
    let station = &json_of(&path, &[])["stations"][0];
    let trial = &station["trial"];
    assert_eq!(station["unit"], "µA");
    let step = trial["steps"]
        .as_array()
        .expect("steps")
        .iter()
        .find(|step| step["from_level"] == 100.0)
        .expect("a step");
    println!("{}", step["words"]);
    let response = step["response_s"].as_f64().expect("it settles");
    assert!((20.0..40.0).contains(&response), "{response}");
    let memory = &trial["memory"][0];
    println!("{}", memory["words"]);
    assert_eq!(memory["levels_before"], serde_json::json!([10.0, 100.0]));
    assert!(
        memory["p"].as_f64().expect("p") < 0.05
            && (memory["difference"].as_f64().expect("µA") - 0.55).abs() < 0.15
    );
}

/// The sample series with remark codes: bounds are carried, and no single mean is stated where the data say only between what it lies.
#[test]
fn the_censored_sample_series() {
    let Some(text) = shared("water-data-format-samples/ChoptankRiverNitrate_semicolon_censored.csv") else {
        return;
    };
    let mut own = "date;value;unit\n".to_owned();
    for line in text.lines().skip(1).filter(|line| !line.trim().is_empty()) {
        let cells: Vec<&str> = line.split(';').collect();
        writeln!(own, "{};{}{};mg/L nitrate as N", cells[0], cells[1], cells[2]).expect("a text");
    }
    let run = ran(&own, &["--format", "json"]);
    let document: Value = serde_json::from_str(&run.stdout).expect("JSON");
    let series = &document["stations"][0]["series"];
    assert_eq!((series["numbers"].as_u64(), series["bounds"].as_u64()), (Some(5), Some(2)), "{document:#}");
    assert!(series["mean"].is_null());
    assert!((series["mean_at_most"].as_f64().expect("a mean") - 1.364_285_714).abs() < 1e-6, "{series:#}");
    // Seven readings are too few to look for what stands out, and that is said.
    assert!(series["not_looked_over"].as_str().expect("words").contains("20 needed"));
    assert_eq!(run.code, Some(1));
}
