//! A technique: the potential that it programs against time, as a whole and in its first periods.

use stillwell_scan::{Technique, TechniqueKind, Waveform};

use crate::axis::{AxisText, AxisUnit, potential, quantity};
use crate::figure::Figure;
use crate::mark::{KeyEntry, Mark, Plot};
use crate::style::Look;
use crate::table::{Cell, Table};

/// Up to so many periods are drawn corner by corner.
const MOST_DRAWN: usize = 30;

/// So many periods are drawn large where there are more.
const DRAWN_LARGE: usize = 3;

/// So many of very many periods stand for all.
const MOST_SAMPLED: usize = 100;

/// Draws the programmed potential of a technique against time.
///
/// Many periods are drawn as the area between their highest and lowest potentials, and the first three of them large below. What the
/// technique leaves open is not guessed: the figure then says what is missing.
///
/// # Units
/// V and s with a prefix.
///
/// # Example
/// ```
/// use stillwell_report::technique_figure;
/// use stillwell_scan::{Technique, TechniqueKind};
/// let mut technique = Technique::new(TechniqueKind::SquareWave, 0.1, -0.5);
/// assert!(technique_figure(&technique).standalone().contains("amplitude_v"));
/// technique.step_v = Some(0.004);
/// technique.amplitude_v = Some(0.025);
/// technique.frequency_hz = Some(25.0);
/// assert!(technique_figure(&technique).standalone().contains("151 periods"));
/// ```
pub fn technique_figure(technique: &Technique) -> Figure {
    let title = format!("Technique: {}", technique.kind.word().replace('-', " "));
    if technique.kind == TechniqueKind::Potentiometry {
        let remark = "No potential is applied: it is measured without a current.".to_owned();
        return Figure { description: remark.clone(), title, remarks: vec![remark], ..Figure::default() };
    }
    let mut tables = vec![programmed(technique)];
    let waveform = match technique.waveform() {
        Ok(waveform) => waveform,
        Err(incomplete) => {
            return Figure {
                description: incomplete.to_string(),
                title,
                refusal: Some(("No potential can be drawn", vec![incomplete.to_string()])),
                tables,
                ..Figure::default()
            };
        }
    };
    let mut remarks = vec![in_words(technique, &waveform)];
    remarks.extend(before(technique));
    let mut plots = vec![whole(&waveform)];
    let mut key = Vec::new();
    if waveform.n_periods() > MOST_DRAWN {
        plots.push(first_periods(&waveform));
        key.push(KeyEntry::Shade("band", "highest to lowest potential of each period".to_owned()));
    }
    tables.push(corners(&waveform));
    Figure { description: remarks.join(" "), title, remarks, plots, key, tables, ..Figure::default() }
}

fn time_axis() -> AxisText {
    AxisText::new("time since the start of the scan", AxisUnit::Prefixed("s".to_owned()))
}

fn potential_axis() -> AxisText {
    AxisText::new("programmed potential", AxisUnit::Plain("V".to_owned()))
}

fn in_words(technique: &Technique, waveform: &Waveform) -> String {
    let of = |value: Option<f64>, name: &str, unit: &str| {
        value.map(|value| format!("{name} {}", quantity(value, &AxisUnit::Prefixed(unit.to_owned()))))
    };
    let (start, end) = (potential(technique.start_v), potential(technique.end_v));
    let is_held = technique.vertex_v.is_none() && start == end;
    let mut parts = vec![if is_held { format!("held at {start}") } else { format!("{start} to {end}") }];
    parts.extend(technique.vertex_v.map(|vertex_v| format!("turning at {}", potential(vertex_v))));
    parts.extend(of(technique.step_v, "step", "V"));
    parts.extend(of(technique.amplitude_v, "amplitude", "V"));
    parts.extend(of(technique.frequency_hz, "frequency", "Hz"));
    parts.extend(of(technique.pulse_s, "pulse", "s"));
    parts.extend(of(technique.scan_rate_v_per_s, "scan rate", "V/s"));
    let duration = quantity(waveform.duration_s(), &AxisUnit::Prefixed("s".to_owned()));
    match waveform.n_periods() {
        1 => format!("{}; {duration}.", parts.join(", ")),
        n_periods => format!("{}; {n_periods} periods in {duration}.", parts.join(", ")),
    }
}

/// What comes before the scan; it can last so long that the scan beside it would be a stroke.
fn before(technique: &Technique) -> Option<String> {
    let seconds = |value: f64| quantity(value, &AxisUnit::Prefixed("s".to_owned()));
    let deposition = technique.deposition_s.map(|length_s| {
        let at = technique.deposition_v.map_or(String::new(), |at_v| format!(" at {}", potential(at_v)));
        format!("deposition{at} for {}", seconds(length_s))
    });
    let rest =
        technique.quiet_s.map(|length_s| format!("rest at the first potential for {}", seconds(length_s)));
    let parts: Vec<String> = [deposition, rest].into_iter().flatten().collect();
    (!parts.is_empty()).then(|| format!("Before, not drawn: {}.", parts.join(", ")))
}

fn whole(waveform: &Waveform) -> Plot {
    let n_periods = waveform.n_periods();
    let marks = if n_periods <= MOST_DRAWN {
        vec![Mark::line(Look::First, waveform.corners(0..n_periods), "")]
    } else {
        let apart = (n_periods / MOST_SAMPLED).max(1);
        let sampled = (0..n_periods).step_by(apart).chain([n_periods - 1]);
        let spans: Vec<(f64, f64, f64)> = sampled.filter_map(|period| span(waveform, period)).collect();
        let low = spans.iter().map(|(at_s, low, _)| (*at_s, *low)).collect();
        let high = spans.iter().map(|(at_s, _, high)| (*at_s, *high)).collect();
        vec![
            Mark::Band { class: "band", points: spans },
            Mark::line(Look::First, low, ""),
            Mark::line(Look::First, high, ""),
        ]
    };
    let height = if n_periods <= MOST_DRAWN { 220.0 } else { 150.0 };
    Plot { shares_x: false, ..Plot::new("whole-scan", time_axis(), potential_axis(), height, marks) }
}

/// Middle of a period, its lowest and its highest potential.
fn span(waveform: &Waveform, period: usize) -> Option<(f64, f64, f64)> {
    let corners = waveform.corners(period..period + 1);
    let (first_s, last_s) = (corners.first()?.0, corners.last()?.0);
    let potentials = corners.iter().map(|(_, potential_v)| *potential_v);
    let (low, high) =
        potentials.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
    Some((f64::midpoint(first_s, last_s), low, high))
}

fn first_periods(waveform: &Waveform) -> Plot {
    let mark = Mark::line(Look::First, waveform.corners(0..DRAWN_LARGE), "");
    let time = AxisText { quantity: format!("the first {DRAWN_LARGE} periods, time"), ..time_axis() };
    Plot { shares_x: false, ..Plot::new("first-periods", time, potential_axis(), 150.0, vec![mark]) }
}

fn corners(waveform: &Waveform) -> Table {
    let n_shown = if waveform.n_periods() > MOST_DRAWN { DRAWN_LARGE } else { waveform.n_periods() };
    let row = |(time_s, potential_v): (f64, f64)| vec![time_s.into(), potential_v.into()];
    Table {
        title: format!("Corners of the first {n_shown} of {} period(s)", waveform.n_periods()),
        columns: vec![time_axis(), potential_axis()],
        rows: waveform.corners(0..n_shown).into_iter().map(row).collect(),
    }
}

/// What the technique states, each with its unit in words: the units differ from row to row.
fn programmed(technique: &Technique) -> Table {
    let stated = [
        ("first potential", Some(technique.start_v), "V"),
        ("last potential", Some(technique.end_v), "V"),
        ("turning potential", technique.vertex_v, "V"),
        ("step", technique.step_v, "V"),
        ("amplitude", technique.amplitude_v, "V"),
        ("frequency", technique.frequency_hz, "Hz"),
        ("scan rate", technique.scan_rate_v_per_s, "V/s"),
        ("pulse", technique.pulse_s, "s"),
        ("pulse to pulse", technique.pulse_period_s, "s"),
        ("deposition potential", technique.deposition_v, "V"),
        ("deposition", technique.deposition_s, "s"),
        ("rest", technique.quiet_s, "s"),
        ("length at one potential", technique.duration_s, "s"),
    ];
    let row = |(name, value, unit): (&str, Option<f64>, &str)| {
        let words = quantity(value?, &AxisUnit::Prefixed(unit.to_owned()));
        Some(vec![Cell::from(name), Cell::Words(words)])
    };
    let column = |name: &str| AxisText::new(name, AxisUnit::None);
    Table {
        title: "Programmed values".to_owned(),
        columns: vec![column("what"), column("value")],
        rows: stated.into_iter().filter_map(row).collect(),
    }
}
