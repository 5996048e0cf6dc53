//! `inspect` for people: how a file was understood, then what its raw scans show.

use stillwell_method::{Effect, Finding, Inspection, RawChecked};

use super::table::table;
use super::{findings, indented, wrapped};

pub(crate) fn text(inspections: &[Inspection]) -> String {
    inspections.iter().map(one).collect::<Vec<_>>().join("\n")
}

fn one(inspection: &Inspection) -> String {
    let file = &inspection.file;
    let mut text = format!("{}\n", file.file_name);
    line!(text, "{}", wrapped("  read as: ", &file.reading.to_string()));
    line!(text, "  blake3:  {}", file.blake3);
    for note in &file.notes {
        line!(text, "{}", wrapped("  note: ", &note.to_string()));
    }
    let pin = file.reading.to_pin().to_string();
    line!(text, "\n  to pin this reading, write into the method file:\n    [reading]");
    for line in pin.lines() {
        line!(text, "    {line}");
    }
    line!(text, "\n{}", scans(inspection));
    text.push_str(&checks(inspection));
    text
}

fn scans(inspection: &Inspection) -> String {
    let rows: Vec<Vec<String>> = inspection
        .file
        .scans
        .iter()
        .map(|scan| {
            let ends = |values: &[f64]| match (values.first(), values.last()) {
                (Some(first), Some(last)) => (format!("{first:.3}"), format!("{last:.3}")),
                _ => ("–".to_owned(), "–".to_owned()),
            };
            let (first_v, last_v) = ends(&scan.potential_v);
            vec![
                scan.ordinal.to_string(),
                scan.name.clone(),
                scan.n_points().to_string(),
                first_v,
                last_v,
                format!("{}–{}", scan.first_line, scan.last_line),
                scan.settings.len().to_string(),
                scan.overload_points.len().to_string(),
            ]
        })
        .collect();
    let header = [">scan", "name", ">points", ">from / V", ">to / V", "lines", ">settings", ">overload"];
    indented(&table(&header, &rows), "  ")
}

fn checks(inspection: &Inspection) -> String {
    if inspection.checks.is_empty() {
        return "  raw checks: their limits stand in a method file; give one with --method\n".to_owned();
    }
    let mut text = String::new();
    let is_good = |checked: &RawChecked| checked.findings.iter().all(|found| found.effect == Effect::Noted);
    let n_good = inspection.checks.iter().filter(|checked| is_good(checked)).count();
    let passed = inspection.checks.iter().map(|checked| checked.passed).max().unwrap_or(0);
    line!(
        text,
        "  {n_good} of {} scans passed every check that could be made ({passed} of them)",
        inspection.checks.len()
    );
    let all: Vec<&Finding> = inspection.checks.iter().flat_map(|checked| &checked.findings).collect();
    text.push_str(&findings(&all, "  "));
    if let Some(first) = inspection.checks.first() {
        for (check, why) in &first.not_testable {
            line!(text, "  not testable: {} ({why})", check.id());
        }
    }
    text
}
