//! One scan: as recorded with its blank, and below what the signal was measured on, or why there is none.

use stillwell_method::{Effect, EvaluatedCurves, Finding, Found, MeasurePlan, Method, PeakDirection, Role};
use stillwell_method::{ScanCurves, SignalMark, WindowPurpose};

use crate::axis::{AxisText, AxisUnit, potential, quantity};
use crate::figure::Figure;
use crate::mark::{KeyEntry, Mark, Plot};
use crate::style::Look;
use crate::table::{Cell, Table};
use crate::words::harmless;

/// Draws one scan with the curves on its way to a signal.
///
/// Above: the current as recorded and the blank that was subtracted. Below, where the scan came to an evaluation: the
/// difference as measured and smoothed, the baseline, the windows, and the peak with height and potential. A refused scan
/// shows the reasons and remedies instead of a signal.
///
/// # Units
/// V and A with the prefix that gives short numbers; potentials against the method's reference electrode.
pub fn scan_figure(method: &Method, curves: &ScanCurves<'_>) -> Figure {
    let refusals: Vec<&Finding> =
        curves.link.findings.iter().filter(|finding| finding.is_in_force(Effect::Refused)).collect();
    let mut plots = vec![recorded(method, curves)];
    let mut key = Vec::new();
    if let Some(evaluated) = &curves.evaluated {
        if let Some(above) = plots.first_mut() {
            above.shows_x = false;
        }
        plots.push(measured(method, curves, evaluated));
        key = window_key(curves, evaluated);
    }
    let result = result_in_words(curves);
    let mut remarks = vec![subject(curves), result.clone()];
    remarks.extend(overridden(curves));
    remarks.retain(|remark| !remark.is_empty());
    let reasons: Vec<String> = refusals.iter().flat_map(|finding| reason(finding)).collect();
    let title = curves.link.row.scan_label();
    let description = format!(
        "{}. {result} {}",
        subject(curves),
        reasons.first().map_or(String::new(), |reason| format!("Refused: {reason}"))
    );
    Figure {
        title,
        remarks,
        refusal: (!reasons.is_empty()).then_some(("Refused: no signal is issued", reasons)),
        plots,
        key,
        description,
        tables: tables(method, curves),
        ..Figure::default()
    }
}

/// The axis of potentials.
pub(crate) fn potential_axis(method: &Method) -> AxisText {
    let quantity = format!("potential against {}", harmless(&method.reference.kind));
    AxisText::new(&quantity, AxisUnit::Plain("V".to_owned()))
}

pub(crate) fn current_axis(quantity: &str) -> AxisText {
    AxisText::new(quantity, AxisUnit::Prefixed("A".to_owned()))
}

pub(crate) fn points(potential_v: &[f64], current_a: &[f64]) -> Vec<(f64, f64)> {
    potential_v.iter().copied().zip(current_a.iter().copied()).collect()
}

fn line(look: Look, curves: &ScanCurves<'_>, current_a: &[f64], label: &str, trace: &str) -> Mark {
    Mark::traced(look, points(curves.potential_v, current_a), label, trace)
}

fn recorded(method: &Method, curves: &ScanCurves<'_>) -> Plot {
    let mut marks = Vec::new();
    if let Some(blank_a) = &curves.blank_a {
        marks.push(line(Look::Third, curves, blank_a, "blank", "blank"));
    }
    marks.push(line(Look::First, curves, curves.current_a, "recorded", "recorded"));
    let current = current_axis("current as recorded");
    Plot::new("recorded", potential_axis(method), current, 150.0, marks)
}

fn measured(method: &Method, curves: &ScanCurves<'_>, evaluated: &EvaluatedCurves) -> Plot {
    let mut marks = windows(curves);
    let has_blank = curves.blank_a.is_some();
    if evaluated.smoothed_a == evaluated.subtracted_a {
        marks.push(line(
            Look::First,
            curves,
            &evaluated.smoothed_a,
            if has_blank { "less blank" } else { "current" },
            "smoothed",
        ));
    } else {
        marks.push(line(Look::Quiet, curves, &evaluated.subtracted_a, "unsmoothed", "unsmoothed"));
        marks.push(line(Look::First, curves, &evaluated.smoothed_a, "smoothed", "smoothed"));
    }
    marks.push(line(Look::Second, curves, &evaluated.baseline_a, "baseline", "baseline"));
    for (n, index) in evaluated.baseline_points.into_iter().flatten().enumerate() {
        let at = curves.potential_v.get(index).zip(evaluated.baseline_a.get(index));
        marks.extend(at.map(|(x, y)| Mark::Anchor { at: (*x, *y), handle: format!("anchor-{}", n + 1) }));
    }
    marks.extend(curves.mark.and_then(|mark| height(curves, &mark)));
    let current = current_axis(if has_blank { "current less blank" } else { "current" });
    Plot::new("measured", potential_axis(method), current, 210.0, marks)
}

/// The page's script finds the window of the peak as "peak" and those of the baseline as "baseline-1", "baseline-2" …
fn windows(curves: &ScanCurves<'_>) -> Vec<Mark> {
    let mut n_baseline = 0;
    let handle = |purpose: WindowPurpose| match purpose {
        WindowPurpose::Peak => "peak".to_owned(),
        WindowPurpose::Baseline => {
            n_baseline += 1;
            format!("baseline-{n_baseline}")
        }
    };
    let handles: Vec<String> = curves.windows.iter().map(|window| window.purpose).map(handle).collect();
    let marks = curves.windows.iter().zip(handles).map(|(window, handle)| {
        let [from, to] = window.window_v;
        Mark::Window { class: class_of(window.purpose), from, to, handle }
    });
    marks.collect()
}

/// The curves point by point, and where the signal was measured.
fn tables(method: &Method, curves: &ScanCurves<'_>) -> Vec<Table> {
    let evaluated = curves.evaluated.as_ref();
    let lines: [(&str, Option<&[f64]>); 5] = [
        ("recorded", Some(curves.current_a)),
        ("blank", curves.blank_a.as_deref()),
        ("less blank", evaluated.map(|evaluated| evaluated.subtracted_a.as_slice())),
        ("smoothed", evaluated.map(|evaluated| evaluated.smoothed_a.as_slice())),
        ("baseline", evaluated.map(|evaluated| evaluated.baseline_a.as_slice())),
    ];
    let shown: Vec<(&str, &[f64])> =
        lines.into_iter().filter_map(|(name, current_a)| Some((name, current_a?))).collect();
    let row = |(index, potential_v): (usize, &f64)| {
        let currents = shown.iter().map(|(_, current_a)| Cell::from(current_a.get(index).copied()));
        [Cell::from(*potential_v)].into_iter().chain(currents).collect()
    };
    let columns = shown.iter().map(|(name, _)| current_axis(&format!("current, {name}")));
    let points = Table {
        title: "Points of the scan".to_owned(),
        columns: [potential_axis(method)].into_iter().chain(columns).collect(),
        rows: curves.potential_v.iter().enumerate().map(row).collect(),
    };
    curves.mark.map(|mark| signal_table(method, curves, &mark)).into_iter().chain([points]).collect()
}

fn signal_table(method: &Method, curves: &ScanCurves<'_>, mark: &SignalMark) -> Table {
    Table {
        title: "Signal".to_owned(),
        columns: vec![
            potential_axis(method),
            current_axis("baseline there"),
            AxisText::new("signal", AxisUnit::Prefixed(signal_unit(curves).to_owned())),
        ],
        rows: vec![[mark.potential_v, mark.baseline_a, mark.signal].map(Cell::from).to_vec()],
    }
}

/// The height as measured; an area is no height.
fn height(curves: &ScanCurves<'_>, mark: &SignalMark) -> Option<Mark> {
    if curves.measure == MeasurePlan::Area {
        return None;
    }
    let along = match curves.direction {
        PeakDirection::Reduction => -mark.signal,
        PeakDirection::Oxidation => mark.signal,
    };
    Some(Mark::Height {
        at: mark.potential_v,
        foot: mark.baseline_a,
        tip: mark.baseline_a + along,
        label: format!("{} at {}", signal_in_words(curves, mark.signal), potential(mark.potential_v)),
    })
}

fn signal_in_words(curves: &ScanCurves<'_>, signal: f64) -> String {
    quantity(signal, &AxisUnit::Prefixed(signal_unit(curves).to_owned()))
}

fn signal_unit(curves: &ScanCurves<'_>) -> &'static str {
    if curves.measure == MeasurePlan::Area { "A·V" } else { "A" }
}

fn class_of(purpose: WindowPurpose) -> &'static str {
    match purpose {
        WindowPurpose::Peak => "w1",
        WindowPurpose::Baseline => "w2",
    }
}

fn window_key(curves: &ScanCurves<'_>, evaluated: &EvaluatedCurves) -> Vec<KeyEntry> {
    let has = |purpose| curves.windows.iter().any(|window| window.purpose == purpose);
    let mut key = Vec::new();
    if has(WindowPurpose::Peak) {
        key.push(KeyEntry::Shade("w1", "peak is looked for here".to_owned()));
    }
    if has(WindowPurpose::Baseline) {
        key.push(KeyEntry::Shade("w2", "baseline rests here".to_owned()));
    }
    if evaluated.baseline_points.is_some() {
        key.push(KeyEntry::Ring("baseline touches".to_owned()));
    }
    key
}

/// Role, sample or level, electrode.
fn subject(curves: &ScanCurves<'_>) -> String {
    let row = &curves.link.row;
    let mut parts = vec![row.role.word().replace('-', " ")];
    if !row.sample.is_empty() {
        parts.push(harmless(&row.sample));
    }
    parts.extend(row.level.as_ref().map(ToString::to_string));
    let named = [("lot", &row.lot), ("electrode", &row.electrode), ("channel", &row.channel)];
    parts.extend(
        named.iter().filter(|(_, v)| !v.is_empty()).map(|(name, v)| format!("{name} {}", harmless(v))),
    );
    parts.join(" · ")
}

/// The signal in one sentence, or why there is none although nothing was refused.
fn result_in_words(curves: &ScanCurves<'_>) -> String {
    let link = curves.link;
    if let Some(reason) = &link.row.exclude {
        return format!("Left out: {}", harmless(reason));
    }
    let Some(signal) = &link.signal else {
        let is_blank = link.row.role == Role::Blank;
        return if is_blank { "A blank has no signal of its own.".to_owned() } else { String::new() };
    };
    let value = signal_in_words(curves, signal.signal);
    let noise = signal.noise_a.map_or(String::new(), |noise| {
        format!(", noise {}", quantity(noise, &AxisUnit::Prefixed("A".to_owned())))
    });
    match (signal.found, curves.mark) {
        (Found::AtFixedPotential, Some(mark)) => {
            format!(
                "Signal {value} at the calibration's {}, without a search{noise}.",
                potential(mark.potential_v)
            )
        }
        (Found::ByPeak, Some(mark)) => {
            format!("Signal {value}, peak at {}{noise}.", potential(mark.potential_v))
        }
        (_, None) => format!("Signal {value}{noise}."),
    }
}

fn overridden(curves: &ScanCurves<'_>) -> Option<String> {
    let given = curves.link.findings.iter().find(|finding| finding.overridden.is_some())?;
    let reason = given.overridden.as_deref().unwrap_or_default();
    Some(format!("Used in spite of {}: {}", given.check.id(), harmless(reason)))
}

fn reason(finding: &Finding) -> [String; 2] {
    [format!("{}: {}", finding.check.id(), finding.found), format!("What to do: {}", finding.remedy())]
}
