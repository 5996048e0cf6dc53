//! Control charts, and what they withhold.

use maud::{Markup, html};
use stillwell_method::Finding;

use super::DossierInput;
use super::setting::{figure, findings, said, words_table};
use crate::control_figure::control_figure;
use crate::quality::{ageing_words, chart_name, charts_table, control_answer, held_table};
use crate::reviewed::reviewed_chart;

pub(super) fn chapter(input: &DossierInput) -> Markup {
    let n = input.overview.series.len();
    let charts = &input.quality.charts;
    let answer = control_answer(charts);
    html! {
        p { strong { (said(&answer.words)) } " " (said(&answer.since)) " " (answer.next) }
        p { @if n == 1 { "Points of the study's only series. " } @else { "Points of all " (n) " series of the study, in the order of time. " }
            @if !charts.is_stated {
                "The method states no training period: these charts withhold nothing."
            } @else { "A chart out of control withholds verdicts back to its last point in control." } }
        @for (series, why) in &input.unread { p { "Series " (series) " adds no point: the method in force cannot read it. " (said(why)) } }
        (words_table(&charts_table(charts)))
        (words_table(&held_table(charts, &input.walked)))
        @for words in ageing_words(charts) { p { "Age of strips: " (said(&words)) } }
        div class="pair" {
            @for (place, made) in charts.charts.iter().enumerate() {
                @if made.chart.points.len() > 1 {
                    (figure(&control_figure(&reviewed_chart(made)), &format!("chart-{place}"), &chart_name(made)))
                }
            }
        }
        @let batch: Vec<Finding> = input.report.batch_findings.clone();
        @if batch.is_empty() { p { "No check of a batch failed." } }
        (findings(&batch, "What the batches' own checks found"))
    }
}
