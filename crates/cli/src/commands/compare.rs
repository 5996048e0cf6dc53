//! `compare`: the same waters measured by an accredited laboratory.

use std::path::{Path, PathBuf};

use stillwell_folder::COMPARISON_FILE;
use stillwell_method::{ComparisonAsked, LaboratoryResults, comparison_review};
use stillwell_report::json;
use stillwell_report::{comparison_figure, reviewed_comparison};

use super::figure;
use super::source::{document, foot, walked};
use super::text_files::text_at;
use crate::args::{CompareArguments, Format};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &CompareArguments) -> Result<(String, Outcome), Failure> {
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
    }
    let found = walked(&arguments.place)?;
    let path = laboratory_file(arguments)?;
    let kind = &found.method.analyte.reported_as;
    let laboratory = LaboratoryResults::parse(&path.display().to_string(), &text_at(&path)?, kind)
        .map_err(|found| Failure::Problems(found.problems))?;
    let asked = ComparisonAsked { margin_percent: arguments.margin, margin: arguments.margin_absolute };
    let review =
        comparison_review(&found.method, &found.walks(), &laboratory, asked).ok_or_else(no_margin)?;
    let is_table = arguments.format == Format::Table;
    let mut text = if is_table {
        render::comparison::text(&found.method, &review) + &foot(&arguments.place, &found)
    } else {
        document(&arguments.place, &found, json::comparison::of(&found.method, &review))
    };
    if let Some(path) = &arguments.figure {
        figure::write(path, &comparison_figure(&reviewed_comparison(&review)).standalone())?;
        if is_table {
            text.push_str(&figure::written(std::slice::from_ref(path)));
        }
    }
    Ok((text, Outcome::attention_if(review.needs_attention())))
}

/// The file that was named; else the one in the folder, or beside the study.
fn laboratory_file(arguments: &CompareArguments) -> Result<PathBuf, Failure> {
    if let Some(path) = &arguments.with {
        return Ok(path.clone());
    }
    let place = &arguments.place.folder;
    let folder = if place.is_dir() { place.as_path() } else { place.parent().unwrap_or(Path::new("")) };
    let path = folder.join(COMPARISON_FILE);
    if path.is_file() {
        return Ok(path);
    }
    Err(Failure::NotThere {
        what: format!("there is no {}", path.display()),
        cure: "write one line for each of the laboratory's results: sample,value,unit,u; or name the file: --with FILE.csv"
            .to_owned(),
    })
}

fn no_margin() -> Failure {
    Failure::NotThere {
        what: "no margin is stated: which bias does not matter?".to_owned(),
        cure: "give --margin 10% (and --margin-absolute where the method names no limit), or state bias_percent under [validation] of the method"
            .to_owned(),
    }
}
