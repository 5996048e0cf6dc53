//! The dossier: one document, ready to print, from which an assessor sees why a study's numbers may be believed, or why not.
//!
//! In goes what was gathered of a study ([`DossierInput`]); out comes HTML with style and drawings inside, no script and nothing
//! from outside. Every chapter is one file here; words come from the rooms below and from [`crate::wording`].

mod calibrations;
mod cautions;
mod comparison;
mod control;
mod cover;
mod gathered;
mod glossary;
mod ledger;
mod lots;
mod method;
mod method_words;
mod proof;
mod samples;
mod scans;
mod setting;
mod sheet;
mod summary;
mod uncertainty;
mod validation;

use maud::{DOCTYPE, Markup, PreEscaped, html};

pub use gathered::{DossierInput, TakenApart};

/// One chapter.
struct Chapter {
    /// Where links lead.
    id: &'static str,
    title: &'static str,
    body: Markup,
}

/// The whole document.
///
/// The same input gives the same bytes: every date in it comes from the ledger.
pub fn dossier(input: &DossierInput) -> String {
    let chapters = chapters(input);
    let document = html! {
        (DOCTYPE)
        html lang="en" data-theme="light" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Dossier: " (input.input.method.name) ", revision " (input.input.method.revision) }
                style { (PreEscaped(sheet::sheet(input))) }
            }
            body {
                header class="cover" { (cover::cover(input)) }
                nav class="contents" aria-labelledby="contents" {
                    h2 id="contents" { "Contents" }
                    ol { @for chapter in &chapters { li { a href={ "#" (chapter.id) } { (chapter.title) } } } }
                }
                main {
                    @for (place, chapter) in chapters.iter().enumerate() {
                        section class="chapter" id=(chapter.id) aria-labelledby={ (chapter.id) "-head" } {
                            h2 id={ (chapter.id) "-head" } { (place + 1) " " (chapter.title) }
                            (chapter.body)
                        }
                    }
                }
            }
        }
    };
    document.into_string() + "\n"
}

fn chapters(input: &DossierInput) -> Vec<Chapter> {
    let chapter = |id, title, body| Chapter { id, title, body };
    vec![
        chapter("summary", "May these numbers be trusted?", summary::chapter(input)),
        chapter("method", "The method", method::chapter(input)),
        chapter("scans", "Scans, and how they were read", scans::chapter(input)),
        chapter("calibrations", "Calibrations", calibrations::chapter(input)),
        chapter("validation", "Validation", validation::chapter(input)),
        chapter("control", "Control charts", control::chapter(input)),
        chapter("lots", "Electrode lots", lots::chapter(input)),
        chapter("uncertainty", "Uncertainty", uncertainty::chapter(input)),
        chapter("samples", "Samples", samples::chapter(input)),
        chapter("comparison", "Comparison with another laboratory", comparison::chapter(input)),
        chapter("ledger", "Approvals, corrections, withdrawals", ledger::chapter(input)),
        chapter("proof", "What the ledger proves, and what it does not", proof::chapter()),
        chapter("cautions", "Cautions", cautions::chapter(input)),
        chapter("glossary", "Terms and checks", glossary::chapter(input)),
    ]
}
