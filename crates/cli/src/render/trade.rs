//! `foresee --vary` for people: one row a circuit, the worst told from the best, and the figure's content.

use stillwell_foresee::{CircuitKey, LIMITS_FROM, Outlook};
use stillwell_method::three_digits;
use stillwell_report::json::foresight::Trade;
use stillwell_report::{AxisText, AxisUnit, Spacing, TradePoint, TradeSeries, TradeStudy};

use super::foresight::{cause, circuit, head, limiting_words, value_of, values};
use super::numbers::{given, percent, two_digits};
use super::table::table;
use super::wrapped;

/// An axis that spans more than this factor is logarithmic.
const LINEAR_UP_TO: f64 = 20.0;

pub(crate) fn text(trade: &Trade<'_>) -> String {
    let base = format!("{}, but for what is varied", circuit(trade.asked.circuit));
    let mut text = head(trade.asked, &base);
    text.push('\n');
    text.push_str(&rows(trade));
    let truth = trade.outlooks.iter().find_map(Outlook::middle_level).map(|level| level.truth);
    let note = format!(
        "detection, quantification: limits in {}, median of the calibrated trials · sd: between trials, of samples that \
         hold {} · refused: share of the scans",
        trade.asked.unit(),
        truth.map_or("–".to_owned(), three_digits)
    );
    line!(text, "{}", wrapped("", &note));
    text.push_str(&causes(trade));
    text.push('\n');
    text.push_str(&sentences(trade));
    text
}

/// Why circuits have trials without a calibration; those of one cause share one entry.
fn causes(trade: &Trade<'_>) -> String {
    let mut groups: Vec<(bool, String, Vec<usize>)> = Vec::new();
    for (place, outlook) in trade.outlooks.iter().enumerate() {
        if outlook.obstacle.is_none() {
            continue;
        }
        let (is_none, cause) = (outlook.calibrated == 0, cause(outlook));
        match groups.iter_mut().find(|group| group.0 == is_none && group.1 == cause) {
            Some(group) => group.2.push(place),
            None => groups.push((is_none, cause, vec![place])),
        }
    }
    groups.sort_by_key(|group| !group.0);
    let mut text = String::new();
    for (is_none, cause, places) in &groups {
        let Some(first) = places.first().and_then(|place| trade.outlooks.get(*place)) else { continue };
        let names: Vec<String> = places.iter().map(|place| name(trade, *place)).collect();
        let who = if *is_none { "No trial was calibrated" } else { "Some trials were not calibrated" };
        line!(text, "\n{}", wrapped("", &format!("{who} with {}: {cause}.", names.join("; "))));
        if let Some(obstacle) = &first.obstacle {
            line!(text, "{}", wrapped("  such as: ", &obstacle.finding.found));
        }
    }
    text
}

fn rows(trade: &Trade<'_>) -> String {
    let mut header: Vec<String> = trade.varied.iter().map(|one| format!(">{}", one.key.name())).collect();
    let fixed = [">detection", ">× best", ">quantification", ">sd", ">refused", ">calibrated"];
    header.extend(fixed.map(str::to_owned));
    let rows: Vec<Vec<String>> = (0..trade.choices.len()).filter_map(|place| row(trade, place)).collect();
    table(&header.iter().map(String::as_str).collect::<Vec<_>>(), &rows)
}

fn row(trade: &Trade<'_>, place: usize) -> Option<Vec<String>> {
    let (choice, outlook) = trade.choices.get(place).zip(trade.outlooks.get(place))?;
    let dash = || "–".to_owned();
    let keys = trade.varied.iter().zip(&choice.values);
    let mut row: Vec<String> = keys.map(|(one, value)| given(*value, one.key.unit())).collect();
    let times = trade.comparison.times_best.get(place).copied().flatten();
    let sd = outlook.middle_level().and_then(|level| level.standard_deviation);
    row.extend([
        outlook.detection_limit.map_or_else(dash, |limit| two_digits(limit.median)),
        times.map_or_else(dash, two_digits),
        outlook.quantification_limit.map_or_else(dash, |limit| two_digits(limit.median)),
        sd.map_or_else(dash, two_digits),
        percent(outlook.scans.1 as f64 / outlook.scans.0.max(1) as f64),
        format!("{} of {}", outlook.calibrated, outlook.trials),
    ]);
    Some(row)
}

/// The worst against the best, and what limits each.
fn sentences(trade: &Trade<'_>) -> String {
    let Some((best, of_best)) = &trade.best else {
        return "No circuit gave a calibration.\n".to_owned();
    };
    let (best_name, best_limit) = (name(trade, *best), limit(trade, *best));
    let what = limiting_words(of_best);
    let n_calibrated = trade.outlooks.iter().filter(|outlook| outlook.calibrated > 0).count();
    if trade.comparison.is_alike && n_calibrated > 1 {
        let lowest = percent(LIMITS_FROM);
        let line = format!(
            "The {n_calibrated} circuits that gave a calibration differ by less than {lowest} in their detection limit, \
             {best_limit} with {best_name}; what limits it: {what}."
        );
        return wrapped("", &line) + "\n";
    }
    let mut text = String::new();
    if let Some((worst, of_worst)) = &trade.worst {
        let times = trade.comparison.times_best.get(*worst).copied().flatten().unwrap_or(1.0);
        let line = format!(
            "{}: detection limit {}, {} times that of {best_name}; what limits it: {}.",
            name(trade, *worst),
            limit(trade, *worst),
            two_digits(times),
            limiting_words(of_worst)
        );
        line!(text, "{}", wrapped("", &line));
    }
    line!(
        text,
        "{}",
        wrapped("", &format!("{best_name}: detection limit {best_limit}; what limits it: {what}."))
    );
    text
}

/// What the figure shows: the first varied number along, one line for each combination of the others.
pub(crate) fn study(trade: &Trade<'_>) -> TradeStudy {
    let keys = keys(trade);
    let along = keys.first().copied();
    let values = trade.varied.first().map_or(&[][..], |one| one.values.as_slice());
    let limits: Vec<f64> =
        trade.outlooks.iter().filter_map(|outlook| outlook.detection_limit).map(|l| l.median).collect();
    let asked = trade.asked;
    let series = series(trade, &keys);
    let bars = if series.len() == 1 { ", bars from the lowest to the highest" } else { "" };
    let n_missing = trade.outlooks.iter().filter(|outlook| outlook.calibrated == 0).count();
    let missing = (n_missing > 0).then(|| {
        let n_all = trade.choices.len();
        format!("{n_missing} of {n_all} circuits gave no calibration and are not drawn.")
    });
    TradeStudy {
        title: "Detection limit by circuit".to_owned(),
        remarks: [
            format!("{}, revision {}", asked.question.method.name, asked.question.method.revision),
            format!(
                "{} and {}: median of the calibrated ones of {} trials{bars}. Simulated \
                 under the twin's own physics.",
                asked.cell_name, asked.circuit_name, asked.question.trials
            ),
        ]
        .into_iter()
        .chain(missing)
        .collect(),
        varied: AxisText {
            quantity: along.map_or("", CircuitKey::label).to_owned(),
            unit: along.map_or(AxisUnit::None, axis_unit),
        },
        varied_spacing: spacing(values),
        outcome: AxisText { quantity: "detection limit".to_owned(), unit: AxisUnit::Plain(asked.unit()) },
        outcome_spacing: spacing(&limits),
        series,
    }
}

fn axis_unit(key: CircuitKey) -> AxisUnit {
    match key.unit() {
        // The quantity says "bits" already.
        "" | "bit" => AxisUnit::None,
        unit => AxisUnit::Prefixed(unit.to_owned()),
    }
}

fn spacing(values: &[f64]) -> Spacing {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if low > 0.0 && high > LINEAR_UP_TO * low { Spacing::Logarithmic } else { Spacing::Linear }
}

fn series(trade: &Trade<'_>, keys: &[CircuitKey]) -> Vec<TradeSeries> {
    let mut all: Vec<TradeSeries> = Vec::new();
    for (choice, outlook) in trade.choices.iter().zip(trade.outlooks) {
        let Some((varied, others)) = choice.values.split_first() else { continue };
        let keys = keys.iter().skip(1).zip(others);
        let parts: Vec<String> = keys.map(|(key, value)| value_of(*key, *value)).collect();
        let name = parts.join(", ");
        let Some(limit) = outlook.detection_limit else { continue };
        let point = TradePoint {
            varied: *varied,
            outcome: limit.median,
            interval: (limit.high > limit.low).then_some([limit.low, limit.high]),
        };
        match all.iter_mut().find(|series| series.name == name) {
            Some(series) => series.points.push(point),
            None => all.push(TradeSeries { name, points: vec![point] }),
        }
    }
    let is_alone = all.len() == 1;
    for series in &mut all {
        // Bars of several lines at one place would hide one another.
        series.points.iter_mut().filter(|_| !is_alone).for_each(|point| point.interval = None);
        series.points.sort_by(|a, b| a.varied.total_cmp(&b.varied));
    }
    all
}

fn keys(trade: &Trade<'_>) -> Vec<CircuitKey> {
    trade.varied.iter().map(|one| one.key).collect()
}

fn name(trade: &Trade<'_>, place: usize) -> String {
    trade.choices.get(place).map_or_else(String::new, |choice| values(&keys(trade), &choice.values))
}

fn limit(trade: &Trade<'_>, place: usize) -> String {
    let limit = trade.outlooks.get(place).and_then(|outlook| outlook.detection_limit);
    limit.map_or("–".to_owned(), |limit| format!("{} {}", two_digits(limit.median), trade.asked.unit()))
}
