//! `control` for people: one line a chart, then what each says, what is withheld, and what to do.

use stillwell_assure::control::{AgeingState, ChartState, Charted};
use stillwell_method::{ChartReview, ControlChart, Method};
use stillwell_quantity::round_to_uncertainty;

use super::numbers::counted;
use super::table::table;
use super::{method_line, wrapped};

pub(crate) fn text(method: &Method, review: &ChartReview, series: &[String]) -> String {
    let mut text = method_line(method);
    text.push_str(&training(review));
    text.push_str(&charts(review));
    text.push_str(&trained(review));
    for made in review.charts.iter().filter(|made| has_words(made)) {
        text.push_str(&in_words(made));
    }
    text.push_str(&not_charted(review));
    text.push_str(&notes(review));
    text.push_str(&ageing(review));
    text.push_str(&held(review, series));
    text
}

fn training(review: &ChartReview) -> String {
    let n = review.n_training;
    let words = if review.is_stated {
        format!(
            "limits from the first {n} points of each chart (the method's chart_training_points); a gating chart out of control withholds verdicts back to its last point in control"
        )
    } else {
        format!(
            "limits from the first {n} points of each chart; the method states no chart_training_points, so charts warn here and withhold nothing"
        )
    };
    format!("{}\n\n", wrapped("", &words))
}

fn charts(review: &ChartReview) -> String {
    let header = ["chart", "channel", ">points", ">centre", ">action limits", ">newest", "unit", ""];
    let rows: Vec<Vec<String>> = review.charts.iter().map(row).collect();
    if rows.is_empty() { "no point for any chart\n".to_owned() } else { table(&header, &rows) }
}

/// Which points made the limits, each period once with its charts.
fn trained(review: &ChartReview) -> String {
    let mut periods: Vec<(String, Vec<&str>)> = Vec::new();
    for made in &review.charts {
        let Some(words) = made.chart.training_words() else { continue };
        let name = made.chart.charted.name();
        match periods.iter_mut().find(|(known, _)| *known == words) {
            Some((_, names)) => names.push(name),
            None => periods.push((words, vec![name])),
        }
    }
    let mut text = String::new();
    for (words, names) in periods {
        let words = format!("limits from {words}; these points are not judged and vouch for no verdict");
        line!(text, "\n{}", wrapped(&format!("{}: ", names.join(", ")), &words));
    }
    text
}

fn row(made: &ControlChart) -> Vec<String> {
    let chart = &made.chart;
    let sigma = chart.limits.map_or(0.0, |limits| limits.sigma);
    let number = |value: f64| if sigma > 0.0 { rounded(value, sigma) } else { format!("{value:.3}") };
    let newest = chart.points.last().and_then(|point| point.value.number());
    let limits = chart.limits.map(|limits| {
        let [low, high] = limits.action();
        (number(limits.centre), format!("{} to {}", number(low), number(high)))
    });
    let (centre, action) = limits.unwrap_or_else(|| ("–".to_owned(), "–".to_owned()));
    vec![
        chart.charted.name().to_owned(),
        made.channel.clone(),
        chart.points.len().to_string(),
        centre,
        action,
        newest.map_or_else(|| "–".to_owned(), number),
        chart.unit.clone(),
        state(chart.state).to_owned(),
    ]
}

fn rounded(value: f64, sigma: f64) -> String {
    round_to_uncertainty(value, sigma).value
}

fn state(state: ChartState) -> &'static str {
    match state {
        ChartState::InControl => "in control",
        ChartState::Warning => "warning",
        ChartState::OutOfControl => "OUT OF CONTROL",
        ChartState::TooFewPoints { .. } => "too few points",
    }
}

fn has_words(made: &ControlChart) -> bool {
    made.chart.state != ChartState::InControl || !made.chart.alarms.is_empty()
}

/// The verdict, every alarm, and what else must be known.
fn in_words(made: &ControlChart) -> String {
    let chart = &made.chart;
    let channel = if made.channel.is_empty() { String::new() } else { format!(", channel {}", made.channel) };
    let mut text = format!("\n{}{channel}\n", chart.charted.name());
    let words = chart.words();
    let words = words.strip_prefix(&format!("{}: ", chart.charted.name())).unwrap_or(&words);
    line!(text, "{}", wrapped("  ", words));
    for alarm in chart.alarm_words() {
        line!(text, "{}", wrapped("  alarm: ", &alarm));
    }
    text
}

/// What else must be known and what to do, each once with the charts that it is said of.
fn notes(review: &ChartReview) -> String {
    let mut notes: Vec<(String, Vec<&str>)> = Vec::new();
    for made in &review.charts {
        let name = made.chart.charted.name();
        for advice in made.chart.advice() {
            match notes.iter_mut().find(|(known, _)| *known == advice) {
                Some((_, charts)) => charts.push(name),
                None => notes.push((advice, vec![name])),
            }
        }
    }
    let mut text = String::new();
    for (advice, charts) in notes {
        line!(text, "\n{}", wrapped(&format!("{}: ", charts.join(", ")), &advice));
    }
    text
}

fn not_charted(review: &ChartReview) -> String {
    let mut text = String::new();
    for refused in &review.refused {
        let found = format!("{}: {}", refused.charted.name(), refused.error);
        line!(text, "\n{}", wrapped("no chart: ", &found));
    }
    for charted in &review.absent {
        let found = format!("{}: no point; {}", charted.name(), source(*charted));
        line!(text, "\n{}", wrapped("no chart: ", &found));
    }
    text
}

fn source(charted: Charted) -> &'static str {
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

fn ageing(review: &ChartReview) -> String {
    let mut text = String::new();
    for found in &review.ageing {
        let lot = if found.lot.is_empty() { String::new() } else { format!(" of lot {}", found.lot) };
        let name = format!("peak potential{lot} ({})", counted(found.n_points, "point"));
        let lead = if found.ageing.state() == AgeingState::Steady { "strips: " } else { "STRIPS: " };
        line!(text, "\n{}", wrapped(lead, &found.ageing.words(&name, "V")));
    }
    text
}

fn held(review: &ChartReview, series: &[String]) -> String {
    if review.held.is_empty() {
        let words =
            if review.is_stated { "charts withhold no verdict" } else { "nothing is withheld by charts" };
        return format!("\n{words}\n");
    }
    let mut samples = Vec::new();
    let mut reasons: Vec<(String, Vec<String>)> = Vec::new();
    for one in &review.held {
        samples.push((one.walk, one.determination));
        let series = series.get(one.walk).filter(|_| series.len() > 1);
        let series = series.map_or_else(String::new, |label| format!("series {label}, "));
        let batch = format!("({series}batch {})", one.batch);
        let sample = format!("{} {batch}", one.sample);
        let words = one.withheld.words();
        match reasons.iter_mut().find(|(known, _)| *known == words) {
            Some((_, names)) if names.contains(&sample) => {}
            Some((_, names)) => names.push(sample),
            None => reasons.push((words, vec![sample])),
        }
    }
    samples.dedup();
    let mut text = format!("\nwithheld by charts: {}\n", counted(samples.len(), "verdict"));
    for (words, names) in reasons {
        line!(text, "{}", wrapped("  ", &format!("{}:", names.join(", "))));
        line!(text, "{}", wrapped("    ", &words));
    }
    text.push_str("  these numbers stand, but nothing is to be concluded from them\n");
    text
}
