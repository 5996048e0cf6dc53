//! The validation table: what was shown of the method, what was not, and what would show it.

use maud::{Markup, html};

use super::DossierInput;
use super::setting::{figure, words_table};
use crate::lot_figure::lot_figure;
use crate::quality::{validation_answer, validation_table};
use crate::reviewed::reviewed_days;

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let review = &input.quality.validation;
    let answer = validation_answer(review);
    html! {
        p { strong { @if review.table.is_met() { "Every requirement is met, with the doubt of its evidence." } @else { "Not every requirement is shown to be met." } }
            " A row is met only where its whole interval lies within what is asked. " (answer.since) }
        (words_table(&validation_table(&review.table)))
        p { "Next: " (answer.next) }
        @if let Some(days) = reviewed_days(review) {
            (figure(&lot_figure(&days), "validation-days", "Check standards day by day, and their level."))
        }
    }
}
