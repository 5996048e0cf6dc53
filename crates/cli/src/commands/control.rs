//! `control`: the charts of a folder or a study, what they say, and what they withhold.

use std::path::{Path, PathBuf};

use stillwell_method::{ChartReview, chart_review};
use stillwell_report::json;
use stillwell_report::{control_figure, reviewed_chart};

use super::figure;
use super::source::{document, foot, walked};
use crate::args::{ControlArguments, Format};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &ControlArguments) -> Result<(String, Outcome), Failure> {
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
    }
    let found = walked(&arguments.place)?;
    let review = chart_review(&found.method, &found.walks(), Some(arguments.training));
    let is_table = arguments.output.format == Format::Table;
    let mut text = if is_table {
        render::charts::text(&found.method, &review, &found.names()) + &foot(&arguments.place, &found)
    } else {
        let charts = json::charts::of(&found.method, &review, &found.names());
        document(&arguments.place, &found, charts)
    };
    if let Some(path) = &arguments.figure {
        let paths = write_figures(&review, path)?;
        if is_table {
            text.push_str(&figure::written(&paths));
        }
    }
    Ok((text, Outcome::attention_if(review.needs_attention())))
}

/// One file where there is one chart, else one each, named after chart and channel.
fn write_figures(review: &ChartReview, path: &Path) -> Result<Vec<PathBuf>, Failure> {
    let mut paths: Vec<PathBuf> = Vec::new();
    for made in &review.charts {
        let name = format!("{} {}", made.chart.charted.name(), made.channel);
        let own = if review.charts.len() == 1 { path.to_owned() } else { figure::labelled(path, &name) };
        figure::write(&own, &control_figure(&reviewed_chart(made)).standalone())?;
        paths.push(own);
    }
    Ok(paths)
}
