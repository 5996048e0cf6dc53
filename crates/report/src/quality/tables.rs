//! Tables in words that page and dossier set alike. A stranger's text in them is as it was given: whoever sets them escapes it.

use stillwell_assure::compare::{PairedResult, Reported};
use stillwell_assure::control::{AgeingState, ChartState, Charted};
use stillwell_assure::lots::PartVerdict;
use stillwell_assure::validate::ValidationTable;
use stillwell_method::{
    ChartHeld, ChartReview, ComparisonReview, ControlChart, GATING_CHARTS, LotFound, LotReview, Role,
};
use stillwell_quantity::{round_down, round_to_uncertainty, round_up};
use stillwell_study::{LaboratoryAct, Numbered};

use super::has_no_point_words;
use crate::wording::{counted, moment};

/// A table of words, ready to be set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WordsTable {
    /// What stands in it.
    pub caption: String,
    /// Each column's head, and what it holds.
    pub columns: Vec<(&'static str, Holds)>,
    /// One text for each column; the first is the row's head.
    pub rows: Vec<Vec<String>>,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    /// A word or a few.
    Words,
    /// Sentences: it needs room.
    Sentences,
    /// Numbers, set to the right.
    Numbers,
}

const NONE: &str = "–";

const fn words(title: &'static str) -> (&'static str, Holds) {
    (title, Holds::Words)
}

const fn sentences(title: &'static str) -> (&'static str, Holds) {
    (title, Holds::Sentences)
}

const fn number(title: &'static str) -> (&'static str, Holds) {
    (title, Holds::Numbers)
}

/// A chart by what it follows and its channel.
pub fn chart_name(made: &ControlChart) -> String {
    named(made.chart.charted, &made.channel)
}

fn named(charted: Charted, channel: &str) -> String {
    if channel.is_empty() {
        charted.name().to_owned()
    } else {
        format!("{}, channel {channel}", charted.name())
    }
}

/// How a chart stands, in a word or two.
pub const fn chart_state_word(state: ChartState) -> &'static str {
    match state {
        ChartState::InControl => "in control",
        ChartState::Warning => "warning",
        ChartState::OutOfControl => "OUT OF CONTROL",
        ChartState::TooFewPoints { .. } => "too few points",
    }
}

fn gates(charted: Charted) -> &'static str {
    if GATING_CHARTS.contains(&charted) { "yes" } else { "no: early warning" }
}

/// Every chart with its state, the newest rule that fired and since when; then those that could not be made, and why.
pub fn charts_table(review: &ChartReview) -> WordsTable {
    let made = review.charts.iter().map(|made| {
        let chart = &made.chart;
        let fired = chart.alarm_words().pop().map(|words| format!("alarm: {words}"));
        let fired = fired.or_else(|| chart.warning_words().pop().map(|words| format!("warning: {words}")));
        vec![
            chart_name(made),
            chart_state_word(chart.state).to_owned(),
            fired.unwrap_or_else(|| if chart.limits.is_some() { "none".to_owned() } else { NONE.to_owned() }),
            chart.points.len().to_string(),
            gates(chart.charted).to_owned(),
        ]
    });
    let unmade = |charted, channel: &str, why: String| {
        let none = NONE.to_owned();
        vec![named(charted, channel), "not made".to_owned(), why, none, gates(charted).to_owned()]
    };
    let refused = review.refused.iter().map(|one| unmade(one.charted, &one.channel, one.error.to_string()));
    let absent = review
        .absent
        .iter()
        .map(|charted| unmade(*charted, "", format!("no point; {}", has_no_point_words(*charted))));
    WordsTable {
        caption: "Charts".to_owned(),
        columns: vec![
            words("Chart"),
            words("State"),
            sentences("Newest rule that fired, and since when"),
            number("Points"),
            words("Gates verdicts"),
        ],
        rows: made.chain(refused).chain(absent).collect(),
    }
}

/// Verdicts that charts withhold for one reason.
#[derive(Debug)]
pub struct HeldAlike<'r> {
    /// Which chart.
    pub chart: &'static str,
    /// Why.
    pub words: String,
    /// The determinations.
    pub held: Vec<&'r ChartHeld>,
}

/// What charts withhold, reason by reason in the order in which they withhold.
pub fn held_alike(review: &ChartReview) -> Vec<HeldAlike<'_>> {
    let mut all: Vec<HeldAlike<'_>> = Vec::new();
    for one in &review.held {
        let words = one.withheld.words();
        match all.iter_mut().find(|known| known.words == words) {
            Some(known) => known.held.push(one),
            None => all.push(HeldAlike { chart: one.charted.name(), words, held: vec![one] }),
        }
    }
    all
}

/// The same as a table. `labels` are the numbers of the series; they are said where there are several.
pub fn held_table(review: &ChartReview, labels: &[String]) -> WordsTable {
    let rows = held_alike(review).into_iter().map(|alike| {
        let names: Vec<String> = alike.held.iter().map(|one| held_name(one, labels)).collect();
        vec![alike.chart.to_owned(), names.join(", "), alike.words]
    });
    WordsTable {
        caption: "Verdicts that charts withhold".to_owned(),
        columns: vec![words("Chart"), sentences("Samples"), sentences("Why")],
        rows: rows.collect(),
    }
}

/// A withheld determination by sample, role, series where there are several, and batch.
pub fn held_name(one: &ChartHeld, labels: &[String]) -> String {
    let series = labels.get(one.walk).filter(|_| labels.len() > 1);
    let series = series.map_or_else(String::new, |label| format!("series {label}"));
    let batch = if one.batch.is_empty() { String::new() } else { format!("batch {}", one.batch) };
    let role = if one.role == Role::Sample { String::new() } else { one.role.word().to_owned() };
    let place: Vec<String> = [role, series, batch].into_iter().filter(|part| !part.is_empty()).collect();
    if place.is_empty() { one.sample.clone() } else { format!("{} ({})", one.sample, place.join(", ")) }
}

/// How strips age, a sentence a lot; those that drift or left the window first.
pub fn ageing_words(review: &ChartReview) -> Vec<String> {
    let mut all: Vec<(bool, String)> = review
        .ageing
        .iter()
        .map(|found| {
            let lot = if found.lot.is_empty() { String::new() } else { format!(" of lot {}", found.lot) };
            let name = format!("peak potential{lot} ({})", counted(found.n_points, "point"));
            (found.ageing.state() == AgeingState::Steady, found.ageing.words(&name, "V"))
        })
        .collect();
    all.sort_by_key(|(is_steady, _)| *is_steady);
    all.into_iter().map(|(_, words)| words).collect()
}

/// Lots with their differences from the approved calibration.
pub fn lots_table(review: &LotReview) -> WordsTable {
    WordsTable {
        caption: format!("Lots beside the approved calibration of {}", review.approved.label()),
        columns: vec![
            words("Lot"),
            words("Verdict"),
            number("Strips"),
            number("Difference / %"),
            number("Interval / %"),
            number("Margin / %"),
        ],
        rows: review.lots.iter().map(lot_row).collect(),
    }
}

fn lot_row(found: &LotFound) -> Vec<String> {
    let none = || NONE.to_owned();
    let Some(Ok(verdict)) = &found.verdict else {
        return vec![found.lot.clone(), "CANNOT SAY".to_owned(), none(), none(), none(), none()];
    };
    let part = &verdict.sensitivity;
    let [low, high] = part.interval;
    let word = match verdict.verdict {
        PartVerdict::Equivalent => "equivalent",
        PartVerdict::NotEquivalent => "NOT EQUIVALENT",
        PartVerdict::CannotSay(_) => "CANNOT SAY",
    };
    vec![
        found.lot.clone(),
        word.to_owned(),
        part.n.to_string(),
        signed(part.difference, 2),
        format!("{} to {}", signed(low, 2), signed(high, 2)),
        format!("±{}", part.margin),
    ]
}

fn signed(value: f64, decimals: usize) -> String {
    format!("{value:+.decimals$}").replace('-', "−")
}

/// What is said of a lot: the verdict with its next step, strips that could not be read, the adjustment and its cost.
pub fn lot_words(found: &LotFound, unit: &str) -> Vec<String> {
    let mut said = vec![match &found.verdict {
        None => "no strip of this lot could be read at a known level; measure strips of it with the standards of the approved calibration".to_owned(),
        Some(Err(error)) => error.to_string(),
        Some(Ok(verdict)) => verdict.words(),
    }];
    if let Some(read) = found.reading.as_ref().filter(|read| read.n_unread > 0) {
        said.push(format!(
            "{} could not be read: above the calibrated range, or refused",
            counted(read.n_unread, "strip")
        ));
    }
    match &found.adjustment {
        None => {}
        Some(Ok(adjustment)) => {
            let before = found.reading.as_ref().map_or(0.0, |read| read.shared.relative);
            said.push(format!("one-point adjustment: {}", adjustment.words(before, unit)));
        }
        Some(Err(reasons)) => said.extend(reasons.iter().map(|why| why.words(unit))),
    }
    said
}

/// The validation table, criterion by criterion.
pub fn validation_table(table: &ValidationTable) -> WordsTable {
    let rows = table.rows.iter().map(|row| {
        let mut verdict = row.verdict_words();
        for advice in &row.advice {
            verdict = format!("{verdict}. {advice}");
        }
        vec![row.criterion.name().to_owned(), verdict, row.evidence_words(), row.requirement_words()]
    });
    WordsTable {
        caption: "Validation, criterion by criterion".to_owned(),
        columns: vec![
            words("Criterion"),
            sentences("Verdict"),
            words("Found"),
            sentences("Asked, and by whom"),
        ],
        rows: rows.collect(),
    }
}

/// Pairs with a laboratory.
pub fn pairs_table(review: &ComparisonReview) -> WordsTable {
    WordsTable {
        caption: format!("Pairs in {}; ± twice the standard uncertainty", review.unit),
        columns: vec![
            words("Sample"),
            words("In words"),
            number("Ours"),
            number("Laboratory"),
            number("Difference"),
            number("Zeta"),
        ],
        rows: review.pairs.iter().map(pair_row).collect(),
    }
}

fn pair_row(pair: &PairedResult) -> Vec<String> {
    let score = pair.score();
    let none = || NONE.to_owned();
    vec![
        pair.sample.clone(),
        pair.word().to_owned(),
        side(pair.ours),
        side(pair.reference),
        score.as_ref().map_or_else(none, |score| signed(score.difference, 1)),
        score.as_ref().map_or_else(none, |score| signed(score.zeta, 1)),
    ]
}

fn side(reported: Reported) -> String {
    match reported {
        Reported::Found { value, standard_u } => {
            let rounded = round_to_uncertainty(value, 2.0 * standard_u);
            format!("{} ± {}", rounded.value, rounded.expanded_u)
        }
        Reported::LessThan(bound) => format!("< {}", round_up(bound, 3)),
        Reported::MoreThan(bound) => format!("> {}", round_down(bound, 3)),
    }
}

/// Results of the laboratory that make no pair, and why.
pub fn alone_table(review: &ComparisonReview) -> WordsTable {
    let rows = review.alone.iter().map(|one| vec![one.sample.clone(), one.why.clone()]);
    WordsTable {
        caption: "Results of the laboratory without a partner".to_owned(),
        columns: vec![words("Sample"), sentences("Why")],
        rows: rows.collect(),
    }
}

/// Records of a laboratory's results, also those that no longer count.
pub fn records_table(records: &[Numbered<LaboratoryAct>]) -> WordsTable {
    let rows = records.iter().map(|one| {
        let standing = match &one.standing.withdrawn {
            None => "counts".to_owned(),
            Some(said) => format!("withdrawn by {}: {}", said.by, said.reason),
        };
        let laboratory = &one.act.laboratory;
        vec![
            one.label.clone(),
            if laboratory.is_empty() { "not named".to_owned() } else { laboratory.clone() },
            one.act.file.clone(),
            one.act.n_results.to_string(),
            one.act.text.short(),
            format!("{}, {} UTC", one.record.actor, moment(&one.record.at_utc)),
            one.record.reason.clone(),
            standing,
        ]
    });
    WordsTable {
        caption: "What laboratories reported, as it is on record".to_owned(),
        columns: vec![
            words("Record"),
            words("Laboratory"),
            words("File"),
            number("Results"),
            words("Hash"),
            words("Recorded by"),
            sentences("Why"),
            words("Standing"),
        ],
        rows: rows.collect(),
    }
}
