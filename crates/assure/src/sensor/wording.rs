//! Every sentence about sensors and stations, side by side. Rules as in the room's `wording.rs`.

use super::drift::{DayToDay, Drift, MemoryEffect};
use super::near_zero::NearZero;
use super::response::Response;
use super::series::Exceedances;
use super::series_findings::{SeriesFinding, StandsAlone};
use super::summary::{SeriesMean, SeriesSummary};
use crate::control::PointValue;

/// How a reading follows a change.
pub(super) fn response(found: &Response) -> String {
    let overshoot = if found.largest_share > 1.1 {
        format!("; it overshoots to {:.0} % of the change", 100.0 * found.largest_share)
    } else {
        String::new()
    };
    let delay = format!("delay {}{:.1} s", if found.delay_is_bound { "below " } else { "" }, found.delay_s);
    let Some(response) = found.response_s else {
        return format!(
            "{delay}; within {:.0} s the reading does not come to stay between 90 % and 110 % of the change: watch longer, or the sensor is too slow{overshoot}",
            found.watched_s
        );
    };
    let stayed = found.watched_s - response;
    let short = if stayed < response {
        format!("; the record ends {stayed:.0} s later, too soon to be sure that it stays")
    } else {
        String::new()
    };
    format!("{delay}, response time {response:.1} s{overshoot}{short}")
}

/// Drift at one level.
pub(super) fn drift(found: &Drift, unit: &str) -> String {
    let change = format!(
        "{:+.3} ± {:.3} {unit} in 24 h, {:+.2} % of the working range, watched for {:.0} h",
        found.per_24_h, found.half_width, found.percent_of_range_per_24_h, found.watched_h
    );
    if found.is_seen() {
        format!(
            "it drifts: {change}; check it against a standard before this adds up to the margin that matters"
        )
    } else {
        format!("no drift can be told from chance: {change}")
    }
}

/// What a sensor remembers.
pub(super) fn memory(found: &MemoryEffect, unit: &str) -> String {
    let share = found.percent_of_step.map_or_else(String::new, |share| format!(", {share:.2} % of the step"));
    let difference =
        format!("{:+.3} ± {:.3} {unit} after a high level{share}", found.difference, found.half_width);
    if found.is_seen() {
        format!("it remembers the level before: {difference}; rinse longer, or wait longer before reading")
    } else {
        format!("no memory of the level before can be told from chance: {difference}")
    }
}

/// Repeatability from day to day.
pub(super) fn days(found: &DayToDay, unit: &str) -> String {
    let DayToDay { within_day_sd, between_days_sd, day_to_day_sd, n_days, p_value } = found;
    let p = if *p_value < 0.001 { "p < 0.001".to_owned() } else { format!("p = {p_value:.3}") };
    let differ = if *p_value < 0.05 { "days differ by more than" } else { "days differ by no more than" };
    format!(
        "standard deviation of one reading {day_to_day_sd:.3} {unit} over {n_days} days: {within_day_sd:.3} within a day, {between_days_sd:.3} between days; {differ} their readings let expect ({p})"
    )
}

/// Limits from readings near zero.
pub(super) fn near_zero(found: &NearZero, unit: &str) -> String {
    let NearZero { sd, n, detection, quantification, .. } = found;
    format!(
        "standard deviation {sd:.3} {unit} from {n} readings: detection limit {detection:.3}, quantification limit {quantification:.3}, least change seen {detection:.3} {unit} (3 s and 10 s, shorthand)"
    )
}

/// How often a limit was exceeded.
pub(super) fn exceedances(found: &Exceedances, unit: &str) -> String {
    let Exceedances { limit, limit_in_series, n_above, n_days, n_undecided, n_span, longest_run, .. } = found;
    let bounds = match n_undecided {
        0 => String::new(),
        1 => " 1 more is only known as a bound on the other side of it and may lie on either;".to_owned(),
        n => format!(" {n} more are only known as bounds on the other side of it and may lie on either;"),
    };
    let together = if found.is_together {
        "; nitrate and nitrite were read together, which can only err upwards"
    } else {
        ""
    };
    format!(
        "{n_above} of {n_days} days with a result lie above {limit} ({limit_in_series:.4} {unit}), {longest_run} of them in a row at the longest;{bounds} {} of {n_span} days have no result, and nothing is known of them{together}",
        n_span.saturating_sub(n_days + n_undecided)
    )
}

/// How many readings there are, and their middle.
pub(super) fn counts(found: &SeriesSummary, unit: &str) -> String {
    let SeriesSummary { n_numbers, n_bounds, n_span, median, .. } = found;
    let bounds = if *n_bounds > 0 { format!(" and {n_bounds} bounds") } else { String::new() };
    let median = match median {
        Some(PointValue::Found(value)) => format!("{value:.3} {unit}"),
        Some(PointValue::LessThan(bound)) => format!("below {bound} {unit}"),
        Some(PointValue::MoreThan(bound)) => format!("above {bound} {unit}"),
        Some(PointValue::Missing) | None => "not known".to_owned(),
    };
    format!("{n_numbers} numbers{bounds} on {n_span} days; median {median}")
}

/// A series in short.
pub(super) fn summary(found: &SeriesSummary, unit: &str) -> String {
    let mean = match &found.mean {
        SeriesMean::Plain(value) => format!("mean {value:.3} {unit}"),
        SeriesMean::Censored { at_least, at_most, by_regression } => {
            let line = by_regression.map_or_else(String::new, |mean| {
                format!("; by regression on order statistics, log-normal, {mean:.3}")
            });
            format!(
                "mean between {at_least:.3} and {at_most:.3} {unit} (Kaplan–Meier, for bounds stay bounds{line})"
            )
        }
        SeriesMean::NotStated(error) => format!("no mean: {error}"),
    };
    format!("{}; {mean}", counts(found, unit))
}

/// A finding in a series.
pub(super) fn finding(found: &SeriesFinding, unit: &str, date: &impl Fn(i32) -> String) -> String {
    let stretch = |from: i32, to: i32| {
        if from == to { date(from) } else { format!("{} to {}", date(from), date(to)) }
    };
    match found {
        SeriesFinding::Gap { from, to } => {
            format!("no number on {} ({} days)", stretch(*from, *to), to - from + 1)
        }
        SeriesFinding::Stuck { from, to, value, n, by_chance } => format!(
            "stuck at {value} {unit} on {} ({n} days; chance gives {by_chance:.2} such stretches in this series): look at the sensor and the recording before these days are used",
            stretch(*from, *to)
        ),
        SeriesFinding::StandsAlone(StandsAlone { day, value, expected, sigmas }) => format!(
            "{value} {unit} on {} stands alone: its neighbours let expect {expected:.2} {unit} ({sigmas:.0} times the usual distance)",
            date(*day)
        ),
        SeriesFinding::FarFromRest { from, to, n, extreme, median } => format!(
            "{n} readings on {} are far from all others, {extreme} {unit} where the median is {median:.2} {unit}: water or sensor? compare with a grab sample",
            stretch(*from, *to)
        ),
        SeriesFinding::NotPositive { day, value } => {
            format!("{value} {unit} on {} cannot be a concentration", date(*day))
        }
    }
}
