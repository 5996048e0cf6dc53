//! One page that answers whether these numbers may be trusted, and what stands in the way.

use maud::{Markup, html};
use stillwell_method::Effect;
use stillwell_study::Shown;

use super::DossierInput;
use super::setting::{Set, said, table};
use crate::wording::{Said, TrustGrade, counted, number, sample, trust};

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let counting: Vec<&Shown> = input.counting().collect();
    let gone = input.no_longer_counting();
    let n_free = counting.iter().filter(|shown| trust(shown).because.is_empty()).count();
    html! {
        (answer(counting.len() + gone.len(), n_free))
        (links(input))
        (in_the_way(&counting))
        (no_longer_counting(&gone))
        p { "Water whose verdict is withheld or whose number was refused counts as unknown until it is measured again." }
    }
}

fn answer(n: usize, n_free: usize) -> Markup {
    let words = match (n, n_free) {
        (0, _) => "No result has been issued yet.".to_owned(),
        (n, free) if n == free => format!("All {n}: nothing speaks against them."),
        (n, free) => {
            format!("{free} of {n} may be used as they stand. Each other one says what is in the way.")
        }
    };
    html! { p class="answer" { strong { (words) } } }
}

/// The chain link by link, in words with counts.
fn links(input: &DossierInput) -> Markup {
    let report = &input.report;
    let n_scans = report.scans.len();
    let n_out = report.scans.iter().filter(|scan| !scan.counts()).count();
    let n_refused = report.scans.iter().filter(|scan| scan.counts() && scan.is_refused()).count();
    let n_signals = report.scans.iter().filter(|scan| scan.signal.is_some()).count();
    let n_accepted = report.calibrations.iter().filter(|link| link.is_accepted()).count();
    let n_approved = input.calibrations.iter().flatten().filter(|one| one.standing.is_approved()).count();
    let n_withholding = report.batch_findings.iter().filter(|one| one.is_in_force(Effect::Withheld)).count();
    let counting: Vec<&Shown> = input.counting().collect();
    let n_numbers = counting.iter().filter(|shown| shown.one.act.result.numbers.is_some()).count();
    let row = |name: &str, words: String, id: &str| {
        vec![html! { (name) }, html! { (words) }, html! { a href={ "#" (id) } { "evidence" } }]
    };
    let rows = [
        row(
            "Scan",
            format!(
                "{}: {n_out} left out with a reason, {n_refused} refused by a check",
                counted(n_scans, "scan")
            ),
            "scans",
        ),
        row("Signal", format!("{n_signals} with a signal"), "scans"),
        row(
            "Calibration",
            format!(
                "{} of {} passed acceptance, {n_approved} approved",
                n_accepted,
                report.calibrations.len()
            ),
            "calibrations",
        ),
        row(
            "Quality control",
            format!("{} that withhold verdicts", counted(n_withholding, "finding")),
            "control",
        ),
        row(
            "Concentration",
            format!("{n_numbers} of {} with a number", counted(counting.len(), "result")),
            "samples",
        ),
        row("Verdict", verdicts(&counting), "samples"),
    ];
    table(
        "The chain, link by link",
        &[("Link", Set::Words), ("What stands there", Set::Words), ("Where", Set::Words)],
        &rows,
    )
}

/// Results by the gravest thing that is said of each.
fn verdicts(counting: &[&Shown]) -> String {
    let gravest = |shown: &&Shown| {
        let limits = shown.one.act.result.decisions.iter();
        limits.map(|one| Said::of(shown, &one.limit)).min().unwrap_or(Said::Nothing)
    };
    let all: Vec<Said> = counting.iter().map(gravest).collect();
    let order = [
        Said::Above,
        Said::TooClose,
        Said::Withheld,
        Said::Undecided,
        Said::Refused,
        Said::Below,
        Said::Nothing,
    ];
    let words: Vec<String> = order
        .into_iter()
        .map(|said| (said, all.iter().filter(|one| **one == said).count()))
        .filter(|(_, n)| *n > 0)
        .map(|(said, n)| match said {
            Said::Nothing => format!("{n} without a limit"),
            said => format!("{n} {}", said.word()),
        })
        .collect();
    if words.is_empty() { "none yet".to_owned() } else { words.join(", ") }
}

/// What was taken back, with who and why: it stands in no other table of this chapter.
fn no_longer_counting(gone: &[&Shown]) -> Markup {
    let row = |shown: &&Shown| {
        let result = &shown.one.act.result;
        let because = shown.one.standing.taken_back().unwrap_or_default();
        vec![said(&sample(result)), said(&shown.one.label), said(&because)]
    };
    let rows: Vec<Vec<Markup>> = gone.iter().map(row).collect();
    table(
        "No longer counts: treat as unknown",
        &[("Sample", Set::Words), ("No.", Set::Words), ("Because", Set::Words)],
        &rows,
    )
}

fn in_the_way(counting: &[&Shown]) -> Markup {
    let rows: Vec<Vec<Markup>> = counting
        .iter()
        .map(|shown| (shown, trust(shown)))
        .filter(|(_, trust)| trust.grade != TrustGrade::Full || !trust.because.is_empty())
        .map(|(shown, trust)| {
            let result = &shown.one.act.result;
            vec![
                said(&sample(result)),
                html! { (number(result)) " " (result.unit) },
                html! { (trust.answer) },
                html! { ul { @for reason in &trust.because { li { (said(reason)) } } } },
            ]
        })
        .collect();
    let words = |title| (title, Set::Words);
    table(
        "What is in the way",
        &[words("Sample"), words("Result"), words("May it be trusted?"), words("Because")],
        &rows,
    )
}
