//! The comparison with another laboratory, where there is one.

use maud::{Markup, html};

use super::DossierInput;

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let Some(found) = &input.comparison else {
        return html! { p { "None was given: nothing here shows that another laboratory finds the same." } };
    };
    html! {
        h3 { "What was found" }
        ul { @for words in found.words() { li { (words) } } }
        h3 { "What to do" }
        ul { @for words in found.advice() { li { (words) } } }
    }
}
