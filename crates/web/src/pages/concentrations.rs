//! Concentrations: value, interval and what the interval is made of, sample by sample.

use axum::extract::{Query, State};
use maud::{Markup, html};
use serde::Deserialize;
use stillwell_method::three_digits;
use stillwell_quantity::round_up;
use stillwell_study::{Numbers, Shown};

use super::result_chain::bar;
use super::study_spine::{CONCENTRATION, spine};
use crate::guard::Visitor;
use crate::layout::{Leaf, Page, Refusal, shell};
use crate::site::Site;
use crate::view::View;
use crate::wording::{counted, number, sample};

/// So many results stand on one page.
const MOST: usize = 200;

/// Which page of them.
#[derive(Deserialize)]
pub(crate) struct Asked {
    #[serde(default)]
    page: usize,
}

pub(crate) async fn page(
    State(site): State<Site>,
    visitor: Visitor,
    Query(asked): Query<Asked>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| Ok(shell(view, &whole(view, Leaf::of(asked.page, MOST))))).await
}

fn whole(view: &View, leaf: Leaf) -> Page {
    let counting: Vec<&Shown> =
        view.overview.results.iter().filter(|one| one.one.standing.counts()).collect();
    Page {
        title: "Concentrations".to_owned(),
        spine: spine(&view.overview, Some(CONCENTRATION)),
        body: html! {
            h1 { "Concentrations and what makes them uncertain" }
            p class="count" { (counted(counting.len(), "result")) ". To download: " a href="/results.csv" download { "table (CSV)" } ", " a href="/api/study" download="study.json" { "JSON" } }
            @if counting.is_empty() { p class="empty" { "No result has been issued yet." } } @else { (table(leaf.part(&counting))) (leaf.turning("/concentrations", &[], counting.len())) }
        },
    }
}

/// The unit that stands in the head of a column; each result states its own where they differ.
fn table(all: &[&Shown]) -> Markup {
    let unit = super::results::shared_unit(all);
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Concentrations" {
            table class="results" {
                thead { tr {
                    th scope="col" { "Sample" } th scope="col" { (unit.unwrap_or("Result")) }
                    th scope="col" class="num" { "Interval" } th scope="col" class="num" { "U / value" }
                    th scope="col" class="num" { "Electrodes" } th scope="col" { "All parts, ranked" }
                } }
                tbody { @for shown in all { (row(shown, unit.is_some())) } }
            }
        }
    }
}

fn row(shown: &Shown, is_one_unit: bool) -> Markup {
    let (one, result) = (&shown.one, &shown.one.act.result);
    let numbers = result.numbers.as_ref().filter(|_| result.outcome == "quantified");
    let dash = || "–".to_owned();
    html! {
        tr {
            th scope="row" { a href={ "/results/" (one.label) "#concentration" } dir="auto" { (sample(result)) } }
            td { (number(result)) @if !is_one_unit { " " (result.unit) } }
            td class="num" { (numbers.and_then(interval).unwrap_or_else(dash)) }
            td class="num" { (numbers.and_then(relative).unwrap_or_else(dash)) }
            td class="num" { (numbers.and_then(|numbers| numbers.electrodes).map_or_else(dash, |n| n.to_string())) }
            td { @if let Some(numbers) = numbers { (parts(numbers)) } }
        }
    }
}

fn interval(numbers: &Numbers) -> Option<String> {
    Some(format!("{} to {}", three_digits(numbers.low?), three_digits(numbers.high?)))
}

fn relative(numbers: &Numbers) -> Option<String> {
    let share = 100.0 * numbers.expanded_u()? / numbers.value;
    share.is_finite().then(|| format!("{share:.1} %"))
}

fn ranked(numbers: &Numbers) -> Vec<(String, f64)> {
    let mut all: Vec<(String, f64)> = numbers
        .parts
        .iter()
        .map(|(name, below, above)| (name.clone(), below.abs().max(above.abs())))
        .collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    all
}

fn parts(numbers: &Numbers) -> Markup {
    let ranked = ranked(numbers);
    let most = ranked.first().map_or(0.0, |(_, size)| *size);
    html! {
        ul class="parts" { @for (name, size) in &ranked { li { (bar(*size, most)) span { (name) ", ± " (round_up(*size, 2)) } } } }
    }
}
