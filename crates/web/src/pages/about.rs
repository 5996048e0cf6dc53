//! What this page is, what must be kept in mind, what every check looks at, and how programs ask.

use axum::extract::State;
use maud::{Markup, html};
use stillwell_method::Check;

use super::study_spine::spine;
use crate::guard::Visitor;
use crate::layout::{LinkState, Page, Refusal, shell, sign};
use crate::site::Site;
use crate::view::View;
use crate::wording::CAUTIONS;

pub(crate) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    site.look(visitor, |view| Ok(shell(view, &whole(view)))).await
}

/// What the shapes mean.
const SHAPES: [(LinkState, &str); 4] = [
    (LinkState::Holds, "It holds."),
    (LinkState::Attention, "Something must be looked at; the words beside it say what."),
    (LinkState::Stops, "The chain ends here: no number, or no verdict."),
    (LinkState::Open, "Nothing is there yet, or nothing was asked."),
];

fn whole(view: &View) -> Page {
    Page {
        title: "About".to_owned(),
        spine: spine(&view.overview, None),
        body: html! {
            h1 { "About these pages" }
            p { "Every number here can be walked back along one chain: scan, signal, calibration, concentration, verdict. The chain stands beside every page, each link with its state in words, and leads to its evidence. Nothing is mended silently: what a check refuses has no number." }
            dl { @for (state, words) in SHAPES { dt { (sign(state)) " " (state.word()) } dd { (words) } } }
            section {
                h2 { "To be kept in mind" }
                ul { @for caution in CAUTIONS { li { (caution) } } }
            }
            section {
                h2 { "For programs" }
                p { "The same documents as the command line prints with " code { "--format json" } ", with every number in full precision and its unit in its name. " a href="/api/openapi.json" { "They are described in OpenAPI." } " Programs send the token of the printed address:" }
                pre { code { "curl -H \"Authorization: Bearer TOKEN\" http://" (view.site.hosts().first().map_or("", String::as_str)) "/api/study" } }
            }
            section id="checks" {
                h2 { "The checks, in the order of the chain " span class="n" { (Check::ALL.len()) } }
                @for check in Check::ALL { (one(check)) }
            }
        },
    }
}

fn one(check: Check) -> Markup {
    let words = check.text();
    html! {
        section id=(check.id()) {
            h3 { (check.id()) }
            dl {
                dt { "Looks at" } dd { (words.looks_at) }
                dt { "Why it matters" } dd { (words.why) }
                dt { "What to do" } dd { (words.remedy) }
                @if !check.can_be_overridden() { dt { "Override" } dd { "none: nothing on a scan lets a number pass it" } }
            }
        }
    }
}
