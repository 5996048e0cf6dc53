//! Samples with their verdicts: one line each, as many as there are.

use axum::extract::{Query, State};
use maud::{Markup, html};
use serde::Deserialize;
use stillwell_study::Shown;

use super::study_spine::{VERDICT, spine};
use crate::guard::Visitor;
use crate::layout::{Leaf, Page, Refusal, shell};
use crate::site::Site;
use crate::view::View;
use crate::wording::{Said, counted, number, sample};

/// What of the results is shown.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    /// One of [`ONLY`].
    #[serde(default)]
    only: String,
    /// Part of a sample's name.
    #[serde(default)]
    of: String,
    /// Page, from 1.
    #[serde(default)]
    page: usize,
}

/// So many results stand on one page.
const MOST: usize = 1000;

/// Ways to look at fewer of them.
const ONLY: [(&str, &str); 6] = [
    ("", "all that count"),
    ("attention", "need attention"),
    ("above", "above a limit"),
    ("withheld", "without a verdict"),
    ("not-approved", "not approved"),
    ("past", "no longer count"),
];

pub(crate) async fn page(
    State(site): State<Site>,
    visitor: Visitor,
    Query(asked): Query<Asked>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| Ok(shell(view, &whole(view, &asked)))).await
}

fn whole(view: &View, asked: &Asked) -> Page {
    let shown: Vec<&Shown> = view.overview.results.iter().filter(|one| is_asked(one, asked)).collect();
    let mut gone = Shown::no_longer_counting(&view.overview.results);
    gone.retain(|one| is_of(one, asked));
    let leaf = Leaf::of(asked.page, MOST);
    Page {
        title: "Samples".to_owned(),
        spine: spine(&view.overview, Some(VERDICT)),
        body: html! {
            h1 { "Samples and verdicts" }
            (choice(asked))
            p class="count" {
                (counted(shown.len(), "result")) ". To download: "
                a href="/results.csv" download { "table (CSV)" } ", "
                a href="/api/study" download="study.json" { "all of it (JSON)" }
                @for one in &view.overview.series {
                    ", " a href={ "/series/" (one.label) "/dossier.html" } download { "dossier of series " (one.label) }
                }
            }
            @if asked.only != "past" { (no_longer_counting(&gone)) }
            @if shown.is_empty() {
                p class="empty" { "There is none of these." }
            } @else {
                (table(leaf.part(&shown)))
                (leaf.turning("/results", &[("only", &asked.only), ("of", &asked.of)], shown.len()))
            }
        },
    }
}

fn is_asked(shown: &Shown, asked: &Asked) -> bool {
    let counts = shown.one.standing.counts();
    let said = |wanted: &[Said]| said_of(shown).any(|said| wanted.contains(&said));
    is_of(shown, asked)
        && match asked.only.as_str() {
            "attention" => counts && shown.needs_attention(),
            "above" => counts && said(&[Said::Above]),
            "withheld" => counts && said(&[Said::Withheld, Said::Refused, Said::Undecided]),
            "not-approved" => counts && !shown.one.standing.is_approved(),
            "past" => !counts,
            _ => counts,
        }
}

fn is_of(shown: &Shown, asked: &Asked) -> bool {
    asked.of.is_empty()
        || shown.one.act.result.sample.to_lowercase().contains(&asked.of.trim().to_lowercase())
}

/// What somebody took back without another result in its place, with who and why.
pub(crate) fn no_longer_counting(gone: &[&Shown]) -> Markup {
    html! {
        @if !gone.is_empty() {
            section {
                h2 { "No longer counts: treat as unknown " span class="n" { (gone.len()) } }
                p { "Nothing took the place of these results. No verdict may be drawn for this water until it is measured again or the result is corrected." }
                ul {
                    @for one in gone {
                        li {
                            a href={ "/results/" (one.one.label) } dir="auto" { (sample(&one.one.act.result)) }
                            ": " span dir="auto" { (one.one.standing.taken_back().unwrap_or_default()) }
                        }
                    }
                }
            }
        }
    }
}

/// What is said against each limit that was asked for.
pub(crate) fn said_of(shown: &Shown) -> impl Iterator<Item = Said> {
    shown.one.act.result.decisions.iter().map(|one| Said::of(shown, &one.limit))
}

fn choice(asked: &Asked) -> Markup {
    html! {
        form class="choice" method="get" action="/results" {
            p {
                label for="only" { "Show" }
                select id="only" name="only" {
                    @for (value, words) in ONLY {
                        option value=(value) selected[asked.only == value] { (words) }
                    }
                }
                label for="of" { "Sample" }
                input id="of" name="of" type="search" value=(asked.of) maxlength="200";
                button { "Show" }
            }
        }
    }
}

/// Limits in the order in which they were first judged against.
pub(crate) fn limits<'a>(shown: &[&'a Shown]) -> Vec<&'a str> {
    let mut limits: Vec<&str> = Vec::new();
    for one in shown.iter().flat_map(|shown| &shown.one.act.result.decisions) {
        if !limits.contains(&one.limit.as_str()) {
            limits.push(&one.limit);
        }
    }
    limits
}

/// The unit that they share, where they share one.
pub(crate) fn shared_unit<'a>(shown: &[&'a Shown]) -> Option<&'a str> {
    let mut units = shown.iter().map(|one| one.one.act.result.unit.as_str()).filter(|unit| !unit.is_empty());
    let first = units.next()?;
    units.all(|unit| unit == first).then_some(first)
}

/// Results, one line each. The cells are bare on purpose: a thousand of them are one page.
pub(crate) fn table(shown: &[&Shown]) -> Markup {
    in_groups(&[(html! {}, shown.to_vec())])
}

/// The same in groups, each under a line of its own; columns stand under one another throughout.
pub(crate) fn in_groups(groups: &[(Markup, Vec<&Shown>)]) -> Markup {
    let all: Vec<&Shown> = groups.iter().flat_map(|(_, shown)| shown.iter().copied()).collect();
    let (limits, unit) = (limits(&all), shared_unit(&all));
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Results" {
            table class="results" {
                thead {
                    tr {
                        th scope="col" { "Sample" }
                        th scope="col" { (unit.unwrap_or("Result")) }
                        @for limit in &limits { th scope="col" dir="auto" { (limit) } }
                        th scope="col" { "Lot" }
                        th scope="col" { "Standing" }
                    }
                }
                @for (head, shown) in groups {
                    tbody {
                        @if !head.0.is_empty() { tr class="head" { th scope="rowgroup" colspan=(limits.len() + 4) { (head) } } }
                        @for one in shown { (row(one, &limits, unit.is_some())) }
                    }
                }
            }
        }
    }
}

fn row(shown: &Shown, limits: &[&str], is_one_unit: bool) -> Markup {
    let (one, result) = (&shown.one, &shown.one.act.result);
    html! {
        tr {
            th { a href={ "/results/" (one.label) } dir="auto" { (sample(result)) } }
            td { (number(result)) @if !is_one_unit { " " (result.unit) } }
            @for limit in limits {
                @let said = Said::of(shown, limit);
                td class=(said.class()) { (said.word()) }
            }
            td dir="auto" { (result.lot) }
            td { (standing(shown)) }
        }
    }
}

/// `approved`, `not approved`, and whether that holds for its calibration too.
pub(crate) fn standing(shown: &Shown) -> String {
    match &shown.unapproved_calibration {
        Some((label, word)) if shown.one.standing.is_approved() => {
            format!("approved, calibration {label} {word}")
        }
        _ => shown.one.standing.word().to_owned(),
    }
}
