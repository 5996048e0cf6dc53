//! `budget`: what the uncertainty of one result is made of, with Monte Carlo and check standards beside it.

use std::ops::Range;

use stillwell_assure::{DecisionCode, MonteCarloPlan, Trials};
use stillwell_method::{
    Beside, Determination, DeterminationBudget, Input, NoBudget, Outcome as Result_, Report, beside, budget,
    most_in_need,
};
use stillwell_report::json;
use stillwell_report::json::budgets::Page;
use stillwell_report::{budget_bars, budget_figure};

use super::figure;
use super::source::{Opened, opened};
use crate::args::{BudgetArguments, Format};
use crate::exit::{Failure, Outcome};
use crate::progress::Counter;
use crate::render;

/// Trials of one block, as the room below draws them: only the progress depends on it.
const TRIALS_A_BLOCK: u32 = 10_000;

pub(crate) fn run(arguments: &BudgetArguments) -> Result<(String, Outcome), Failure> {
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
    }
    let Opened { input, report, study } = opened(&arguments.place)?;
    let determination = chosen(&input, &report, arguments.sample.as_deref())?;
    let found = taken_apart(&input, &report, determination, arguments);
    let page = Page {
        method: &input.method,
        report: &report,
        folder: &arguments.place.folder,
        determination,
        is_named: arguments.sample.is_some(),
        found,
        seed: arguments.seed,
    };
    let mut text = match arguments.output.format {
        Format::Table => render::budgets::text(&page),
        Format::Json => json::text(&json::study::from(json::budgets::of(&page), study.as_ref())),
    };
    if let (Some(study), Format::Table) = (&study, arguments.output.format) {
        text.push_str(&render::study::beside::foot(&report, study, true));
    }
    if let (Some(path), Ok((of, beside))) = (&arguments.figure, &page.found) {
        figure::write(
            path,
            &budget_figure(&budget_bars(&input.method, determination, of, beside)).standalone(),
        )?;
        if arguments.output.format == Format::Table {
            text.push_str(&figure::written(std::slice::from_ref(path)));
        }
    }
    Ok((text, Outcome::attention_if(needs_attention(&page))))
}

/// The first determination of the named sample, else the one most in need.
fn chosen<'r>(input: &Input, report: &'r Report, sample: Option<&str>) -> Result<&'r Determination, Failure> {
    let found = match sample {
        Some(sample) => report.determinations.iter().find(|d| d.sample == sample),
        None => most_in_need(&input.method, report)
            .and_then(|place| report.determinations.get(place))
            .or(report.determinations.first()),
    };
    found.ok_or_else(|| {
        let mut known: Vec<&str> = report.determinations.iter().map(|d| d.sample.as_str()).collect();
        known.dedup();
        match sample {
            Some(sample) if !known.is_empty() => Failure::NotThere {
                what: format!("there is no sample \"{sample}\""),
                cure: format!("samples: {}", known.join(", ")),
            },
            _ => Failure::NotThere {
                what: "the run sheet names no sample: there is nothing to take apart".to_owned(),
                cure: "add lines with role sample; for standard additions use stillwell addition".to_owned(),
            },
        }
    })
}

fn taken_apart(
    input: &Input,
    report: &Report,
    determination: &Determination,
    arguments: &BudgetArguments,
) -> Result<(DeterminationBudget, Beside), NoBudget> {
    let coverage = match &determination.outcome {
        Result_::Quantified(estimate) => estimate.coverage,
        _ => input.method.calibration.coverage,
    };
    let plan = MonteCarloPlan { seed: arguments.seed, coverage, trials: Trials::Fixed(arguments.draws) };
    let counter = Counter::new("Monte Carlo: block", u64::from(arguments.draws.div_ceil(TRIALS_A_BLOCK)));
    let of =
        budget(input, report, determination, &plan, &|numbers, block| over_cores(numbers, block, &counter))?;
    let beside = beside(input, report, determination, &of);
    Ok((of, beside))
}

/// The blocks on all cores, in their order: no bit depends on how many there are.
fn over_cores(
    numbers: Range<u64>,
    block: &(dyn Fn(u64) -> Vec<f64> + Sync),
    counter: &Counter,
) -> Vec<Vec<f64>> {
    let n_threads = std::thread::available_parallelism().map_or(1, usize::from).min(64);
    let one = |number: u64| {
        let draws = block(number);
        counter.step();
        draws
    };
    let one = &one;
    let (from, to) = (numbers.start, numbers.end);
    let stride = n_threads as u64;
    let mut all: Vec<(u64, Vec<f64>)> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..stride)
            .map(|thread| {
                let own = (from + thread..to).step_by(n_threads);
                scope.spawn(move || own.map(|number| (number, one(number))).collect::<Vec<_>>())
            })
            .collect();
        // A thread that did not end well leaves its blocks to be made here.
        threads.into_iter().filter_map(|thread| thread.join().ok()).flatten().collect()
    });
    all.sort_by_key(|(number, _)| *number);
    all.into_iter().map(|(_, draws)| draws).collect()
}

fn needs_attention(page: &Page<'_>) -> bool {
    let determination = page.determination;
    let Ok((of, beside)) = &page.found else { return true };
    let has_unseen = beside
        .batch_checks
        .as_ref()
        .is_some_and(|checks| checks.has_drifted() || checks.unexplained_percent > 0.0);
    determination.decisions.is_empty()
        || determination.withheld().next().is_some()
        || determination.decisions.iter().any(|decision| decision.code != DecisionCode::Below)
        || !of.validation.agrees()
        || has_unseen
        || beside.top_down.as_ref().is_some_and(|side| !side.beside.agrees())
        || beside.performance.iter().any(|check| !check.is_met())
}
