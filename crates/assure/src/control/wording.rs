//! Every sentence about control charts and release, side by side. Rules as in the room's `wording.rs`.

use super::ageing::{Ageing, AgeingState};
use super::chart::{Chart, ChartState, PointState, Signal, Trained};
use super::point::Charted;
use super::release::{Reason, Withheld};
use super::run_rules::{RunRule, Side};

impl Charted {
    /// The name of the chart.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Blank => "blank",
            Self::CheckStandard => "check standard recovery",
            Self::Duplicate => "duplicate difference",
            Self::Spike => "spike recovery",
            Self::PeakPotential => "peak potential",
            Self::PeakWidth => "peak width",
        }
    }

    /// What to do when it is out of control.
    pub const fn remedy(self) -> &'static str {
        match self {
            Self::Blank => {
                "Measure a fresh blank from new water and electrolyte; look for traces in water, electrolyte, vessels and pipette."
            }
            Self::CheckStandard => {
                "Measure a check standard from a fresh ampoule on a new strip; if it fails again, calibrate anew before any sample."
            }
            Self::Duplicate => {
                "Measure the sample again on two new strips; look at mixing, volumes and the wait before the scan."
            }
            Self::Spike => {
                "Check volume and level of the addition; if they are right, the sample's matrix changes the signal: dilute, or use standard addition."
            }
            Self::PeakPotential => {
                "Measure a known solution on a strip from a fresh pack: if its peak lies where it should, the strips in use have aged; if not, look at the reference electrode and the electrolyte."
            }
            Self::PeakWidth => {
                "Measure a known solution on a strip from a fresh pack: if its peak is as wide as it should be, the strips in use have aged; if not, look at resistance and electrolyte."
            }
        }
    }
}

impl RunRule {
    /// The pattern in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::BeyondAction => "beyond the action limits",
            Self::BeyondWarning => "beyond the warning limits",
            Self::TwoOfThreeBeyondWarning => "two of three in a row beyond the same warning limit",
            Self::TwoInRowBeyondWarning => "two in a row beyond the same warning limit",
            Self::OppositeWarnings => "two in a row beyond opposite warning limits",
            Self::FourOfFiveBeyondOneThird => {
                "four of five in a row beyond a third of the way to the same action limit"
            }
            Self::FourInRowBeyondOneThird => {
                "four in a row beyond a third of the way to the same action limit"
            }
            Self::SevenOneSide => "seven or more in a row on one side of the centre",
            Self::NineOneSide => "nine or more in a row on one side of the centre",
            Self::TenOneSide => "ten or more in a row on one side of the centre",
            Self::SixSteady => "six or more in a row steadily rising or falling",
            Self::SevenSteady => "seven or more in a row steadily rising or falling",
            Self::FourteenAlternating => "fourteen or more in a row up and down in turn",
            Self::FifteenWithinOneThird => {
                "fifteen or more in a row closer to the centre than the spread allows: limits too wide, or values chosen"
            }
            Self::EightOutsideOneThird => {
                "eight or more in a row away from the centre on both sides: two kinds of runs under one name"
            }
        }
    }
}

/// A number with as many decimals as its spread deserves.
pub(super) fn shown(value: f64, sigma: f64) -> String {
    let decimals = if sigma > 0.0 && sigma.is_finite() { 1.0 - libm::floor(libm::log10(sigma)) } else { 3.0 };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held to 0 to 12")]
    let decimals = decimals.clamp(0.0, 12.0) as usize;
    format!("{value:.decimals$}")
}

/// The verdict on a chart.
pub(super) fn chart(chart: &Chart) -> String {
    let name = chart.charted.name();
    match chart.state {
        ChartState::TooFewPoints { found, needed } => {
            let missing = needed.saturating_sub(found);
            format!(
                "{name}: too few points to say: {found} found, {needed} needed, so {missing} more; until then single check standards and blanks decide alone"
            )
        }
        // An alarm that is over still says what it withholds.
        ChartState::InControl => {
            let again = if chart.alarms.is_empty() { "" } else { " again" };
            format!("{name}: in control{again}; {}", limits(chart))
        }
        ChartState::Warning => {
            let newest = newest(&chart.warnings).map_or_else(String::new, |found| signal(chart, found));
            format!("{name}: warning: {newest}; nothing is withheld; {}", limits(chart))
        }
        ChartState::OutOfControl => {
            let newest = newest(&chart.alarms).map_or_else(String::new, |found| signal(chart, found));
            format!("{name}: out of control: {newest}; {}", limits(chart))
        }
    }
}

fn newest(signals: &[Signal]) -> Option<&Signal> {
    signals.iter().max_by_key(|signal| (signal.until(), signal.fired_at()))
}

fn limits(chart: &Chart) -> String {
    let Some(limits) = &chart.limits else { return "no limits".to_owned() };
    let unit = &chart.unit;
    let number = |value: f64| shown(value, limits.sigma);
    let [low, high] = limits.action();
    let from = training(chart).map_or_else(|| "as stated".to_owned(), |words| format!("from {words}"));
    format!(
        "centre {} {unit}, action limits {} to {} {unit}, {from}",
        number(limits.centre),
        number(low),
        number(high)
    )
}

/// How many points made the limits, and until when.
pub(super) fn training(chart: &Chart) -> Option<String> {
    let trained = chart.trained()?;
    let bounds = match trained.n_bounds {
        0 => String::new(),
        n_bounds => format!(" and {n_bounds} bounds (regression on order statistics)"),
    };
    Some(format!("a training period of {} points{bounds} until {}", trained.n_points, trained.until))
}

/// A failed point of a chart: what it says, and what its limits rest on.
pub(super) fn failed_point(chart: &Chart, alarm: Option<&Signal>) -> String {
    let found = alarm.map_or_else(String::new, |alarm| signal(chart, alarm));
    match chart.trained() {
        Some(Trained { n_points, until, .. }) => {
            format!("{found}; limits from {n_points} points until {until}, themselves not judged")
        }
        None => found,
    }
}

/// One alarm or warning: pattern, since when, how many points, and the value at which it fired.
pub(super) fn signal(chart: &Chart, signal: &Signal) -> String {
    let label = |at: usize| chart.points.get(at).map_or("?", |point| point.label.as_str());
    let sigma = chart.limits.map_or(0.0, |limits| limits.sigma);
    let value = |at: usize| {
        let number = chart.points.get(at).and_then(|point| point.value.number());
        number.map_or_else(String::new, |v| format!(", {} {}", shown(v, sigma), chart.unit))
    };
    match signal {
        Signal::Run(found) => {
            let side = match found.side {
                Side::High => ", high",
                Side::Low => ", low",
                Side::Both => "",
            };
            let pattern = found.rule.words();
            if found.since == found.until {
                return format!("{pattern}{side}, at {}{}", label(found.since), value(found.since));
            }
            format!(
                "{pattern}{side}, since {} ({} points), last {}{}",
                label(found.since),
                found.n_points(),
                label(found.until),
                value(found.until)
            )
        }
        Signal::Average { since, fired_at, until, is_high } => {
            let side = if *is_high { "high" } else { "low" };
            format!(
                "the moving average lies {side}, seen at {}; the shift began at or after {} ({} points)",
                label(*fired_at),
                label(*since),
                until - since + 1
            )
        }
        Signal::Bound { at, is_high } => {
            let side = if *is_high { "more than a bound above" } else { "less than a bound below" };
            format!("{side} the action limits, at {}", label(*at))
        }
    }
}

/// What else the reader should know.
pub(super) fn advice(chart: &Chart) -> Vec<String> {
    let mut advice = Vec::new();
    match chart.state {
        ChartState::OutOfControl => {
            advice.push(chart.charted.remedy().to_owned());
            advice.push(
                "Leave a point out only for a cause that was found, and write the cause down; a point is never left out because it lies outside."
                    .to_owned(),
            );
        }
        ChartState::Warning => {
            advice.push(format!("Watch the next runs. {}", chart.charted.remedy()));
        }
        ChartState::InControl | ChartState::TooFewPoints { .. } => {}
    }
    if let Some(n) = chart.limits.and_then(|limits| limits.n_training)
        && n < super::limits::GOOD_TRAINING_POINTS
    {
        advice.push(format!(
            "The limits rest on {n} points and are wide on that account; from {} on they hardly narrow.",
            super::limits::GOOD_TRAINING_POINTS
        ));
    }
    advice.extend(of_training(chart));
    advice.extend(of_points(chart));
    advice.extend(of_days(chart));
    advice
}

fn of_training(chart: &Chart) -> Option<String> {
    let labels: Vec<&str> = chart.training_beyond.iter().map(|at| chart.points[*at].label.as_str()).collect();
    (!labels.is_empty()).then(|| {
        format!(
            "In the training period {} lies beyond the limits made from it: find the cause and leave it out with the cause, or keep it; the limits are wider with it.",
            labels.join(", ")
        )
    })
}

fn of_points(chart: &Chart) -> Option<String> {
    let is_open =
        |at: usize| chart.states[at] == PointState::NotJudged && chart.points[at].excluded.is_none();
    let n_open = (0..chart.points.len()).filter(|at| is_open(*at)).count();
    (n_open > 0 && chart.limits.is_some()).then(|| {
        format!(
            "{n_open} of {} points could not be judged (refused, or only a bound such as \"less than\"); a bound counts neither as zero nor as half. Chart the reading itself, before it is called \"less than\".",
            chart.points.len()
        )
    })
}

fn of_days(chart: &Chart) -> Vec<String> {
    let mut found = Vec::new();
    let days: Vec<i32> = chart.points.iter().filter_map(|point| point.day).collect();
    let steps: Vec<i64> = days.windows(2).map(|pair| i64::from(pair[1]) - i64::from(pair[0])).collect();
    let n_back = steps.iter().filter(|step| **step < 0).count();
    if n_back > 0 {
        let points = if n_back == 1 { "1 point is" } else { &format!("{n_back} points are") };
        found.push(format!(
            "{points} dated before the one before; runs and averages are those of the order given. Check the dates."
        ));
    }
    let n_same = steps.iter().filter(|step| **step == 0).count();
    if n_same > 0 {
        let points = if n_same == 1 { "1 point has" } else { &format!("{n_same} points have") };
        found.push(format!("{points} the same day as the one before; each counts for itself."));
    }
    let mut forward: Vec<i64> = steps.into_iter().filter(|step| *step > 0).collect();
    forward.sort_unstable();
    let (usual, longest) = (forward.get(forward.len() / 2), forward.last());
    if let (Some(usual), Some(longest)) = (usual, longest)
        && *longest > 4 * *usual
        && forward.len() >= 4
    {
        found.push(format!(
            "The longest gap between points is {longest} days, the usual one {usual}; nothing is known of the time between."
        ));
    }
    found
}

/// What a drift with age means.
pub(super) fn ageing(found: &Ageing, name: &str, unit: &str) -> String {
    let number = |value: f64| shown(value, found.change_half_width);
    let change = format!(
        "{name} changes by {} ± {} {unit} in 30 days",
        number(found.change_per_30_days),
        number(found.change_half_width)
    );
    match found.state() {
        AgeingState::Steady => format!("{change}, which chance alone would give: no sign of ageing"),
        AgeingState::Drifts => {
            let when = found.leaves_window_at_days.map_or_else(
                || "it stays in its window for a year if it goes on so".to_owned(),
                |days| format!("it leaves its window at an age of about {days:.0} days if it goes on so"),
            );
            format!(
                "{change}: the strips age or the reference wanders; {when}; compare with a strip from a fresh pack"
            )
        }
        AgeingState::Outside => {
            format!("{change} and lies outside of its window: open a fresh pack before any sample")
        }
    }
}

/// Why a determination is withheld.
pub(super) fn withheld(one: &Withheld) -> String {
    let kind = &one.kind;
    match &one.reason {
        Reason::FailedAfter { check, found, last_good } => {
            let back = last_good.as_ref().map_or_else(
                || "no good one stands before it".to_owned(),
                |good| format!("everything back to the last good one, {good}, is withheld"),
            );
            format!("the {kind} after it failed ({check}: {found}); {back}")
        }
        Reason::FailedBefore { check, found } => {
            format!("the {kind} before it failed ({check}: {found}), and none has passed since")
        }
        Reason::NoneBefore => format!("no {kind} stands before it"),
        Reason::NoneAfter => format!("no {kind} stands after it yet"),
    }
}
