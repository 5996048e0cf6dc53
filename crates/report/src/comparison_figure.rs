//! Two methods on the same samples: one against the other, and their differences against their means.

use crate::axis::{AxisText, AxisUnit};
use crate::figure::Figure;
use crate::mark::{KeyEntry, Mark, Plot};
use crate::style::Look;
use crate::svg::Shape;
use crate::table::{Cell, Table};
use crate::words::harmless;

/// A comparison of two methods, ready to be drawn: whoever fills it has computed line, bias and limits.
#[derive(Debug, Clone, PartialEq)]
pub struct MethodComparison {
    /// What the figure shows.
    pub title: String,
    /// What must be read with it.
    pub remarks: Vec<String>,
    /// The method that is judged.
    pub candidate: String,
    /// The method that it is compared with.
    pub reference: String,
    /// Unit of both methods' results.
    pub unit: AxisUnit,
    /// One pair for each sample.
    pub pairs: Vec<ComparedPair>,
    /// The line through the pairs.
    pub line: Option<ComparedLine>,
    /// What the differences are, such as "candidate less reference"; and their unit, which is % for relative ones.
    pub difference: AxisText,
    /// What their mean and spread are.
    pub agreement: Option<Agreement>,
    /// Differences that would do, in the unit of the differences.
    pub margin: Option<[f64; 2]>,
}

/// One sample, measured with both methods.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedPair {
    /// Its name.
    pub name: String,
    /// Result of the reference.
    pub reference: f64,
    /// Result of the candidate.
    pub candidate: f64,
    /// Where the difference stands: the mean of both, or the reference.
    pub at: f64,
    /// Their difference.
    pub difference: f64,
    /// Whether it was found to lie apart.
    pub is_apart: bool,
}

/// The line of a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedLine {
    /// Its label, such as "fitted".
    pub label: String,
    /// Reference and candidate at its ends.
    pub ends: [(f64, f64); 2],
}

/// Mean difference and limits of agreement, each with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// Low end, value and high end of the mean difference.
    pub bias: [f64; 3],
    /// Low end, value and high end of the lower limit of agreement.
    pub lower: [f64; 3],
    /// Low end, value and high end of the upper limit of agreement.
    pub upper: [f64; 3],
}

/// Draws a comparison of two methods: above candidate against reference, below the differences.
///
/// # Units
/// Those of the results and of the differences, as given.
///
/// # Example
/// ```
/// use stillwell_report::{AxisText, AxisUnit, ComparedPair, MethodComparison, comparison_figure};
/// let unit = AxisUnit::Plain("mg/L".to_owned());
/// let comparison = MethodComparison {
///     title: "Strips against the laboratory".to_owned(),
///     remarks: Vec::new(),
///     candidate: "strips".to_owned(),
///     reference: "laboratory".to_owned(),
///     unit: unit.clone(),
///     pairs: vec![ComparedPair {
///         name: "W1".to_owned(), reference: 20.0, candidate: 21.0, at: 20.5, difference: 1.0, is_apart: false,
///     }],
///     line: None,
///     difference: AxisText { quantity: "strips less laboratory".to_owned(), unit },
///     agreement: None,
///     margin: Some([-2.0, 2.0]),
/// };
/// assert!(comparison_figure(&comparison).standalone().contains("strips less laboratory"));
/// ```
pub fn comparison_figure(comparison: &MethodComparison) -> Figure {
    Figure {
        title: comparison.title.clone(),
        remarks: comparison.remarks.clone(),
        plots: vec![against(comparison), differences(comparison)],
        key: key(comparison),
        description: description(comparison),
        tables: tables(comparison),
        ..Figure::default()
    }
}

fn axis(comparison: &MethodComparison, quantity: &str) -> AxisText {
    AxisText { quantity: quantity.to_owned(), unit: comparison.unit.clone() }
}

fn dots(comparison: &MethodComparison, of: impl Fn(&ComparedPair) -> (f64, f64)) -> [Mark; 2] {
    let chosen = |is_apart| {
        comparison.pairs.iter().filter(|pair| pair.is_apart == is_apart).map(&of).collect::<Vec<_>>()
    };
    [
        Mark::Dots { look: Look::First, shape: Shape::Circle, points: chosen(false) },
        Mark::Dots { look: Look::Alarm, shape: Shape::Cross, points: chosen(true) },
    ]
}

fn against(comparison: &MethodComparison) -> Plot {
    let both = |pair: &ComparedPair| [pair.reference, pair.candidate];
    let all = comparison.pairs.iter().flat_map(both).filter(|number| number.is_finite());
    let (low, high) = all
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), number| (low.min(number), high.max(number)));
    let mut marks = vec![Mark::line(Look::Quiet, vec![(low, low), (high, high)], "equal")];
    marks
        .extend(comparison.line.iter().map(|line| Mark::line(Look::Second, line.ends.to_vec(), &line.label)));
    marks.extend(dots(comparison, |pair| (pair.reference, pair.candidate)));
    let (x, y) = (axis(comparison, &comparison.reference), axis(comparison, &comparison.candidate));
    Plot { shares_x: false, ..Plot::new("methods", x, y, 230.0, marks) }
}

fn differences(comparison: &MethodComparison) -> Plot {
    let margin = comparison.margin.map(|[low, high]| Mark::Stripe { class: "w2", low, high });
    let mut marks: Vec<Mark> = margin.into_iter().collect();
    if let Some(agreement) = &comparison.agreement {
        let Agreement { bias, lower, upper } = agreement;
        for [low, _, high] in [bias, lower, upper] {
            marks.push(Mark::Stripe { class: "band", low: *low, high: *high });
        }
        marks.push(Mark::Zero);
        marks.push(Mark::Level { look: Look::First, at: bias[1], label: "mean".to_owned() });
        for [_, at, _] in [lower, upper] {
            marks.push(Mark::Level { look: Look::Third, at: *at, label: "agreement".to_owned() });
        }
    } else {
        marks.push(Mark::Zero);
    }
    marks.extend(dots(comparison, |pair| (pair.at, pair.difference)));
    let mean = axis(comparison, &format!("{} and {}, mean", comparison.candidate, comparison.reference));
    Plot { shares_x: false, ..Plot::new("differences", mean, comparison.difference.clone(), 190.0, marks) }
}

fn key(comparison: &MethodComparison) -> Vec<KeyEntry> {
    let mut key = vec![KeyEntry::Dot(Shape::Circle, Look::First, "one sample".to_owned())];
    if comparison.pairs.iter().any(|pair| pair.is_apart) {
        key.push(KeyEntry::Dot(Shape::Cross, Look::Alarm, "a sample that lies apart".to_owned()));
    }
    if comparison.margin.is_some() {
        key.push(KeyEntry::Shade("w2", "differences that would do".to_owned()));
    }
    if comparison.agreement.is_some() {
        key.push(KeyEntry::Shade("band", "intervals of mean and limits of agreement".to_owned()));
    }
    key
}

fn description(comparison: &MethodComparison) -> String {
    let n_apart = comparison.pairs.iter().filter(|pair| pair.is_apart).count();
    let remarks: Vec<String> = comparison.remarks.iter().map(|remark| harmless(remark)).collect();
    format!(
        "{} against {} for {} sample(s), {n_apart} of them apart; below, the differences. {}",
        harmless(&comparison.candidate),
        harmless(&comparison.reference),
        comparison.pairs.len(),
        remarks.join(" ")
    )
}

fn tables(comparison: &MethodComparison) -> Vec<Table> {
    let words = |quantity: &str| AxisText::new(quantity, AxisUnit::None);
    let pair = |pair: &ComparedPair| {
        let apart = if pair.is_apart { Cell::from("apart") } else { Cell::Nothing };
        let numbers = [pair.reference, pair.candidate, pair.difference].map(Cell::from);
        [Cell::from(pair.name.as_str())].into_iter().chain(numbers).chain([apart]).collect()
    };
    let pairs = Table {
        title: "Samples".to_owned(),
        columns: vec![
            words("sample"),
            axis(comparison, &comparison.reference),
            axis(comparison, &comparison.candidate),
            comparison.difference.clone(),
            words("remark"),
        ],
        rows: comparison.pairs.iter().map(pair).collect(),
    };
    let of = |which: &str| AxisText {
        quantity: format!("{}, {which}", comparison.difference.quantity),
        unit: comparison.difference.unit.clone(),
    };
    let row =
        |name: &str, ends: [f64; 3]| [Cell::from(name)].into_iter().chain(ends.map(Cell::from)).collect();
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    if let Some(Agreement { bias, lower, upper }) = comparison.agreement {
        rows.push(row("mean difference", bias));
        rows.push(row("lower limit of agreement", lower));
        rows.push(row("upper limit of agreement", upper));
    }
    rows.extend(
        comparison.margin.map(|[low, high]| {
            vec!["differences that would do".into(), low.into(), Cell::Nothing, high.into()]
        }),
    );
    let agreement = Table {
        title: "Agreement".to_owned(),
        columns: vec![words("figure"), of("low"), of("value"), of("high")],
        rows,
    };
    [pairs, agreement].into_iter().filter(|table| !table.rows.is_empty()).collect()
}
