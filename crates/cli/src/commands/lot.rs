//! `lot`: lots of electrodes beside the approved calibration.

use stillwell_method::{LotAsked, lot_review};
use stillwell_report::json;
use stillwell_report::{lot_figure, reviewed_lots};

use super::figure;
use super::source::{document, foot, walked};
use crate::args::{Format, LotArguments};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &LotArguments) -> Result<(String, Outcome), Failure> {
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
    }
    let found = walked(&arguments.place)?;
    let asked = LotAsked {
        lot: arguments.lot.clone(),
        approved: arguments.approved.clone(),
        margin_percent: arguments.margin,
        zero_margin: arguments.zero_margin,
        level: arguments.level,
    };
    let review = lot_review(&found.method, &found.walks(), &asked)
        .map_err(|why| Failure::NotThere { what: why.to_string(), cure: why.remedy().to_owned() })?;
    let is_table = arguments.output.format == Format::Table;
    let mut text = if is_table {
        render::lots::text(&found.method, &review) + &foot(&arguments.place, &found)
    } else {
        document(&arguments.place, &found, json::lots::of(&found.method, &review))
    };
    if let Some(path) = &arguments.figure {
        figure::write(path, &lot_figure(&reviewed_lots(&review)).standalone())?;
        if is_table {
            text.push_str(&figure::written(std::slice::from_ref(path)));
        }
    }
    Ok((text, Outcome::attention_if(!review.all_equivalent())))
}
