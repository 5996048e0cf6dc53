//! The same waters measured by an accredited laboratory: what was found, pair by pair, and the form that takes its file in.

use axum::extract::State;
use axum::response::Response;
use maud::{Markup, html};
use stillwell_method::ComparisonReview;
use stillwell_report::quality::{Compared, alone_table, pairs_table, records_table};
use stillwell_report::{Figure, comparison_figure, reviewed_comparison};

use super::judgement::Judged;
use super::set::{COMPARISON, figure_of, page_of, table};
use crate::acts::laboratory_acts;
use crate::guard::Visitor;
use crate::layout::Refusal;
use crate::pages::Drawn;
use crate::site::Site;
use crate::view::View;

/// `/quality/comparison`
pub(super) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    page_of(site, visitor, &COMPARISON, evidence).await
}

/// `/quality/comparison/figure.svg`
pub(super) async fn figure(State(site): State<Site>, visitor: Visitor) -> Result<Response, Refusal> {
    figure_of(site, visitor, |judged| match &judged.quality.comparison {
        Compared::Made { review, .. } => drawn(review),
        _ => None,
    })
    .await
}

fn drawn(review: &ComparisonReview) -> Option<Figure> {
    review.comparison.is_ok().then(|| comparison_figure(&reviewed_comparison(review)))
}

fn evidence(view: &View, judged: &Judged) -> Markup {
    html! {
        @if let Compared::Made { review, .. } = &judged.quality.comparison { (made(review)) }
        section id="records" {
            h2 { "On record" }
            @if view.overview.laboratories.is_empty() { p class="empty" { "No laboratory's results were recorded yet." } }
            (table(&records_table(&view.overview.laboratories)))
            (laboratory_acts(view))
        }
    }
}

fn made(review: &ComparisonReview) -> Markup {
    html! {
        @if let Ok(found) = &review.comparison {
            ul { @for words in found.words().iter().skip(1) { li dir="auto" { (words) } } }
            @if found.advice().len() > 1 { h2 { "What to do" } ul { @for words in found.advice() { li dir="auto" { (words) } } } }
        }
        @if let Some(figure) = drawn(review) { (Drawn::of(figure).on_page("pairs", "/quality/comparison/figure.svg")) }
        h2 { "Pair by pair " span class="n" { (review.pairs.len()) } }
        (table(&pairs_table(review)))
        @if review.pairs.is_empty() { p class="empty" { "No pair." } }
        (table(&alone_table(review)))
        @if !review.unreported.is_empty() {
            p { "Ours that the laboratory did not report: " span dir="auto" { (review.unreported.join(", ")) } }
        }
    }
}
