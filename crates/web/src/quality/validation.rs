//! The validation table: what the method was shown to do, what not, and what would show it.

use axum::extract::State;
use axum::response::Response;
use maud::{Markup, html};
use stillwell_report::quality::validation_table;
use stillwell_report::{Figure, lot_figure, reviewed_days};

use super::judgement::Judged;
use super::set::{VALIDATION, figure_of, page_of, table};
use crate::guard::Visitor;
use crate::layout::Refusal;
use crate::pages::Drawn;
use crate::site::Site;
use crate::view::View;

/// `/quality/validation`
pub(super) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    page_of(site, visitor, &VALIDATION, evidence).await
}

/// `/quality/validation/figure.svg`
pub(super) async fn figure(State(site): State<Site>, visitor: Visitor) -> Result<Response, Refusal> {
    figure_of(site, visitor, drawn).await
}

fn drawn(judged: &Judged) -> Option<Figure> {
    reviewed_days(&judged.quality.validation).map(|days| lot_figure(&days))
}

fn evidence(_: &View, judged: &Judged) -> Markup {
    html! {
        p { "A row is met only where its whole interval lies within what is asked. What is asked, and by whom, stands in the " a href="/method" { "method" } "; a number that nobody asked for is neither met nor not met." }
        (table(&validation_table(&judged.quality.validation.table)))
        @match drawn(judged) {
            Some(figure) => { (Drawn::of(figure).on_page("days", "/quality/validation/figure.svg")) }
            None => { p class="empty" { "No check standard was read, so there is nothing to draw day by day." } }
        }
    }
}
