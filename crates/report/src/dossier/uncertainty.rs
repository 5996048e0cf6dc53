//! Uncertainty: the budget of the result whose verdict it touches most, ranked, with other ways beside it.

use maud::{Markup, html};
use stillwell_assure::Evaluation;
use stillwell_method::why_not_counted;
use stillwell_quantity::{round_to_uncertainty, round_up};

use super::DossierInput;
use super::gathered::TakenApart;
use super::setting::{Set, cell, figure, said, table};
use crate::budget_bars::budget_bars;
use crate::budget_figure::{BudgetBars, budget_figure};
use crate::wording::{counted, degrees_of_freedom};

pub(super) fn chapter(input: &DossierInput) -> Markup {
    html! {
        @match &input.taken_apart {
            Some(apart) => { (one(input, apart)) }
            None => { p { "No result of this series is a number with an uncertainty: there is nothing to take apart. A bound rests on the detection limit of its calibration." } }
        }
    }
}

fn one(input: &DossierInput, apart: &TakenApart) -> Markup {
    let Some(determination) = input.report.determinations.get(apart.place) else { return Markup::default() };
    let bars = budget_bars(&input.input.method, determination, &apart.budget, &apart.beside);
    html! {
        p { "Taken apart for " (said(&determination.sample)) ", the result whose verdict its uncertainty touches most." }
        (figure(&budget_figure(&bars), "budget", "Parts of the uncertainty, the largest first, and the interval by several ways."))
        (lines(apart, &input.unit()))
        (intervals(&bars))
        (not_counted(apart))
        (checks(input, apart))
    }
}

fn lines(apart: &TakenApart, unit: &str) -> Markup {
    let rows: Vec<Vec<Markup>> = apart
        .budget
        .budget
        .lines
        .iter()
        .map(|line| {
            let kind = match line.evaluation {
                Evaluation::TypeA => "A, observed",
                Evaluation::TypeB => "B, stated",
            };
            vec![
                cell(&line.name),
                cell(kind),
                cell(round_up(line.contribution.abs(), 2)),
                cell(degrees_of_freedom(line.degrees_of_freedom.number())),
                cell(format!("{:.0}", 100.0 * line.share)),
                cell(&line.source),
            ]
        })
        .collect();
    let u = format!("u / {unit}");
    table(
        "The budget, ranked; u is each part's contribution to the standard uncertainty",
        &[
            ("Part", Set::Words),
            ("Type", Set::Words),
            (u.as_str(), Set::Numbers),
            ("Degrees of freedom", Set::Numbers),
            ("Share / %", Set::Numbers),
            ("Source", Set::Words),
        ],
        &rows,
    )
}

/// The intervals by several ways, each rounded to its own half width.
fn intervals(bars: &BudgetBars) -> Markup {
    let ways = bars.intervals.iter().map(|(name, [low, value, high])| {
        let half = (high - value).max(value - low);
        let rounded = |number: f64| cell(round_to_uncertainty(number, half).value);
        vec![cell(name), rounded(*low), rounded(*value), rounded(*high)]
    });
    let none = || cell("–");
    let limits = bars.limits.iter().map(|(name, _)| vec![html! { "limit " (name) }, none(), none(), none()]);
    let number = |title| (title, Set::Numbers);
    table(
        &bars.intervals_title,
        &[("Interval or limit", Set::Words), number("Low"), number("Value"), number("High")],
        &ways.chain(limits).collect::<Vec<_>>(),
    )
}

fn not_counted(apart: &TakenApart) -> Markup {
    let rows: Vec<Vec<Markup>> = apart
        .budget
        .not_counted
        .iter()
        .map(|component| vec![cell(component.name()), cell(why_not_counted(*component))])
        .collect();
    table(
        "Not counted, which nobody has shown to be nothing",
        &[("Component", Set::Words), ("Why", Set::Words)],
        &rows,
    )
}

fn checks(input: &DossierInput, apart: &TakenApart) -> Markup {
    let Some(checks) = &apart.beside.batch_checks else {
        return html! { p { "No check standard of this batch could be read: nothing independent stands beside the budget." } };
    };
    html! {
        h3 { "What " (counted(checks.checks.len(), "check standard")) " of the batch show beside it" }
        ul { @for words in checks.words(&input.input.method.analyte.reported_as) { li { (words) } } }
    }
}
