//! `evaluate` for people: one line a scan, then what did not pass.

use stillwell_method::{Effect, Finding, Found, Report, ScanLink, three_digits};

use super::findings;
use super::numbers::{current, potential};
use super::table::table;

pub(crate) fn table_for(report: &Report) -> String {
    let header = [
        "file",
        ">scan",
        "role",
        "sample or level",
        "electrode",
        ">signal",
        ">peak / V",
        ">width / mV",
        ">noise",
        ">S/N",
        "checks",
    ];
    let rows: Vec<Vec<String>> = report.scans.iter().map(row).collect();
    let mut text = table(&header, &rows);
    line!(
        text,
        "\nlevel: {} · signal: * at the calibration's potential, without a search · width: at half height",
        report.method.reported_as
    );
    let all: Vec<&Finding> = report
        .scans
        .iter()
        .flat_map(|scan| &scan.findings)
        .filter(|finding| finding.effect != Effect::Noted)
        .collect();
    let shown = findings(&all, "");
    if !shown.is_empty() {
        text.push('\n');
        text.push_str(&shown);
    }
    text
}

fn row(scan: &ScanLink) -> Vec<String> {
    let what = match (&scan.row.level, scan.row.sample.is_empty()) {
        (_, false) => scan.row.sample.clone(),
        (Some(level), true) => level.value().to_string(),
        (None, true) => String::new(),
    };
    let signal = scan.signal.as_ref();
    let mark = signal.map_or("", |signal| if signal.found == Found::AtFixedPotential { "*" } else { "" });
    vec![
        scan.row.file.clone(),
        scan.row.scan.to_string(),
        scan.row.role.word().to_owned(),
        what,
        scan.row.electrode.clone(),
        format!("{}{mark}", current(signal.map(|signal| signal.signal))),
        potential(signal.and_then(|signal| signal.peak_potential_v)),
        signal.and_then(|signal| signal.half_width_v).map_or("–".to_owned(), |v| format!("{:.0}", 1e3 * v)),
        current(signal.and_then(|signal| signal.noise_a)),
        signal
            .filter(|signal| signal.found == Found::ByPeak)
            .and_then(|signal| signal.signal_to_noise)
            .map_or("–".to_owned(), three_digits),
        checks(scan),
    ]
}

fn checks(scan: &ScanLink) -> String {
    if let Some(reason) = &scan.row.exclude {
        return format!("excluded: {reason}");
    }
    let count = |effect| scan.findings.iter().filter(|finding| finding.is_in_force(effect)).count();
    let refused: Vec<&str> = scan
        .findings
        .iter()
        .filter(|finding| finding.is_in_force(Effect::Refused))
        .map(|finding| finding.check.id())
        .collect();
    if !refused.is_empty() {
        return format!("REFUSED: {}", refused.join(", "));
    }
    match count(Effect::Warned) {
        0 => format!("{} passed", scan.checks_passed),
        warnings => format!("{} passed, {warnings} warning(s)", scan.checks_passed),
    }
}
