//! `addition` for people: one line a series, then each in words, then the cautions.

use stillwell_assure::Decision;
use stillwell_calibrate::{AdditionDesign, MatrixEffect};
use stillwell_method::{AdditionLink, AdditionReport, Effect, Finding};
use stillwell_quantity::round_to_uncertainty;

use super::determinations::{cautions_of, decisions_in_words, limits, verdict_word};
use super::numbers::two_digits;
use super::table::table;
use super::{findings, wrapped};

pub(crate) fn table_for(report: &AdditionReport) -> String {
    let mut text = head(report);
    text.push_str(&results(report));
    text.push_str(&legend(report));
    for series in &report.series {
        text.push_str(&in_words(series));
    }
    let decisions: Vec<&Decision> = report.series.iter().flat_map(|series| &series.decisions).collect();
    text.push_str(&cautions_of(&decisions));
    text
}

fn head(report: &AdditionReport) -> String {
    let method = &report.method;
    let scans: usize = report.series.iter().map(|series| series.scans.len()).sum();
    format!(
        "{}, revision {} (method {})\nstandard addition: {} series, {scans} scans\n\n",
        method.name,
        method.revision,
        method.hash.short(),
        report.series.len()
    )
}

fn results(report: &AdditionReport) -> String {
    let mut header = vec![
        "sample".to_owned(),
        format!("{}, {}", report.method.analyte, report.method.reported_as),
        ">by the calibration".to_owned(),
        "matrix".to_owned(),
    ];
    let first = report.series.first();
    header.extend(first.iter().flat_map(|series| &series.decisions).map(|d| d.limit_id.clone()));
    header.push(">strips".to_owned());
    let rows: Vec<Vec<String>> = report.series.iter().map(row).collect();
    table(&header.iter().map(String::as_str).collect::<Vec<_>>(), &rows)
}

fn row(series: &AdditionLink) -> Vec<String> {
    let reading = series.matrix.map(|matrix| format!("{:.1}", matrix.external_reading));
    let mut cells = vec![
        series.sample.clone(),
        value(series),
        reading.unwrap_or_else(|| "–".to_owned()),
        matrix(series).to_owned(),
    ];
    let held = match &series.result {
        None => Some(Effect::Refused),
        Some(_) => series.withheld().next().map(|finding| finding.effect),
    };
    let words = series.decisions.iter().map(|decision| verdict_word(held, decision).to_owned());
    cells.extend(words);
    cells
        .push(series.result.as_ref().map_or("–".to_owned(), |found| found.estimate.n_electrodes.to_string()));
    cells
}

fn value(series: &AdditionLink) -> String {
    series.result.as_ref().map_or_else(
        || "refused".to_owned(),
        |found| {
            let rounded = round_to_uncertainty(found.value.value(), found.expanded_u());
            format!("{} ± {}", rounded.value, rounded.expanded_u)
        },
    )
}

fn matrix(series: &AdditionLink) -> &'static str {
    match series.matrix.map(|matrix| matrix.effect) {
        Some(MatrixEffect::Differs) => "MATTERS",
        Some(MatrixEffect::WithinBound) => "within the bound",
        Some(MatrixEffect::CannotTell) => "cannot be told",
        None => "not compared",
    }
}

fn legend(report: &AdditionReport) -> String {
    let mut text = String::from("\n");
    if report.series.iter().any(|series| series.decisions.is_empty()) {
        text.push_str("the method states no limit under [[limits]]: nothing is judged\n");
    }
    text.push_str(&limits(report.series.first().map_or(&[], |first| &first.decisions)));
    let coverage = report.series.iter().find_map(|series| Some(series.result.as_ref()?.estimate.coverage));
    if let Some(coverage) = coverage {
        line!(text, "±: the larger side of the interval, coverage {:.0} %", 100.0 * coverage);
    }
    text.push_str(
        "by the calibration: what the external calibration reads for the vials without addition, for comparison only\n",
    );
    text
}

/// One series: result, design, line, matrix, verdict, and what a person must know of it.
fn in_words(series: &AdditionLink) -> String {
    let mut text = format!("\n{}\n", series.sample);
    let is_withheld = series.withheld().next().is_some();
    if series.is_refused() {
        text.push_str("  no number is issued: treat this water as unknown\n");
    } else if is_withheld {
        text.push_str(
            "  the verdict is withheld: the number stands, but nothing is to be concluded from it\n",
        );
    }
    if !series.is_refused() && !is_withheld {
        text.push_str(&decisions_in_words(&series.decisions));
    }
    for sentence in &series.sentences {
        line!(text, "{}", wrapped("  ", sentence));
    }
    text.push_str(&line_of(series));
    for remark in &series.remarks {
        line!(text, "{}", wrapped(&format!("  {}: ", remark.effect.word()), &remark.words));
    }
    let own: Vec<&Finding> =
        series.findings.iter().filter(|finding| finding.effect != Effect::Noted).collect();
    text.push_str(&findings(&own, "  "));
    text
}

fn line_of(series: &AdditionLink) -> String {
    let Some(result) = &series.result else { return String::new() };
    let estimate = &result.estimate;
    let mut text = String::new();
    let design = match estimate.design {
        AdditionDesign::FreshElectrodes => {
            "a fresh strip for each measurement: strips differ, and that spread is in the interval"
        }
        AdditionDesign::FollowedElectrodes { .. } => {
            "each strip followed through the additions: its own sensitivity cancels, and each strip counts once"
        }
    };
    line!(text, "{}", wrapped("  design: ", design));
    let added: Vec<String> = estimate.additions.iter().map(|added| two_digits(*added)).collect();
    let bend = estimate.curvature.map_or_else(
        || "a bend could not be tested".to_owned(),
        |test| format!("no bend seen (p {:.2})", test.p),
    );
    let words = format!(
        "additions of {} {}, up to {:.1} times the result; {} degrees of freedom; {bend}",
        added.join(", "),
        result.value.kind(),
        estimate.reach,
        estimate.degrees_of_freedom
    );
    line!(text, "{}", wrapped("  line: ", &words));
    text
}
