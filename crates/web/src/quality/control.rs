//! Every control chart with its state, the rule that fired and since when, its figure; and the verdicts that charts withhold.

use axum::extract::{Path, State};
use axum::response::Response;
use maud::{Markup, html};
use stillwell_assure::control::ChartState;
use stillwell_method::{ChartHeld, ControlChart};
use stillwell_report::quality::{
    ageing_words, chart_name, chart_state_word, charts_table, held_alike, held_name,
};
use stillwell_report::{control_figure, newest_points, reviewed_chart};

use super::judgement::Judged;
use super::set::{CONTROL, figure_of, page_of, table};
use crate::guard::Visitor;
use crate::layout::{LinkState, Refusal, sign};
use crate::pages::Drawn;
use crate::site::Site;
use crate::view::View;
use crate::wording::counted;

/// Points of a chart on the page; its file and its document hold all.
const MOST_POINTS: usize = 60;

/// `/quality/control`
pub(super) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    page_of(site, visitor, &CONTROL, evidence).await
}

/// `/quality/control/{chart}/figure.svg`
pub(super) async fn figure(
    State(site): State<Site>,
    visitor: Visitor,
    Path(chart): Path<usize>,
) -> Result<Response, Refusal> {
    figure_of(site, visitor, move |judged| {
        let made = judged.quality.charts.charts.get(chart.checked_sub(1)?)?;
        Some(control_figure(&reviewed_chart(made)))
    })
    .await
}

fn evidence(view: &View, judged: &Judged) -> Markup {
    let review = &judged.quality.charts;
    html! {
        p { "Limits come from the first " (review.n_training) " points of each chart" @if review.is_stated {
                ", as the method's chart_training_points says. A gating chart out of control withholds verdicts back to its last point in control."
            } @else { ". The method states no chart_training_points, so charts warn and withhold nothing." } }
        (table(&charts_table(review)))
        @if review.charts.is_empty() { p class="empty" { "No point for any chart yet." } }
        (held(view, judged))
        (ageing(judged))
        (notes(&review.charts))
        div class="two charts" { @for (place, made) in review.charts.iter().enumerate() { (one(place + 1, made)) } }
    }
}

fn held(view: &View, judged: &Judged) -> Markup {
    let review = &judged.quality.charts;
    let alike = held_alike(review);
    html! {
        section id="withheld" {
            h2 { "Verdicts withheld by charts" }
            @if alike.is_empty() {
                p { @if review.is_stated { "None." } @else { "None: without a stated training period charts withhold nothing." } }
            } @else {
                p { "These numbers stand, but nothing is to be concluded from them." }
                dl class="held" {
                    @for one in &alike {
                        dt { @for (place, held) in one.held.iter().enumerate() { @if place > 0 { ", " } (sample(view, judged, held)) } }
                        dd dir="auto" { (one.words) }
                    }
                }
            }
        }
    }
}

fn sample(view: &View, judged: &Judged, held: &ChartHeld) -> Markup {
    let name = held_name(held, &judged.labels);
    html! {
        @match address(view, judged, held) { Some(address) => { a href=(address) dir="auto" { (name) } } None => { span dir="auto" { (name) } } }
    }
}

/// The page of a withheld result, where it was issued.
fn address(view: &View, judged: &Judged, held: &ChartHeld) -> Option<String> {
    let label = judged.labels.get(held.walk)?;
    let series = view.overview.series.iter().find(|one| one.label == *label)?.record.hash;
    let is_it = |shown: &&stillwell_study::Shown| {
        let act = &shown.one.act;
        let (result, role) = (&act.result, held.role.word());
        let is_named =
            (&result.sample, result.role.as_str(), &result.batch) == (&held.sample, role, &held.batch);
        act.series == series && is_named && shown.one.standing.counts()
    };
    view.overview.results.iter().find(is_it).map(|shown| format!("/results/{}", shown.one.label))
}

fn ageing(judged: &Judged) -> Markup {
    let words = ageing_words(&judged.quality.charts);
    html! {
        @if !words.is_empty() {
            section { h2 { "How strips age" } ul { @for said in words { li dir="auto" { (said) } } } }
        }
    }
}

fn state(state: ChartState) -> LinkState {
    match state {
        ChartState::InControl => LinkState::Holds,
        ChartState::Warning => LinkState::Attention,
        ChartState::OutOfControl => LinkState::Stops,
        ChartState::TooFewPoints { .. } => LinkState::Open,
    }
}

fn one(number: usize, made: &ControlChart) -> Markup {
    let chart = &made.chart;
    html! {
        section id={ "chart-" (number) } {
            h2 dir="auto" { (sign(state(chart.state))) " " (chart_name(made)) ": " (chart_state_word(chart.state)) }
            p dir="auto" { (chart.words()) }
            @if !chart.alarms.is_empty() { ul { @for alarm in chart.alarm_words() { li dir="auto" { "Alarm: " (alarm) } } } }
            @if !chart.warnings.is_empty() {
                details { summary { (counted(chart.warnings.len(), "warning")) ", withholding nothing" } ul { @for warning in chart.warning_words() { li dir="auto" { (warning) } } } }
            }
            @if chart.points.len() > 1 {
                @if chart.points.len() > MOST_POINTS { p class="soft" { "The figure as a file holds all " (chart.points.len()) " points." } }
                (Drawn::of(control_figure(&bare(made))).on_page(&format!("chart-{number}-figure"), &format!("/quality/control/{number}/figure.svg")))
            }
        }
    }
}

/// The figure without the words that stand above it on the page, and of its newest points.
fn bare(made: &ControlChart) -> stillwell_report::ControlChart {
    newest_points(stillwell_report::ControlChart { remarks: Vec::new(), ..reviewed_chart(made) }, MOST_POINTS)
}

/// What else must be known and what to do, each once with the charts that it is said of.
fn notes(charts: &[ControlChart]) -> Markup {
    let mut notes: Vec<(String, Vec<String>)> = Vec::new();
    for made in charts {
        for advice in made.chart.advice() {
            match notes.iter_mut().find(|(known, _)| *known == advice) {
                Some((_, names)) => names.push(chart_name(made)),
                None => notes.push((advice, vec![chart_name(made)])),
            }
        }
    }
    html! {
        @if !notes.is_empty() {
            section class="mind" { h2 { "To be known of these charts" } ul { @for (advice, names) in notes { li dir="auto" { (advice) " " span class="soft" { "(" (names.join("; ")) ")" } } } } }
        }
    }
}
