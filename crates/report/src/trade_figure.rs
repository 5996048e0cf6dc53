//! A trade study: one quantity against what was varied, for several choices.

use crate::axis::{AxisText, AxisUnit};
use crate::figure::Figure;
use crate::mark::{Mark, Plot};
use crate::scale::Spacing;
use crate::style::Look;
use crate::svg::Shape;
use crate::table::Table;
use crate::words::harmless;

/// What a trade study found, ready to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct TradeStudy {
    /// What the figure shows.
    pub title: String,
    /// What must be read with it.
    pub remarks: Vec<String>,
    /// What was varied.
    pub varied: AxisText,
    /// How it is spread.
    pub varied_spacing: Spacing,
    /// What it does.
    pub outcome: AxisText,
    /// How that is spread.
    pub outcome_spacing: Spacing,
    /// One line each.
    pub series: Vec<TradeSeries>,
}

/// One choice of everything that was not varied along the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct TradeSeries {
    /// Its name, shown at the end of its line.
    pub name: String,
    /// Its points, in the order in which they are joined.
    pub points: Vec<TradePoint>,
}

/// One circuit that was tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TradePoint {
    /// Value of what was varied, in the unit of its axis.
    pub varied: f64,
    /// What came of it, in the unit of its axis.
    pub outcome: f64,
    /// An interval around it.
    pub interval: Option<[f64; 2]>,
}

/// Values that were tried are labelled one by one as long as there are not more.
const MOST_LABELLED: usize = 8;

/// Draws a trade study. Points that are no numbers are left out.
///
/// # Units
/// Those of the two axes.
///
/// # Example
/// ```
/// use stillwell_report::{AxisText, AxisUnit, Spacing, TradePoint, TradeSeries, TradeStudy, trade_figure};
/// let point = |varied, outcome| TradePoint { varied, outcome, interval: None };
/// let study = TradeStudy {
///     title: "Detection limit".to_owned(),
///     remarks: Vec::new(),
///     varied: AxisText { quantity: "resolution of the converter".to_owned(), unit: AxisUnit::Plain("bit".to_owned()) },
///     varied_spacing: Spacing::Linear,
///     outcome: AxisText { quantity: "detection limit".to_owned(), unit: AxisUnit::Plain("mg/L".to_owned()) },
///     outcome_spacing: Spacing::Logarithmic,
///     series: vec![TradeSeries { name: "10 µA".to_owned(), points: vec![point(12.0, 3.1), point(16.0, 1.0)] }],
/// };
/// assert!(trade_figure(&study).standalone().starts_with("<svg"));
/// ```
pub fn trade_figure(study: &TradeStudy) -> Figure {
    let names: Vec<String> = study.series.iter().map(|series| harmless(&series.name)).collect();
    let remarks: Vec<String> = study.remarks.iter().map(|remark| harmless(remark)).collect();
    let description = format!(
        "{} against {} for {} choice(s): {}. {}",
        harmless(&study.outcome.quantity),
        harmless(&study.varied.quantity),
        names.len(),
        names.join(", "),
        remarks.join(" ")
    );
    let tried = study.series.iter().flat_map(|series| &series.points).map(|point| point.varied);
    let mut x_ticks: Vec<f64> = tried.filter(|varied| varied.is_finite()).collect();
    x_ticks.sort_by(f64::total_cmp);
    x_ticks.dedup();
    if x_ticks.len() > MOST_LABELLED {
        x_ticks.clear();
    }
    let marks = study.series.iter().enumerate().flat_map(|(index, series)| marks(index, series)).collect();
    let (varied, outcome) = (study.varied.clone(), study.outcome.clone());
    let plot = Plot {
        x_spacing: study.varied_spacing,
        y_spacing: study.outcome_spacing,
        x_ticks,
        ..Plot::new("trade-study", varied, outcome, 260.0, marks)
    };
    Figure {
        title: study.title.clone(),
        remarks,
        plots: vec![plot],
        description,
        tables: vec![table(study)],
        ..Figure::default()
    }
}

fn table(study: &TradeStudy) -> Table {
    let row = |series: &TradeSeries, point: &TradePoint| {
        let [low, high] = point.interval.map_or([None, None], |ends| ends.map(Some));
        let name = series.name.as_str().into();
        vec![name, point.varied.into(), point.outcome.into(), low.into(), high.into()]
    };
    let end = |which: &str| AxisText {
        quantity: format!("{which} end of the interval"),
        unit: study.outcome.unit.clone(),
    };
    Table {
        title: study.title.clone(),
        columns: vec![
            AxisText::new("choice", AxisUnit::None),
            study.varied.clone(),
            study.outcome.clone(),
            end("lower"),
            end("upper"),
        ],
        rows: study
            .series
            .iter()
            .flat_map(|series| series.points.iter().map(move |point| row(series, point)))
            .collect(),
    }
}

fn marks(index: usize, series: &TradeSeries) -> [Mark; 3] {
    let (look, shape) = (Look::of_series(index), Shape::of_series(index));
    let points: Vec<(f64, f64)> = series.points.iter().map(|point| (point.varied, point.outcome)).collect();
    let intervals = series.points.iter().filter_map(|point| {
        let [low, high] = point.interval?;
        Some((point.varied, low, high))
    });
    [
        Mark::Bars { look, points: intervals.collect() },
        Mark::line(look, points.clone(), &series.name),
        Mark::Dots { look, shape, points },
    ]
}
