//! Lots, electrodes or operators below one another: single values, mean with interval, and the margin that they must keep.

use crate::axis::{AxisText, AxisUnit};
use crate::figure::Figure;
use crate::mark::{KeyEntry, Mark, Plot};
use crate::style::Look;
use crate::svg::Shape;
use crate::table::{Cell, Table};
use crate::wording::counted;
use crate::words::harmless;

/// Height of a row.
const ROW: f64 = 34.0;

/// Single values are drawn below their mean by this part of a row.
const BELOW_MEAN: f64 = 0.28;

/// More lots than this stand in the table only.
const MOST_LOTS: usize = 40;

/// A comparison of lots, ready to be drawn: whoever fills it has computed means, intervals and margin.
#[derive(Debug, Clone, PartialEq)]
pub struct LotComparison {
    /// What the figure shows.
    pub title: String,
    /// What must be read with it.
    pub remarks: Vec<String>,
    /// What a row stands for: `lot`, `day`.
    pub each: &'static str,
    /// What is compared.
    pub value: AxisText,
    /// One row each, from above.
    pub lots: Vec<ComparedLot>,
    /// Where the lots should lie: a name and a value.
    pub target: Option<(String, f64)>,
    /// An interval within this margin is equivalent.
    pub margin: Option<[f64; 2]>,
}

/// One lot.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedLot {
    /// Its name.
    pub name: String,
    /// Single values, such as the means of its electrodes.
    pub values: Vec<f64>,
    /// Their mean.
    pub mean: f64,
    /// Interval of the mean.
    pub interval: Option<[f64; 2]>,
    /// What was concluded; none where nothing was.
    pub judged: Option<LotJudgement>,
}

/// What was concluded about a lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LotJudgement {
    /// Its interval lies within the margin.
    Equivalent,
    /// Its interval lies outside.
    Different,
    /// Its interval reaches across an end of the margin.
    NotShown,
}

impl LotJudgement {
    fn words(self) -> &'static str {
        match self {
            Self::Equivalent => "equivalent",
            Self::Different => "different",
            Self::NotShown => "equivalence not shown",
        }
    }

    fn shape(self) -> (Shape, Look) {
        match self {
            Self::Equivalent => (Shape::Square, Look::First),
            Self::Different => (Shape::Cross, Look::Alarm),
            Self::NotShown => (Shape::Triangle, Look::Second),
        }
    }
}

/// Draws a comparison of lots.
///
/// # Units
/// That of the value.
///
/// # Example
/// ```
/// use stillwell_report::{AxisText, AxisUnit, ComparedLot, LotComparison, LotJudgement, lot_figure};
/// let lots = LotComparison {
///     each: "lot",
///     title: "Lots".to_owned(),
///     remarks: Vec::new(),
///     value: AxisText { quantity: "sensitivity".to_owned(), unit: AxisUnit::Plain("%".to_owned()) },
///     lots: vec![ComparedLot {
///         name: "L21".to_owned(), values: vec![99.0, 101.5], mean: 100.25, interval: Some([98.0, 102.5]),
///         judged: Some(LotJudgement::Equivalent),
///     }],
///     target: Some(("approved".to_owned(), 100.0)),
///     margin: Some([95.0, 105.0]),
/// };
/// assert!(lot_figure(&lots).standalone().contains("equivalent"));
/// ```
pub fn lot_figure(comparison: &LotComparison) -> Figure {
    let shown = comparison.lots.get(..MOST_LOTS).unwrap_or(&comparison.lots);
    let mut remarks = comparison.remarks.clone();
    if shown.len() < comparison.lots.len() {
        remarks.push(format!(
            "The first {MOST_LOTS} of {} {}s; all stand in the table.",
            comparison.lots.len(),
            comparison.each
        ));
    }
    let rows: Vec<(f64, &ComparedLot)> =
        shown.iter().enumerate().map(|(index, lot)| (-(index as f64), lot)).collect();
    let y = AxisText::new(comparison.each, AxisUnit::None);
    let plot = Plot {
        y_labels: rows.iter().map(|(row, lot)| (*row, lot.name.clone())).collect(),
        ..Plot::new(
            "lots",
            comparison.value.clone(),
            y,
            ROW * (shown.len().max(1) as f64 + 0.4),
            marks(comparison, &rows),
        )
    };
    Figure {
        title: comparison.title.clone(),
        description: description(comparison),
        remarks,
        plots: vec![plot],
        key: key(comparison),
        tables: tables(comparison),
        ..Figure::default()
    }
}

fn marks(comparison: &LotComparison, rows: &[(f64, &ComparedLot)]) -> Vec<Mark> {
    let mut marks = Vec::new();
    marks.extend(comparison.margin.map(|[from, to]| Mark::Window {
        class: "margin",
        from,
        to,
        handle: String::new(),
    }));
    // A label at its top would cover the first row.
    let target = comparison.target.as_ref();
    marks.extend(target.map(|(_, at)| Mark::Rule { look: Look::Third, at: *at, label: String::new() }));
    let single =
        rows.iter().flat_map(|(row, lot)| lot.values.iter().map(move |value| (*value, row - BELOW_MEAN)));
    marks.push(Mark::Dots { look: Look::Quiet, shape: Shape::Circle, points: single.collect() });
    let span = |(row, lot): &(f64, &ComparedLot)| lot.interval.map(|[low, high]| (low, high, *row));
    marks.push(Mark::Spans { look: Look::First, points: rows.iter().filter_map(span).collect() });
    for judged in judgements(comparison) {
        let (shape, look) = shape_of(judged);
        let means = rows.iter().filter(|(_, lot)| lot.judged == judged).map(|(row, lot)| (lot.mean, *row));
        marks.push(Mark::Dots { look, shape, points: means.collect() });
    }
    marks
}

fn shape_of(judged: Option<LotJudgement>) -> (Shape, Look) {
    judged.map_or((Shape::Diamond, Look::First), LotJudgement::shape)
}

/// Those that occur, in the order in which they are declared.
fn judgements(comparison: &LotComparison) -> Vec<Option<LotJudgement>> {
    let all =
        [None, Some(LotJudgement::Equivalent), Some(LotJudgement::Different), Some(LotJudgement::NotShown)];
    all.into_iter().filter(|judged| comparison.lots.iter().any(|lot| lot.judged == *judged)).collect()
}

fn key(comparison: &LotComparison) -> Vec<KeyEntry> {
    let mean = |judged: Option<LotJudgement>| {
        let (shape, look) = shape_of(judged);
        KeyEntry::Dot(shape, look, judged.map_or("mean", LotJudgement::words).to_owned())
    };
    let mut key: Vec<KeyEntry> = judgements(comparison).into_iter().map(mean).collect();
    if comparison.lots.iter().any(|lot| !lot.values.is_empty()) {
        key.push(KeyEntry::Dot(Shape::Circle, Look::Quiet, "single value".to_owned()));
    }
    if let Some((name, _)) = &comparison.target {
        key.push(KeyEntry::Stroke("line s3".to_owned(), harmless(name)));
    }
    if comparison.margin.is_some() {
        key.push(KeyEntry::Shade("margin", "margin of equivalence".to_owned()));
    }
    key
}

fn description(comparison: &LotComparison) -> String {
    let lot = |lot: &ComparedLot| {
        let judged = lot.judged.map_or(String::new(), |judged| format!(" ({})", judged.words()));
        format!("{}{judged}", harmless(&lot.name))
    };
    let lots: Vec<String> = comparison.lots.iter().take(MOST_LOTS).map(lot).collect();
    format!(
        "{} of {}: {}.",
        harmless(&comparison.value.quantity),
        counted(comparison.lots.len(), comparison.each),
        lots.join(", ")
    )
}

fn tables(comparison: &LotComparison) -> Vec<Table> {
    let words = |quantity: &str| AxisText::new(quantity, AxisUnit::None);
    let of = |which: &str| AxisText {
        quantity: format!("{}, {which}", comparison.value.quantity),
        unit: comparison.value.unit.clone(),
    };
    let has_intervals = comparison.lots.iter().any(|lot| lot.interval.is_some());
    let has_judgements = comparison.lots.iter().any(|lot| lot.judged.is_some());
    let lot = |lot: &ComparedLot| {
        let mut row: Vec<Cell> =
            vec![lot.name.as_str().into(), (lot.values.len() as f64).into(), lot.mean.into()];
        if has_intervals {
            row.extend(lot.interval.map_or([None, None], |ends| ends.map(Some)).map(Cell::from));
        }
        if has_judgements {
            row.push(lot.judged.map_or(Cell::Nothing, |judged| judged.words().into()));
        }
        row
    };
    let mut columns = vec![words(comparison.each), words("values"), of("mean")];
    if has_intervals {
        columns.extend([of("low end of the interval"), of("high end of the interval")]);
    }
    columns.extend(has_judgements.then(|| words("judgement")));
    let title = if comparison.each == "lot" { "Lots" } else { "Means" };
    let lots = Table { title: title.to_owned(), columns, rows: comparison.lots.iter().map(lot).collect() };
    let value = |lot: &ComparedLot| -> Vec<Vec<Cell>> {
        lot.values.iter().map(|value| vec![lot.name.as_str().into(), (*value).into()]).collect()
    };
    let values = Table {
        title: "Single values".to_owned(),
        columns: vec![words(comparison.each), comparison.value.clone()],
        rows: comparison.lots.iter().flat_map(value).collect(),
    };
    [lots, values].into_iter().filter(|table| !table.rows.is_empty()).collect()
}
