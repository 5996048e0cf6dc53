//! `addition`: standard additions, series by series, their verdicts, and whether the matrix matters.

use std::path::{Path, PathBuf};

use stillwell_assure::DecisionCode;
use stillwell_calibrate::MatrixEffect;
use stillwell_method::{AdditionLink, AdditionReport, Method, addition};
use stillwell_report::addition_figure;
use stillwell_report::json;

use super::figure;
use super::source::{forbid, input_of};
use crate::args::{AdditionArguments, Format};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &AdditionArguments) -> Result<(String, Outcome), Failure> {
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
    }
    let (input, study) = input_of(&arguments.place)?;
    let mut report = addition(&input);
    if let Some(study) = &study {
        forbid(&mut report, study)?;
    }
    choose(&mut report, arguments.sample.as_deref())?;
    let attention = report.series.iter().any(needs_attention);
    let mut text = match arguments.output.format {
        Format::Table => render::additions::table_for(&report),
        Format::Json => json::text(&json::study::from(json::additions::of(&report), study.as_ref())),
    };
    if let (Some(study), Format::Table) = (&study, arguments.output.format) {
        text.push_str(&render::study::beside::foot_of_additions(study));
    }
    if let Some(path) = &arguments.figure {
        let paths = write_figures(&input.method, &report.series, path)?;
        if arguments.output.format == Format::Table {
            text.push_str(&figure::written(&paths));
        }
    }
    Ok((text, Outcome::attention_if(attention)))
}

/// Keeps the series of one sample, where one is named.
fn choose(report: &mut AdditionReport, sample: Option<&str>) -> Result<(), Failure> {
    if report.series.is_empty() {
        return Err(Failure::NotThere {
            what: "the run sheet names no addition".to_owned(),
            cure: "add lines with role addition: what was added as level with its unit (0 for the sample itself), \
                   the sample, the electrode; at least four different additions"
                .to_owned(),
        });
    }
    let Some(sample) = sample else { return Ok(()) };
    let known: Vec<String> = report.series.iter().map(|series| series.sample.clone()).collect();
    report.series.retain(|series| series.sample == sample);
    if report.series.is_empty() {
        return Err(Failure::NotThere {
            what: format!("there is no addition to a sample \"{sample}\""),
            cure: format!("samples with additions: {}", known.join(", ")),
        });
    }
    Ok(())
}

fn needs_attention(series: &AdditionLink) -> bool {
    series.is_refused()
        || series.decisions.is_empty()
        || series.withheld().next().is_some()
        || series.decisions.iter().any(|decision| decision.code != DecisionCode::Below)
        || series.matrix.is_none_or(|matrix| matrix.effect != MatrixEffect::WithinBound)
}

/// One file where there is one series, else one each, named after the sample.
fn write_figures(method: &Method, series: &[AdditionLink], path: &Path) -> Result<Vec<PathBuf>, Failure> {
    let mut paths: Vec<PathBuf> = Vec::new();
    for (index, link) in series.iter().enumerate() {
        let mut own = if series.len() == 1 { path.to_owned() } else { figure::labelled(path, &link.sample) };
        if paths.contains(&own) {
            own = figure::labelled(&own, &(index + 1).to_string());
        }
        figure::write(&own, &addition_figure(method, link).standalone())?;
        paths.push(own);
    }
    Ok(paths)
}
