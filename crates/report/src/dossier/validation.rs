//! The validation table: what was shown of the method, what was not, and what would show it.

use maud::{Markup, html};

use super::DossierInput;
use super::setting::{Set, cell, said, table};

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let Some(validation) = &input.validation else {
        return html! { p { "Not shown: this dossier was made without a validation table, so nothing in it claims that the method is validated." } };
    };
    let rows: Vec<Vec<Markup>> = validation
        .rows
        .iter()
        .map(|row| {
            let subject = if row.subject.is_empty() { String::new() } else { format!(": {}", row.subject) };
            vec![
                html! { (row.criterion.name()) (said(&subject)) },
                cell(row.evidence_words()),
                cell(row.n.to_string()),
                cell(row.requirement_words()),
                html! { (row.verdict_words()) @for advice in &row.advice { br; (said(advice)) } },
            ]
        })
        .collect();
    let words = |title| (title, Set::Words);
    html! {
        p { strong { @if validation.is_met() { "Every requirement is met, with the doubt of its evidence." } @else { "Not every requirement is shown to be met." } }
            " A row is met only where its whole interval lies within what is asked." }
        (table(
            "Validation, criterion by criterion",
            &[words("Criterion"), words("Found"), ("Behind it", Set::Numbers), words("Asked, and by whom"), words("Verdict")],
            &rows,
        ))
    }
}
