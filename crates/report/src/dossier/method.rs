//! The method: every constant with its unit, in words, and the technique as it is applied.

use maud::{Markup, html};

use super::DossierInput;
use super::method_words::{Part, parts};
use super::setting::{Set, cell, figure, table};
use crate::technique_figure::technique_figure;

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let method = &input.input.method;
    html! {
        p { "These constants alone turn a raw scan into a number. The hash on the cover is computed from them: whoever changes one has another method." }
        h3 { "Technique" }
        (figure(&technique_figure(&method.technique), "technique", "The potential that the electrode is given, against time."))
        @for part in parts(method) { (set(&part)) }
    }
}

fn set(part: &Part) -> Markup {
    let rows: Vec<Vec<Markup>> =
        part.rows.iter().map(|(what, stated)| vec![cell(*what), cell(stated)]).collect();
    table(part.title, &[("Constant", Set::Words), ("Stated", Set::Words)], &rows)
}
