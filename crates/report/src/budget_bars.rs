//! The budget of one determination as bars and intervals.

use stillwell_assure::Evaluation;
use stillwell_method::{Beside, Determination, DeterminationBudget, Method, Role};
use stillwell_quantity::round_up;

use crate::budget_figure::{BudgetBar, BudgetBars};
use crate::wording::degrees_of_freedom;

fn name(determination: &Determination) -> String {
    match determination.role {
        Role::Sample => determination.sample.clone(),
        role => format!("{} ({})", determination.sample, role.word()),
    }
}

/// The parts of one determination's uncertainty and its intervals, ready for [`budget_figure`](crate::budget_figure).
pub fn budget_bars(
    method: &Method,
    determination: &Determination,
    of: &DeterminationBudget,
    beside: &Beside,
) -> BudgetBars {
    let unit = method.analyte.reported_as.to_string();
    let bars = of
        .budget
        .lines
        .iter()
        .map(|line| BudgetBar {
            name: line.name.clone(),
            share: line.share,
            detail: format!(
                "{}; u {}; {} degrees of freedom",
                line.component.name(),
                round_up(line.contribution.abs(), 2),
                degrees_of_freedom(line.degrees_of_freedom.number())
            ),
            is_observed: line.evaluation == Evaluation::TypeA,
        })
        .collect();
    let value = of.budget.value;
    let around = |half: f64| [value - half, value, value + half];
    let of_two = |[low, high]: [f64; 2]| [low, value, high];
    let mut intervals = vec![
        ("reported".to_owned(), of_two(of.reported)),
        ("law of propagation".to_owned(), of_two(of.validation.budget_interval)),
        ("Monte Carlo".to_owned(), of_two(of.validation.monte_carlo_interval)),
    ];
    intervals.extend(
        beside
            .batch_checks
            .iter()
            .map(|checks| ("with what its check standards show".to_owned(), around(checks.expanded_with))),
    );
    intervals.extend(beside.top_down.iter().map(|side| {
        let half = value.abs() * side.expanded_percent / 100.0;
        ("check standards and spikes alone".to_owned(), around(half))
    }));
    let limits = stillwell_method::limits_in_reporting_unit(method);
    BudgetBars {
        title: format!("Budget of {}", name(determination)),
        remarks: vec![format!(
            "{}: {value:.1} {unit}, u {} with {} degrees of freedom. Shares of the variance:",
            method.analyte.name,
            round_up(of.budget.standard_uncertainty, 2),
            degrees_of_freedom(of.budget.degrees_of_freedom)
        )],
        bars,
        intervals_title: format!("{:.0} % intervals, {unit}", 100.0 * of.monte_carlo.coverage),
        intervals,
        limits: limits.into_iter().map(|(id, level)| (format!("{id} {level:.1}"), level)).collect(),
    }
}
