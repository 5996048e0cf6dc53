//! `station`: readings of sensors that stay in the water.

use std::path::{Path, PathBuf};

use stillwell_assure::find_limit;
use stillwell_method::{StationAsked, StationFile, StationReview, station_review};
use stillwell_report::{json, station_figures};

use super::figure;
use super::text_files::text_at;
use crate::args::{Format, StationArguments};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &StationArguments) -> Result<(String, Outcome), Failure> {
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
    }
    let limits = arguments.limits.iter().map(|id| find_limit(id).map_err(|error| no_limit(&error)));
    let asked = StationAsked {
        limits: limits.collect::<Result<_, Failure>>()?,
        working_range: arguments.range.map(|(low, high)| [low, high]),
    };
    let mut reviews = Vec::new();
    for path in &arguments.files {
        reviews.extend(reviewed(path, &asked)?);
    }
    if let Some(name) = &arguments.station {
        reviews = only(reviews, name)?;
    }
    let is_table = arguments.output.format == Format::Table;
    let mut text =
        if is_table { render::stations::text(&reviews) } else { json::text(&json::stations::of(&reviews)) };
    if let Some(path) = &arguments.figure {
        let paths = write_figures(&reviews, path)?;
        if is_table {
            text.push_str(&figure::written(&paths));
        }
    }
    Ok((text, Outcome::attention_if(reviews.iter().any(StationReview::needs_attention))))
}

fn reviewed(path: &Path, asked: &StationAsked) -> Result<Vec<StationReview>, Failure> {
    let file = StationFile::parse(&path.display().to_string(), &text_at(path)?)
        .map_err(|found| Failure::Problems(found.problems))?;
    file.stations
        .iter()
        .map(|station| station_review(station, asked).map_err(|error| no_limit(&error)))
        .collect()
}

fn no_limit(error: &stillwell_assure::AssureError) -> Failure {
    Failure::NotThere {
        what: error.to_string(),
        cure: "name a limit of the substance that the readings are of, or leave --limit out".to_owned(),
    }
}

fn only(reviews: Vec<StationReview>, name: &str) -> Result<Vec<StationReview>, Failure> {
    let known: Vec<String> = reviews.iter().map(|review| review.name.clone()).collect();
    let chosen: Vec<StationReview> = reviews.into_iter().filter(|review| review.name == name).collect();
    if chosen.is_empty() {
        return Err(Failure::NotThere {
            what: format!("there is no station \"{name}\""),
            cure: format!("stations: {}", known.join(", ")),
        });
    }
    Ok(chosen)
}

/// One file where there is one figure, else one each, named after station and step.
fn write_figures(reviews: &[StationReview], path: &Path) -> Result<Vec<PathBuf>, Failure> {
    let figures: Vec<_> = reviews.iter().flat_map(station_figures).collect();
    if figures.is_empty() {
        return Err(Failure::NotThere {
            what: "there is nothing to draw".to_owned(),
            cure: "a series, or a trial with a change of level".to_owned(),
        });
    }
    let mut paths: Vec<PathBuf> = Vec::new();
    for (name, drawn) in &figures {
        let own = if figures.len() == 1 { path.to_owned() } else { figure::labelled(path, name) };
        figure::write(&own, &drawn.standalone())?;
        paths.push(own);
    }
    Ok(paths)
}
