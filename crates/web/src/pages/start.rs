//! The start page: what of the study may be trusted, and what needs attention first.

use axum::extract::State;
use maud::{Markup, html};
use stillwell_study::Shown;

use super::results::{in_groups, no_longer_counting};
use super::study_spine::spine;
use crate::guard::Visitor;
use crate::layout::{LinkState, Page, Refusal, shell, sign};
use crate::quality::on_start;
use crate::site::Site;
use crate::trust::trust;
use crate::view::View;
use crate::wording::{Said, counted};

/// So many lines of a kind stand on this page; the others are one click away.
const MOST: usize = 12;

pub(crate) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    site.look(visitor, |view| Ok(shell(view, &whole(view)))).await
}

/// A kind of result that needs attention.
struct Kind {
    title: &'static str,
    what_to_do: &'static str,
    results: Vec<usize>,
    all: &'static str,
}

fn whole(view: &View) -> Page {
    let overview = &view.overview;
    let counting: Vec<&Shown> = overview.results.iter().filter(|one| one.one.standing.counts()).collect();
    let gone = Shown::no_longer_counting(&overview.results);
    let kinds = kinds(&counting);
    let n_free = counting.iter().filter(|one| trust(one).because.is_empty()).count();
    let groups: Vec<(Markup, Vec<&Shown>)> =
        kinds.iter().filter(|kind| !kind.results.is_empty()).map(|kind| group(kind, &counting)).collect();
    let method = &overview.method;
    Page {
        title: "May these numbers be trusted?".to_owned(),
        spine: spine(overview, None),
        body: html! {
            h1 { "May these numbers be trusted?" }
            (answer(counting.len() + gone.len(), n_free))
            p class="method" {
                strong dir="auto" { (method.name) } ", revision " span dir="auto" { (method.revision) } " · "
                (method.analyte.name) " reported as " (method.analyte.reported_as)
            }
            @if overview.results.is_empty() { (nothing_yet(view)) }
            (no_longer_counting(&gone))
            @if !groups.is_empty() { (in_groups(&groups)) }
            (on_start(view))
        },
    }
}

/// A kind with its first results; the others are one click away.
fn group<'a>(kind: &Kind, counting: &[&'a Shown]) -> (Markup, Vec<&'a Shown>) {
    let shown = kind.results.iter().take(MOST).filter_map(|place| counting.get(*place).copied()).collect();
    let head = html! {
        h2 { (kind.title) " " span class="n" { (kind.results.len()) } }
        p { (kind.what_to_do) @if kind.results.len() > MOST { " " a href=(kind.all) { "All " (kind.results.len()) } } }
    };
    (head, shown)
}

fn answer(n: usize, n_free: usize) -> Markup {
    let (state, words) = match (n, n_free) {
        (0, _) => (LinkState::Open, "No result has been issued yet.".to_owned()),
        (n, free) if n == free => (LinkState::Holds, format!("All {n}: nothing speaks against them.")),
        (n, free) => {
            let words =
                format!("{free} of {n} may be used as they stand. Each other one says what is in the way.");
            (LinkState::Attention, words)
        }
    };
    html! { p class={ "answer " (state.word()) } { (sign(state)) " " (words) } }
}

/// Each result stands once, under the gravest thing about it.
fn kinds(counting: &[&Shown]) -> [Kind; 5] {
    let gravest = |shown: &Shown| super::results::said_of(shown).min().unwrap_or(Said::Nothing);
    let of = |wanted: &[Said]| -> Vec<usize> {
        let is_it = |(place, shown): (usize, &&Shown)| wanted.contains(&gravest(shown)).then_some(place);
        counting.iter().enumerate().filter_map(is_it).collect()
    };
    let waiting = |(place, shown): (usize, &&Shown)| {
        let is_open = matches!(gravest(shown), Said::Below | Said::Nothing) && shown.needs_attention();
        is_open.then_some(place)
    };
    [
        Kind {
            title: "Above a limit",
            what_to_do: "Act on these first: what to do stands with each.",
            results: of(&[Said::Above]),
            all: "/results?only=above",
        },
        Kind {
            title: "Unknown: refused",
            what_to_do: "The chain stopped. Treat the water as unknown until it is measured again.",
            results: of(&[Said::Refused]),
            all: "/results?only=withheld",
        },
        Kind {
            title: "Verdict withheld",
            what_to_do: "There is a number, but something forbids a conclusion from it.",
            results: of(&[Said::Withheld, Said::Undecided]),
            all: "/results?only=withheld",
        },
        Kind {
            title: "Too close to call",
            what_to_do: "The limit lies within the interval: measure again on more electrodes.",
            results: of(&[Said::TooClose]),
            all: "/results?only=attention",
        },
        Kind {
            title: "Below, and waiting for an approver",
            what_to_do: "Another person than the one who recorded it looks at the chain and signs.",
            results: counting.iter().enumerate().filter_map(waiting).collect(),
            all: "/results?only=not-approved",
        },
    ]
}

fn nothing_yet(view: &View) -> Markup {
    html! {
        section {
            h2 { "How to begin" }
            @match view.overview.series.first() {
                None => {
                    p { "Take a folder of raw scans in, with the run sheet that says what each is:" }
                    pre { code { "stillwell study add " (view.site.study_path().display()) " FOLDER --as NAME" } }
                }
                Some(_) => {
                    p { (counted(view.overview.series.len(), "run")) " of scans came in; the next step is to issue results, on the page of the " a href="/scans" { "scans" } "." }
                }
            }
        }
    }
}
