//! What people see: aligned, rounded to the uncertainty, units everywhere.

/// Appends a formatted line to a text.
macro_rules! line {
    ($text:expr, $($words:tt)*) => {{
        $text.push_str(&format!($($words)*));
        $text.push('\n');
    }};
}

pub(crate) mod additions;
pub(crate) mod bench_sheets;
pub(crate) mod budgets;
pub(crate) mod calibrations;
pub(crate) mod chain;
pub(crate) mod charts;
pub(crate) mod checks;
pub(crate) mod comparison;
pub(crate) mod determinations;
pub(crate) mod devices;
pub(crate) mod dossiers;
pub(crate) mod foresight;
pub(crate) mod inspections;
pub(crate) mod lots;
pub(crate) mod numbers;
pub(crate) mod plans;
pub(crate) mod scans;
pub(crate) mod stations;
pub(crate) mod study;
mod table;
pub(crate) mod tour;
pub(crate) mod trade;
pub(crate) mod truth;
pub(crate) mod validation;

use stillwell_folder::FolderError;
use stillwell_method::{Effect, Finding, Method, Problem};

use crate::exit::Failure;

/// Columns of text that a printed page and a terminal hold.
const WIDTH: usize = 100;

/// Findings of one check that are shown one by one.
const MOST_ALIKE: usize = 3;

/// The method's name, revision and hash.
fn method_line(method: &Method) -> String {
    format!("{}, revision {} (method {})\n", method.name, method.revision, method.hash.short())
}

/// A failure for a person.
pub(crate) fn failure(failure: &Failure) -> String {
    match failure {
        Failure::Folder { folder, error: FolderError::Content(found) } => {
            format!("{}\nin {}\n", problems(&found.problems).trim_end(), folder.display())
        }
        Failure::Folder { error, .. } => format!("error: {error}"),
        Failure::Problems(found) => problems(found),
        Failure::Foresee(error) => wrapped("error: ", &error.to_string()),
        Failure::Study(error) => format!("error: {error}"),
        Failure::Serve(error) => format!("error: {error}"),
        Failure::Field(error) => format!("error: {error}"),
        Failure::NotThere { what, cure } => format!("error: {what}\n  cure: {cure}"),
    }
}

/// Problems of one cure in one file that are written out; the others are counted.
const WRITTEN_OUT: usize = 3;

fn problems(problems: &[Problem]) -> String {
    let mut text = String::new();
    let mut alike: Vec<(&Problem, Vec<&Problem>)> = Vec::new();
    for problem in problems {
        let is_alike = |first: &Problem| first.place.file == problem.place.file && first.cure == problem.cure;
        match alike.iter_mut().find(|(first, _)| is_alike(first)) {
            Some((_, others)) => others.push(problem),
            None => alike.push((problem, Vec::new())),
        }
        let n_before = alike.iter().find(|(first, _)| is_alike(first)).map_or(0, |(_, others)| others.len());
        if n_before >= WRITTEN_OUT {
            continue;
        }
        line!(text, "error: {}: {}", problem.place, problem.found);
        if !problem.place.text.is_empty() && !problem.found.contains(&problem.place.text) {
            line!(text, "  text: {}", problem.place.text);
        }
        if !problem.cure.is_empty() {
            line!(text, "{}", wrapped("  cure: ", &problem.cure));
        }
    }
    for (first, others) in &alike {
        text.push_str(&not_written_out(first, others.get(WRITTEN_OUT - 1..).unwrap_or_default()));
    }
    if problems.len() > 1 {
        line!(text, "{} problems", problems.len());
    }
    text
}

/// How many more there are of a kind, and where.
fn not_written_out(first: &Problem, more: &[&Problem]) -> String {
    let lines = || more.iter().map(|problem| problem.place.line);
    match (more.len(), lines().min(), lines().max()) {
        (0, ..) => String::new(),
        (1, Some(line), _) => {
            format!("and 1 more like it in {}: line {line}\n  cure: {}\n", first.place.file, first.cure)
        }
        (n, Some(from), Some(to)) => {
            format!(
                "and {n} more like it in {}: lines {from} to {to}\n{}\n",
                first.place.file,
                wrapped("  cure: ", &first.cure)
            )
        }
        _ => String::new(),
    }
}

/// Findings and their remedies, the gravest first; those of one check and effect share one entry.
fn findings(findings: &[&Finding], indent: &str) -> String {
    let mut groups: Vec<Vec<&Finding>> = Vec::new();
    for finding in findings {
        let alike = |other: &&Finding| {
            other.check == finding.check
                && other.effect == finding.effect
                && other.overridden == finding.overridden
        };
        match groups.iter_mut().find(|group| group.iter().any(alike)) {
            Some(group) => {
                if !group.contains(finding) {
                    group.push(finding);
                }
            }
            None => groups.push(vec![finding]),
        }
    }
    groups.sort_by_key(|group| {
        let first = group.first();
        (first.is_some_and(|one| one.overridden.is_some()), std::cmp::Reverse(first.map(|one| one.effect)))
    });
    groups.iter().map(|group| entry(group, indent)).collect()
}

/// One check that did not pass: where, what was found, what to do.
fn entry(group: &[&Finding], indent: &str) -> String {
    let Some(first) = group.first() else { return String::new() };
    let mut text = format!("{indent}{} {}\n", first.effect.word(), first.check.id());
    for finding in group.iter().take(MOST_ALIKE) {
        let line = format!("{}: {}", finding.subject, finding.found);
        line!(text, "{}", wrapped(&format!("{indent}  "), &line));
    }
    if group.len() > MOST_ALIKE {
        line!(text, "{indent}  … and {} more", group.len() - MOST_ALIKE);
    }
    match &first.overridden {
        Some(reason) => line!(text, "{}", wrapped(&format!("{indent}  overridden: "), reason)),
        None if first.effect == Effect::Noted => {}
        None => line!(text, "{}", wrapped(&format!("{indent}  do: "), first.remedy())),
    }
    text
}

/// Every line behind an indent.
fn indented(text: &str, indent: &str) -> String {
    let mut out = String::new();
    for line in text.lines() {
        line!(out, "{indent}{line}");
    }
    out
}

/// `lead` followed by `text`, broken at blanks; further lines are indented to the lead's own indent plus two.
fn wrapped(lead: &str, text: &str) -> String {
    let indent = " ".repeat(lead.len() - lead.trim_start().len() + 2);
    let mut lines = Vec::new();
    let mut line = lead.to_owned();
    let mut is_empty = true;
    for word in text.split_whitespace() {
        let needed = line.chars().count() + word.chars().count() + usize::from(!is_empty);
        if needed > WIDTH && !is_empty {
            lines.push(std::mem::replace(&mut line, indent.clone()));
            is_empty = true;
        }
        if !is_empty {
            line.push(' ');
        }
        line.push_str(word);
        is_empty = false;
    }
    lines.push(line);
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_words_and_long_texts_are_wrapped_under_their_lead() {
        let text = wrapped("  do: ", &"measure again ".repeat(12));
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH));
        assert!(text.lines().skip(1).all(|line| line.starts_with("    m") || line.starts_with("    a")));
    }
}
