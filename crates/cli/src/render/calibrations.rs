//! `calibrate` for people: the curve, its standards read back, its statistics, its limits, its acceptance.

use stillwell_calibrate::{Calibration, Outcome, Role};
use stillwell_method::{CalibrationLink, DetectionClaim, Report, si, three_digits};
use stillwell_quantity::round_up;
use stillwell_report::wording::current_with_error;

use super::numbers::probability;
use super::table::table;
use super::{findings, indented, wrapped};

pub(crate) fn table_for(report: &Report) -> String {
    let unit = report.method.reported_as.to_string();
    let parts: Vec<String> = report.calibrations.iter().map(|link| one(link, &unit)).collect();
    parts.join("\n")
}

fn one(link: &CalibrationLink, unit: &str) -> String {
    let accepted = if link.is_accepted() { "accepted" } else { "NOT ACCEPTED" };
    let mut text = format!("{}: {accepted} (calibration {})\n", link.key.label(), link.hash.short());
    if let Some(calibration) = &link.calibration {
        text.push_str(&curve(calibration, unit));
        text.push_str(&standards(calibration, unit));
        text.push_str(&statistics(calibration, unit));
        text.push_str(&criteria(calibration));
    }
    if let Some(claim) = &link.detection {
        text.push_str(&detection(claim));
    }
    let shown = findings(&link.findings.iter().collect::<Vec<_>>(), "  ");
    if !shown.is_empty() {
        line!(text, "\n{}", shown.trim_end());
    }
    text
}

fn curve(calibration: &Calibration, unit: &str) -> String {
    let figures = &calibration.statistics;
    let [c0, c1, c2] = figures.coefficients;
    let [u0, u1, u2] = figures.standard_errors;
    let mut text = format!("\n  {} on electrode means, x in {unit}\n", calibration.settings.model);
    let parts = [
        ("c0", c0, u0, String::new()),
        ("c1", c1, u1, format!(" per {unit}")),
        ("c2", c2, u2, format!(" per ({unit})²")),
    ];
    for (name, value, error, per) in parts {
        if error > 0.0 {
            line!(text, "    {name} = {}{per}", current_with_error(value, error));
        }
    }
    text
}

fn standards(calibration: &Calibration, unit: &str) -> String {
    let header = [
        format!(">level / {unit}"),
        ">electrodes".into(),
        ">mean signal".into(),
        ">read back".into(),
        ">error / %".into(),
    ];
    let rows: Vec<Vec<String>> = calibration
        .levels
        .iter()
        .map(|level| {
            vec![
                level.level.to_string(),
                level.n_electrodes.to_string(),
                si(level.mean_signal_a, "A"),
                level.back_calculated.map_or("–".to_owned(), three_digits),
                level.error_percent.map_or("–".to_owned(), |error| format!("{error:+.1}")),
            ]
        })
        .collect();
    let lines = table(&header.iter().map(String::as_str).collect::<Vec<_>>(), &rows);
    format!("\n  standards\n{}", indented(&lines, "    "))
}

fn statistics(calibration: &Calibration, unit: &str) -> String {
    let figures = &calibration.statistics;
    let spread = &calibration.components;
    let mut text = format!(
        "\n  {} scans on {} electrode means at {} levels, {} degrees of freedom\n",
        figures.n_scans, figures.n_points, figures.n_levels, figures.degrees_of_freedom
    );
    line!(text, "    residual standard deviation s   {}", si(figures.residual_sd_a, "A"));
    line!(
        text,
        "    process standard deviation      {} {unit} ({:.1} % of the mean level)",
        three_digits(figures.process_sd),
        figures.process_sd_percent
    );
    let sd = |variance: f64| si(libm_sqrt(variance), "A");
    // Nobody measured what scans of one electrode scatter by where each has one.
    let within = if figures.n_scans > figures.n_points {
        sd(spread.scan_variance_a2)
    } else {
        "–: one scan each".to_owned()
    };
    let between = sd(spread.electrode_variance_a2);
    line!(text, "    between electrodes {between}, between scans of one electrode {within}");
    line!(text, "    r² = {:.5} (never enough by itself)", figures.r_squared);
    text
}

// A square root is no formula: the spread is kept as a variance and shown as a standard deviation.
fn libm_sqrt(value: f64) -> f64 {
    value.sqrt()
}

fn criteria(calibration: &Calibration) -> String {
    let rows: Vec<Vec<String>> = calibration
        .findings
        .iter()
        .filter(|finding| finding.role == Role::Acceptance)
        .map(|finding| {
            let word = match finding.outcome {
                Outcome::Passed => "passed",
                Outcome::Failed => "FAILED",
                Outcome::NotTestable => "NOT TESTABLE",
            };
            let looks_at = finding.check.looks_at();
            let number = |value: Option<f64>| match value {
                None => "–".to_owned(),
                Some(value) if looks_at.starts_with("p of") => format!("p {}", probability(value)),
                Some(value) if looks_at.contains('%') => format!("{} %", three_digits(value)),
                Some(value) => three_digits(value),
            };
            vec![finding.id().to_owned(), number(finding.found), number(finding.limit), word.to_owned()]
        })
        .collect();
    let lines = table(&["acceptance", ">found", ">limit", ""], &rows);
    format!("\n{}", indented(&lines, "  "))
}

fn detection(claim: &DetectionClaim) -> String {
    let mut text = String::from("\n  limits\n");
    for (name, limit, meaning) in [
        ("decision limit", &claim.decision_limit, "above it, the analyte is called detected"),
        ("detection limit", &claim.detection_limit, "this much is missed with probability β"),
        ("quantification limit", &claim.quantification_limit, "from here on a number is issued"),
    ] {
        let shown = round_up(limit.value(), 2);
        line!(text, "    {name:21} {shown:>7} {}  ({meaning})", limit.kind());
    }
    line!(text, "{}", wrapped("    basis: ", &claim.basis));
    for note in &claim.notes {
        line!(text, "{}", wrapped("    note: ", note));
    }
    text
}
