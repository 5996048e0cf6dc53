//! A control chart: values in their order, centre and limits, what breaks a rule, what is only known to lie below or above.
//!
//! A chart has one plot, or several above one another: single values and their weighted mean, or upper and lower sums.

use crate::axis::{AxisText, AxisUnit};
use crate::figure::Figure;
use crate::mark::{KeyEntry, Mark, Plot};
use crate::style::Look;
use crate::svg::Shape;
use crate::table::{Cell, Table};
use crate::words::harmless;

/// A control chart, ready to be drawn: whoever fills it has computed limits and rules.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlChart {
    /// What the figure shows.
    pub title: String,
    /// What must be read with it.
    pub remarks: Vec<String>,
    /// What runs along the axis below: the number of a batch, days.
    pub along: AxisText,
    /// Labels of that axis in words, such as dates; in numbers where this is empty. Those that would touch are left out.
    pub along_labels: Vec<(f64, String)>,
    /// From where to where the values reach that the limits were made of.
    pub training: Option<[f64; 2]>,
    /// One plot each, from above.
    pub panels: Vec<ChartPanel>,
}

/// One plot of a control chart.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartPanel {
    /// What is charted.
    pub value: AxisText,
    /// One, or upper and lower sums; named at their ends where there are several.
    pub series: Vec<ChartSeries>,
    /// Centre and limits.
    pub lines: Vec<ChartLine>,
}

/// Values in their order.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartSeries {
    /// Its name.
    pub name: String,
    /// Its values.
    pub points: Vec<ChartPoint>,
}

/// One value.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartPoint {
    /// Its place along the axis below.
    pub at: f64,
    /// Its name: a date, a batch.
    pub name: String,
    /// The value.
    pub value: ChartValue,
    /// Whether something is missing before it, so that no line leads to it.
    pub follows_gap: bool,
    /// The rules that it breaks, each in words.
    pub breaks: Vec<String>,
}

/// What is known of a value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ChartValue {
    /// The value itself.
    Known(f64),
    /// Only that it lies below this.
    Below(f64),
    /// Only that it lies above this.
    Above(f64),
}

/// A line of a control chart.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartLine {
    /// What it says.
    pub role: LineRole,
    /// Its label, such as "action 12.4"; none where it is empty.
    pub label: String,
    /// Where it runs.
    pub course: LineCourse,
}

/// What a line of a control chart says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineRole {
    /// Where the values should lie.
    Centre,
    /// Beyond it, look out.
    Warning,
    /// Beyond it, act.
    Action,
}

/// How a line of a control chart runs.
#[derive(Debug, Clone, PartialEq)]
pub enum LineCourse {
    /// At one level.
    Level(f64),
    /// From place to place, as the limits of a weighted mean do at its beginning.
    Places(Vec<(f64, f64)>),
}

impl LineRole {
    fn word(self) -> &'static str {
        match self {
            Self::Centre => "centre",
            Self::Warning => "warning limit",
            Self::Action => "action limit",
        }
    }

    /// Thin, dashed and full, so that they are told apart without colour.
    fn look(self) -> Look {
        match self {
            Self::Centre => Look::Quiet,
            Self::Warning => Look::Second,
            Self::Action => Look::Alarm,
        }
    }
}

/// Draws a control chart.
///
/// A value that breaks a rule has a frame and the rule's letter, which the key explains; one that is only known to lie below or
/// above something is an open arrow from there. Lines join what follows without a gap.
///
/// # Units
/// Those of the axes.
///
/// # Example
/// ```
/// use stillwell_report::{AxisText, AxisUnit, ChartLine, ChartPanel, ChartPoint, ChartSeries, ChartValue, ControlChart};
/// use stillwell_report::{LineCourse, LineRole, control_figure};
/// let point = |at: f64, value, breaks: &[&str]| ChartPoint {
///     at,
///     name: format!("batch {at}"),
///     value: ChartValue::Known(value),
///     follows_gap: false,
///     breaks: breaks.iter().map(|rule| (*rule).to_owned()).collect(),
/// };
/// let chart = ControlChart {
///     title: "Check standard".to_owned(),
///     remarks: Vec::new(),
///     along: AxisText { quantity: "batch".to_owned(), unit: AxisUnit::None },
///     along_labels: Vec::new(),
///     training: None,
///     panels: vec![ChartPanel {
///         value: AxisText { quantity: "found".to_owned(), unit: AxisUnit::Plain("mg/L".to_owned()) },
///         series: vec![ChartSeries {
///             name: "found".to_owned(),
///             points: vec![point(1.0, 25.1, &[]), point(2.0, 29.0, &["beyond an action limit"])],
///         }],
///         lines: vec![ChartLine { role: LineRole::Action, label: "action".to_owned(), course: LineCourse::Level(28.0) }],
///     }],
/// };
/// let figure = control_figure(&chart);
/// assert!(figure.standalone().contains("beyond an action limit"));
/// assert_eq!(figure.tables()[0].rows.len(), 2);
/// ```
pub fn control_figure(chart: &ControlChart) -> Figure {
    let letters = letters(chart);
    let last = chart.panels.len().saturating_sub(1);
    let plots = chart.panels.iter().enumerate().map(|(index, panel)| {
        let mut marks = training(chart);
        marks.extend(marks_of(panel, &letters));
        Plot {
            shows_x: index == last,
            x_labels: chart.along_labels.clone(),
            ..Plot::new("control-chart", chart.along.clone(), panel.value.clone(), height(chart), marks)
        }
    });
    Figure {
        title: chart.title.clone(),
        remarks: chart.remarks.clone(),
        plots: plots.collect(),
        key: key(chart, &letters),
        description: description(chart, &letters),
        tables: chart.panels.iter().flat_map(|panel| [values(chart, panel), lines(panel)]).collect(),
        ..Figure::default()
    }
}

fn height(chart: &ControlChart) -> f64 {
    if chart.panels.len() > 1 { 170.0 } else { 230.0 }
}

/// Every rule that is broken somewhere, with its letter and how many points break it, in the order of their first break.
fn letters(chart: &ControlChart) -> Vec<(String, String, usize)> {
    let mut letters: Vec<(String, String, usize)> = Vec::new();
    for rule in points(chart).flat_map(|point| &point.breaks) {
        if let Some((_, _, count)) = letters.iter_mut().find(|(_, known, _)| known == rule) {
            *count += 1;
        } else {
            letters.push((letter(letters.len()), rule.clone(), 1));
        }
    }
    letters
}

/// A to Z, then numbers.
fn letter(index: usize) -> String {
    let letter = u8::try_from(index).ok().filter(|index| *index < 26).map(|index| char::from(b'A' + index));
    letter.map_or_else(|| format!("({})", index + 1), String::from)
}

fn points(chart: &ControlChart) -> impl Iterator<Item = &ChartPoint> {
    chart.panels.iter().flat_map(|panel| &panel.series).flat_map(|series| &series.points)
}

fn training(chart: &ControlChart) -> Vec<Mark> {
    let window = |[from, to]: [f64; 2]| Mark::Window { class: "w1", from, to, handle: String::new() };
    chart.training.map(window).into_iter().collect()
}

fn marks_of(panel: &ChartPanel, letters: &[(String, String, usize)]) -> Vec<Mark> {
    let line = |line: &ChartLine| match &line.course {
        LineCourse::Level(at) => Mark::Level { look: line.role.look(), at: *at, label: line.label.clone() },
        LineCourse::Places(places) => Mark::line(line.role.look(), places.clone(), &line.label),
    };
    let mut marks: Vec<Mark> = panel.lines.iter().map(line).collect();
    let are_several = panel.series.len() > 1;
    for (index, series) in panel.series.iter().enumerate() {
        let (look, shape) = looks(index);
        let name = if are_several { series.name.as_str() } else { "" };
        marks.push(Mark::line(look, joined(series), name));
        marks.push(Mark::Dots { look, shape, points: chosen(series, exactly) });
        for (is_up, of) in [(false, below as fn(ChartValue) -> Option<f64>), (true, above)] {
            marks.push(Mark::Arrows { look, points: chosen(series, of), is_up });
        }
        let broken = series.points.iter().filter(|point| !point.breaks.is_empty());
        let framed =
            broken.filter_map(|point| Some((point.at, known(point.value)?, letters_of(point, letters))));
        marks.push(Mark::Alarms { points: framed.collect() });
    }
    marks
}

/// Circles and squares; the dashes of the second kind belong to the warning limits.
fn looks(index: usize) -> (Look, Shape) {
    let index = if index == 0 { 0 } else { index + 1 };
    (Look::of_series(index), Shape::of_series(index))
}

fn letters_of(point: &ChartPoint, letters: &[(String, String, usize)]) -> String {
    let broken = letters.iter().filter(|(_, rule, _)| point.breaks.contains(rule));
    broken.map(|(letter, _, _)| letter.as_str()).collect()
}

fn is_known(value: ChartValue) -> bool {
    matches!(value, ChartValue::Known(_))
}

/// The number that a point stands at.
fn known(value: ChartValue) -> Option<f64> {
    let (ChartValue::Known(number) | ChartValue::Below(number) | ChartValue::Above(number)) = value;
    Some(number).filter(|number| number.is_finite())
}

fn exactly(value: ChartValue) -> Option<f64> {
    if let ChartValue::Known(value) = value { Some(value) } else { None }
}

fn below(value: ChartValue) -> Option<f64> {
    if let ChartValue::Below(limit) = value { Some(limit) } else { None }
}

fn above(value: ChartValue) -> Option<f64> {
    if let ChartValue::Above(limit) = value { Some(limit) } else { None }
}

fn chosen(series: &ChartSeries, of: impl Fn(ChartValue) -> Option<f64>) -> Vec<(f64, f64)> {
    series.points.iter().filter_map(|point| Some((point.at, of(point.value)?))).collect()
}

/// Known values, with a place that is no number where the line must break.
fn joined(series: &ChartSeries) -> Vec<(f64, f64)> {
    let broken = (f64::NAN, f64::NAN);
    let piece = |point: &ChartPoint| {
        let place = if let ChartValue::Known(value) = point.value { (point.at, value) } else { broken };
        if point.follows_gap { vec![broken, place] } else { vec![place] }
    };
    series.points.iter().flat_map(piece).collect()
}

fn key(chart: &ControlChart, letters: &[(String, String, usize)]) -> Vec<KeyEntry> {
    let mut key: Vec<KeyEntry> = letters
        .iter()
        .map(|(letter, rule, count)| KeyEntry::Alarm(letter.clone(), format!("{} ({count})", harmless(rule))))
        .collect();
    if points(chart).any(|point| below(point.value).is_some()) {
        key.push(KeyEntry::Arrow(Look::First, false, "below what the arrow leaves".to_owned()));
    }
    if points(chart).any(|point| above(point.value).is_some()) {
        key.push(KeyEntry::Arrow(Look::First, true, "above what the arrow leaves".to_owned()));
    }
    if chart.training.is_some() {
        key.push(KeyEntry::Shade("w1", "the limits come from here".to_owned()));
    }
    key
}

fn description(chart: &ControlChart, letters: &[(String, String, usize)]) -> String {
    let n_points = points(chart).count();
    let n_censored = points(chart).filter(|point| !is_known(point.value)).count();
    let mut sentences =
        vec![format!("{n_points} value(s), {n_censored} of them only known to lie below or above a number.")];
    if letters.is_empty() {
        sentences.push("No rule is broken.".to_owned());
    }
    for (letter, rule, count) in letters {
        let first = points(chart).find(|point| point.breaks.contains(rule));
        let first = first.map_or(String::new(), |point| harmless(&point.name));
        sentences.push(format!("Rule {letter}, {}: {count} value(s), the first {first}.", harmless(rule)));
    }
    sentences.extend(chart.remarks.iter().map(|remark| harmless(remark)));
    sentences.join(" ")
}

fn values(chart: &ControlChart, panel: &ChartPanel) -> Table {
    let words = |quantity: &str| AxisText::new(quantity, AxisUnit::None);
    let row = |series: &ChartSeries, point: &ChartPoint| {
        let value = match point.value {
            ChartValue::Known(value) => Cell::Number(value),
            ChartValue::Below(limit) => Cell::Below(limit),
            ChartValue::Above(limit) => Cell::Above(limit),
        };
        let breaks =
            if point.breaks.is_empty() { Cell::Nothing } else { Cell::Words(point.breaks.join("; ")) };
        vec![point.name.as_str().into(), point.at.into(), series.name.as_str().into(), value, breaks]
    };
    let rows =
        panel.series.iter().flat_map(|series| series.points.iter().map(move |point| row(series, point)));
    Table {
        title: format!("Values: {}", panel.value.quantity),
        columns: vec![
            words("name"),
            chart.along.clone(),
            words("series"),
            panel.value.clone(),
            words("rule broken"),
        ],
        rows: rows.collect(),
    }
}

fn lines(panel: &ChartPanel) -> Table {
    let row = |line: &ChartLine| {
        // A line that changes is told by where it settles.
        let at = match &line.course {
            LineCourse::Level(at) => Some(*at),
            LineCourse::Places(places) => places.last().map(|(_, at)| *at),
        };
        vec![line.role.word().into(), line.label.as_str().into(), at.into()]
    };
    Table {
        title: format!("Lines: {}", panel.value.quantity),
        columns: vec![
            AxisText::new("line", AxisUnit::None),
            AxisText::new("label", AxisUnit::None),
            panel.value.clone(),
        ],
        rows: panel.lines.iter().map(row).collect(),
    }
}
