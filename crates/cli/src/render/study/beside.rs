//! What stands under every page that was made from a study.

use stillwell_method::Report;
use stillwell_study::{Anchor, Beside};

use super::super::determinations::name;
use super::{head, wrapped};

/// The standing of one determination in a cell.
pub(crate) fn cell(beside: &Beside, place: usize) -> String {
    match beside.determinations.get(place).and_then(Option::as_ref) {
        None => "not issued".to_owned(),
        Some(last) if last.is_same => format!("{}: {}", last.result.label, last.result.standing.word()),
        Some(last) => format!("{}: {}, issued otherwise", last.result.label, last.result.standing.word()),
    }
}

/// Series, standing of calibrations, head of the ledger; and the standing of results, where the page shows one of them
/// without it.
pub(crate) fn foot(report: &Report, beside: &Beside, with_results: bool) -> String {
    let mut text = lead(beside);
    for (link, record) in report.calibrations.iter().zip(&beside.calibrations) {
        let standing = match record {
            None => "not issued, not approved".to_owned(),
            Some(one) => format!("calibration {}, {}", one.label, one.standing.word()),
        };
        line!(text, "  {}: {standing}", link.key.label());
    }
    if with_results {
        text.push_str(&results(report, beside));
    }
    if beside.determinations.iter().any(|last| !last.as_ref().is_some_and(|last| last.is_same)) {
        let path = beside.path.display();
        line!(text, "  to issue what is not: stillwell study determine {path} --as NAME");
    }
    text.push_str(&head(&beside.anchor));
    text
}

/// What stands under a page over several series.
pub(crate) fn foot_of_series(path: &std::path::Path, series: &[String], anchor: &Anchor) -> String {
    let named = wrapped(&format!("from {}, series ", path.display()), &series.join(", "));
    format!("\n{named}\n{}", head(anchor))
}

/// The same for what a study does not record.
pub(crate) fn foot_of_additions(beside: &Beside) -> String {
    let mut text = lead(beside);
    text.push_str("  standard additions are evaluated and not recorded in the study: NOT APPROVED\n");
    text.push_str(&head(&beside.anchor));
    text
}

fn lead(beside: &Beside) -> String {
    format!("\nfrom {}, series {} ({})\n", beside.path.display(), beside.series, beside.series_name)
}

fn results(report: &Report, beside: &Beside) -> String {
    let all: Vec<String> = report
        .determinations
        .iter()
        .enumerate()
        .map(|(place, found)| format!("{} {}", name(found), cell(beside, place)))
        .collect();
    if all.is_empty() { String::new() } else { format!("{}\n", wrapped("  results: ", &all.join(" · "))) }
}
