//! `lot`: lots of electrodes beside the approved calibration.

use stillwell_method::{LotAsked, LotReview, lot_review};
use stillwell_report::json;
use stillwell_report::{lot_figure, reviewed_lots};

use super::figure;
use super::source::{Walked, document, foot, walked};
use crate::args::{Format, LotArguments};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &LotArguments) -> Result<(String, Outcome), Failure> {
    if let Some(path) = &arguments.figure {
        figure::check_name(path)?;
    }
    let found = walked(&arguments.place)?.without_ended_calibrations();
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
        render::lots::text(&found.method, &review, reference(&found, &review, arguments).as_str())
            + &foot(&arguments.place, &found)
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

/// What the lots are held against, and who approved it.
fn reference(found: &Walked, review: &LotReview, arguments: &LotArguments) -> String {
    let chosen =
        if arguments.approved.is_some() { "the one that was named" } else { "the first accepted one" };
    format!("{}, {chosen} ({})", review.approved.label(), found.standing_of(&review.approved))
}
