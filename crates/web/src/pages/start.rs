//! The start page: what of the study may be trusted, and what needs attention first.

use axum::extract::State;
use maud::{Markup, html};

use super::study_spine::spine;
use crate::guard::Visitor;
use crate::layout::{Page, Refusal, shell};
use crate::site::Site;
use crate::view::View;

pub(crate) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    let made = site.look(visitor, |view| Ok(shell(view, &whole(view))));
    made.await
}

fn whole(view: &View) -> Page {
    let method = &view.overview.method;
    Page {
        title: "May these numbers be trusted?".to_owned(),
        spine: spine(&view.overview, None),
        body: html! {
            h1 { "May these numbers be trusted?" }
            p { (method.name) ", revision " (method.revision) }
        },
    }
}
