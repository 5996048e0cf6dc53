//! Lots of strips beside the approved calibration: equivalent or not, the adjustment and its cost, what strips scatter by.

use axum::extract::State;
use axum::response::Response;
use maud::{Markup, html};
use stillwell_method::LotReview;
use stillwell_report::quality::{lot_words, lots_table};
use stillwell_report::{Figure, lot_figure, reviewed_lots};

use super::judgement::Judged;
use super::set::{LOTS, figure_of, page_of, table};
use crate::guard::Visitor;
use crate::layout::Refusal;
use crate::pages::Drawn;
use crate::site::Site;
use crate::view::View;
use crate::wording::counted;

/// `/quality/lots`
pub(super) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    page_of(site, visitor, &LOTS, evidence).await
}

/// `/quality/lots/figure.svg`
pub(super) async fn figure(State(site): State<Site>, visitor: Visitor) -> Result<Response, Refusal> {
    figure_of(site, visitor, |judged| drawn(judged.quality.lots.as_ref().ok()?)).await
}

fn drawn(review: &LotReview) -> Option<Figure> {
    let lots = reviewed_lots(review);
    (!lots.lots.is_empty()).then(|| lot_figure(&lots))
}

fn evidence(_: &View, judged: &Judged) -> Markup {
    html! {
        @match &judged.quality.lots {
            Ok(review) => { (reviewed(review)) }
            Err(_) => { p { "A lot is compared where strips of it measured known levels and the method states a margin beforehand. Until then each lot stands on its own standards: " a href="/calibrations" { "the calibrations" } "." } }
        }
        p { "What is on record of each lot is signed, and stands in the " a href="/ledger" { "ledger" } "; a lot is recorded on the page of the " a href="/keys" { "keys" } "." }
    }
}

fn reviewed(review: &LotReview) -> Markup {
    let rule = &review.rule;
    html! {
        p { "Margin of the sensitivity ±" (rule.margin_percent) " %"
            @match rule.zero_margin { Some(margin) => { ", of zeros ±" (margin) " " (review.unit) } None => { ", zeros not asked for" } }
            "; two one-sided tests with a risk of " (format!("{:.0}", 100.0 * rule.risk)) " %." }
        @if let Some(figure) = drawn(review) { (Drawn::of(figure).on_page("lots", "/quality/lots/figure.svg")) }
        (table(&lots_table(review)))
        @for found in &review.lots {
            section { h2 dir="auto" { "Lot " (found.lot) } ul { @for words in lot_words(found, &review.unit) { li dir="auto" { (words) } } } }
        }
        (scatter(review))
    }
}

fn scatter(review: &LotReview) -> Markup {
    html! {
        @if let (Some(scans), Some(found)) = (&review.scans, &review.scatter) {
            section {
                h2 { "What strips scatter by" }
                p { "At " (scans.level) " " (review.unit) ", " (counted(scans.names.len(), "lot")) ": " span dir="auto" { (scans.names.join(", ")) } }
                ul { @match found {
                    Ok(scatter) => { @for words in scatter.words() { li dir="auto" { (words) } } }
                    Err(error) => { li dir="auto" { "not estimable: " (error) } }
                } }
            }
        }
    }
}
