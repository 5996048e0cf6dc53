//! How answers, tables and figures of quality over time are set.

use axum::response::Response;
use maud::{Markup, html};
use stillwell_report::Figure;
use stillwell_report::quality::{Answer, AnswerGrade, Compared, Holds, Quality, WordsTable};
use stillwell_report::quality::{comparison_answer, control_answer, lots_answer, validation_answer};

use super::judgement::{Judged, Stand};
use crate::guard::Visitor;
use crate::jobs::under_way;
use crate::layout::{LinkState, Page, Refusal, shell, sign};
use crate::pages::Drawn;
use crate::pages::study_spine::spine;
use crate::site::Site;
use crate::view::View;

/// A question of quality: its page, its name there, the question, and who answers.
pub(super) struct Question {
    pub(super) path: &'static str,
    pub(super) name: &'static str,
    pub(super) words: &'static str,
    pub(super) answered: fn(&Quality) -> Answer,
    /// Whether there is enough for its document.
    has_document: fn(&Quality) -> bool,
}

/// All four in their order.
pub(super) const QUESTIONS: [Question; 4] = [CONTROL, LOTS, VALIDATION, COMPARISON];

pub(super) const CONTROL: Question = Question {
    path: "/quality/control",
    name: "Control charts",
    words: "Is the method in control?",
    answered: |quality| control_answer(&quality.charts),
    has_document: |_| true,
};
pub(super) const LOTS: Question = Question {
    path: "/quality/lots",
    name: "Lots",
    words: "May other lots be read off the approved calibration?",
    answered: |quality| lots_answer(&quality.lots),
    has_document: |quality| quality.lots.is_ok(),
};
pub(super) const VALIDATION: Question = Question {
    path: "/quality/validation",
    name: "Validation",
    words: "What was the method shown to do?",
    answered: |quality| validation_answer(&quality.validation),
    has_document: |_| true,
};
pub(super) const COMPARISON: Question = Question {
    path: "/quality/comparison",
    name: "Comparison",
    words: "Does an accredited laboratory find the same?",
    answered: |quality| comparison_answer(&quality.comparison),
    has_document: |quality| matches!(quality.comparison, Compared::Made { .. }),
};

/// A grade by its shape.
pub(super) const fn state_of(grade: AnswerGrade) -> LinkState {
    match grade {
        AnswerGrade::Open => LinkState::Open,
        AnswerGrade::Holds => LinkState::Holds,
        AnswerGrade::Look => LinkState::Attention,
        AnswerGrade::Stops => LinkState::Stops,
    }
}

/// A page of one question: its answer first, then `evidence`; or how far the judging is.
pub(super) async fn page_of(
    site: Site,
    visitor: Visitor,
    question: &'static Question,
    evidence: fn(&View, &Judged) -> Markup,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| {
        let body = match view.site.judged().stand(view)? {
            Stand::UnderWay(job) => html! { h1 { (question.name) } (being_judged(view, &job)) },
            Stand::Ready(judged) => html! {
                h1 { (question.name) }
                (answer_box(question, &judged.quality))
                (evidence(view, &judged))
                (others(question, &judged))
            },
        };
        let page = Page { title: question.name.to_owned(), spine: spine(&view.overview, None), body };
        Ok(shell(view, &page))
    })
    .await
}

/// Many scans take a while: how far it is, and that nothing is lost.
pub(super) fn being_judged(view: &View, job: &crate::jobs::Job) -> Markup {
    html! {
        p { "All series are walked through the chain and judged together; with this many scans that takes a while. What is found is kept until the next act." }
        (under_way(view, job))
    }
}

fn answer_box(question: &Question, quality: &Quality) -> Markup {
    let answer = (question.answered)(quality);
    let state = state_of(answer.grade);
    html! {
        div class={ "answer " (state.word()) } {
            (sign(state)) " " (question.words) " " strong dir="auto" { (answer.words) }
            (since_and_next(&answer))
        }
    }
}

/// Since when, and what to do next.
pub(super) fn since_and_next(answer: &Answer) -> Markup {
    html! {
        ul class="because" {
            @if !answer.since.is_empty() { li dir="auto" { (answer.since) } }
            @if !answer.next.is_empty() { li { span class="cue" { "Next:" } " " span dir="auto" { (answer.next) } } }
        }
    }
}

/// The way to the other questions, and what adds nothing.
fn others(here: &Question, judged: &Judged) -> Markup {
    html! {
        (unread(judged))
        p class="no-print" {
            a href="/quality" { "All questions of quality" }
            @for question in QUESTIONS.iter().filter(|one| one.path != here.path) { " · " a href=(question.path) { (question.name) } }
            @if (here.has_document)(&judged.quality) {
                " · the same for programs: " a href={ "/api/" (here.path.trim_start_matches("/quality/")) } { "JSON" }
            }
        }
    }
}

/// Series that could not be read, and why.
pub(super) fn unread(judged: &Judged) -> Markup {
    html! {
        @if !judged.unread.is_empty() {
            section class="mind" {
                h2 { "Not judged with the others" }
                ul { @for [label, name, why] in &judged.unread { li { a href={ "/scans?series=" (label) } { "series " (label) } ", " span dir="auto" { (name) } ": " span dir="auto" { (why) } } } }
            }
        }
    }
}

/// A table of words.
pub(super) fn table(made: &WordsTable) -> Markup {
    let class = |column: usize| match made.columns.get(column).map(|(_, holds)| *holds) {
        Some(Holds::Numbers) => Some("num"),
        Some(Holds::Sentences) => Some("long"),
        Some(Holds::Words) | None => None,
    };
    html! {
        @if !made.rows.is_empty() {
            // Beside the table and not in it: a wide table scrolls, and its name must not.
            p class="soft" dir="auto" { (made.caption) }
            div class="wide" tabindex="0" role="region" aria-label=(made.caption) {
                table class="wordy" aria-label=(made.caption) {
                    thead { tr { @for (place, (title, _)) in made.columns.iter().enumerate() { th scope="col" class=[class(place)] { (title) } } } }
                    tbody {
                        @for row in &made.rows {
                            tr { @for (place, words) in row.iter().enumerate() {
                                @if place == 0 {
                                    th scope="row" dir="auto" { (words) }
                                } @else { td class=[class(place)] dir="auto" { (words) } }
                            } }
                        }
                    }
                }
            }
        }
    }
}

/// A figure by itself.
pub(super) async fn figure_of(
    site: Site,
    visitor: Visitor,
    draw: impl FnOnce(&Judged) -> Option<Figure> + Send + 'static,
) -> Result<Response, Refusal> {
    site.look(visitor, move |view| {
        let judged = view.site.judged().awaited(view)?;
        let drawn = draw(&judged).map(Drawn::of);
        drawn.map(|drawn| drawn.file()).ok_or_else(|| Refusal::unknown("such figure"))
    })
    .await
}
