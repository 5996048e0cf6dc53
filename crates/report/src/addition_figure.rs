//! A standard addition: electrode means, their line carried on to zero signal, and the slope of the standards beside it.

use stillwell_method::{AdditionLink, AdditionResult, Effect, MeasurePlan, Method, three_digits};

use crate::axis::{AxisText, AxisUnit};
use crate::figure::Figure;
use crate::mark::{KeyEntry, Mark, Plot};
use crate::style::Look;
use crate::svg::Shape;
use crate::table::Table;
use crate::words::harmless;

/// Draws one series of additions.
///
/// Line, interval and slopes come from the standard addition; nothing is fitted here. Points of a diluted vial stand where
/// their dilution puts them on the line.
///
/// # Units
/// Additions in the method's reporting unit, signals in A (A·V for an area) with a prefix.
pub fn addition_figure(method: &Method, link: &AdditionLink) -> Figure {
    let title = format!("Standard addition: {}", harmless(&link.sample));
    let Some(result) = &link.result else {
        let description = "No line could be drawn through these additions.".to_owned();
        return Figure {
            title,
            refusal: Some(("Refused: no number is issued", reasons(link))),
            remarks: vec![description.clone()],
            description,
            ..Figure::default()
        };
    };
    // What to do about it stands beside the figure.
    let short = |sentence: &String| sentence.split("; ").next().unwrap_or_default().to_owned();
    let remarks: Vec<String> = link.sentences.iter().map(short).collect();
    Figure {
        description: remarks.join(" "),
        title,
        remarks,
        plots: vec![plot(method, link, result)],
        key: key(link, result),
        tables: vec![table(method, result)],
        ..Figure::default()
    }
}

fn reasons(link: &AdditionLink) -> Vec<String> {
    let findings = link.findings.iter().filter(|finding| finding.is_in_force(Effect::Refused));
    let remarks = link.remarks.iter().filter(|remark| remark.effect == Effect::Refused);
    findings
        .map(|finding| format!("{}: {}", finding.check.id(), finding.found))
        .chain(remarks.map(|remark| remark.words.clone()))
        .collect()
}

fn plot(method: &Method, link: &AdditionLink, result: &AdditionResult) -> Plot {
    let estimate = &result.estimate;
    let value = estimate.value;
    // What is seen at a dilution f lies on the line at a + C (f − 1).
    let place = |added: f64, fraction: f64| added + value * (fraction - 1.0);
    let points: Vec<(f64, f64)> = estimate
        .points
        .iter()
        .map(|point| (place(point.added, point.sample_fraction), point.mean_signal_a))
        .collect();
    let end = points.iter().map(|(x, _)| *x).fold(0.0, f64::max);
    let line = |slope: f64| vec![(-value, 0.0), (end, slope * (end + value))];
    let mut marks = vec![
        Mark::Window { class: "w1", from: -result.high, to: -result.low, handle: String::new() },
        Mark::Zero,
        Mark::line(Look::Third, vec![(-result.high, 0.0), (-result.low, 0.0)], ""),
        Mark::line(Look::First, line(estimate.slope_a_per_level), "sample"),
    ];
    if let Some(matrix) = &link.matrix {
        marks.push(Mark::line(Look::Second, line(matrix.external_slope_a_per_level), "standards"));
    }
    marks.push(Mark::Dots { look: Look::First, shape: Shape::Circle, points });
    marks.push(Mark::Rule {
        look: Look::Third,
        at: -value,
        label: format!("result {}", three_digits(value)),
    });
    let [added, signal] = axes(method);
    Plot::new("standard-addition", added, signal, 260.0, marks)
}

fn axes(method: &Method) -> [AxisText; 2] {
    let is_area = method.evaluation.peak.measure == MeasurePlan::Area;
    [
        AxisText::new("added", AxisUnit::Plain(method.analyte.reported_as.to_string())),
        AxisText::new("signal", AxisUnit::Prefixed(if is_area { "A·V" } else { "A" }.to_owned())),
    ]
}

fn table(method: &Method, result: &AdditionResult) -> Table {
    let [added, signal] = axes(method);
    Table {
        title: "Means of the electrodes".to_owned(),
        columns: vec![added, AxisText::new("part that is sample", AxisUnit::None), signal],
        rows: result
            .estimate
            .points
            .iter()
            .map(|point| vec![point.added.into(), point.sample_fraction.into(), point.mean_signal_a.into()])
            .collect(),
    }
}

fn key(link: &AdditionLink, result: &AdditionResult) -> Vec<KeyEntry> {
    let percent = three_digits(100.0 * result.estimate.coverage);
    let percent = percent.trim_end_matches('0').trim_end_matches('.');
    let mut key = vec![
        KeyEntry::Dot(Shape::Circle, Look::First, "mean of one electrode".to_owned()),
        KeyEntry::Shade("w1", format!("{percent} % interval of the result, to the left of zero")),
    ];
    if link.matrix.is_some() {
        key.push(KeyEntry::Stroke("line s2".to_owned(), "slope that the standards have".to_owned()));
    }
    key
}
