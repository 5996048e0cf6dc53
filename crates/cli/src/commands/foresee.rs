//! `foresee`: what a cell and a circuit would give with a method, and what a trade study makes of several circuits.

use stillwell_folder::METHOD_FILE;
use stillwell_foresee::{Choice, CircuitModel, Outlook, Question, Share, compared, grid};
use stillwell_method::NamedText;
use stillwell_report::json;
use stillwell_report::json::foresight::{Asked, Trade};
use stillwell_report::trade_figure;

use super::figure;
use super::text_files::{cell_at, circuit_at, method_of};
use super::twin::name_of;
use crate::args::{ForeseeArguments, Format};
use crate::exit::{Failure, Outcome};
use crate::progress::Counter;
use crate::render;

pub(crate) fn run(arguments: &ForeseeArguments) -> Result<(String, Outcome), Failure> {
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
    }
    let (method, text) = method_of(&arguments.method)?;
    let cell = cell_at(&arguments.cell)?;
    let circuit = circuit_at(&arguments.circuit)?;
    let question = Question {
        method: &method,
        method_text: NamedText { name: METHOD_FILE, text: &text },
        cell: &cell,
        trials: arguments.trials,
        seed: arguments.seed,
    };
    let asked = Asked {
        question: &question,
        cell_name: &name_of(&arguments.cell),
        circuit_name: &name_of(&arguments.circuit),
        circuit: &circuit,
    };
    if arguments.vary.is_empty() { one(&asked, arguments.output.format) } else { several(&asked, arguments) }
}

/// One circuit, and what limits it.
fn one(asked: &Asked<'_>, format: Format) -> Result<(String, Outcome), Failure> {
    let (question, circuit) = (asked.question, asked.circuit);
    let counter = Counter::new("trial", question.n_steps(1) + question.n_share_steps(circuit));
    let outlooks = question.outlooks(std::slice::from_ref(circuit), || counter.step())?;
    let Some(outlook) = outlooks.first() else { return Ok((String::new(), Outcome::Attention)) };
    let shares = question.shares(circuit, outlook, || counter.step())?;
    drop(counter);
    let text = match format {
        Format::Table => render::foresight::text(asked, outlook, &shares),
        Format::Json => json::text(&json::foresight::of_one(asked, outlook, &shares)),
    };
    Ok((text, Outcome::attention_if(outlook.calibrated == 0)))
}

/// Every combination of what is varied.
fn several(asked: &Asked<'_>, arguments: &ForeseeArguments) -> Result<(String, Outcome), Failure> {
    let choices = grid(asked.circuit, &arguments.vary)?;
    let circuits: Vec<CircuitModel> = choices.iter().map(|choice| choice.model.clone()).collect();
    let counter = Counter::new("trial", asked.question.n_steps(circuits.len()));
    let outlooks = asked.question.outlooks(&circuits, || counter.step())?;
    drop(counter);
    let comparison = compared(&outlooks);
    let trade = Trade {
        asked,
        varied: &arguments.vary,
        choices: &choices,
        outlooks: &outlooks,
        best: limiting(asked, comparison.best, &choices, &outlooks)?,
        worst: limiting(
            asked,
            comparison.worst.filter(|w| Some(*w) != comparison.best),
            &choices,
            &outlooks,
        )?,
        comparison: &comparison,
    };
    let mut text = match arguments.output.format {
        Format::Table => render::trade::text(&trade),
        Format::Json => json::text(&json::foresight::of_trade(&trade)),
    };
    if let Some(path) = &arguments.figure {
        figure::write(path, &trade_figure(&render::trade::study(&trade)).standalone())?;
        if arguments.output.format == Format::Table {
            text.push_str(&figure::written(std::slice::from_ref(path)));
        }
    }
    Ok((text, Outcome::attention_if(outlooks.iter().any(|outlook| outlook.calibrated == 0))))
}

/// What limits the circuit at this place.
fn limiting(
    asked: &Asked<'_>,
    place: Option<usize>,
    choices: &[Choice],
    outlooks: &[Outlook],
) -> Result<Option<(usize, Vec<Share>)>, Failure> {
    let Some(place) = place else { return Ok(None) };
    let Some((choice, outlook)) = choices.get(place).zip(outlooks.get(place)) else { return Ok(None) };
    let counter = Counter::new("what limits: trial", asked.question.n_share_steps(&choice.model));
    let shares = asked.question.shares(&choice.model, outlook, || counter.step())?;
    Ok(Some((place, shares)))
}
