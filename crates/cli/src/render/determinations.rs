//! `determine` for people: one line a sample, then what needs attention, then the cautions.

use std::path::Path;

use stillwell_assure::{Decision, DecisionCode};
use stillwell_method::{Determination, Effect, Finding, Outcome, Report, Role};
use stillwell_study::{Beside, shell_path, shell_word};

use super::numbers::result;
use super::study::beside::cell;
use super::table::table;
use super::{findings, wrapped};

/// Behind a verdict that rests on overridden checks.
const OVERRIDDEN_MARK: &str = " †";

pub(crate) fn table_for(report: &Report, folder: &Path, study: Option<&Beside>) -> String {
    let mut text = head(report);
    text.push_str(&results(report, study));
    text.push_str(&legend(report));
    for determination in &report.determinations {
        text.push_str(&in_words(report, determination));
    }
    text.push_str(&calibration_findings(report));
    text.push_str(&batch_findings(report));
    text.push_str(&cautions(report));
    text.push_str(&next(report, folder, study));
    text
}

fn head(report: &Report) -> String {
    let method = &report.method;
    let n_excluded = report.scans.iter().filter(|scan| !scan.counts()).count();
    let n_refused = report.scans.iter().filter(|scan| scan.counts() && scan.is_refused()).count();
    let accepted = report.calibrations.iter().filter(|calibration| calibration.is_accepted()).count();
    format!(
        "{}, revision {} (method {})\n{} scans: {n_refused} refused, {n_excluded} excluded; {} calibrations: {accepted} accepted\n\n",
        method.name,
        method.revision,
        method.hash.short(),
        report.scans.len(),
        report.calibrations.len()
    )
}

/// The words of a verdict in a table cell.
pub(super) fn verdict(determination: &Determination, decision: &Decision) -> &'static str {
    let held = match determination.outcome {
        Outcome::Refused => Some(Effect::Refused),
        _ => determination.withheld().next().map(|finding| finding.effect),
    };
    verdict_word(held, decision)
}

/// The same, where a verdict may be held back by this effect.
pub(super) fn verdict_word(held: Option<Effect>, decision: &Decision) -> &'static str {
    match held {
        Some(Effect::Refused) => return "UNKNOWN (refused)",
        Some(_) => return "WITHHELD",
        None => {}
    }
    match decision.code {
        DecisionCode::Below => "below",
        DecisionCode::Above => "ABOVE",
        DecisionCode::TooCloseToCall => "TOO CLOSE TO CALL",
        DecisionCode::NotDecidable => "UNKNOWN",
    }
}

fn results(report: &Report, study: Option<&Beside>) -> String {
    if report.determinations.is_empty() {
        return "the run sheet names no sample: nothing is determined\n".to_owned();
    }
    let limits: Vec<String> = report
        .determinations
        .first()
        .map(|determination| {
            determination.decisions.iter().map(|decision| decision.limit_id.clone()).collect()
        })
        .unwrap_or_default();
    let mut header =
        vec!["sample".to_owned(), format!("{}, {}", report.method.analyte, report.method.reported_as)];
    header.extend(limits);
    header.push(">strips".to_owned());
    let mut rows: Vec<Vec<String>> = report.determinations.iter().map(row).collect();
    if let Some(study) = study {
        header.push("in the study".to_owned());
        rows.iter_mut().enumerate().for_each(|(place, cells)| cells.push(cell(study, place)));
    }
    table(&header.iter().map(String::as_str).collect::<Vec<_>>(), &rows)
}

fn row(determination: &Determination) -> Vec<String> {
    let mut cells = vec![name(determination), result(&determination.outcome)];
    let mark = if determination.overridden_refusals().is_empty() { "" } else { OVERRIDDEN_MARK };
    let marked = |decision| format!("{}{mark}", verdict(determination, decision));
    cells.extend(determination.decisions.iter().map(marked));
    cells.push(match &determination.outcome {
        Outcome::Quantified(estimate) => estimate.electrodes.to_string(),
        _ => "–".to_owned(),
    });
    cells
}

pub(super) fn name(determination: &Determination) -> String {
    match determination.role {
        Role::Sample => determination.sample.clone(),
        role => format!("{} ({})", determination.sample, role.word()),
    }
}

pub(super) fn decisions_in_words(decisions: &[Decision]) -> String {
    let mut text = String::new();
    for decision in decisions {
        let words = match decision.code {
            DecisionCode::Below => decision.words.clone(),
            _ => format!("{}: {}", decision.words, decision.reason),
        };
        line!(text, "{}", wrapped("  ", &words));
    }
    text
}

/// The verdicts of one sample in words, and what a person must know of it.
fn in_words(report: &Report, determination: &Determination) -> String {
    let mut text = format!("\n{}\n", name(determination));
    let is_withheld = determination.withheld().next().is_some();
    let is_refused = matches!(determination.outcome, Outcome::Refused);
    if is_refused {
        text.push_str("  no number is issued: treat this water as unknown\n");
    } else if is_withheld {
        text.push_str(
            "  the verdict is withheld: the number stands, but nothing is to be concluded from it\n",
        );
    }
    if !is_refused && !is_withheld {
        text.push_str(&decisions_in_words(&determination.decisions));
    }
    if let Outcome::AboveRange(above) = &determination.outcome {
        let advice = format!("dilute the sample 1 : {:.0} and measure it on new strips.", above.dilute);
        line!(text, "{}", wrapped("  for a number: ", &advice));
    }
    let is_shared = |finding: &Finding| {
        report.batch_findings.contains(finding) || calibration_of(report, determination).contains(finding)
    };
    // What withholds or refuses this sample is read here, even where it stands for its whole batch below.
    let stands_here = |finding: &&Finding| {
        let stops = finding.is_in_force(Effect::Withheld) || finding.is_in_force(Effect::Refused);
        stops || !is_shared(finding)
    };
    let own: Vec<&Finding> =
        determination.findings.iter().filter(|f| f.effect != Effect::Noted).filter(stands_here).collect();
    text.push_str(&findings(&own, "  "));
    let warned = determination.findings.iter().find(|finding| {
        finding.effect == Effect::Warned && calibration_of(report, determination).contains(finding)
    });
    if let Some(finding) = warned {
        let words =
            format!("its calibration, {}, is warned of: see below, under calibrations", finding.subject);
        line!(text, "{}", wrapped("  warning: ", &words));
    }
    text
}

/// The findings about a sample's calibration.
fn calibration_of<'r>(report: &'r Report, determination: &Determination) -> &'r [Finding] {
    let link = determination.calibration.and_then(|place| report.calibrations.get(place));
    link.map_or(&[], |link| &link.findings)
}

/// What the calibrations of samples are warned of, each once; what withholds or refuses stands with the samples.
fn calibration_findings(report: &Report) -> String {
    let mut warned: Vec<&Finding> = Vec::new();
    for determination in &report.determinations {
        for finding in calibration_of(report, determination).iter().filter(|f| f.effect == Effect::Warned) {
            if determination.findings.contains(finding) && !warned.contains(&finding) {
                warned.push(finding);
            }
        }
    }
    if warned.is_empty() { String::new() } else { format!("\ncalibrations\n{}", findings(&warned, "  ")) }
}

/// What each limit is.
pub(super) fn limits(decisions: &[Decision]) -> String {
    let mut text = String::new();
    for decision in decisions {
        let words = format!("{}; {}", decision.limit_name, decision.limit_source);
        line!(text, "{}", wrapped(&format!("{}: ", decision.limit_id), &words));
    }
    text
}

/// The limits and the sign ±.
fn legend(report: &Report) -> String {
    let mut text = String::from("\n");
    if report.determinations.iter().any(|determination| determination.decisions.is_empty()) {
        text.push_str("the method states no limit under [[limits]]: nothing is judged\n");
    }
    text.push_str(&limits(report.determinations.first().map_or(&[], |first| &first.decisions)));
    let coverage = report.determinations.iter().find_map(|determination| match &determination.outcome {
        Outcome::Quantified(estimate) => Some(estimate.coverage),
        _ => None,
    });
    if let Some(coverage) = coverage {
        line!(text, "±: expanded uncertainty, coverage {:.0} %", 100.0 * coverage);
    }
    if report.determinations.iter().any(|determination| !determination.overridden_refusals().is_empty()) {
        let words = "a check refused scans of it, and the analyst overrode the check; no \"below\" is drawn from it until an \
                     approver signs the result in a study";
        line!(text, "{}", wrapped("†: ", words));
    }
    text
}

fn batch_findings(report: &Report) -> String {
    let all: Vec<&Finding> =
        report.batch_findings.iter().filter(|finding| finding.effect != Effect::Noted).collect();
    if all.is_empty() { String::new() } else { format!("\nbatches\n{}", findings(&all, "  ")) }
}

/// Cautions and advice, each once, the most pressing first.
pub(super) fn cautions(report: &Report) -> String {
    let all: Vec<&Decision> =
        report.determinations.iter().flat_map(|determination| &determination.decisions).collect();
    cautions_of(&all)
}

pub(super) fn cautions_of(decisions: &[&Decision]) -> String {
    let mut advice: Vec<&str> = Vec::new();
    let mut cautions: Vec<&str> = Vec::new();
    for line in decisions.iter().flat_map(|decision| &decision.advice) {
        if !advice.contains(line) {
            advice.push(line);
        }
    }
    let longest = decisions.iter().max_by_key(|decision| decision.cautions.len());
    cautions.extend(longest.iter().flat_map(|decision| &decision.cautions));
    let mut text = String::new();
    if !advice.is_empty() {
        text.push_str("\nwhat to do next\n");
    }
    for line in advice {
        line!(text, "{}", wrapped("  - ", line));
    }
    if !cautions.is_empty() {
        text.push_str("\ncautions\n");
    }
    for line in cautions {
        line!(text, "{}", wrapped("  - ", line));
    }
    text
}

fn next(report: &Report, folder: &Path, study: Option<&Beside>) -> String {
    let series = study.filter(|study| !study.is_only_series);
    let series = series.map_or_else(String::new, |study| format!(" --series {}", study.series));
    let sample = report
        .determinations
        .iter()
        .find(|d| d.decisions.iter().any(|decision| decision.code != DecisionCode::Below))
        .or(report.determinations.first());
    sample.map_or_else(String::new, |sample| {
        format!(
            "\nhow a number came about: stillwell determine {}{series} --show-chain {}\n",
            shell_path(folder),
            shell_word(&sample.sample)
        )
    })
}
