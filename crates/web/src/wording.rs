//! Words that stand in more than one place: those of the report room, and the study's unit.

pub(crate) use stillwell_report::wording::{
    CAUTIONS, Said, counted, current_with_error, laboratory_words, moment, number, sample,
};

use crate::view::View;

/// The unit of the study's results.
pub(crate) fn unit_of(view: &View) -> String {
    view.overview.method.analyte.reported_as.to_string()
}
