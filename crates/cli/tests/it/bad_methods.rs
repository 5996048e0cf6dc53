//! Method files that are not what they should be: each is refused with line, column, key and what is accepted.

use crate::command::{assert_bad_input, assert_refused, folder_with, on, stillwell};
use crate::small_study::{Files, METHOD, Study};

fn edited(from: &str, to: &str) -> Files {
    let mut study = Study::new();
    study.edit_method(from, to);
    study.files()
}

fn method(content: impl Into<Vec<u8>>) -> Files {
    let mut files = Study::new().files();
    files.put("method.toml", content);
    files
}

#[test]
fn an_unknown_key_names_the_nearest_known_one() {
    assert_refused(
        &edited("amplitude_v", "amplitud_v"),
        &["method.toml:14:1: unknown key `technique.amplitud_v`", "cure: did you mean `amplitude_v`?"],
    );
    assert_refused(
        &edited("window_v =", "windows_v ="),
        &["`evaluation.peak.windows_v`", "did you mean `window_v`?"],
    );
    assert_refused(&edited("[sample]", "[samples]"), &["unknown key `samples`", "did you mean `sample`?"]);
}

#[test]
fn a_key_that_is_like_no_other_lists_what_is_known() {
    assert_refused(
        &edited("amplitude_v", "colour"),
        &["unknown key `technique.colour`", "known here: kind, start_v"],
    );
}

#[test]
fn a_value_of_the_wrong_type_or_out_of_range() {
    for (from, to, says) in [
        (
            "step_v = 0.004",
            "step_v = \"4 mV\"",
            ["method.toml:13:10", "`technique.step_v` is \"4 mV\"", "a number above 0"],
        ),
        (
            "step_v = 0.004",
            "step_v = -0.004",
            ["method.toml:13:10", "`technique.step_v` is -0.004", "a number above 0"],
        ),
        (
            "step_v = 0.004",
            "step_v = nan",
            ["method.toml:13:10", "`technique.step_v` is nan", "a number above 0"],
        ),
        (
            "start_v = -0.300",
            "start_v = -300.0",
            ["method.toml:11:11", "-300.0", "a potential in V between -10 and 10"],
        ),
        ("single_use = true", "single_use = \"yes\"", ["method.toml:19:14", "\"yes\"", "true or false"]),
        (
            "electrodes = 3",
            "electrodes = 0",
            ["method.toml:27:14", "`sample.electrodes` is 0", "a whole number from 1 to 1000"],
        ),
        ("window = 11", "window = 10", ["method.toml:33:46", "is 10", "an odd number of points"]),
        (
            "[-0.50, -0.72]",
            "[-0.50, -0.50]",
            ["method.toml:35:21", "[-0.50, -0.50]", "two different numbers"],
        ),
        ("[-0.50, -0.72]", "[-0.50]", ["method.toml:35:21", "[-0.50]", "two different numbers"]),
    ] {
        assert_refused(&edited(from, to), &says);
    }
}

#[test]
fn a_word_that_is_not_accepted_lists_those_that_are() {
    assert_refused(
        &edited("\"square-wave\"", "\"squarewave\""),
        &[
            "method.toml:10:8: `technique.kind` is \"squarewave\"",
            "differential-pulse",
            "did you mean \"square-wave\"?",
        ],
    );
    assert_refused(&edited("\"who-nitrate\"", "\"who-nitrat\""), &["did you mean \"who-nitrate\"?"]);
}

#[test]
fn a_unit_that_does_not_say_how_nitrate_is_counted() {
    let says = [
        "method.toml:7:15",
        "does not say whether nitrate is counted as NO₃⁻ or as N",
        "Write \"mg/L as NO3-\"",
    ];
    assert_refused(&edited("reported_as = \"mg/L as NO3-\"", "reported_as = \"mg/L\""), &says);
}

#[test]
fn a_unit_of_another_substance() {
    let says = ["method.toml:7:15", "\"mg/L as NO2-\"", "nitrate is expected", "as NO3-, as N"];
    assert_refused(&edited("reported_as = \"mg/L as NO3-\"", "reported_as = \"mg/L as NO2-\""), &says);
}

#[test]
fn everything_wrong_in_a_method_is_told_at_once() {
    let mut study = Study::new();
    study.edit_method("amplitude_v", "amplitud_v");
    study.edit_method("step_v = 0.004", "step_v = 0");
    study.edit_method("model = \"line\"", "model = \"cubic\"");
    let says = ["method.toml:13:10", "method.toml:14:1", "\"cubic\"", "3 problems"];
    assert_refused(&study.files(), &says);
}

#[test]
fn what_a_method_must_state_and_does_not() {
    for (line, says) in [
        ("revision = \"1\"\n", "`method.revision` is missing"),
        ("kind = \"square-wave\"\n", "`technique.kind` is missing"),
        ("single_use = true\n", "`electrode.single_use` is missing"),
        ("shift_limit_v = 0.030\n", "`reference.shift_limit_v` is missing"),
        ("blank = \"subtract\"\n", "`evaluation.blank` is missing"),
        ("model = \"line\"\n", "`calibration.model` is missing"),
    ] {
        assert_refused(&edited(line, ""), &["method.toml", says, "cure: add"]);
    }
}

#[test]
fn a_method_that_breaks_off() {
    let cut = METHOD.find("frequency_hz = ").expect("a key") + "frequency_hz = ".len();
    assert_refused(
        &method(&METHOD[..cut]),
        &["method.toml:15:", "not TOML", "text: frequency_hz =", "cure:"],
    );
    let cut = METHOD.find("[calibration]").expect("a section");
    assert_refused(&method(&METHOD[..cut]), &["`calibration.model` is missing", "under [calibration]"]);
}

/// Where it breaks off between two lines everywhere else, either something is missed or no calibration is accepted.
#[test]
fn a_method_cut_after_any_line_never_gives_a_verdict() {
    let files = Study::new().files();
    let lines: Vec<&str> = METHOD.lines().collect();
    let limits = lines.iter().position(|line| *line == "[[limits]]").expect("the last section");
    for n_lines in 0..limits - 2 {
        let mut files = files.clone();
        files.put("method.toml", lines[..n_lines].join("\n"));
        let folder = folder_with(&files);
        let run = on("determine", folder.path(), &[]);
        assert_ne!(run.code, Some(0), "cut after line {n_lines}: {}", run.stdout);
        assert!(!run.stdout.contains("nitrate below"), "cut after line {n_lines}: {}", run.stdout);
    }
}

#[test]
fn a_key_or_a_section_that_stands_twice() {
    let twice = "step_v = 0.004\nstep_v = 0.005";
    assert_refused(&edited("step_v = 0.004", twice), &["method.toml:14:1: not TOML", "duplicate key"]);
    assert_refused(
        &edited("[electrode]", "[electrode]\n[electrode]"),
        &["method.toml:18:", "not TOML", "cure:"],
    );
}

#[test]
fn an_empty_method() {
    assert_refused(&method(""), &["method.toml: `method.name` is missing", "`technique.kind` is missing"]);
}

#[test]
fn a_method_that_is_not_utf_8() {
    let latin_1 = [METHOD.as_bytes(), b"# in \xB5A\n"].concat();
    let at = METHOD.len() + "# in ".len();
    let says = [&format!("method.toml: not UTF-8 from byte {at}"), "cure: save the file as UTF-8 text"];
    let files = method(latin_1);
    assert_refused(&files, &says);
    let folder = folder_with(&files);
    let [method, wells] = ["method.toml", "wells.csv"].map(|name| folder.path().join(name));
    let run =
        stillwell(&["inspect", wells.to_str().expect("UTF-8"), "--method", method.to_str().expect("UTF-8")]);
    assert_bad_input(&run, &says);
}

#[test]
fn a_method_without_a_limit_says_that_nothing_was_judged() {
    let cut = METHOD.find("[[limits]]").expect("a section");
    let folder = folder_with(&method(&METHOD[..cut]));
    let run = on("determine", folder.path(), &[]);
    assert!(
        run.stdout.contains("the method states no limit under [[limits]]: nothing is judged"),
        "{}",
        run.stdout
    );
    assert_eq!(run.code, Some(1), "nothing has passed a limit");
}
