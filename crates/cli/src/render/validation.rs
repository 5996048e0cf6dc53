//! `validate` for people: criterion, evidence, requirement, verdict; then what would show the ones not shown.

use stillwell_assure::validate::{Criterion, RowVerdict, ValidationRow};
use stillwell_method::{Method, ValidationReview};

use super::numbers::counted;
use super::table::table;
use super::{method_line, wrapped};

pub(crate) fn text(method: &Method, review: &ValidationReview, is_study: bool) -> String {
    let mut text = method_line(method);
    let lots = if review.lots.is_empty() { "none".to_owned() } else { review.lots.join(", ") };
    // A folder knows nobody who could approve.
    let by_whom = if is_study { "" } else { " (accepted by their criteria, not approved by anybody)" };
    let words = format!(
        "accepted calibrations: {lots}{by_whom}; check standards on {}",
        counted(review.n_days, "day")
    );
    line!(text, "{}\n", wrapped("", &words));
    let rows: Vec<Vec<String>> = review.table.rows.iter().map(row).collect();
    let header = ["criterion", ">found", ">95 % interval", ">n", ">asked", "unit", ""];
    text.push_str(&table(&header, &rows));
    text.push_str(&sources(review));
    for row in &review.table.rows {
        text.push_str(&more(row));
    }
    text + &together(review)
}

fn row(row: &ValidationRow) -> Vec<String> {
    let word = match row.verdict {
        RowVerdict::Met => "met",
        RowVerdict::NotMet => "NOT MET",
        RowVerdict::NotShown { .. } => "NOT SHOWN",
    };
    let none = || "–".to_owned();
    let span = |[low, high]: [f64; 2]| format!("{} to {}", number(low), number(high));
    let is_range = row.criterion == Criterion::WorkingRange;
    let found = if is_range { row.interval.map(span) } else { row.found.map(number) };
    let asked = row.requirement.as_ref().map(|(allowed, _)| match row.criterion {
        Criterion::WorkingRange | Criterion::Recovery => span(*allowed),
        Criterion::Trueness | Criterion::Selectivity => format!("±{}", number(allowed[1])),
        _ => format!("≤ {}", number(allowed[1])),
    });
    // Several substances are several rows.
    let is_named = row.criterion == Criterion::Selectivity && !row.subject.is_empty();
    let subject = if is_named { format!(", {}", row.subject) } else { String::new() };
    vec![
        format!("{}{subject}", row.criterion.name()),
        found.unwrap_or_else(none),
        row.interval.filter(|_| !is_range).map_or_else(none, span),
        if row.n > 0 && counts(row.criterion) { row.n.to_string() } else { none() },
        asked.unwrap_or_else(|| "nothing".to_owned()),
        row.unit.clone(),
        word.to_owned(),
    ]
}

/// Ranges and limits rest on a calibration, not on a number of determinations.
fn counts(criterion: Criterion) -> bool {
    !matches!(criterion, Criterion::WorkingRange | Criterion::DetectionLimit | Criterion::QuantificationLimit)
}

/// As many decimals as the table has room for.
fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    if text == "-0.00" { "0.00".to_owned() } else { text }
}

/// Who asks, each with the criteria.
fn sources(review: &ValidationReview) -> String {
    let mut sources: Vec<(&str, Vec<&str>)> = Vec::new();
    for row in &review.table.rows {
        let Some((_, source)) = &row.requirement else { continue };
        match sources.iter_mut().find(|(known, _)| *known == source.as_str()) {
            Some((_, criteria)) => criteria.push(row.criterion.name()),
            None => sources.push((source.as_str(), vec![row.criterion.name()])),
        }
    }
    let mut text = String::from("\n");
    for (source, mut criteria) in sources {
        criteria.dedup();
        line!(text, "{}", wrapped("asked by ", &format!("{source}: {}", criteria.join(", "))));
    }
    text
}

fn more(row: &ValidationRow) -> String {
    let mut text = String::new();
    let subject = if row.subject.is_empty() { String::new() } else { format!(" by {}", row.subject) };
    let name = format!("{}{subject}", row.criterion.name());
    if let RowVerdict::NotShown { would_show } = &row.verdict {
        line!(text, "{}", wrapped(&format!("{name} would be shown by: "), would_show));
    }
    for advice in &row.advice {
        line!(text, "{}", wrapped(&format!("{name}, note: "), advice));
    }
    text
}

fn together(review: &ValidationReview) -> String {
    let count =
        |wanted: fn(&RowVerdict) -> bool| review.table.rows.iter().filter(|row| wanted(&row.verdict)).count();
    let met = count(|verdict| *verdict == RowVerdict::Met);
    let not_met = count(|verdict| *verdict == RowVerdict::NotMet);
    let open = review.table.rows.len() - met - not_met;
    format!("\n{met} met, {not_met} not met, {open} not shown\n")
}
