//! A sensor that stays in the water: a station's series with its gaps, stuck stretches and limits; how a reading follows a change.

use crate::axis::{AxisText, AxisUnit};
use crate::control_figure::ChartValue;
use crate::figure::Figure;
use crate::mark::{KeyEntry, Mark, Plot};
use crate::style::Look;
use crate::svg::Shape;
use crate::table::{Cell, Table};
use crate::words::harmless;

/// A series of daily readings, ready to be drawn: whoever fills it has looked it over.
#[derive(Debug, Clone, PartialEq)]
pub struct StationSeries {
    /// What the figure shows.
    pub title: String,
    /// What must be read with it.
    pub remarks: Vec<String>,
    /// What was read.
    pub value: AxisText,
    /// Labels of the axis of days.
    pub along_labels: Vec<(f64, String)>,
    /// Day, its name and its reading.
    pub points: Vec<(f64, String, ChartValue)>,
    /// First and last day of each stretch that says nothing.
    pub gaps: Vec<[f64; 2]>,
    /// First and last day of each stretch at one number.
    pub stuck: Vec<[f64; 2]>,
    /// Readings that stand alone or far from all others.
    pub odd: Vec<(f64, f64)>,
    /// Each limit with its label.
    pub limits: Vec<(String, f64)>,
    /// Days above the lowest limit, with their readings.
    pub above: Vec<(f64, f64)>,
}

/// How a reading followed a change of the solution, ready to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct FollowedStep {
    /// What the figure shows.
    pub title: String,
    /// What must be read with it.
    pub remarks: Vec<String>,
    /// What was read.
    pub value: AxisText,
    /// Seconds after the change, and readings.
    pub points: Vec<(f64, f64)>,
    /// The settled reading before and after.
    pub ends: [f64; 2],
    /// The band in which the reading must come to stay.
    pub band: [f64; 2],
    /// Delay, s.
    pub delay_s: Option<f64>,
    /// Response time, s.
    pub response_s: Option<f64>,
}

/// Draws a station's series.
///
/// Days that say nothing and stretches at one number are shaded; days above the lowest limit are squares; a bound is an open arrow.
///
/// # Units
/// Those of the readings; days along the axis.
///
/// # Example
/// ```
/// use stillwell_report::{AxisText, AxisUnit, ChartValue, StationSeries, station_figure};
/// let point = |day: f64, value| (day, format!("day {day}"), ChartValue::Known(value));
/// let series = StationSeries {
///     title: "Weir".to_owned(),
///     remarks: Vec::new(),
///     value: AxisText { quantity: "nitrate".to_owned(), unit: AxisUnit::Plain("mg/L as N".to_owned()) },
///     along_labels: Vec::new(),
///     points: vec![point(0.0, 9.0), point(1.0, 11.0), point(4.0, 8.0)],
///     gaps: vec![[2.0, 3.0]],
///     stuck: Vec::new(),
///     odd: Vec::new(),
///     limits: vec![("limit".to_owned(), 10.0)],
///     above: vec![(1.0, 11.0)],
/// };
/// assert!(station_figure(&series).standalone().contains("above the lowest limit (1)"));
/// ```
pub fn station_figure(series: &StationSeries) -> Figure {
    let days = AxisText::new("day", AxisUnit::None);
    let plot = Plot {
        x_labels: series.along_labels.clone(),
        ..Plot::new("station-series", days.clone(), series.value.clone(), 250.0, series_marks(series))
    };
    Figure {
        title: series.title.clone(),
        remarks: series.remarks.clone(),
        plots: vec![plot],
        key: series_key(series),
        description: series_description(series),
        tables: vec![series_table(series)],
        ..Figure::default()
    }
}

fn series_marks(series: &StationSeries) -> Vec<Mark> {
    // Half a day on either side, so that a single day is seen.
    let shade = |class| {
        move |[from, to]: &[f64; 2]| Mark::Window {
            class,
            from: from - 0.5,
            to: to + 0.5,
            handle: String::new(),
        }
    };
    let mut marks: Vec<Mark> = series.gaps.iter().map(shade("w1")).collect();
    marks.extend(series.stuck.iter().map(shade("w2")));
    let limit =
        |(label, at): &(String, f64)| Mark::Level { look: Look::Alarm, at: *at, label: label.clone() };
    marks.extend(series.limits.iter().map(limit));
    marks.push(Mark::line(Look::First, joined(series), ""));
    marks.push(Mark::Dots { look: Look::Second, shape: Shape::Square, points: series.above.clone() });
    for is_up in [false, true] {
        marks.push(Mark::Arrows { look: Look::First, points: bounds(series, is_up), is_up });
    }
    let framed = series.odd.iter().map(|(day, value)| (*day, *value, String::new()));
    marks.push(Mark::Alarms { points: framed.collect() });
    marks
}

/// Numbers of days in a row, with a place that is no number where the line must break.
fn joined(series: &StationSeries) -> Vec<(f64, f64)> {
    let broken = (f64::NAN, f64::NAN);
    let mut line: Vec<(f64, f64)> = Vec::new();
    let mut before = f64::NEG_INFINITY;
    for (day, _, value) in &series.points {
        if day - before > 1.5 {
            line.push(broken);
        }
        line.push(if let ChartValue::Known(value) = value { (*day, *value) } else { broken });
        before = *day;
    }
    line
}

fn bounds(series: &StationSeries, is_up: bool) -> Vec<(f64, f64)> {
    let place = |(day, _, value): &(f64, String, ChartValue)| match value {
        ChartValue::Below(bound) if !is_up => Some((*day, *bound)),
        ChartValue::Above(bound) if is_up => Some((*day, *bound)),
        _ => None,
    };
    series.points.iter().filter_map(place).collect()
}

fn series_key(series: &StationSeries) -> Vec<KeyEntry> {
    let mut key = Vec::new();
    let mut add = |n: usize, entry: &dyn Fn(String) -> KeyEntry, words: &str| {
        if n > 0 {
            key.push(entry(format!("{words} ({n})")));
        }
    };
    add(
        series.above.len(),
        &|words| KeyEntry::Dot(Shape::Square, Look::Second, words),
        "above the lowest limit",
    );
    add(series.gaps.len(), &|words| KeyEntry::Shade("w1", words), "no result");
    add(series.stuck.len(), &|words| KeyEntry::Shade("w2", words), "stuck at one number");
    add(series.odd.len(), &|words| KeyEntry::Alarm(String::new(), words), "alone or far from all others");
    add(
        bounds(series, false).len(),
        &|words| KeyEntry::Arrow(Look::First, false, words),
        "only known to be less",
    );
    add(
        bounds(series, true).len(),
        &|words| KeyEntry::Arrow(Look::First, true, words),
        "only known to be more",
    );
    key
}

fn series_description(series: &StationSeries) -> String {
    let limits: Vec<String> = series.limits.iter().map(|(label, _)| harmless(label)).collect();
    let remarks: Vec<String> = series.remarks.iter().map(|remark| harmless(remark)).collect();
    format!(
        "{} day(s) with a result, {} gap(s), {} stuck stretch(es), {} reading(s) alone or far; {} above the lowest of: {}. {}",
        series.points.len(),
        series.gaps.len(),
        series.stuck.len(),
        series.odd.len(),
        series.above.len(),
        limits.join(", "),
        remarks.join(" ")
    )
}

fn series_table(series: &StationSeries) -> Table {
    let row = |(_, name, value): &(f64, String, ChartValue)| {
        let value = match value {
            ChartValue::Known(value) => Cell::Number(*value),
            ChartValue::Below(bound) => Cell::Below(*bound),
            ChartValue::Above(bound) => Cell::Above(*bound),
        };
        vec![name.as_str().into(), value]
    };
    Table {
        title: series.title.clone(),
        columns: vec![AxisText::new("day", AxisUnit::None), series.value.clone()],
        rows: series.points.iter().map(row).collect(),
    }
}

/// Draws how a reading followed a change of the solution.
///
/// # Units
/// Seconds after the change; readings in the unit of their axis.
///
/// # Example
/// ```
/// use stillwell_report::{AxisText, AxisUnit, FollowedStep, step_figure};
/// let step = FollowedStep {
///     title: "20 to 80 mg/L".to_owned(),
///     remarks: Vec::new(),
///     value: AxisText { quantity: "reading".to_owned(), unit: AxisUnit::Plain("mg/L".to_owned()) },
///     points: vec![(10.0, 40.0), (20.0, 70.0), (30.0, 80.0)],
///     ends: [20.0, 80.0],
///     band: [74.0, 86.0],
///     delay_s: Some(3.0),
///     response_s: Some(24.0),
/// };
/// assert!(step_figure(&step).standalone().contains("response 24.0 s"));
/// ```
pub fn step_figure(step: &FollowedStep) -> Figure {
    let seconds = AxisText::new("time after the change", AxisUnit::Plain("s".to_owned()));
    let [from, to] = step.ends;
    let [low, high] = step.band;
    let mut marks = vec![
        Mark::Stripe { class: "band", low: low.min(high), high: low.max(high) },
        Mark::Level { look: Look::Quiet, at: from, label: "before".to_owned() },
        Mark::Level { look: Look::Quiet, at: to, label: "settled".to_owned() },
    ];
    let times = [("delay", Look::Second, step.delay_s), ("response", Look::Third, step.response_s)];
    let mut key = vec![KeyEntry::Shade("band", "90 % to 110 % of the change".to_owned())];
    for (name, look, at) in times.into_iter().filter_map(|(name, look, at)| Some((name, look, at?))) {
        marks.push(Mark::Rule { look, at, label: String::new() });
        key.push(KeyEntry::Stroke(format!("line {}", look.class()), format!("{name} {at:.1} s")));
    }
    let mut line = vec![(0.0, from)];
    line.extend(step.points.iter().copied());
    marks.push(Mark::line(Look::First, line, ""));
    marks.push(Mark::Dots { look: Look::First, shape: Shape::Circle, points: step.points.clone() });
    let row = |(at, reading): &(f64, f64)| vec![(*at).into(), (*reading).into()];
    Figure {
        title: step.title.clone(),
        remarks: step.remarks.clone(),
        plots: vec![Plot::new("sensor-step", seconds.clone(), step.value.clone(), 230.0, marks)],
        key,
        description: format!(
            "{} reading(s) after the change. {}",
            step.points.len(),
            step.remarks.iter().map(|remark| harmless(remark)).collect::<Vec<_>>().join(" ")
        ),
        tables: vec![Table {
            title: step.title.clone(),
            columns: vec![seconds, step.value.clone()],
            rows: step.points.iter().map(row).collect(),
        }],
        ..Figure::default()
    }
}
