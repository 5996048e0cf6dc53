//! One line a question: the answer in words, since when, and what to do next.

use axum::extract::State;
use maud::{Markup, html};

use super::judgement::{Judged, Stand};
use super::set::{QUESTIONS, being_judged, since_and_next, state_of, unread};
use crate::guard::Visitor;
use crate::layout::{Page, Refusal, shell, sign};
use crate::pages::study_spine::spine;
use crate::site::Site;
use crate::view::View;
use crate::wording::counted;

/// `/quality`
pub(super) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    site.look(visitor, |view| {
        let body = match view.site.judged().stand(view)? {
            Stand::UnderWay(job) => html! { h1 { "Quality over time" } (being_judged(view, &job)) },
            Stand::Ready(judged) => html! {
                h1 { "Quality over time" }
                (over(view, &judged))
                (questions(&judged))
                (unread(&judged))
            },
        };
        let page = Page { title: "Quality over time".to_owned(), spine: spine(&view.overview, None), body };
        Ok(shell(view, &page))
    })
    .await
}

fn over(view: &View, judged: &Judged) -> Markup {
    if view.overview.series.is_empty() {
        return html! { p class="empty" { "No scan was taken in yet, so there is nothing to judge. What each question needs stands with it." } };
    }
    html! {
        p { "Judged over " (counted(judged.labels.len(), "series")) " in the order of time, by method "
            span dir="auto" { (judged.method.name) } ", revision " span dir="auto" { (judged.method.revision) } ", as the study stands now." }
    }
}

fn questions(judged: &Judged) -> Markup {
    html! {
        ul class="questions" {
            @for question in &QUESTIONS {
                @let answer = (question.answered)(&judged.quality);
                @let state = state_of(answer.grade);
                li class=(state.word()) {
                    div {
                        h2 { (sign(state)) " " a href=(question.path) { (question.name) } }
                        p class="asked" { (question.words) }
                    }
                    div class="said" {
                        p { strong dir="auto" { (answer.words) } }
                        (since_and_next(&answer))
                    }
                }
            }
        }
    }
}

/// On the start page: the answers where they are known already, else the way to them.
pub(crate) fn on_start(view: &View) -> Markup {
    let judged = view.site.judged().ready(&view.overview.anchor.head);
    html! {
        section class="quality-line" {
            h2 { a href="/quality" { "Quality over time" } }
            @match judged {
                None => { p { "Is the method in control, may other lots be read off the approved calibration, what was the method shown to do, does an accredited laboratory find the same?" } }
                Some(judged) => { ul {
                    @for question in &QUESTIONS {
                        @let answer = (question.answered)(&judged.quality);
                        li { (sign(state_of(answer.grade))) " " a href=(question.path) { (question.name) } ": " span dir="auto" { (answer.words) } }
                    }
                } }
            }
        }
    }
}
