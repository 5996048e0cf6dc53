//! The comparison with an accredited laboratory, or what is missing for one.

use maud::{Markup, html};
use stillwell_method::ComparisonReview;

use super::DossierInput;
use super::setting::{figure, said, words_table};
use crate::comparison_figure::comparison_figure;
use crate::quality::{Compared, alone_table, comparison_answer, pairs_table, records_table};
use crate::reviewed::reviewed_comparison;

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let compared = &input.quality.comparison;
    let answer = comparison_answer(compared);
    html! {
        p { strong { (said(&answer.words)) } " " (answer.next) }
        @if matches!(compared, Compared::NoLaboratory) {
            p { "Nothing here shows that another laboratory finds the same." }
        }
        (words_table(&records_table(compared.records())))
        @if let Compared::Made { review, .. } = compared { (made(review)) }
    }
}

fn made(review: &ComparisonReview) -> Markup {
    html! {
        @if let Ok(found) = &review.comparison {
            h3 { "What was found" }
            ul { @for words in found.words() { li { (said(&words)) } } }
            h3 { "What to do" }
            ul { @for words in found.advice() { li { (said(&words)) } } }
            (figure(&comparison_figure(&reviewed_comparison(review)), "comparison", "Above: pairs with the line by errors in both. Below: differences with bias and limits of agreement."))
        }
        (words_table(&pairs_table(review)))
        (words_table(&alone_table(review)))
        @if !review.unreported.is_empty() { p { "Ours that the laboratory did not report: " (said(&review.unreported.join(", "))) "." } }
    }
}
