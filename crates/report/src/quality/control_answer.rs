//! Is the method in control? In words: which charts, since when, what they withhold, what to do.

use std::collections::BTreeSet;

use stillwell_assure::control::{ChartState, Charted, Signal};
use stillwell_method::{ChartReview, ControlChart, GATING_CHARTS};

use super::answers::{Answer, AnswerGrade, answer, sentence};
use super::chart_name;

/// Is the method in control?
pub fn control_answer(review: &ChartReview) -> Answer {
    let out: Vec<&ControlChart> = review.out_of_control().collect();
    if !out.is_empty() {
        let n_held = n_withheld(review);
        let words = format!("Out of control: {}; {}.", names(&out), withheld_words(n_held));
        let grade = if n_held > 0 { AnswerGrade::Stops } else { AnswerGrade::Look };
        return answer(grade, words, since(&out), remedies(&out));
    }
    if review.charts.is_empty() && review.refused.is_empty() {
        let words = "Nothing to chart: there are no check standards, zeros, duplicates or spikes.";
        return answer(AnswerGrade::Open, words, "", sentence(has_no_point_words(Charted::CheckStandard)));
    }
    if !review.judges_something() {
        return too_few(review);
    }
    once_out(review).or_else(|| warned(review)).unwrap_or_else(|| in_control(review))
}

fn gating(review: &ChartReview) -> impl Iterator<Item = &ControlChart> {
    review.charts.iter().filter(|made| GATING_CHARTS.contains(&made.chart.charted))
}

fn withheld_words(n_held: usize) -> String {
    match n_held {
        0 => "charts withhold no verdict".to_owned(),
        1 => "1 verdict is withheld".to_owned(),
        n => format!("{n} verdicts are withheld"),
    }
}

/// In control again, with verdicts still withheld from before.
fn once_out(review: &ChartReview) -> Option<Answer> {
    let n_held = n_withheld(review);
    let past: Vec<&ControlChart> = gating(review).filter(|made| !made.chart.alarms.is_empty()).collect();
    (n_held > 0).then(|| {
        let words = format!("In control again; {} from before.", withheld_words(n_held));
        let next = "Measure the samples that stay withheld again, or correct them with a reason.";
        answer(AnswerGrade::Look, words, span(&past), next)
    })
}

fn warned(review: &ChartReview) -> Option<Answer> {
    let is_warned = |made: &&ControlChart| made.chart.state == ChartState::Warning;
    let warning: Vec<&ControlChart> = gating(review).filter(is_warned).collect();
    (!warning.is_empty()).then(|| {
        let words = format!("In control, with a warning: {}; nothing is withheld.", names(&warning));
        let next = format!("Watch the next runs. {}", remedies(&warning));
        answer(AnswerGrade::Look, words, since(&warning), next)
    })
}

fn in_control(review: &ChartReview) -> Answer {
    let judged: Vec<&ControlChart> = gating(review).filter(|made| made.chart.limits.is_some()).collect();
    let names = names(&judged);
    let rests = format!("Limits from the first {} points of each chart.", review.n_training);
    if !review.is_stated {
        let words = format!(
            "In control: {names}; but the method states no training period, so charts withhold nothing."
        );
        let next = "State chart_training_points under [calibration.acceptance] of the method.";
        return answer(AnswerGrade::Look, words, rests, next);
    }
    if let Some(next) = unmade(review) {
        let words = format!("In control: {names}; not everything is as it should be.");
        return answer(AnswerGrade::Look, words, rests, next);
    }
    let next = "Go on with check standards, zeros, duplicates and spikes in every batch.";
    answer(AnswerGrade::Holds, format!("In control: {names}; charts withhold no verdict."), rests, next)
}

/// Verdicts that charts withhold, each once.
fn n_withheld(review: &ChartReview) -> usize {
    review.held.iter().map(|one| (one.walk, one.determination)).collect::<BTreeSet<_>>().len()
}

fn too_few(review: &ChartReview) -> Answer {
    let most = review.charts.iter().map(|made| made.chart.points.len()).max().unwrap_or(0);
    let words = format!(
        "Not judged yet: no chart that gates verdicts has the points that make its limits ({most} at most, {} make them, and one more is judged).",
        review.n_training
    );
    let next = "Go on with check standards and zeros in every batch; until then single ones decide alone.";
    answer(AnswerGrade::Open, words, "", next)
}

/// A chart that could not be made, or strips whose peak left its window.
fn unmade(review: &ChartReview) -> Option<String> {
    let outside = review.ageing.iter().find(|found| found.ageing.is_outside);
    let refused = review.refused.first().map(|one| format!("{}: {}", one.charted.name(), one.error));
    outside
        .map(|found| {
            format!("Strips of lot {} have aged out of the peak's window: take a fresh pack.", found.lot)
        })
        .or(refused)
}

fn names(charts: &[&ControlChart]) -> String {
    charts.iter().map(|made| chart_name(made)).collect::<Vec<_>>().join(", ")
}

/// Since which point the newest alarms or warnings of each chart stand.
fn since(charts: &[&ControlChart]) -> String {
    said_of_ends(charts, |from, _| format!("since {from}"))
}

/// From which to which point each chart was out.
fn span(charts: &[&ControlChart]) -> String {
    said_of_ends(charts, |from, to| {
        if from == to {
            format!("was out of control at {from}")
        } else {
            format!("was out of control from {from} to {to}")
        }
    })
}

/// Chart by chart: something about the first and the last point of the signals that fired last.
fn said_of_ends(charts: &[&ControlChart], words: fn(&str, &str) -> String) -> String {
    let of = |made: &&ControlChart| {
        let chart = &made.chart;
        let signals = if chart.alarms.is_empty() { &chart.warnings } else { &chart.alarms };
        let last = signals.iter().map(Signal::until).max()?;
        let first = signals.iter().filter(|signal| signal.until() == last).map(Signal::since).min()?;
        let label = |at: usize| chart.points.get(at).map(|point| point.label.as_str());
        let said = words(label(first)?, label(last)?);
        Some(if charts.len() == 1 { said } else { format!("{}: {said}", chart_name(made)) })
    };
    let all: Vec<String> = charts.iter().filter_map(of).collect();
    if all.is_empty() { String::new() } else { sentence(&all.join("; ")) }
}

fn remedies(charts: &[&ControlChart]) -> String {
    let mut all: Vec<&str> = charts.iter().map(|made| made.chart.charted.remedy()).collect();
    all.dedup();
    all.join(" ")
}

/// What would give a chart without any point its points.
pub const fn has_no_point_words(charted: Charted) -> &'static str {
    match charted {
        Charted::Blank => "measure a zero as check-standard with level 0 in every batch",
        Charted::CheckStandard => {
            "measure a check-standard of known level before and after the samples of every batch"
        }
        Charted::Duplicate => "measure one sample of every batch twice, the second time with role duplicate",
        Charted::Spike => "add a known amount to one sample of every batch, with role spike",
        Charted::PeakPotential | Charted::PeakWidth => {
            "measure a check-standard of known level in every batch"
        }
    }
}
