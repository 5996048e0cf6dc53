//! Control charts, and what they withhold.

use maud::{Markup, html};
use stillwell_assure::control::ChartState;
use stillwell_method::{ChartReview, Finding, GATING_CHARTS};

use super::DossierInput;
use super::setting::{Set, cell, figure, findings, said, table};
use crate::control_figure::control_figure;
use crate::reviewed::reviewed_chart;

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let n = input.overview.series.len();
    html! {
        p { @if n == 1 { "Points of the study's only series. " } @else { "Points of all " (n) " series of the study, in the order of time. " }
            @if !input.charts.is_stated {
                "The method states no training period: these charts withhold nothing."
            } @else { "A chart out of control withholds verdicts back to its last point in control." } }
        (states(&input.charts))
        div class="pair" {
            @for (place, made) in input.charts.charts.iter().enumerate() {
                @if made.chart.points.len() > 1 {
                    (figure(&control_figure(&reviewed_chart(made)), &format!("chart-{place}"), made.chart.charted.name()))
                }
            }
        }
        @let batch: Vec<Finding> = input.report.batch_findings.clone();
        @if batch.is_empty() { p { "No check of a batch failed." } }
        (findings(&batch, "What the batches' own checks found"))
    }
}

fn states(review: &ChartReview) -> Markup {
    let made = review.charts.iter().map(|made| {
        let state = match made.chart.state {
            ChartState::InControl => "in control",
            ChartState::Warning => "warning",
            ChartState::OutOfControl => "OUT OF CONTROL",
            ChartState::TooFewPoints { .. } => "not judged",
        };
        let n = made.chart.points.len().to_string();
        row(made.chart.charted, &made.channel, n, state, made.chart.words())
    });
    let refused = review.refused.iter().map(|refused| {
        row(refused.charted, &refused.channel, "–".to_owned(), "not made", refused.error.to_string())
    });
    let rows: Vec<Vec<Markup>> = made.chain(refused).collect();
    let words = |title| (title, Set::Words);
    html! {
        @if rows.is_empty() { p { "No scan of the study gives a point for a chart: there are no check standards, blanks, duplicates or spikes." } }
        (table("Charts", &[words("Chart"), words("Gates verdicts"), ("Points", Set::Numbers), words("State"), words("In words")], &rows))
    }
}

fn row(
    charted: stillwell_assure::control::Charted,
    channel: &str,
    n: String,
    state: &str,
    words: String,
) -> Vec<Markup> {
    let gates = if GATING_CHARTS.contains(&charted) { "yes" } else { "no: early warning" };
    let name = html! { (charted.name()) @if !channel.is_empty() { ", channel " (said(channel)) } };
    vec![name, cell(gates), cell(n), cell(state), cell(words)]
}
