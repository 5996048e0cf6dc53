//! `control`, `lot`, `validate`, `compare`: the pages, what is withheld over several series of a study, and every bad input in plain words.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::command::{Run, assert_bad_input, root, stillwell, stillwell_in};
use crate::pages::{assert_looks, printed};

const YEAR: &str = "examples/alder-vale-year";

#[test]
fn the_pages() {
    for command in ["control", "lot", "validate", "compare"] {
        assert_looks(command, &printed(&[command, YEAR]));
    }
}

fn json(arguments: &[&str]) -> Value {
    let mut all = arguments.to_vec();
    all.extend(["--format", "json"]);
    let run = stillwell(&all);
    serde_json::from_str(&run.stdout).unwrap_or_else(|_| panic!("{}", run.stderr))
}

#[test]
fn machines_read_the_same() {
    let control = json(&["control", YEAR]);
    let blank = control["charts"].as_array().expect("charts").iter().find(|chart| chart["chart"] == "blank");
    assert_eq!(blank.expect("a blank chart")["state"], "out-of-control");
    assert_eq!(control["training_points"], 8);
    let withheld = control["withheld"].as_array().expect("a list");
    let samples: Vec<&str> = withheld.iter().filter_map(|one| one["sample"].as_str()).collect();
    assert!(samples.contains(&"AV-11-09") && samples.contains(&"AV-12-12") && !samples.contains(&"AV-11-08"));
    let lot = &json(&["lot", YEAR])["lots"][0];
    assert_eq!((&lot["lot"], &lot["verdict"]), (&"L31".into(), &"not-equivalent".into()));
    assert!(lot["adjustment"]["ratio"].as_f64().expect("a ratio") < 0.95);
    let table = json(&["validate", YEAR]);
    let open: Vec<&Value> =
        table["rows"].as_array().expect("rows").iter().filter(|row| row["verdict"] != "met").collect();
    assert_eq!(open.len(), 1);
    // The strips read nitrite as nitrate: planted, found, and chloride is cleared beside it.
    assert_eq!(
        (&open[0]["criterion"], &open[0]["subject"]),
        (&"selectivity".into(), &"nitrite 15 mg/L".into())
    );
    assert_eq!(open[0]["verdict"], "not-met");
    let change = open[0]["found"].as_f64().expect("a change");
    assert!((change - 21.0).abs() < 3.0, "{change}");
    let compared = json(&["compare", YEAR]);
    assert_eq!(compared["verdict"], "agrees");
    assert_eq!(compared["without_partner"].as_array().expect("a list").len(), 8);
}

/// The year without what was planted after September.
#[test]
fn a_year_without_a_fault_is_silent() {
    let folder = part_of_the_year(&(1..=9).collect::<Vec<u32>>());
    let run = stillwell(&["control", folder.path().to_str().expect("UTF-8")]);
    assert_eq!(run.code, Some(0), "{}", run.stdout);
    assert!(run.stdout.contains("charts withhold no verdict"), "{}", run.stdout);
}

/// A folder with some of the year's batches.
fn part_of_the_year(batches: &[u32]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let sheet = fs::read_to_string(root().join(YEAR).join("run-sheet.csv")).expect("the run sheet");
    let is_wanted = |line: &&str| {
        let file = line.split(',').next().expect("a file");
        batches.iter().any(|batch| file.ends_with(&format!("-{batch}.csv")))
    };
    let mut kept = vec![sheet.lines().next().expect("a header")];
    kept.extend(sheet.lines().skip(1).filter(is_wanted));
    let mut files: Vec<&str> = kept.iter().skip(1).filter_map(|line| line.split(',').next()).collect();
    files.dedup();
    files.push("method.toml");
    for file in files {
        fs::copy(root().join(YEAR).join(file), folder.path().join(file)).expect("copied");
    }
    fs::write(folder.path().join("run-sheet.csv"), kept.join("\n") + "\n").expect("written");
    folder
}

/// `validate` on January's calibration and the day of the interferents, with lines of the run sheet changed.
fn with_interferents(change: impl Fn(&str) -> Option<String>) -> Run {
    let folder = part_of_the_year(&[1, 14]);
    let path = folder.path().join("run-sheet.csv");
    let sheet = fs::read_to_string(&path).expect("the run sheet");
    let lines: Vec<String> = sheet.lines().filter_map(change).collect();
    fs::write(&path, lines.join("\n") + "\n").expect("written");
    stillwell(&["validate", folder.path().to_str().expect("UTF-8")])
}

#[test]
fn interferents_that_do_not_hold_together_are_named_with_their_cure() {
    for (from, to, says) in [
        (
            ",chloride,250",
            ",chloride,",
            &["interferent_mg_per_l: is blank beside an interferent", "its level in mg/L"][..],
        ),
        (",chloride,250", ",,250", &["interferent: is blank beside a level", "such as chloride"]),
        (",chloride,250", ",chloride,0", &["none of the interferent was added", "leave both cells blank"]),
        (",chloride,250", ",chloride,much", &["\"much\" is not accepted"]),
        (",interference,,50,", ",interference,,0,", &["an interference at level zero", "stated in % of it"]),
        (
            ",interference,,50,",
            ",check-standard,,50,",
            &["a check-standard has none", "the role interference"],
        ),
        (
            ",interference,",
            ",interferent,",
            &["\"interferent\" is not a role", "did you mean \"interference\"?"],
        ),
    ] {
        let changed = |line: &str| {
            let is_meant = line.starts_with("selectivity-14.csv,7,");
            Some(if is_meant { line.replace(from, to) } else { line.to_owned() })
        };
        assert_bad_input(&with_interferents(changed), says);
    }
}

#[test]
fn two_strips_or_none_without_the_interferent_show_no_selectivity() {
    // Of six strips by themselves two are left, then none.
    for first_kept in [5, 7] {
        let run = with_interferents(|line| {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            let is_before =
                cells[0] == "selectivity-14.csv" && cells[1].parse::<usize>().expect("a number") < first_kept;
            if is_before {
                cells[18] = "left out for this test".to_owned();
            }
            Some(cells.join(","))
        });
        let said = run.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(run.code, Some(1), "{}", run.stderr);
        assert!(said.contains("selectivity by nitrite 15 mg/L would be shown by: more strips"), "{said}");
        assert!(said.contains("three or more with the substance and three or more without it"), "{said}");
    }
}

/// Nine months and October come in apart: no series by itself has a chart, and October's blank withholds September's results, which
/// had been issued before.
#[test]
fn a_chart_over_several_series_withholds_what_was_issued_before() {
    let desk = tempfile::tempdir().expect("a temporary folder");
    let run = |code: i32, line: &str| {
        let run = stillwell_in(desk.path(), &line.split(' ').collect::<Vec<_>>());
        assert_eq!((run.code, run.stderr.as_str()), (Some(code), ""), "{line}\n{}", run.stdout);
        run.stdout
    };
    let parts =
        [(1..=5).collect::<Vec<u32>>(), (6..=9).collect(), vec![10]].map(|part| part_of_the_year(&part));
    let [spring, summer, autumn] = parts.each_ref().map(|part| part.path().display().to_string());
    let method = root().join(YEAR).join("method.toml");
    run(0, &format!("study new year.study --method {} --as ines", method.display()));
    run(0, &format!("study add year.study {spring} --as ines"));
    run(1, "study determine year.study --series 1 --as ines");
    run(0, &format!("study add year.study {summer} --as ines"));
    let before = run(1, "study determine year.study --series 2 --as ines");
    assert!(!before.contains("WITHHELD"), "{before}");
    assert!(run(0, "control year.study").contains("charts withhold no verdict"));

    run(0, &format!("study add year.study {autumn} --as ines"));
    let control = run(1, "control year.study");
    assert!(control.contains("AV-11-09 (series 2, batch 9)"), "{control}");
    let shown: Value = serde_json::from_str(&run(1, "study show year.study --format json")).expect("JSON");
    let reasons = shown.to_string();
    assert!(reasons.contains("blank chart over all series"), "{reasons}");
    let determined = run(1, "determine year.study --series 3");
    assert!(determined.contains("WITHHELD") && determined.contains("control-chart"), "{determined}");
    let issued = run(1, "study determine year.study --series 3 --as ines");
    assert!(issued.contains("blank chart over all series"), "{issued}");
    run(0, "study verify year.study");
}

#[test]
fn too_few_points_are_said_in_plain_words() {
    let folder = part_of_the_year(&[1, 2]);
    let run = stillwell(&["control", folder.path().to_str().expect("UTF-8")]);
    assert_eq!(run.code, Some(1));
    assert!(run.stdout.contains("too few points to say: 2 found, 9 needed, so 7 more"), "{}", run.stdout);
}

#[test]
fn lots_that_cannot_be_compared_are_said_in_plain_words() {
    let folder = part_of_the_year(&[1, 2]);
    let place = folder.path().to_str().expect("UTF-8");
    assert_bad_input(
        &stillwell(&["lot", place]),
        &["there is only one lot, L30", "another lot at known levels"],
    );
    assert_bad_input(
        &stillwell(&["lot", YEAR, "--lot", "L99"]),
        &["there is no lot \"L99\"; lots: L30, L31"],
    );
    assert_bad_input(&stillwell(&["lot", "examples/alder-vale"]), &["no margin is stated", "--margin 5%"]);
    assert_bad_input(&stillwell(&["lot", YEAR, "--margin", "60"]), &["a percentage above 0 and below 50"]);
}

/// The year beside a laboratory whose file is this.
fn compared(text: &str) -> Run {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("theirs.csv");
    fs::write(&file, text).expect("written");
    stillwell(&["compare", YEAR, "--with", file.to_str().expect("UTF-8")])
}

#[test]
fn a_bad_line_of_the_laboratory_is_named_with_its_cure() {
    for (lines, says) in [
        ("AV-11-01,22,mg/L,0.4", &["theirs.csv:2", "as NO3-"][..]),
        ("AV-11-01,22,mg/L as NO2-,0.4", &["theirs.csv:2", "as NO2-"]),
        ("AV-11-01,abc,mg/L as NO3-,0.4", &["theirs.csv:2", "\"abc\" is not accepted", "<5"]),
        ("AV-11-01,-3,mg/L as NO3-,0.4", &["theirs.csv:2", "\"-3\" is not accepted"]),
        ("AV-11-01,<x,mg/L as NO3-,", &["theirs.csv:2", "\"<x\" is not accepted"]),
        ("AV-11-01,22,mg/L as NO3-,", &["theirs.csv:2", "a value without uncertainty", "expanded_u"]),
        ("AV-11-01,22,mg/L as NO3-,0", &["theirs.csv:2", "\"0\" is not accepted"]),
        (",22,mg/L as NO3-,0.4", &["theirs.csv:2", "a result without a sample"]),
        (
            "AV-11-01,22,mg/L as NO3-,0.4\nAV-11-01,23,mg/L as NO3-,0.4",
            &["theirs.csv:3", "stands twice, first in line 2", "nothing is averaged"],
        ),
        ("", &["theirs.csv", "holds no result"]),
    ] {
        assert_bad_input(&compared(&format!("sample,value,unit,u\n{lines}\n")), says);
    }
    assert_bad_input(
        &compared("sample,valeu,unit\nA,1,mg/L as N\n"),
        &["theirs.csv:1", "did you mean `value`?"],
    );
    assert_bad_input(&compared("sample,value\nA,1\n"), &["no column `unit`"]);
    assert_bad_input(&compared(""), &["no column `sample`"]);
}

#[test]
fn units_are_converted_and_bounds_stay_bounds() {
    // The same waters as nitrogen; a bound above the limit that contradicts what we found.
    let run = compared(
        "sample,value,unit,expanded_u\nAV-11-01,4.97,mg/L as N,0.2\nAV-12-03,<50,mg/L as NO3-,\nAV-99,3,mg/L as N,0.1\n",
    );
    assert_eq!(run.code, Some(1));
    for says in [
        "22.00 ± 0.89",
        "CONTRADICTS",
        "too few pairs to say: 1 pairs of numbers, 8 needed",
        "AV-99: no determination of ours bears this name",
    ] {
        assert!(run.stdout.contains(says), "{says}\n{}", run.stdout);
    }
}

#[test]
fn without_a_file_or_a_margin_nothing_is_compared() {
    assert_bad_input(&stillwell(&["compare", "examples/alder-vale"]), &["comparison.csv", "--with FILE.csv"]);
    let with = format!("{YEAR}/comparison.csv");
    assert_bad_input(
        &stillwell(&["compare", "examples/alder-vale", "--with", &with]),
        &["no margin is stated", "--margin 10%"],
    );
    assert_bad_input(&stillwell(&["compare", YEAR, "--with", "nowhere.csv"]), &["nowhere.csv"]);
}

#[test]
fn figures_are_written_and_nothing_else_is_overwritten() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name).display().to_string();
    for (command, expected) in
        [("control", "f-blank-1.svg"), ("lot", "f.svg"), ("validate", "f.svg"), ("compare", "f.svg")]
    {
        let run = stillwell(&[command, YEAR, "--figure", &at("f.svg")]);
        assert_eq!(run.stderr, "");
        assert!(run.stdout.contains("figure: "), "{}", run.stdout);
        let drawn = fs::read_to_string(Path::new(&at(expected))).expect("a figure");
        assert!(drawn.starts_with("<svg") || drawn.contains("<svg"), "{command}");
        assert_bad_input(&stillwell(&[command, YEAR, "--figure", &at("f.csv")]), &["does not end in .svg"]);
    }
}

#[test]
fn a_study_compares_with_what_is_on_record_and_says_which_record() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let year = root().join(YEAR);
    let (method, file) = (year.join("method.toml"), year.join("comparison.csv"));
    let run = |words: &[&str]| stillwell_in(folder.path(), words);
    let text = |path: &Path| path.to_str().expect("UTF-8").to_owned();
    run(&["study", "new", "year.study", "--method", &text(&method), "--as", "ines"]);
    assert_eq!(run(&["study", "add", "year.study", &text(&year), "--as", "ines"]).code, Some(0));
    let nothing = run(&["compare", "year.study"]);
    assert_bad_input(&nothing, &["stillwell study laboratory year.study FILE.csv", "--with FILE.csv"]);
    let beside = run(&["compare", "year.study", "--with", &text(&file)]);
    assert!(beside.stdout.contains("a file that is not on record"), "{}", beside.stdout);
    let take =
        ["study", "laboratory", "year.study", &text(&file), "--as", "ines", "--reason", "the year's report"];
    let taken = run(&take);
    assert_eq!(taken.code, Some(0), "{}", taken.stderr);
    assert!(taken.stdout.contains("laboratory record 1: comparison.csv with 24 results"), "{}", taken.stdout);
    let again = run(&take);
    assert!(again.code == Some(0) && again.stdout.contains("nothing was recorded"), "{}", again.stdout);
    let compared = run(&["compare", "year.study"]);
    assert!(
        compared.stdout.contains("laboratory: record 1, comparison.csv with 24 results"),
        "{}",
        compared.stdout
    );
    let document: Value =
        serde_json::from_str(&run(&["compare", "year.study", "--format", "json"]).stdout).expect("JSON");
    assert_eq!(document["laboratory_records"][0]["results"], 24);
    assert_eq!(document["verdict"], "agrees");
    assert!(run(&["study", "show", "year.study"]).stdout.contains("comparison.csv with 24 results"));
    let history = run(&["study", "history", "year.study"]).stdout;
    assert!(history.contains("laboratory results 1: comparison.csv with 24 results"), "{history}");
    let gone = run(&[
        "study",
        "withdraw",
        "year.study",
        "--laboratory",
        "1",
        "--as",
        "ines",
        "--reason",
        "the wrong report",
    ]);
    assert_eq!(gone.code, Some(0), "{}", gone.stderr);
    assert_bad_input(&run(&["compare", "year.study"]), &["stillwell study laboratory"]);
}
