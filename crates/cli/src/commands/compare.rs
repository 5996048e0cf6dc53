//! `compare`: the same waters measured by an accredited laboratory.

use std::path::{Path, PathBuf};

use stillwell_folder::COMPARISON_FILE;
use stillwell_method::{ComparisonAsked, LaboratoryResults, comparison_review};
use stillwell_quantity::QuantityKind;
use stillwell_report::json;
use stillwell_report::wording::laboratory_words;
use stillwell_report::{comparison_figure, reviewed_comparison};
use stillwell_study::{LaboratoryAct, LaboratoryOnRecord, Numbered, Study};

use super::figure;
use super::source::{document, foot, is_a_study, walked};
use super::text_files::text_at;
use crate::args::{CompareArguments, Format};
use crate::exit::{Failure, Outcome};
use crate::render;

/// Where the laboratory's results came from.
struct Laboratory {
    results: LaboratoryResults,
    /// The records that hold them; none where a file beside does.
    records: Vec<Numbered<LaboratoryAct>>,
    /// The same in words.
    from: String,
}

pub(crate) fn run(arguments: &CompareArguments) -> Result<(String, Outcome), Failure> {
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
    }
    let found = walked(&arguments.place)?;
    let laboratory = laboratory(arguments, &found.method.analyte.reported_as)?;
    let asked = ComparisonAsked { margin_percent: arguments.margin, margin: arguments.margin_absolute };
    let review =
        comparison_review(&found.method, &found.walks(), &laboratory.results, asked).ok_or_else(no_margin)?;
    let is_table = arguments.output.format == Format::Table;
    let mut text = if is_table {
        render::comparison::text(&found.method, &review, &laboratory.from) + &foot(&arguments.place, &found)
    } else {
        let compared = json::comparison::of(&found.method, &review, &laboratory.records);
        document(&arguments.place, &found, compared)
    };
    if let Some(path) = &arguments.figure {
        figure::write(path, &comparison_figure(&reviewed_comparison(&review)).standalone())?;
        if is_table {
            text.push_str(&figure::written(std::slice::from_ref(path)));
        }
    }
    Ok((text, Outcome::attention_if(review.needs_attention())))
}

/// The file that was named; else what the study has on record; else the file in the folder, or beside the study.
fn laboratory(arguments: &CompareArguments, kind: &QuantityKind) -> Result<Laboratory, Failure> {
    let is_study = is_a_study(&arguments.place.folder)?;
    if arguments.with.is_none() && is_study {
        let study = Study::open_to_read(&arguments.place.folder)?;
        if let Some(LaboratoryOnRecord { results, records }) = study.laboratory_on_record()? {
            let named = |one: &Numbered<LaboratoryAct>| {
                format!("record {}, {}", one.label, laboratory_words(&one.act))
            };
            let from = records.iter().map(named).collect::<Vec<_>>().join("; ");
            return Ok(Laboratory { results, records, from });
        }
    }
    let path = laboratory_file(arguments)?;
    let from = path.display().to_string();
    let results = LaboratoryResults::parse(&from, &text_at(&path)?, kind)
        .map_err(|found| Failure::Problems(found.problems))?;
    Ok(Laboratory { results, records: Vec::new(), from: format!("{from}, a file that is not on record") })
}

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
    let cure = if place.is_dir() {
        "write one line for each of the laboratory's results: sample,value,unit,u; or name the file: --with FILE.csv".to_owned()
    } else {
        format!(
            "take the laboratory's file into the study: stillwell study laboratory {} FILE.csv --as NAME --reason WORDS; or name a file for this once: --with FILE.csv",
            stillwell_study::shell_path(place)
        )
    };
    Err(Failure::NotThere { what: format!("there is no {}", path.display()), cure })
}

fn no_margin() -> Failure {
    Failure::NotThere {
        what: "no margin is stated: which bias does not matter?".to_owned(),
        cure: "give --margin 10% (and --margin-absolute where the method names no limit), or state bias_percent under [validation] of the method"
            .to_owned(),
    }
}
