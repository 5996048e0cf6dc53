//! What must hold of every text: no panic, a place for every complaint, and one identity for what says the same.

use proptest::prelude::*;
use stillwell_method::{Method, RunSheet, StationAsked, StationFile, station_review};
use stillwell_quantity::QuantityKind;

use crate::alder_vale::Study;

const BROOK: &str = include_str!("../../../../examples/stations/brook.csv");
const TRIAL: &str = include_str!("../../../../examples/stations/trial.csv");
const METHOD: &str = include_str!("../../../../examples/alder-vale/method.toml");

fn reported_as() -> QuantityKind {
    Method::parse("method.toml", METHOD).expect("the scenario's method").analyte.reported_as
}

/// A valid text with some bytes of it cut out, doubled, or replaced by another text.
fn mutated(text: &str, edits: &[(usize, usize, String)]) -> String {
    let mut characters: Vec<char> = text.chars().collect();
    for (place, length, new) in edits {
        let start = place % (characters.len() + 1);
        let end = (start + length).min(characters.len());
        characters.splice(start..end, new.chars());
    }
    characters.into_iter().collect()
}

fn edits() -> impl Strategy<Value = Vec<(usize, usize, String)>> {
    let pieces = prop_oneof![
        Just(String::new()),
        Just("nan".to_owned()),
        Just("-1e999".to_owned()),
        Just("\"".to_owned()),
        Just("[[".to_owned()),
        Just("\u{feff}".to_owned()),
        Just("9223372036854775807".to_owned()),
        ".{0,8}",
    ];
    prop::collection::vec((any::<usize>(), 0..40_usize, pieces), 1..5)
}

/// Every problem of a text stands inside it.
fn places_hold(text: &str, problems: &stillwell_method::Problems) {
    let n_lines = text.split('\n').count() + 1;
    assert!(!problems.problems.is_empty());
    for problem in &problems.problems {
        assert!(problem.place.line <= n_lines, "{problem} in a text of {n_lines} lines");
        assert!(!problem.found.is_empty());
    }
}

fn read_both(method: &str, sheet: &str) {
    if let Err(problems) = Method::parse("method.toml", method) {
        places_hold(method, &problems);
    }
    if let Err(problems) = RunSheet::parse("run-sheet.csv", sheet, &reported_as()) {
        places_hold(sheet, &problems);
    }
}

/// Lines of an example, few enough to be changed often.
fn station_file(text: &str) -> String {
    text.lines().take(60).collect::<Vec<_>>().join("\n")
}

/// Whatever is read is reviewed without a panic, and no number of it is anything but finite.
fn read_station(text: &str) {
    match StationFile::parse("readings.csv", text) {
        Err(problems) => places_hold(text, &problems),
        Ok(file) => {
            assert!(!file.stations.is_empty());
            for station in &file.stations {
                let review =
                    station_review(station, &StationAsked::default()).expect("shipped limits that fit");
                let _is_said = review.needs_attention();
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn changed_station_files_are_read_or_refused(edits in edits(), is_trial in any::<bool>()) {
        let text = station_file(if is_trial { TRIAL } else { BROOK });
        read_station(&mutated(&text, &edits));
    }

    #[test]
    fn no_text_makes_a_reader_panic(text in "\\PC{0,300}", lines in "([a-z_]{0,9}[=,;\t\"'#\\[\\]{}\n 0-9.-]{0,6}){0,40}") {
        read_both(&text, &text);
        read_both(&lines, &lines);
    }

    #[test]
    fn no_damage_to_a_valid_text_makes_a_reader_panic(edits in edits()) {
        let sheet = Study::read().sheet;
        let short = sheet.lines().take(60).collect::<Vec<_>>().join("\n");
        read_both(&mutated(METHOD, &edits), &mutated(&short, &edits));
    }

    #[test]
    fn a_cell_keeps_its_place_whatever_stands_before_it(
        before in prop::collection::vec("[ a-zA-Zµ0-9.]{0,12}", 0..4),
        comments in 0..3_usize,
        quoted in any::<bool>(),
    ) {
        // A bad role behind free texts: the complaint names its line and the column of its first character.
        let mut text = "# a comment, with \"quotes\"\n".repeat(comments);
        let notes = ["note", "lot", "channel", "batch"];
        let names: Vec<&str> = notes.iter().copied().take(before.len()).collect();
        let header = [names.as_slice(), &["role", "file", "scan"]].concat();
        text.push_str(&header.join(","));
        text.push('\n');
        let cells: Vec<String> =
            before.iter().map(|cell| if quoted { format!("\"{cell}, x\"") } else { cell.clone() }).collect();
        let start = cells.iter().flat_map(|cell| [cell.as_str(), ","]).collect::<String>();
        text.push_str(&start);
        text.push_str("wrong,w.csv,1\n");
        let problems = RunSheet::parse("run-sheet.csv", &text, &reported_as()).expect_err("a bad role");
        let of_role = problems.problems.iter().find(|problem| problem.found.starts_with("role")).expect("the role");
        prop_assert_eq!(of_role.place.line, comments + 2);
        prop_assert_eq!(of_role.place.column, start.chars().count() + 1);
        prop_assert_eq!(&of_role.place.text, "wrong");
    }
}

/// Tables of the method with their lines.
fn tables() -> Vec<Vec<String>> {
    let mut tables: Vec<Vec<String>> = vec![Vec::new()];
    for line in METHOD.lines().filter(|line| !line.trim().is_empty() && !line.starts_with('#')) {
        if line.starts_with('[') {
            tables.push(Vec::new());
        }
        tables.last_mut().expect("a table").push(line.to_owned());
    }
    tables
}

fn hash_of(text: &str) -> String {
    Method::parse("method.toml", text).expect("a valid method").hash.to_string()
}

#[test]
fn the_hash_ignores_comments_order_and_spelling_of_numbers() {
    let hash = hash_of(METHOD);
    let mut turned = tables();
    for table in turned.iter_mut().filter(|table| !table.is_empty()) {
        table[1..].reverse();
    }
    // Only the named limits stand in an order that means something.
    let (limits, mut others): (Vec<_>, Vec<_>) =
        turned.into_iter().partition(|table| table.first().is_some_and(|line| line.starts_with("[[")));
    others.reverse();
    let text: Vec<String> = others.into_iter().chain(limits).flatten().collect();
    assert_eq!(hash_of(&text.join("\n# a remark\n\n")), hash);
    for (from, to) in [
        ("beta = 0.05", "beta   =   5e-2"),
        ("frequency_hz = 25.0", "frequency_hz = 25"),
        ("levels = [0, 10, 25,", "levels = [0.0, 1e1, 25,"),
        ("name = \"nitrate\"", "name = 'nitrate'"),
        ("noise_a = 0.10e-6", "noise_a = 1.0e-7"),
    ] {
        assert!(METHOD.contains(from), "{from}");
        assert_eq!(hash_of(&METHOD.replace(from, to)), hash, "{to}");
    }
}

#[test]
fn the_hash_changes_with_every_key_that_can_be_left_out_and_with_every_number() {
    let hash = hash_of(METHOD);
    let mut n_changed = 0;
    let lines: Vec<&str> = METHOD.lines().collect();
    for (place, line) in lines.iter().enumerate() {
        let replaced = |new: &str| {
            let mut changed = lines.clone();
            changed[place] = new;
            changed.join("\n")
        };
        let is_table_or_remark = line.is_empty() || line.starts_with('[') || line.starts_with('#');
        if is_table_or_remark {
            continue;
        }
        // Without the line, and with its last digit changed: either is refused, or is another method.
        let texts = [Some(replaced("")), with_another_digit(line).map(|new| replaced(&new))];
        for text in texts.into_iter().flatten() {
            if let Ok(method) = Method::parse("method.toml", &text) {
                assert_ne!(method.hash.to_string(), hash, "line {}: {line}", place + 1);
                n_changed += 1;
            }
        }
    }
    println!("{n_changed} other methods, each with another hash");
    assert!(n_changed > 40, "{n_changed}");
}

fn with_another_digit(line: &str) -> Option<String> {
    let place = line.rfind(|c: char| c.is_ascii_digit())?;
    let digit = line.as_bytes()[place];
    let other = if digit == b'9' { '1' } else { char::from(digit + 1) };
    Some(format!("{}{other}{}", &line[..place], &line[place + 1..]))
}

#[test]
fn an_empty_table_is_another_method_than_none() {
    let line = METHOD.lines().find(|line| line.starts_with("despike")).expect("the scenario despikes");
    assert_ne!(hash_of(&METHOD.replace(line, "despike = {}")), hash_of(&METHOD.replace(line, "")));
}
