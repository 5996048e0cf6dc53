//! Runs the readable cases in `tests/cases/`: a text, and how it must be read or refused.
//!
//! In a case's text `→` stands for a tab. Lines below the text: `file:` name given to the reader; `encoding:` how the bytes
//! are stored (a trailing `+bom` adds the mark); `line end:` CRLF or CR; `cut` removes the last line end; `pin:` one line of
//! `[reading]`; then `reads:` the reading, `scan:` name | points | first V, A | last V, A; `note:` part of a note;
//! `setting:` a setting line; `refused:` part of the refusal. Every note must be expected, apart from the sign of reduction.

use stillwell_scan::{
    ColumnChoice, CurrentUnit, DecimalMark, Delimiter, Encoding, Layout, PotentialUnit, ReadNote, ReadingPin,
    ReductionCurrent, read,
};

#[derive(Default)]
struct Case {
    name: String,
    text: String,
    lines: Vec<(String, String)>,
}

impl Case {
    fn all(&self, key: &str) -> Vec<&str> {
        self.lines.iter().filter(|(k, _)| k == key).map(|(_, value)| value.as_str()).collect()
    }

    fn one(&self, key: &str) -> Option<&str> {
        self.all(key).first().copied()
    }
}

fn parse(markdown: &str) -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    let mut in_text = false;
    for line in markdown.lines() {
        if let Some(name) = line.strip_prefix("## ") {
            cases.push(Case { name: name.to_owned(), ..Case::default() });
            continue;
        }
        let Some(case) = cases.last_mut() else { continue };
        if line.starts_with("```") {
            in_text = !in_text;
        } else if in_text {
            case.text.push_str(&line.replace('→', "\t"));
            case.text.push('\n');
        } else if let Some(item) = line.strip_prefix("- ") {
            let (key, value) = item.split_once(':').unwrap_or((item, ""));
            case.lines.push((key.trim().to_owned(), value.trim().to_owned()));
        }
    }
    cases
}

fn bytes_of(case: &Case) -> Vec<u8> {
    let mut text = case.text.clone();
    if case.one("cut").is_some() {
        text.pop();
    }
    match case.one("line end") {
        Some("CRLF") => text = text.replace('\n', "\r\n"),
        Some("CR") => text = text.replace('\n', "\r"),
        Some(other) => panic!("{}: line end {other}", case.name),
        None => {}
    }
    let encoding = case.one("encoding").unwrap_or("utf-8");
    let (encoding, has_mark) = match encoding.strip_suffix("+bom") {
        Some(encoding) => (encoding, true),
        None => (encoding, false),
    };
    if has_mark {
        text.insert(0, '\u{feff}');
    }
    match encoding {
        "utf-8" => text.into_bytes(),
        "utf-16le" => text.encode_utf16().flat_map(u16::to_le_bytes).collect(),
        "utf-16be" => text.encode_utf16().flat_map(u16::to_be_bytes).collect(),
        "windows-1252" => text.chars().map(|c| u8::try_from(c).expect("Latin-1")).collect(),
        other => panic!("{}: encoding {other}", case.name),
    }
}

/// One line of `[reading]`, read the simple way.
fn set_pin(pin: &mut ReadingPin, line: &str) {
    let (key, value) = line.split_once('=').expect("key = value");
    let value = value.trim();
    let word = value.trim_matches('"');
    let column = |text: &str| match text.trim().parse() {
        Ok(number) => ColumnChoice::Number(number),
        Err(_) => ColumnChoice::Header(text.trim().trim_matches('"').to_owned()),
    };
    match key.trim() {
        "encoding" => pin.encoding = Encoding::from_word(word),
        "delimiter" => pin.delimiter = Delimiter::from_word(word),
        "decimal_mark" => pin.decimal_mark = DecimalMark::from_word(word),
        "header_lines" => pin.header_lines = word.parse().ok(),
        "layout" => pin.layout = Layout::from_word(word),
        "potential_column" => pin.potential_column = Some(column(value)),
        "current_columns" => {
            let list = value.trim_matches(['[', ']']);
            pin.current_columns = Some(list.split(',').map(column).collect());
        }
        "forward_column" => pin.forward_column = Some(column(value)),
        "reverse_column" => pin.reverse_column = Some(column(value)),
        "time_column" => pin.time_column = Some(column(value)),
        "potential_unit" => pin.potential_unit = PotentialUnit::from_word(word),
        "current_unit" => pin.current_unit = CurrentUnit::from_word(word),
        "reduction_current" => pin.reduction_current = ReductionCurrent::from_word(word),
        other => panic!("no key {other}"),
    }
}

/// Everything that does not come out as the case says.
fn failures(case: &Case) -> Vec<String> {
    let bytes = bytes_of(case);
    let file_name = case.one("file").unwrap_or("strip.txt");
    let mut pin = ReadingPin::default();
    for line in case.all("pin") {
        set_pin(&mut pin, line);
    }
    let mut failures = Vec::new();
    let file = match read(&bytes, file_name, &pin) {
        Ok(file) => file,
        Err(error) => {
            let refused = case.all("refused");
            let message = error.to_string();
            if refused.is_empty() {
                failures.push(format!("refused: {message}"));
            }
            let missing = refused.iter().filter(|part| !message.contains(**part));
            failures.extend(missing.map(|part| format!("no {part:?} in: {message}")));
            return failures;
        }
    };
    let mut expect = |what: &str, found: &str, expected: Option<&str>| {
        if expected.is_some_and(|expected| expected != found) {
            failures.push(format!("{what}: found {found}"));
        }
    };
    if !case.all("refused").is_empty() || case.one("reads").is_none() {
        expect("not refused", &file.reading.to_string(), Some(""));
    }
    expect("reads", &file.reading.to_string(), case.one("reads"));
    let found: Vec<String> = file
        .scans
        .iter()
        .map(|scan| {
            let last = scan.n_points() - 1;
            let at = |index: usize| format!("{}, {:e}", scan.potential_v[index], scan.current_a[index]);
            format!("{} | {} | {} | {}", scan.name, last + 1, at(0), at(last))
        })
        .collect();
    let expected = case.all("scan");
    if !expected.is_empty() && found != expected {
        failures.push(format!("scans: found\n    {}", found.join("\n    ")));
    }
    let settings: Vec<String> = file.scans[0]
        .settings
        .iter()
        .map(|setting| format!("{} = {} (line {})", setting.key, setting.value, setting.line))
        .collect();
    if settings != case.all("setting") {
        failures.push(format!("settings: found\n    {}", settings.join("\n    ")));
    }
    let notes: Vec<String> = file
        .notes
        .iter()
        .filter(|note| **note != ReadNote::ReductionSignNotStated)
        .map(ToString::to_string)
        .collect();
    let expected = case.all("note");
    let unexpected = notes.iter().filter(|note| !expected.iter().any(|part| note.contains(part)));
    failures.extend(unexpected.map(|note| format!("note not expected: {note}")));
    let missing = expected.iter().filter(|part| !notes.iter().any(|note| note.contains(**part)));
    failures.extend(missing.map(|part| format!("note missing: {part}")));
    let again = read(&bytes, file_name, &file.reading.to_pin());
    let same = again.as_ref().is_ok_and(|again| format!("{:?}", again.scans) == format!("{:?}", file.scans));
    if !same {
        let reason = again.map_or_else(|error| error.to_string(), |again| again.reading.to_string());
        failures.push(format!("pinned with its own reading it reads differently: {reason}"));
    }
    failures
}

fn run(file: &str, markdown: &str, fewest: usize) {
    let cases = parse(markdown);
    assert!(cases.len() >= fewest, "{file}: only {} cases", cases.len());
    let mut report = String::new();
    for case in &cases {
        for failure in failures(case) {
            report.extend([file, ": ", &case.name, ": ", &failure, "\n"]);
        }
    }
    assert!(report.is_empty(), "\n{report}");
}

#[test]
fn dialects_are_read() {
    run("dialects.md", include_str!("../cases/dialects.md"), 25);
}

#[test]
fn layouts_are_read() {
    run("layouts.md", include_str!("../cases/layouts.md"), 20);
}

#[test]
fn two_plausible_readings_are_refused() {
    run("ambiguous.md", include_str!("../cases/ambiguous.md"), 12);
}

#[test]
fn bad_input_is_refused_with_its_place() {
    run("refused.md", include_str!("../cases/refused.md"), 20);
}
