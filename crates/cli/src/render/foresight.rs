//! `foresee` for people, one circuit: its limits, what becomes of samples, and what limits it.

use stillwell_foresee::{
    CircuitKey, CircuitModel, LIMITS_FROM, LevelOutlook, Obstacle, Outlook, Share, Spread,
};
use stillwell_method::{si, three_digits};
use stillwell_quantity::round_to_uncertainty;
use stillwell_report::json::foresight::Asked;

use super::numbers::{given, percent, two_digits};
use super::table::table;
use super::{indented, wrapped};

pub(crate) fn text(asked: &Asked<'_>, outlook: &Outlook, shares: &[Share]) -> String {
    let unit = asked.unit();
    let circuit = circuit(asked.circuit);
    let mut text = head(asked, &circuit);
    text.push('\n');
    text.push_str(&limits(outlook, &unit));
    text.push_str(&levels(&outlook.levels, &unit));
    text.push_str(&parts(outlook, shares, &unit));
    line!(text, "\n{}", wrapped("", &limiting_sentence(outlook, shares, &unit)));
    text.push_str(&hidden(outlook, shares));
    text
}

/// What was asked, in words.
pub(super) fn head(asked: &Asked<'_>, circuit: &str) -> String {
    let method = asked.question.method;
    let trials = asked.question.trials;
    let mut text = String::new();
    line!(text, "method   {}, revision {} ({})", method.name, method.revision, method.hash.short());
    line!(text, "cell     {}", asked.cell_name);
    line!(text, "circuit  {}: {circuit}", asked.circuit_name);
    let each = if trials == 1 {
        "1 trial: one lot with its calibration".to_owned()
    } else {
        format!("{trials} trials, each a lot of its own with its calibration")
    };
    line!(text, "trials   {each}; seed {}", asked.question.seed);
    line!(text, "Simulated under the twin's own physics: a forecast, not a measurement.");
    text
}

/// Converter and range.
pub(super) fn circuit(model: &CircuitModel) -> String {
    format!("{} bit on ±{}", model.circuit.adc_bits, given(model.circuit.range_a, "A"))
}

fn limits(outlook: &Outlook, unit: &str) -> String {
    let mut text = String::new();
    line!(text, "calibrated             {} of {} trials", outlook.calibrated, outlook.trials);
    if let Some(obstacle) = &outlook.obstacle {
        line!(text, "{}", wrapped("                       ", &why_not(obstacle, outlook)));
    }
    for (name, limit) in [
        ("detection limit", &outlook.detection_limit),
        ("quantification limit", &outlook.quantification_limit),
    ] {
        line!(text, "{name:22} {}", limit.as_ref().map_or("–".to_owned(), |limit| spread(limit, unit)));
    }
    let noise = outlook.noise_a.map_or("–".to_owned(), |noise_a| with_two_digits(&si(noise_a, "A")));
    line!(text, "noise of the baseline  {noise} (median of all scans)");
    line!(text, "scans refused          {}", scans(outlook));
    text
}

/// `si` gives three digits; noise is worth two.
fn with_two_digits(si: &str) -> String {
    match si.split_once(' ') {
        Some((digits, unit)) => {
            format!("{} {unit}", digits.parse().map_or(digits.to_owned(), two_digits))
        }
        None => si.to_owned(),
    }
}

fn scans(outlook: &Outlook) -> String {
    let (made, refused) = outlook.scans;
    let why = outlook.scan_obstacle.map(|(check, count)| {
        if count == refused { format!(", {}", check.id()) } else { format!(", {count} by {}", check.id()) }
    });
    format!("{refused} of {made}{}", why.unwrap_or_default())
}

/// `2.4 mg/L as NO₃⁻ (1.9 to 3.1)`; the median of one trial needs no span.
fn spread(spread: &Spread, unit: &str) -> String {
    let half = (spread.high - spread.low) / 2.0;
    let median = two_digits(spread.median);
    if half > 0.0 {
        format!("{median} {unit} (median; {} to {})", two_digits(spread.low), two_digits(spread.high))
    } else {
        format!("{median} {unit}")
    }
}

/// Why trials were not calibrated.
pub(super) fn why_not(obstacle: &Obstacle, outlook: &Outlook) -> String {
    let Obstacle { finding, trials } = obstacle;
    let who = if outlook.calibrated == 0 {
        "no trial was calibrated".to_owned()
    } else {
        format!("{} of {} trials were not calibrated", outlook.trials - outlook.calibrated, outlook.trials)
    };
    let n_without = outlook.trials - outlook.calibrated;
    let how_often =
        if *trials == n_without { String::new() } else { format!(" (in {trials} of {n_without})") };
    format!("{who}: {}{how_often}: {}", finding.check.id(), finding.found)
}

/// The checks that kept a circuit from a calibration, gravest cause first.
pub(super) fn cause(outlook: &Outlook) -> String {
    let scans = outlook.scan_obstacle.map(|(check, _)| format!("scans refused by {}", check.id()));
    let calibration = outlook.obstacle.as_ref().map(|obstacle| obstacle.finding.check.id().to_owned());
    let parts: Vec<String> = calibration.into_iter().chain(scans).collect();
    parts.join(", ")
}

fn levels(levels: &[LevelOutlook], unit: &str) -> String {
    let header = [
        ">truth",
        ">numbers",
        ">mean − truth",
        ">sd between trials",
        ">stated U",
        ">bounds",
        ">refused",
        ">held",
    ];
    let rows: Vec<Vec<String>> = levels.iter().map(level_row).collect();
    let lines = table(&header, &rows);
    let mut text = format!("\nsamples of known truth, in {unit}\n{}", indented(&lines, "  "));
    let note = "numbers: quantified · stated U: median · bounds: less than, or above the range · held: numbers and \
                bounds that hold the truth";
    line!(text, "{}", wrapped("  ", note));
    for level in levels.iter().filter(|level| level.falsely_below > 0) {
        let n = level.falsely_below;
        line!(
            text,
            "  FALSELY BELOW: {n} sample(s) at {} were said to be below a limit that they exceed",
            level.truth
        );
    }
    text
}

fn level_row(level: &LevelOutlook) -> Vec<String> {
    let issued = level.quantified + level.bounded;
    let dash = || "–".to_owned();
    let bias = level.bias.zip(level.standard_deviation).map(|(bias, sd)| {
        let rounded = round_to_uncertainty(bias, sd).value;
        if bias > 0.0 { format!("+{rounded}") } else { rounded.replace('-', "−") }
    });
    vec![
        three_digits(level.truth),
        level.quantified.to_string(),
        bias.unwrap_or_else(dash),
        level.standard_deviation.map_or_else(dash, two_digits),
        level.expanded_u.map_or_else(dash, two_digits),
        level.bounded.to_string(),
        level.refused.to_string(),
        format!("{} of {issued}", level.held),
    ]
}

fn parts(outlook: &Outlook, shares: &[Share], unit: &str) -> String {
    let header = ["taken as perfect", ">detection limit", ">change", ">calibrated", ""];
    let of_trials = |calibrated: u32| format!("{calibrated} of {}", outlook.trials);
    let limit = |limit: Option<f64>| limit.map_or("–".to_owned(), two_digits);
    let mut rows = vec![vec![
        "nothing".to_owned(),
        limit(outlook.stated_detection_limit),
        String::new(),
        of_trials(outlook.calibrated),
        String::new(),
    ]];
    rows.extend(shares.iter().map(|share| {
        vec![
            share.part.name().to_owned(),
            limit(share.detection_limit),
            share.fall.map_or("–".to_owned(), change),
            of_trials(share.calibrated),
            if share.limits { "limits".to_owned() } else { String::new() },
        ]
    }));
    let lines = table(&header, &rows);
    format!("\nwhat limits the detection limit, in {unit}\n{}", indented(&lines, "  "))
}

fn change(fall: f64) -> String {
    let shown = percent(fall.abs());
    match shown.as_str() {
        "0 %" => shown,
        _ if fall > 0.0 => format!("−{shown}"),
        _ => format!("+{shown}"),
    }
}

/// The one part that limits, or that none does alone.
fn limiting_sentence(outlook: &Outlook, shares: &[Share], unit: &str) -> String {
    let Some(first) = shares.first() else { return "There is no part to take as perfect.".to_owned() };
    let name = first.part.name();
    let rule = format!("a part limits from {} on", percent(LIMITS_FROM));
    let limits = outlook.stated_detection_limit.zip(first.detection_limit);
    let falls = limits.zip(first.fall).map(|((with, without), fall)| {
        let (with, without) = (two_digits(with), two_digits(without));
        format!("without it, the limit falls from {with} to {without} {unit}, by {}", percent(fall))
    });
    if outlook.calibrated == 0 {
        return if first.limits {
            let (with, without) = (first.calibrated, outlook.trials);
            format!(
                "What stands in the way of a calibration: {name}; without it, {with} of {without} trials are calibrated."
            )
        } else {
            "No trial was calibrated, and no part stands in the way alone.".to_owned()
        };
    }
    match falls {
        Some(falls) if first.limits => {
            format!("What limits the detection limit: {name}; {falls} ({rule}).")
        }
        Some(falls) if first.fall.is_some_and(|fall| fall >= 0.01) => {
            format!("No part limits the detection limit alone. The most costly: {name}; {falls} ({rule}).")
        }
        _ => format!("No part limits the detection limit: without any of them it hardly changes ({rule})."),
    }
}

/// What parts hide: without them fewer trials are calibrated.
fn hidden(outlook: &Outlook, shares: &[Share]) -> String {
    let mut text = String::new();
    for share in shares.iter().filter(|share| share.calibrated < outlook.calibrated) {
        let Some(obstacle) = &share.obstacle else { continue };
        let scans = share.scan_obstacle.map(|check| format!(", scans refused by {}", check.id()));
        let line = format!(
            "Without: {}, only {} of {} trials are calibrated: {}{}: {}",
            share.part.name(),
            share.calibrated,
            outlook.trials,
            obstacle.finding.check.id(),
            scans.unwrap_or_default(),
            obstacle.finding.found
        );
        line!(text, "{}", wrapped("", &line));
    }
    text
}

/// What limits, in a few words.
pub(super) fn limiting_words(shares: &[Share]) -> String {
    let Some(first) = shares.first() else { return "nothing that could be taken as perfect".to_owned() };
    let name = first.part.name();
    match first.fall {
        Some(fall) if first.limits => format!("{name} (without: {} lower)", percent(fall)),
        Some(fall) if fall >= 0.01 => {
            format!("no part alone (without the most costly, {name}: {} lower)", percent(fall))
        }
        _ => "no part alone".to_owned(),
    }
}

/// A circuit by the values that make it: `12 bit, ±100 µA`.
pub(super) fn values(keys: &[CircuitKey], values: &[f64]) -> String {
    let parts: Vec<String> = keys.iter().zip(values).map(|(key, value)| value_of(*key, *value)).collect();
    parts.join(", ")
}

pub(super) fn value_of(key: CircuitKey, value: f64) -> String {
    match key {
        CircuitKey::ConverterBits => given(value, "bit"),
        CircuitKey::Range => format!("±{}", given(value, "A")),
        _ => format!("{} {}", key.name(), given(value, key.unit())),
    }
}
