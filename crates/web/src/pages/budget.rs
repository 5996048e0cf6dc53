//! What the uncertainty of one result is made of: ranked parts, Monte Carlo, check standards, and what measuring again would bring.
//!
//! A few draws are made while the page is; as many as `stillwell budget` makes are long work, and stand here from then on.

use std::cell::Cell;
use std::ops::Range;
use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};
use stillwell_assure::{Evaluation, MonteCarloPlan, Trials};
use stillwell_method::{
    Beside, Determination, DeterminationBudget, NoBudget, Outcome as Found, beside, budget, three_digits,
    why_not_counted,
};
use stillwell_quantity::{round_down, round_up};
use stillwell_report::wording::degrees_of_freedom;
use stillwell_study::Shown;

use super::figures;
use super::study_spine::{CONCENTRATION, spine};
use crate::guard::{Posted, TOKEN_FIELD, Visitor};
use crate::jobs::{self, Outcome};
use crate::layout::{Page, Refusal, shell};
use crate::site::Site;
use crate::view::{AsIssued, View};
use crate::wording::{number, sample};

/// Made while the page is.
const AT_ONCE: u32 = 10_000;
/// What the command line makes unless told otherwise.
const MANY: u32 = 1_000_000;
/// The command line's too, so that both give the same digits.
pub(crate) const SEED: u64 = 1;

/// A budget and what stands beside it.
pub(crate) type TakenApart = (DeterminationBudget, Beside);

/// `/results/{result}/budget`
pub(crate) async fn page(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| {
        let shown = view.result(&label)?;
        let issued = view.as_issued(shown)?;
        let found = issued.found(shown)?;
        Ok(shell(view, &whole(view, shown, &issued, found)))
    })
    .await
}

/// `/results/{result}/budget/figure.svg`
pub(crate) async fn figure(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Result<Response, Refusal> {
    site.look(visitor, move |view| {
        let shown = view.result(&label)?;
        let issued = view.as_issued(shown)?;
        let found = issued.found(shown)?;
        let apart = taken_apart(view, shown, &issued, found).map_err(|reason| not_there(&reason))?;
        Ok(figures::budget(&issued.input, found, &apart).file())
    })
    .await
}

/// `/results/{result}/budget/draw`: many draws, as long work.
pub(crate) async fn draw(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
    Posted(_): Posted,
) -> Result<Response, Refusal> {
    let (shown, issued, found) = site
        .look(visitor, move |view| {
            let shown = view.result(&label)?.clone();
            let issued = view.as_issued(&shown)?;
            let found = issued.found(&shown)?.clone();
            Ok((shown, issued, found))
        })
        .await?;
    let title = format!("Monte Carlo for result {}, {}", shown.one.label, sample(&shown.one.act.result));
    let kept = site.clone();
    let number = site.jobs().begin(title, "blocks of draws", move |ticket| {
        let is_stopped = Cell::new(false);
        let made = computed(&issued, &found, MANY, |done, of| {
            is_stopped.set(ticket.at(done, of).is_break());
            !is_stopped.get()
        });
        if is_stopped.get() {
            return Err(Refusal::new(StatusCode::CONFLICT, "it was stopped", "begin it again"));
        }
        let made = Arc::new(made.map_err(|reason| not_there(&reason))?);
        kept.kept().keep_budget(shown.one.record.hash, Arc::clone(&made));
        Ok(Box::new(move |_: &View| body(&shown, &issued, &found, &made, &Markup::default())) as Outcome)
    })?;
    Ok((StatusCode::SEE_OTHER, [(LOCATION, jobs::address(number))]).into_response())
}

fn not_there(reason: &NoBudget) -> Refusal {
    Refusal::new(StatusCode::NOT_FOUND, &reason.to_string(), "the page of the result says what it rests on")
}

/// What is kept of many draws; else what a few give.
pub(crate) fn taken_apart(
    view: &View,
    shown: &Shown,
    issued: &AsIssued,
    found: &Determination,
) -> Result<Arc<TakenApart>, NoBudget> {
    match view.site.kept().budget(&shown.one.record.hash) {
        Some(kept) => Ok(kept),
        None => computed(issued, found, AT_ONCE, |_, _| true).map(Arc::new),
    }
}

/// The blocks one after the other: how many threads there are does not matter to a bit of it. `goes_on` hears how far it is.
fn computed(
    issued: &AsIssued,
    found: &Determination,
    draws: u32,
    goes_on: impl Fn(usize, usize) -> bool,
) -> Result<TakenApart, NoBudget> {
    let coverage = match &found.outcome {
        Found::Quantified(estimate) => estimate.coverage,
        _ => issued.input.method.calibration.coverage,
    };
    let plan = MonteCarloPlan { seed: SEED, coverage, trials: Trials::Fixed(draws) };
    let run = |numbers: Range<u64>, block: &(dyn Fn(u64) -> Vec<f64> + Sync)| {
        let of = usize::try_from(numbers.end.saturating_sub(numbers.start)).unwrap_or(usize::MAX);
        numbers
            .enumerate()
            .take_while(|(done, _)| goes_on(*done, of))
            .map(|(_, number)| block(number))
            .collect()
    };
    let of = budget(&issued.input, &issued.report, found, &plan, &run)?;
    let beside = beside(&issued.input, &issued.report, found, &of);
    Ok((of, beside))
}

fn whole(view: &View, shown: &Shown, issued: &AsIssued, found: &Determination) -> Page {
    let result = &shown.one.act.result;
    let apart = taken_apart(view, shown, issued, found);
    Page {
        title: format!("Budget of {}", sample(result)),
        spine: spine(&view.overview, Some(CONCENTRATION)),
        body: html! {
            h1 { "What the uncertainty of " span dir="auto" { (sample(result)) } " is made of" }
            p class="big" { (number(result)) " " span class="unit" { (result.unit) } }
            p { a href={ "/results/" (shown.one.label) } { "Result " (shown.one.label) } ": may I trust this number, and every link of its chain." }
            @match &apart {
                Ok(made) => { (body(shown, issued, found, made, &more_draws(view, shown, made))) }
                Err(reason) => { p class="empty" dir="auto" { "There is no budget: " (reason) "." } }
            }
        },
    }
}

fn more_draws(view: &View, shown: &Shown, made: &TakenApart) -> Markup {
    let path = format!("/results/{}/budget/draw", shown.one.label);
    html! {
        @if made.0.monte_carlo.n_trials < u64::from(MANY) {
            form class="act" method="post" action=(path) {
                input type="hidden" name=(TOKEN_FIELD) value=(view.form_token(&path));
                p { "These are few draws, made while the page was. A million settle the last digits: it takes a moment, can be stopped, and records nothing." }
                p { button class="do" { "Draw a million times" } }
            }
        }
    }
}

/// Everything below the number; `more` is the way to more draws.
fn body(shown: &Shown, issued: &AsIssued, found: &Determination, made: &TakenApart, more: &Markup) -> Markup {
    let (of, beside) = made;
    let address = format!("/results/{}/budget/figure.svg", shown.one.label);
    html! {
        (figures::budget(&issued.input, found, made).on_page("budget", &address))
        (parts(of, &shown.one.act.result.unit))
        (not_counted(of))
        (two_ways(of, &shown.one.act.result.unit))
        (more)
        (check_standards(issued, beside))
        (top_down(of, beside, &shown.one.act.result.unit))
        (enough_for_the_limit(beside))
        (again(issued, found, of, beside))
    }
}

fn parts(of: &DeterminationBudget, unit: &str) -> Markup {
    html! {
        h2 { "Its parts, the largest first" }
        div class="wide" tabindex="0" role="region" aria-label="Parts of the uncertainty" {
            table {
                thead { tr {
                    th scope="col" { "Part" } th scope="col" class="num" { "Of the variance" } th scope="col" class="num" { "u / " (unit) }
                    th scope="col" { "Type" } th scope="col" class="num" { "Degrees of freedom" }
                } }
                tbody {
                    @for line in &of.budget.lines {
                        tr {
                            th scope="row" dir="auto" { (line.name) }
                            td class="num" { (share(line.share)) }
                            td class="num" { (round_up(line.contribution.abs(), 2)) }
                            td { @match line.evaluation { Evaluation::TypeA => "A", Evaluation::TypeB => "B" } }
                            td class="num" { (degrees_of_freedom(line.degrees_of_freedom.number())) }
                        }
                    }
                }
            }
        }
        p { "Together u is " (round_up(of.budget.standard_uncertainty, 3)) " " (unit) "; with k = " (three_digits(of.validation.expanded.coverage_factor))
            " for " (degrees_of_freedom(of.budget.degrees_of_freedom)) " effective degrees of freedom U is "
            (round_up(of.validation.expanded.coverage_factor * of.budget.standard_uncertainty, 3)) " " (unit) "." }
        h2 { "Where each comes from, and how to shrink it" }
        dl {
            @for line in &of.budget.lines {
                dt dir="auto" { (line.name) }
                dd dir="auto" { (line.source) ". To shrink it: " (line.how_to_shrink) }
            }
        }
    }
}

fn share(share: f64) -> String {
    if share > 0.0 && share < 0.005 {
        "below 1 %".to_owned()
    } else {
        format!("{:.0} %", (100.0 * share).round() + 0.0)
    }
}

fn not_counted(of: &DeterminationBudget) -> Markup {
    html! {
        @if !of.not_counted.is_empty() {
            h2 { "Not counted, and why" }
            ul { @for component in &of.not_counted { li { strong { (component.name()) } ": " (why_not_counted(*component)) } } }
        }
    }
}

fn two_ways(of: &DeterminationBudget, unit: &str) -> Markup {
    let found = &of.validation;
    let drawn = format!("Monte Carlo, {} draws, seed {SEED}", of.monte_carlo.n_trials);
    let rows = [
        (
            "Law of propagation".to_owned(),
            of.budget.value,
            Some(of.budget.standard_uncertainty),
            found.budget_interval,
        ),
        (drawn, of.monte_carlo.mean, Some(of.monte_carlo.standard_uncertainty), found.monte_carlo_interval),
        ("Reported by the chain".to_owned(), of.budget.value, None, of.reported),
    ];
    html! {
        h2 { "Two ways to the interval" }
        div class="wide" tabindex="0" role="region" aria-label="Two ways to the interval" {
            table {
                thead { tr {
                    th scope="col" { "Way" } th scope="col" class="num" { "Value / " (unit) } th scope="col" class="num" { "u" }
                    th scope="col" class="num" { "Low" } th scope="col" class="num" { "High" }
                } }
                tbody { @for (way, value, u, [low, high]) in rows { tr {
                    th scope="row" { (way) } td class="num" { (format!("{value:.2}")) }
                    td class="num" { (u.map_or_else(|| "–".to_owned(), |u| round_up(u, 3))) }
                    td class="num" { (round_down(low, 4)) } td class="num" { (round_up(high, 4)) }
                } } }
            }
        }
        p { (found.words(unit)) " What to do: " (found.advice()) "." }
    }
}

fn check_standards(issued: &AsIssued, beside: &Beside) -> Markup {
    let unit = &issued.input.method.analyte.reported_as;
    html! {
        h2 { "Seen in the check standards of this batch, not in the interval" }
        @match &beside.batch_checks {
            None => { p { "None in this batch: drift and ageing of strips are covered by nothing." } }
            Some(found) => {
                ul {
                    @for check in &found.checks {
                        li dir="auto" { (check.file) ": " (three_digits(check.found)) " for " (three_digits(check.level)) " " (unit)
                            " (" (format!("{:+.1}", check.error_percent())) " %), " (check.n_electrodes) " strips" }
                    }
                    @for words in found.words(unit) { li { (words) } }
                }
            }
        }
    }
}

fn top_down(of: &DeterminationBudget, beside: &Beside, unit: &str) -> Markup {
    html! {
        h2 { "From check standards and spikes alone" }
        @match &beside.top_down {
            None => { p { "Not possible with this series." } }
            Some(side) => {
                p { "u " (round_up(side.found.combined.percent, 2)) " %, U " (round_up(side.expanded_percent, 2)) " % of the value: ± "
                    (round_up(of.budget.value.abs() * side.expanded_percent / 100.0, 2)) " " (unit) " here. Within the laboratory "
                    (round_up(side.found.within_laboratory.percent, 2)) " %, bias " (round_up(side.found.bias.percent, 2)) " %. "
                    (side.beside.words()) }
            }
        }
        @if !beside.top_down_lacks.is_empty() { ul { @for lacks in &beside.top_down_lacks { li { "weak: " (lacks) } } } }
    }
}

fn enough_for_the_limit(beside: &Beside) -> Markup {
    html! {
        @if !beside.performance.is_empty() || beside.performance_lacks.is_some() {
            h2 { "Is the method good enough for the limit" }
            ul {
                @for check in &beside.performance { li { (check.words()) } }
                @if let Some(lacks) = &beside.performance_lacks { li { (lacks) } }
            }
        }
    }
}

fn again(issued: &AsIssued, found: &Determination, of: &DeterminationBudget, beside: &Beside) -> Markup {
    let Found::Quantified(estimate) = &found.outcome else { return html! {} };
    let unit = &issued.input.method.analyte.reported_as;
    html! {
        @for retest in &beside.retests {
            h2 dir="auto" { "Measuring again, against " (retest.limit_id) }
            ul { @for words in retest.words(of.budget.value, estimate.electrodes, unit) { li { (words) } } }
        }
    }
}
