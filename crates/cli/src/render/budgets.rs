//! `budget` for people: a page to pin up.

use stillwell_assure::{BudgetLine, Evaluation};
use stillwell_method::{
    Beside, Determination, DeterminationBudget, Effect, Estimate, Finding, Outcome, Role, TopDownSide,
    why_not_counted,
};
use stillwell_quantity::{round_down, round_to_uncertainty, round_up};
use stillwell_report::json::budgets::Page;
use stillwell_report::wording::degrees_of_freedom;
use stillwell_study::shell_path;

use super::determinations::{cautions_of, decisions_in_words};
use super::numbers::{percent, result, two_digits};
use super::table::table;
use super::{findings, wrapped};

pub(crate) fn text(page: &Page<'_>) -> String {
    let mut text = head(page);
    match (&page.found, &page.determination.outcome) {
        (Ok((of, beside)), Outcome::Quantified(estimate)) => {
            text.push_str(&value(page, of, estimate));
            text.push_str(&components(of));
            text.push_str(&not_counted(of));
            text.push_str(&two_ways(page, of));
            text.push_str(&check_standards(page, beside));
            text.push_str(&top_down(page, of, beside));
            text.push_str(&performance(beside));
            text.push_str(&retest(page, of, beside, estimate));
        }
        (Err(error), _) => text.push_str(&without_a_budget(page.determination, &error.to_string())),
        _ => {}
    }
    let decisions: Vec<_> = page.determination.decisions.iter().collect();
    text.push_str(&cautions_of(&decisions));
    text.push_str(&others(page));
    text
}

fn name(determination: &Determination) -> String {
    match determination.role {
        Role::Sample => determination.sample.clone(),
        role => format!("{} ({})", determination.sample, role.word()),
    }
}

fn unit(page: &Page<'_>) -> String {
    page.method.analyte.reported_as.to_string()
}

fn head(page: &Page<'_>) -> String {
    let method = &page.report.method;
    let mut text = format!(
        "{}, revision {} (method {})\nbudget of {}: {}\n",
        method.name,
        method.revision,
        method.hash.short(),
        name(page.determination),
        method.analyte
    );
    if !page.is_named {
        let words = "no sample was named; this is the one whose verdict its uncertainty touches most";
        line!(text, "{}", wrapped("", words));
    }
    text
}

/// Why there is nothing to take apart, and what to do.
fn without_a_budget(determination: &Determination, reason: &str) -> String {
    let mut text = String::new();
    line!(text, "\n{}", wrapped("no budget: ", reason));
    line!(text, "{}", wrapped("  result: ", &result(&determination.outcome)));
    let advice = match &determination.outcome {
        Outcome::AboveRange(above) => {
            format!("dilute the sample 1 : {:.0} and measure it on new strips", above.dilute)
        }
        Outcome::BelowQuantification(_) | Outcome::NotDetected(_) => {
            "a bound has no ±: what it rests on is the detection limit, see stillwell calibrate".to_owned()
        }
        _ => "do what the refusals below say, then measure a fresh sample".to_owned(),
    };
    line!(text, "{}", wrapped("  do: ", &advice));
    let own: Vec<&Finding> =
        determination.findings.iter().filter(|finding| finding.effect != Effect::Noted).collect();
    text.push_str(&findings(&own, "  "));
    text
}

fn value(page: &Page<'_>, of: &DeterminationBudget, estimate: &Estimate) -> String {
    let (determination, unit) = (page.determination, unit(page));
    let rounded = round_to_uncertainty(estimate.value.value(), estimate.expanded_u());
    let u = of.budget.standard_uncertainty;
    let mut text = String::new();
    let k = of.validation.expanded.coverage_factor;
    line!(
        text,
        "\nreported    {} ± {} {unit} (coverage {:.0} %, {} strips)",
        rounded.value,
        rounded.expanded_u,
        100.0 * estimate.coverage,
        estimate.electrodes
    );
    line!(text, "interval    {} to {} {unit}", round_down(estimate.low, 4), round_up(estimate.high, 4));
    line!(
        text,
        "u           {} {unit}, {:.1} % of the value",
        round_up(u, 3),
        100.0 * u / of.budget.value.abs()
    );
    line!(
        text,
        "k           {k:.2} for {} effective degrees of freedom: U = k u = {} {unit}",
        degrees_of_freedom(of.budget.degrees_of_freedom),
        round_up(k * u, 3)
    );
    if determination.withheld().next().is_some() {
        text.push_str("verdict     withheld: the number stands, but nothing is to be concluded from it\n");
        let withheld: Vec<&Finding> = determination.withheld().collect();
        text.push_str(&findings(&withheld, "  "));
    } else {
        text.push_str(&decisions_in_words(&determination.decisions));
    }
    text
}

fn evaluation(line: &BudgetLine) -> &'static str {
    match line.evaluation {
        Evaluation::TypeA => "A",
        Evaluation::TypeB => "B",
    }
}

fn components(of: &DeterminationBudget) -> String {
    let rows: Vec<Vec<String>> = of
        .budget
        .lines
        .iter()
        .map(|line| {
            vec![
                line.name.clone(),
                line.component.name().to_owned(),
                share(line.share),
                round_up(line.contribution.abs(), 2),
                evaluation(line).to_owned(),
                degrees_of_freedom(line.degrees_of_freedom.number()),
            ]
        })
        .collect();
    let header = ["part", "component", ">of the variance", ">u in the unit", "type", ">degrees of freedom"];
    let mut text = format!("\nwhat it is made of, the largest first\n{}", table(&header, &rows));
    text.push_str("\nwhere each comes from, and how to shrink it\n");
    let mut told: Vec<&str> = Vec::new();
    for line in &of.budget.lines {
        line!(text, "{}", wrapped(&format!("  {}: ", line.name), &line.source));
        let remedy = line.how_to_shrink.as_str();
        let words = if told.contains(&remedy) { "as above" } else { remedy };
        line!(text, "{}", wrapped("    to shrink it: ", words));
        told.push(remedy);
    }
    text
}

fn share(share: f64) -> String {
    if share > 0.0 && share < 0.005 { "below 1 %".to_owned() } else { percent(share) }
}

fn not_counted(of: &DeterminationBudget) -> String {
    let mut text = String::from("\nnot counted, and why\n");
    for component in &of.not_counted {
        line!(text, "{}", wrapped(&format!("  {}: ", component.name()), why_not_counted(*component)));
    }
    text
}

/// Propagation and Monte Carlo side by side.
fn two_ways(page: &Page<'_>, of: &DeterminationBudget) -> String {
    let (unit, found) = (unit(page), &of.validation);
    let row = |name: &str, value: f64, u: f64, [low, high]: [f64; 2]| {
        vec![name.to_owned(), format!("{value:.2}"), round_up(u, 3), round_down(low, 4), round_up(high, 4)]
    };
    let [low, high] = of.reported;
    let mut reported =
        row("reported by the chain", of.budget.value, of.budget.standard_uncertainty, [low, high]);
    "–".clone_into(&mut reported[2]);
    let rows = vec![
        row("law of propagation", of.budget.value, of.budget.standard_uncertainty, found.budget_interval),
        row(
            &format!("Monte Carlo, {} draws, seed {}", of.monte_carlo.n_trials, page.seed),
            of.monte_carlo.mean,
            of.monte_carlo.standard_uncertainty,
            found.monte_carlo_interval,
        ),
        reported,
    ];
    let mut text = format!("\ntwo ways, {unit}\n{}", table(&["way", ">value", ">u", ">low", ">high"], &rows));
    line!(text, "{}", wrapped("  ", &found.words(&unit)));
    line!(text, "{}", wrapped("  ", found.advice()));
    text
}

fn check_standards(page: &Page<'_>, beside: &Beside) -> String {
    let mut text = String::from("\nseen in the check standards of this batch, not in the interval\n");
    let Some(found) = &beside.batch_checks else {
        text.push_str("  none in this batch: drift and ageing of strips are covered by nothing\n");
        return text;
    };
    for check in &found.checks {
        line!(
            text,
            "  {}: {:.1} for {} ({:+.1} %), {} strips",
            check.file,
            check.found,
            two_digits(check.level),
            check.error_percent(),
            check.n_electrodes
        );
    }
    for words in found.words(&page.method.analyte.reported_as) {
        line!(text, "{}", wrapped("  ", &words));
    }
    text
}

fn top_down(page: &Page<'_>, of: &DeterminationBudget, beside: &Beside) -> String {
    let mut text = String::from("\nthe top-down way, from check standards and spikes alone\n");
    if let Some(side) = &beside.top_down {
        text.push_str(&top_down_numbers(page, of, beside, side));
        line!(text, "{}", wrapped("  ", &side.beside.words()));
    } else {
        text.push_str("  not possible with this folder\n");
    }
    for lacks in &beside.top_down_lacks {
        line!(text, "{}", wrapped("  weak: ", lacks));
    }
    text
}

fn top_down_numbers(
    page: &Page<'_>,
    of: &DeterminationBudget,
    beside: &Beside,
    side: &TopDownSide,
) -> String {
    let found = &side.found;
    let mut text = String::new();
    line!(
        text,
        "  within the laboratory {} % ({} check standards, {} batches); bias {} % ({} comparison(s))",
        round_up(found.within_laboratory.percent, 2),
        beside.history.checks.len(),
        beside.history.n_batches(),
        round_up(found.bias.percent, 2),
        found.n_findings
    );
    for spike in &beside.history.spikes {
        line!(
            text,
            "  spike of {} to {}: {:.0} % found",
            two_digits(spike.added),
            spike.sample,
            spike.recovery_percent
        );
    }
    line!(
        text,
        "  u {} %, U {} % of the value: ± {} {} here; from the budget u {} %",
        round_up(found.combined.percent, 2),
        round_up(side.expanded_percent, 2),
        round_up(of.budget.value.abs() * side.expanded_percent / 100.0, 2),
        unit(page),
        round_up(side.beside.bottom_up.percent, 2)
    );
    text
}

fn performance(beside: &Beside) -> String {
    let mut text = String::new();
    if !beside.performance.is_empty() || beside.performance_lacks.is_some() {
        text.push_str("\nis the method good enough for the limit\n");
    }
    for check in &beside.performance {
        line!(text, "{}", wrapped("  ", &check.words()));
    }
    if let Some(lacks) = &beside.performance_lacks {
        line!(text, "{}", wrapped("  ", lacks));
    }
    text
}

fn retest(page: &Page<'_>, of: &DeterminationBudget, beside: &Beside, estimate: &Estimate) -> String {
    let mut text = String::new();
    for retest in &beside.retests {
        line!(text, "\nmeasuring again, against {}", retest.limit_id);
        for words in retest.words(of.budget.value, estimate.electrodes, &page.method.analyte.reported_as) {
            line!(text, "{}", wrapped("  ", &words));
        }
    }
    text
}

fn others(page: &Page<'_>) -> String {
    let others = page.report.determinations.iter().filter(|other| !std::ptr::eq(*other, page.determination));
    let names: Vec<String> =
        others.map(|other| format!("{} {}", name(other), result(&other.outcome))).collect();
    if names.is_empty() {
        return String::new();
    }
    let mut text = String::new();
    line!(text, "\n{}", wrapped("other results: ", &names.join(" · ")));
    line!(text, "another budget: stillwell budget {} --sample SAMPLE", shell_path(page.folder));
    text
}
