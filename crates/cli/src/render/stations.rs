//! `station` for people: a series in short, what somebody should look at, how often limits were exceeded; or a sensor's trial.

use stillwell_assure::control::date_of;
use stillwell_assure::sensor::{Response, SensorTrial, SeriesFinding, TriedStep};
use stillwell_method::{SeriesReview, StationFound, StationReview, three_digits};

use super::numbers::counted;
use super::table::table;
use super::wrapped;

/// Findings of one station that are shown one by one.
const MOST_SHOWN: usize = 20;

pub(crate) fn text(reviews: &[StationReview]) -> String {
    let texts: Vec<String> = reviews.iter().map(one).collect();
    texts.join("\n")
}

fn one(review: &StationReview) -> String {
    let name = if review.name.is_empty() { "station" } else { &review.name };
    let mut text = format!("{name}: {} in {}\n", review.quantity, review.unit);
    match &review.found {
        StationFound::Series(series) => text.push_str(&of_series(review, series)),
        StationFound::Trial(Ok(trial)) => text.push_str(&of_trial(review, trial)),
        StationFound::Trial(Err(error)) => {
            line!(text, "{}", wrapped("  nothing can be said: ", &error.to_string()));
        }
    }
    text
}

fn of_series(review: &StationReview, series: &SeriesReview) -> String {
    let mut text = String::new();
    if let Some([first, last]) = series.summary.first_and_last {
        line!(text, "  {} to {}", date_of(first), date_of(last));
    }
    line!(text, "{}", wrapped("  ", &series.summary.words(&review.unit)));
    for (id, found) in &series.exceedances {
        line!(text, "{}", wrapped(&format!("  {id}: "), &found.words(&review.unit)));
    }
    if !series.exceedances.is_empty() {
        text.push_str("  a count of days is no verdict: the uncertainty of a reading is not in it\n");
    }
    match &series.findings {
        Err(error) => line!(text, "{}", wrapped("  not looked over: ", &error.to_string())),
        Ok(findings) => {
            text.push_str(&gaps(findings));
            text.push_str(&to_look_at(findings, &review.unit));
        }
    }
    text
}

fn gaps(findings: &[SeriesFinding]) -> String {
    let gaps: Vec<(i32, i32)> = findings
        .iter()
        .filter_map(
            |found| if let SeriesFinding::Gap { from, to } = found { Some((*from, *to)) } else { None },
        )
        .collect();
    let Some((from, to)) = gaps.iter().copied().max_by_key(|(from, to)| (to - from, -from)) else {
        return "  no gap\n".to_owned();
    };
    let n_days: i32 = gaps.iter().map(|(from, to)| to - from + 1).sum();
    format!(
        "  {} of {n_days} days in all, the longest {} to {} ({} days)\n",
        counted(gaps.len(), "gap"),
        date_of(from),
        date_of(to),
        to - from + 1
    )
}

fn to_look_at(findings: &[SeriesFinding], unit: &str) -> String {
    let others: Vec<&SeriesFinding> =
        findings.iter().filter(|found| !matches!(found, SeriesFinding::Gap { .. })).collect();
    let mut text = String::new();
    for found in others.iter().take(MOST_SHOWN) {
        line!(text, "{}", wrapped("  LOOK: ", &found.words(unit, date_of)));
    }
    if others.len() > MOST_SHOWN {
        line!(text, "  … and {} more; --format json lists all", others.len() - MOST_SHOWN);
    }
    if others.is_empty() {
        text.push_str("  nothing is stuck, alone or far from the rest\n");
    } else {
        text.push_str("  nothing was mended or left out\n");
    }
    text
}

fn of_trial(review: &StationReview, trial: &SensorTrial) -> String {
    let mut text = String::new();
    if let Some([low, high]) = trial.working_range {
        let range = format!("{} to {} {}", three_digits(low), three_digits(high), review.unit);
        line!(text, "  working range {range}; the later half of a stretch counts as settled");
    }
    text.push_str(&steps(review, &trial.steps));
    let at = |level: f64| format!("{level} {}", review.level_unit);
    let mut say = |lead: String, words: String| line!(text, "{}", wrapped(&format!("  {lead}: "), &words));
    for tried in &trial.memories {
        let [low, high] = tried.before;
        let lead = format!("memory at {} after {low} and after {high}", at(tried.level));
        say(lead, tried.memory.as_ref().map_or_else(ToString::to_string, |found| found.words(&review.unit)));
    }
    for one in &trial.drifts {
        let words = one.found.as_ref().map_or_else(ToString::to_string, |found| found.words(&review.unit));
        say(format!("drift at {}", at(one.level)), words);
    }
    for one in &trial.days {
        let words = one.found.as_ref().map_or_else(ToString::to_string, |found| found.words(&review.unit));
        say(format!("day to day at {}", at(one.level)), words);
    }
    if let Some(found) = &trial.near_zero {
        let words = found.as_ref().map_or_else(ToString::to_string, |found| found.words(&review.unit));
        say("near zero".to_owned(), words);
    }
    text
}

fn steps(review: &StationReview, steps: &[TriedStep]) -> String {
    if steps.is_empty() {
        return "  no change of level, so nothing is known of response and memory\n".to_owned();
    }
    let levels = format!("step, {}", review.level_unit);
    let header = [levels.as_str(), ">delay, s", ">response, s", ">rise or fall, s", ""];
    let rows: Vec<Vec<String>> = steps.iter().map(step).collect();
    let mut text = format!("\n{}", table(&header, &rows));
    if steps.iter().any(|tried| !tried.is_stated) {
        let words = "where no line without a reading marks the moment of a change, times count from the last reading before it: they are at most this long";
        line!(text, "{}", wrapped("  ", words));
    }
    text.push('\n');
    text
}

fn step(tried: &TriedStep) -> Vec<String> {
    let [from, to] = tried.levels;
    let none = || "–".to_owned();
    let seconds = |value: Option<f64>| value.map_or_else(none, |value| format!("{value:.1}"));
    let at_most = if tried.is_stated { "" } else { "≤ " };
    let found = tried.response.as_ref();
    let delay = found.map_or_else(
        |_| none(),
        |found| format!("{}{:.1}", if found.delay_is_bound { "< " } else { at_most }, found.delay_s),
    );
    let response = found.ok().and_then(|found| found.response_s);
    vec![
        format!("{from} to {to}"),
        delay,
        response.map_or_else(none, |value| format!("{at_most}{value:.1}")),
        seconds(found.ok().and_then(|found| found.rise_or_fall_s)),
        found.map_or_else(ToString::to_string, remark),
    ]
}

fn remark(found: &Response) -> String {
    match found.response_s {
        None => format!("DOES NOT SETTLE within {:.0} s", found.watched_s),
        Some(_) if found.largest_share > 1.1 => {
            format!("overshoots to {:.0} %", 100.0 * found.largest_share)
        }
        Some(response) if found.watched_s - response < response => "watch longer".to_owned(),
        Some(_) => "settles".to_owned(),
    }
}
