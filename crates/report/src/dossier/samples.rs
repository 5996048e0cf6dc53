//! Samples: results with their verdicts, withheld ones without, refusals with their reasons.

use maud::{Markup, html};
use stillwell_method::Check;
use stillwell_study::{Act, FindingText, Shown};

use super::DossierInput;
use super::setting::{Set, cell, check_named, said, table};
use crate::wording::{Said, approval_by, counted, number, sample};

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let all: Vec<&Shown> = input.results().collect();
    let n_open =
        input.determinations.iter().filter(|last| !last.as_ref().is_some_and(|last| last.is_same)).count();
    html! {
        p { "Results as they stand on record. Value ± U: the expanded uncertainty at the coverage that the method states, so that the interval holds the larger half; both rounded to two digits of U." }
        @if n_open > 0 { p { strong { (counted(n_open, "sample")) " of this series are not issued as the chain finds them today." } " What is not issued is not listed here." } }
        (results(input, &all))
        (reasons(&all))
        (refusals(&all))
        (verdicts(&all))
        (custody(input))
    }
}

fn limits<'a>(all: &[&'a Shown]) -> Vec<&'a str> {
    let mut limits: Vec<&str> = Vec::new();
    for decision in all.iter().flat_map(|shown| &shown.one.act.result.decisions) {
        if !limits.contains(&decision.limit.as_str()) {
            limits.push(&decision.limit);
        }
    }
    limits
}

fn results(input: &DossierInput, all: &[&Shown]) -> Markup {
    let limits = limits(all);
    let unit = input.unit();
    let value = format!("Result / {unit}");
    let mut columns = vec![
        ("Sample", Set::Words),
        ("No.", Set::Numbers),
        ("Lot", Set::Words),
        (value.as_str(), Set::Numbers),
        ("Electrodes", Set::Numbers),
    ];
    columns.extend(limits.iter().map(|limit| (*limit, Set::Words)));
    columns.push(("Standing", Set::Words));
    let rows: Vec<Vec<Markup>> = all
        .iter()
        .map(|shown| {
            let result = &shown.one.act.result;
            let electrodes = result.numbers.as_ref().and_then(|numbers| numbers.electrodes);
            let mut cells = vec![
                cell(sample(result)),
                cell(&shown.one.label),
                cell(&result.lot),
                cell(number(result)),
                cell(electrodes.map_or_else(|| "–".to_owned(), |n| n.to_string())),
            ];
            cells.extend(limits.iter().map(|limit| verdict(shown, limit)));
            cells.push(standing(input, shown));
            cells
        })
        .collect();
    html! {
        @if rows.is_empty() { p { "No result of this series has been issued." } }
        (table("Results, with what may be said against each limit today", &columns, &rows))
    }
}

/// The verdict with a mark whose shape says the same.
fn verdict(shown: &Shown, limit: &str) -> Markup {
    let said = Said::of(shown, limit);
    let mark = match said {
        Said::Above => "▲ ",
        Said::TooClose => "◆ ",
        Said::Refused | Said::Withheld | Said::Undecided => "■ ",
        Said::Below => "● ",
        Said::Nothing => "",
    };
    html! { span aria-hidden="true" { (mark) } @if said == Said::Above { strong { (said.word()) } } @else { (said.word()) } }
}

fn standing(input: &DossierInput, shown: &Shown) -> Markup {
    let revision = &shown.one.act.result.method;
    let is_of_another = revision.to_string() != input.input.method.hash.to_string();
    let standing = &shown.one.standing;
    html! {
        @match (&standing.withdrawn, &standing.replaced_by, &standing.approval) {
            (None, None, Some((word, said))) => { (cell(approval_by(*word, said))) }
            _ => { (standing.word()) }
        }
        @if is_of_another { "; by another revision, " code { (revision.short()) } }
        @if let Some((label, word)) = &shown.unapproved_calibration { "; calibration " (label) " " (word) }
    }
}

fn reasons(all: &[&Shown]) -> Markup {
    let rows: Vec<Vec<Markup>> = all
        .iter()
        .filter(|shown| {
            shown.one.standing.counts() && shown.one.act.result.numbers.is_some() && shown.is_withheld()
        })
        .map(|shown| {
            vec![
                cell(sample(&shown.one.act.result)),
                html! { ul { @for why in shown.reasons() { li { (said(&why)) } } } },
            ]
        })
        .collect();
    table("Verdicts withheld, and why", &[("Sample", Set::Words), ("Because", Set::Words)], &rows)
}

fn refusals(all: &[&Shown]) -> Markup {
    let mut rows: Vec<Vec<Markup>> = Vec::new();
    for shown in
        all.iter().filter(|shown| shown.one.standing.counts() && shown.one.act.result.numbers.is_none())
    {
        let result = &shown.one.act.result;
        // Scans of one sample are often refused alike.
        let mut by_check: Vec<(&FindingText, usize)> = Vec::new();
        for finding in
            result.findings.iter().filter(|one| one.effect == "refused" && one.overridden.is_none())
        {
            match by_check.iter_mut().find(|(known, _)| known.check == finding.check) {
                Some((_, n)) => *n += 1,
                None => by_check.push((finding, 1)),
            }
        }
        rows.extend(by_check.into_iter().map(|(finding, n)| {
            let remedy = Check::of_id(&finding.check).map_or("", |check| check.text().remedy);
            let found = html! { @if n > 1 { (n) " times, first " } (said(&finding.subject)) ": " (said(&finding.found)) };
            vec![cell(sample(result)), check_named(&finding.check), found, cell(remedy)]
        }));
    }
    let words = |title| (title, Set::Words);
    table(
        "Refused: no number, and why",
        &[words("Sample"), words("Check"), words("Found"), words("What to do")],
        &rows,
    )
}

/// The sentences of the verdicts that may be shown.
fn verdicts(all: &[&Shown]) -> Markup {
    let shown = all.iter().filter(|shown| shown.one.standing.counts() && !shown.is_withheld());
    let rows: Vec<Vec<Markup>> = shown
        .flat_map(|shown| {
            let name = sample(&shown.one.act.result);
            shown
                .one
                .act
                .verdicts()
                .iter()
                .map(move |one| vec![cell(&name), cell(&one.limit), cell(&one.words), cell(&one.reason)])
        })
        .collect();
    let words = |title| (title, Set::Words);
    html! {
        h3 { "Verdicts in sentences" }
        @if rows.is_empty() { p { "No verdict may be drawn." } }
        (table("Verdicts", &[words("Sample"), words("Limit"), words("Verdict"), words("Because")], &rows))
    }
}

fn custody(input: &DossierInput) -> Markup {
    let rows: Vec<Vec<Markup>> = input
        .history
        .entries
        .iter()
        .filter_map(|entry| if let Act::Custody(act) = &entry.act { Some(act) } else { None })
        .map(|act| {
            let held = act.holding_time_h.map_or_else(|| "–".to_owned(), |hours| hours.to_string());
            vec![
                cell(&act.sample),
                cell(&act.place),
                cell(&act.taken),
                cell(&act.taken_by),
                cell(&act.preservation),
                cell(held),
                cell(&act.dilution),
            ]
        })
        .collect();
    let words = |title| (title, Set::Words);
    table(
        "Where samples come from",
        &[
            words("Sample"),
            words("Place"),
            words("Taken"),
            words("By"),
            words("Preservation"),
            ("Holding time / h", Set::Numbers),
            words("Dilution"),
        ],
        &rows,
    )
}
