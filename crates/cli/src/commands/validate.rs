//! `validate`: what the method was shown to do, criterion by criterion.

use stillwell_method::validation_review;
use stillwell_report::json;
use stillwell_report::{lot_figure, reviewed_days};

use super::figure;
use super::source::{document, foot, walked};
use crate::args::{Format, ValidateArguments};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &ValidateArguments) -> Result<(String, Outcome), Failure> {
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
    }
    let found = walked(&arguments.place)?.without_ended_calibrations();
    let review = validation_review(&found.method, &found.walks());
    let is_table = arguments.output.format == Format::Table;
    let mut text = if is_table {
        render::validation::text(&found.method, &review, found.study.is_some())
            + &foot(&arguments.place, &found)
    } else {
        document(&arguments.place, &found, json::validation::of(&found.method, &review))
    };
    if let Some(path) = &arguments.figure {
        let days = reviewed_days(&review).ok_or_else(|| Failure::NotThere {
            what: "no check standard was read, so there is nothing to draw".to_owned(),
            cure: "measure a check standard on several days, or leave --figure out".to_owned(),
        })?;
        figure::write(path, &lot_figure(&days).standalone())?;
        if is_table {
            text.push_str(&figure::written(std::slice::from_ref(path)));
        }
    }
    Ok((text, Outcome::attention_if(!review.table.is_met())))
}
