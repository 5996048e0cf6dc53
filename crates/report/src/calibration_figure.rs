//! A calibration: electrode means, curve, bands and limits, and the residuals below.

use std::collections::BTreeSet;

use stillwell_calibrate::{Calibration, StandardPoint};
use stillwell_evaluate::{Curve, prediction_half_width_a, signal_at};
use stillwell_method::{CalibrationLink, DetectionClaim, Effect, MeasurePlan, Method, three_digits};

use crate::axis::{AxisText, AxisUnit, quantity};
use crate::figure::Figure;
use crate::mark::{KeyEntry, Mark, Plot};
use crate::style::Look;
use crate::svg::Shape;
use crate::table::{Cell, Table};
use crate::words::harmless;

/// Stretches in which a curve is drawn.
const STRETCHES: u32 = 80;

/// The table of the curve shows every n-th place.
const ROWS_APART: usize = 8;

/// So many electrodes have no scatter of their own left: the band is that of the curve alone.
const ELECTRODES_WITHOUT_END: u32 = u32::MAX;

/// Draws one calibration.
///
/// The curve and its bands come from the kernel's own functions on the frozen constants, the points, residuals and
/// limits from the calibration; nothing is fitted here. Bands end where the standards end.
///
/// # Units
/// Levels in the method's reporting unit, signals in A (A·V for an area) with a prefix.
pub fn calibration_figure(method: &Method, link: &CalibrationLink) -> Figure {
    let title = format!("Calibration: {}", link.key.label());
    let reasons: Vec<String> = link
        .findings
        .iter()
        .filter(|finding| finding.is_in_force(Effect::Refused))
        .map(|finding| format!("{}: {}", finding.check.id(), finding.found))
        .collect();
    let refusal =
        (!reasons.is_empty()).then_some(("Refused: no sample is read off this calibration", reasons));
    let Some(calibration) = &link.calibration else {
        let description = "No curve could be made from these standards.".to_owned();
        return Figure {
            title,
            refusal,
            remarks: vec![description.clone()],
            description,
            ..Figure::default()
        };
    };
    let remarks = remarks(method, link, calibration);
    let groups = Groups::of(&calibration.points);
    Figure {
        description: remarks.join(" "),
        title,
        remarks,
        refusal,
        plots: vec![
            curve_plot(method, link, calibration, &groups),
            residual_plot(method, calibration, &groups),
        ],
        key: key(method, calibration, &groups),
        tables: tables(method, link, calibration),
        ..Figure::default()
    }
}

fn level_axis(method: &Method) -> AxisText {
    let unit = method.analyte.reported_as.to_string();
    AxisText::new(&method.analyte.name, AxisUnit::Plain(unit))
}

fn signal_axis(method: &Method, quantity: &str) -> AxisText {
    AxisText::new(quantity, signal_unit(method))
}

fn signal_unit(method: &Method) -> AxisUnit {
    let is_area = method.evaluation.peak.measure == MeasurePlan::Area;
    AxisUnit::Prefixed(if is_area { "A·V" } else { "A" }.to_owned())
}

fn remarks(method: &Method, link: &CalibrationLink, calibration: &Calibration) -> Vec<String> {
    let figures = &calibration.statistics;
    let s = quantity(figures.residual_sd_a, &signal_unit(method));
    let mut remarks = vec![format!(
        "{} through {} electrode means at {} levels; s = {s} with {} degrees of freedom; {}.",
        capitalized(&calibration.settings.model.to_string()),
        figures.n_points,
        figures.n_levels,
        figures.degrees_of_freedom,
        if link.is_accepted() { "accepted" } else { "not accepted" }
    )];
    if let Some(first) = calibration.excluded.first() {
        let (n, label, reason) =
            (calibration.excluded.len(), harmless(&first.label), harmless(&first.reason));
        remarks.push(format!("Left out: {n} scan(s), the first {label} ({reason})."));
    }
    remarks
}

fn capitalized(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

fn curve_plot(
    method: &Method,
    link: &CalibrationLink,
    calibration: &Calibration,
    groups: &Groups<'_>,
) -> Plot {
    let curve = &calibration.curve;
    let (new_electrodes, none) = (method.sample.electrodes, ELECTRODES_WITHOUT_END);
    let mut marks = vec![
        Mark::Band { class: "band", points: band(curve, new_electrodes) },
        Mark::Edges { look: Look::First, points: band(curve, none) },
        Mark::line(Look::First, drawn(curve), &calibration.settings.model.to_string()),
    ];
    marks.extend(groups.dots(&calibration.points, |point| point.mean_signal_a));
    marks.extend(link.detection.iter().flat_map(limits));
    Plot {
        shows_x: false,
        ..Plot::new("calibration", level_axis(method), signal_axis(method, "signal"), 230.0, marks)
    }
}

fn residual_plot(method: &Method, calibration: &Calibration, groups: &Groups<'_>) -> Plot {
    let mut marks = vec![Mark::Zero];
    marks.extend(groups.dots(&calibration.points, |point| point.residual_a));
    let residual = signal_axis(method, "electrode mean less curve");
    Plot::new("residuals", level_axis(method), residual, 100.0, marks)
}

fn tables(method: &Method, link: &CalibrationLink, calibration: &Calibration) -> Vec<Table> {
    let point = |point: &StandardPoint| {
        let numbers = [point.level, point.mean_signal_a, point.fitted_signal_a, point.residual_a];
        [Cell::from(point.electrode.as_str())].into_iter().chain(numbers.map(Cell::from)).collect()
    };
    let points = Table {
        title: "Electrode means of the standards".to_owned(),
        columns: vec![
            AxisText::new("electrode", AxisUnit::None),
            level_axis(method),
            signal_axis(method, "mean signal"),
            signal_axis(method, "curve"),
            signal_axis(method, "mean less curve"),
        ],
        rows: calibration.points.iter().map(point).collect(),
    };
    let curve = &calibration.curve;
    let at = |level: f64| {
        let half = |electrodes| prediction_half_width_a(curve, level, electrodes, 0.0);
        let (own, new) = (half(ELECTRODES_WITHOUT_END), half(method.sample.electrodes));
        let middle = signal_at(curve, level);
        [level, middle, middle - own, middle + own, middle - new, middle + new].map(Cell::from).to_vec()
    };
    let bands = Table {
        title: format!("Curve and {} bands", percent(calibration)),
        columns: vec![
            level_axis(method),
            signal_axis(method, "curve"),
            signal_axis(method, "band of the curve, low"),
            signal_axis(method, "band of the curve, high"),
            signal_axis(method, "band of new electrodes, low"),
            signal_axis(method, "band of new electrodes, high"),
        ],
        rows: levels(curve).step_by(ROWS_APART).map(at).collect(),
    };
    let mut tables = vec![points, bands];
    tables.extend(link.detection.as_ref().map(|claim| limit_table(method, claim)));
    tables
}

fn limit_table(method: &Method, claim: &DetectionClaim) -> Table {
    Table {
        title: "Limits".to_owned(),
        columns: vec![AxisText::new("limit", AxisUnit::None), level_axis(method)],
        rows: limits_of(claim).map(|(name, at)| vec![name.into(), at.into()]).to_vec(),
    }
}

fn limits_of(claim: &DetectionClaim) -> [(&'static str, f64); 3] {
    [
        ("decision limit", claim.decision_limit.value()),
        ("detection limit", claim.detection_limit.value()),
        ("quantification limit", claim.quantification_limit.value()),
    ]
}

fn percent(calibration: &Calibration) -> String {
    let percent = three_digits(100.0 * calibration.settings.coverage);
    format!("{} %", percent.trim_end_matches('0').trim_end_matches('.'))
}

fn levels(curve: &Curve) -> impl Iterator<Item = f64> {
    let (from, to) = (curve.level_min, curve.level_max);
    (0..=STRETCHES).map(move |step| from + (to - from) * (f64::from(step) / f64::from(STRETCHES)))
}

fn drawn(curve: &Curve) -> Vec<(f64, f64)> {
    levels(curve).map(|level| (level, signal_at(curve, level))).collect()
}

fn band(curve: &Curve, electrodes: u32) -> Vec<(f64, f64, f64)> {
    levels(curve)
        .map(|level| {
            let (middle, half) =
                (signal_at(curve, level), prediction_half_width_a(curve, level, electrodes, 0.0));
            (level, middle - half, middle + half)
        })
        .collect()
}

fn limits(claim: &DetectionClaim) -> [Mark; 3] {
    let [decision, detection, quantification] = limits_of(claim);
    let rule = |look, (name, at): (&str, f64)| Mark::Rule {
        look,
        at,
        label: format!("{name} {}", three_digits(at)),
    };
    [rule(Look::Second, decision), rule(Look::Third, detection), rule(Look::Fourth, quantification)]
}

/// Electrodes that serve several levels are told apart by shape; single-use ones are all alike.
struct Groups<'a> {
    electrodes: Vec<&'a str>,
}

impl<'a> Groups<'a> {
    fn of(points: &'a [StandardPoint]) -> Self {
        let all: BTreeSet<&str> = points.iter().map(|point| point.electrode.as_str()).collect();
        let are_few = all.len() <= Shape::COUNT && all.len() < points.len();
        Self { electrodes: if are_few { all.into_iter().collect() } else { Vec::new() } }
    }

    fn dots(&self, points: &[StandardPoint], of: impl Fn(&StandardPoint) -> f64) -> Vec<Mark> {
        let chosen = |electrode: Option<&str>| -> Vec<(f64, f64)> {
            let is_of = |point: &&StandardPoint| electrode.is_none_or(|name| point.electrode == name);
            points.iter().filter(is_of).map(|point| (point.level, of(point))).collect()
        };
        let dots = |index: usize, electrode: Option<&str>| Mark::Dots {
            look: Look::of_series(index),
            shape: Shape::of_series(index),
            points: chosen(electrode),
        };
        if self.electrodes.is_empty() {
            return vec![dots(0, None)];
        }
        self.electrodes.iter().enumerate().map(|(index, electrode)| dots(index, Some(electrode))).collect()
    }

    fn key(&self) -> Vec<KeyEntry> {
        let entry =
            |index, words: String| KeyEntry::Dot(Shape::of_series(index), Look::of_series(index), words);
        if self.electrodes.is_empty() {
            return vec![entry(0, "mean of one electrode".to_owned())];
        }
        let named = self.electrodes.iter().enumerate();
        named.map(|(index, electrode)| entry(index, format!("electrode {electrode}"))).collect()
    }
}

fn key(method: &Method, calibration: &Calibration, groups: &Groups<'_>) -> Vec<KeyEntry> {
    let percent = percent(calibration);
    let new_electrodes = method.sample.electrodes;
    let mut key = groups.key();
    key.push(KeyEntry::Stroke("edge s1".to_owned(), format!("{percent} band of the curve")));
    key.push(KeyEntry::Shade(
        "band",
        format!("{percent} band of the mean of {new_electrodes} new electrode(s)"),
    ));
    key
}
