//! What must be read with every result.

use maud::{Markup, html};

use super::DossierInput;
use crate::wording::CAUTIONS;

pub(super) fn chapter(input: &DossierInput) -> Markup {
    // The longest list is that of a verdict that nothing shortened.
    let own = input.report.determinations.iter().flat_map(|found| &found.decisions);
    let longest = own.max_by_key(|decision| decision.cautions.len());
    html! {
        ul class="mind" {
            @for caution in CAUTIONS { li { (caution) } }
            @for caution in longest.iter().flat_map(|decision| &decision.cautions) {
                @if !CAUTIONS.contains(caution) { li { (caution) } }
            }
        }
    }
}
