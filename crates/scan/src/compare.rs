//! Where a scan departs from its technique, or from another scan: in words, with both values.

use std::fmt;

use crate::scan::{Scan, Setting};
use crate::segments::SweepDirection;
use crate::steps::usual_step;
use crate::technique::{Technique, TechniqueKind};

/// One difference between what was found and what was expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// The quantity, such as `step`.
    pub what: &'static str,
    /// What the scan has, with its unit.
    pub found: String,
    /// What was expected, with its unit.
    pub expected: String,
    /// Line of the setting in the scan's file, where the difference is one of a settings line.
    pub line: Option<usize>,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: found {}", self.what, self.found)?;
        if let Some(line) = self.line {
            write!(f, " (line {line})")?;
        }
        write!(f, ", expected {}", self.expected)
    }
}

/// Two settings agree when they differ by less than this share: text rounds.
const RELATIVE_ROUNDING: f64 = 1e-6;

/// Where the settings lines and the recorded grid of a scan differ from the technique. Settings lines whose key is not
/// recognised are not compared.
///
/// # Units
///
/// Settings with a unit are compared in SI; a setting without a unit is compared as it stands in V and mV, A … and differs
/// only where no unit makes it agree.
///
/// # Source
///
/// Common practice, no source.
pub fn settings_differences(scan: &Scan, technique: &Technique) -> Vec<Difference> {
    let mut differences = settings_line_differences(scan, technique);
    differences.extend(grid_against_technique(scan, technique));
    differences
}

/// The first part of [`settings_differences`]: where the settings lines differ, without a look at the recorded grid.
///
/// # Units
///
/// As [`settings_differences`].
///
/// # Source
///
/// Common practice, no source.
pub fn settings_line_differences(scan: &Scan, technique: &Technique) -> Vec<Difference> {
    scan.settings.iter().filter_map(|setting| setting_difference(setting, technique)).collect()
}

/// What a settings line programs.
#[derive(Clone, Copy)]
struct Programmed {
    what: &'static str,
    unit: &'static str,
    expected: f64,
    /// Whether the sign is part of the value (a step may be written with the sign of its direction).
    is_signed: bool,
}

fn setting_difference(setting: &Setting, technique: &Technique) -> Option<Difference> {
    let programmed = programmed(&setting.key, technique)?;
    let (value, unit_text) = leading_number(&setting.value)?;
    let unit_text = if unit_text.is_empty() { unit_in_key(&setting.key) } else { unit_text };
    let expected = programmed.expected;
    let agrees = |value: f64| {
        let value = if programmed.is_signed { value } else { value.abs() };
        (value - expected).abs() <= RELATIVE_ROUNDING * expected.abs().max(1e-6)
    };
    let found = match scale(programmed.unit, &unit_text) {
        Some(scale) if agrees(value * scale) => return None,
        Some(scale) => format!("{} {}", shown(value * scale), programmed.unit),
        None if agrees(value) || agrees(value * 1e-3) => return None,
        None if unit_text.is_empty() => format!("{} (unit not stated)", shown(value)),
        None => format!("{} {unit_text}", shown(value)),
    };
    Some(Difference {
        what: programmed.what,
        found,
        expected: format!("{} {}", shown(expected), programmed.unit),
        line: Some(setting.line),
    })
}

/// Matches a key's words with a programmed value that the technique states.
fn programmed(key: &str, technique: &Technique) -> Option<Programmed> {
    let lower = key.to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let has = |wanted: &[&str]| words.iter().any(|word| wanted.contains(word));
    let value = |what, unit, expected: Option<f64>, is_signed| {
        expected.map(|expected| Programmed { what, unit, expected, is_signed })
    };
    if has(&["deposition", "accumulation", "preconcentration"]) {
        return if has(&["time", "duration", "s"]) {
            value("deposition time", "s", technique.deposition_s, true)
        } else {
            value("deposition potential", "V", technique.deposition_v, true)
        };
    }
    if has(&["quiet", "equilibration", "rest"]) {
        value("quiet time", "s", technique.quiet_s, true)
    } else if has(&["frequency", "freq"]) {
        value("frequency", "Hz", technique.frequency_hz, true)
    } else if has(&["amplitude"]) || (has(&["pulse"]) && has(&["height", "size"])) {
        value("amplitude", "V", technique.amplitude_v, false)
    } else if has(&["pulse"]) && has(&["width", "time", "length", "duration"]) {
        value("pulse width", "s", technique.pulse_s, true)
    } else if has(&["pulse", "step"]) && has(&["period"]) {
        value("pulse period", "s", technique.pulse_period_s, true)
    } else if has(&["rate"]) && has(&["scan", "sweep"]) {
        value("scan rate", "V/s", technique.scan_rate_v_per_s, false)
    } else if has(&["step", "increment", "incr"]) && !has(&["time", "number", "steps"]) {
        value("step", "V", technique.step_v, false)
    } else if has(&["vertex", "switching", "turning"]) {
        value("turning potential", "V", technique.vertex_v, true)
    } else if has(&["time", "date", "clock"]) {
        None
    } else if has(&["start", "initial", "init", "begin", "from"]) {
        value("start potential", "V", Some(technique.start_v), true)
    } else if has(&["end", "final", "stop", "to"]) {
        value("end potential", "V", Some(technique.end_v), true)
    } else {
        None
    }
}

/// The number at the start of a value, with point or comma, and what follows it.
fn leading_number(value: &str) -> Option<(f64, String)> {
    let value = value.trim();
    let number = |mark: u8| crate::number::number_at(value.as_bytes(), 0, mark);
    let (with_point, with_comma) = (number(b'.')?, number(b',')?);
    let (number, end) = if with_comma.1 > with_point.1 { with_comma } else { with_point };
    Some((number, value.get(end..)?.trim().to_owned()))
}

fn unit_in_key(key: &str) -> String {
    let parts = key.split(['(', ')', '[', ']', '/', '_', ' ']).rev();
    let unit = parts.map(str::trim).find(|part| ["V", "mV", "s", "ms", "Hz", "kHz"].contains(part));
    let key = key.replace(' ', "");
    match ["mV/s", "V/s"].into_iter().find(|rate| key.contains(rate)) {
        Some(rate) => rate.to_owned(),
        None => unit.unwrap_or_default().to_owned(),
    }
}

fn scale(si_unit: &str, text: &str) -> Option<f64> {
    match (si_unit, text) {
        ("V", "V") | ("s", "s" | "sec") | ("Hz", "Hz" | "1/s") | ("V/s", "V/s" | "V s-1") => Some(1.0),
        ("V", "mV") | ("s", "ms") | ("V/s", "mV/s" | "mV s-1") => Some(1e-3),
        ("Hz", "kHz") => Some(1e3),
        ("s", "min") => Some(60.0),
        _ => None,
    }
}

/// A value as text, without the last digits that only a change of unit brought in.
fn shown(value: f64) -> String {
    let rounded: f64 = format!("{value:.9e}").parse().unwrap_or(value);
    format!("{rounded}")
}

fn grid_against_technique(scan: &Scan, technique: &Technique) -> Vec<Difference> {
    let mut differences = Vec::new();
    if matches!(technique.kind, TechniqueKind::Chronoamperometry | TechniqueKind::Potentiometry) {
        return differences;
    }
    let (Some(&first), Some(&last)) = (scan.potential_v.first(), scan.potential_v.last()) else {
        return differences;
    };
    let step_v = technique.step_v.or_else(|| usual_step(&scan.potential_v)).unwrap_or(0.0);
    let mut add = |what, found: String, expected: String| {
        differences.push(Difference { what, found, expected, line: None });
    };
    let volts = |value: f64| format!("{} V", shown(value));
    // Programs record a point at the start potential, or one step behind it.
    let within = 1.5 * step_v;
    if (first - technique.start_v).abs() > within {
        add("first potential", volts(first), volts(technique.start_v));
    }
    if (last - technique.end_v).abs() > within {
        add("last potential", volts(last), volts(technique.end_v));
    }
    if let (Some(expected), Some(found)) = (technique.step_v, usual_step(&scan.potential_v))
        && (found - expected).abs() > 0.02 * expected
    {
        add("step", volts(found), volts(expected));
    }
    let is_turning = scan.segments().len() > 1;
    if is_turning != technique.kind.passes_potentials_twice() {
        let words = |turns: bool| if turns { "a sweep that turns" } else { "a sweep one way" };
        let (found, expected) = (words(is_turning), words(!is_turning));
        add("sweep", found.to_owned(), expected.to_owned());
    }
    differences
}

/// Where the potential grids of two scans differ: number of points, first and last potential, step, direction, or single
/// points. Empty where both can be evaluated on one grid, point by point.
///
/// # Units
///
/// Potentials within a thousandth of a step of each other count as equal: text rounds.
///
/// # Source
///
/// Common practice, no source.
pub fn grid_differences(found: &Scan, expected: &Scan) -> Vec<Difference> {
    let mut differences = Vec::new();
    // The usual case: nothing below could differ.
    if is_same_grid(&found.potential_v, &expected.potential_v) {
        return differences;
    }
    let mut add = |what, found: String, expected: String| {
        differences.push(Difference { what, found, expected, line: None });
    };
    let volts = |value: f64| format!("{} V", shown(value));
    let tolerance = 1e-3 * usual_step(&expected.potential_v).unwrap_or(0.0) + 1e-12;
    let differs = |a: f64, b: f64| (a - b).abs() > tolerance;
    if found.n_points() != expected.n_points() {
        let points = |scan: &Scan| format!("{} points", scan.n_points());
        add("number of points", points(found), points(expected));
    }
    let ends = [
        ("first potential", found.potential_v.first(), expected.potential_v.first()),
        ("last potential", found.potential_v.last(), expected.potential_v.last()),
    ];
    for (what, one, other) in ends {
        if let (Some(&one), Some(&other)) = (one, other)
            && differs(one, other)
        {
            add(what, volts(one), volts(other));
        }
    }
    if let (Some(one), Some(other)) = (usual_step(&found.potential_v), usual_step(&expected.potential_v))
        && differs(one, other)
    {
        add("step", volts(one), volts(other));
    }
    let direction = |scan: &Scan| scan.segments().first().map(|segment| segment.direction);
    if direction(found) != direction(expected) {
        let words = |scan: &Scan| match direction(scan) {
            Some(SweepDirection::Rising) => "rising".to_owned(),
            Some(SweepDirection::Falling) => "falling".to_owned(),
            None => "constant".to_owned(),
        };
        add("direction", words(found), words(expected));
    }
    if differences.is_empty() {
        let pairs = found.potential_v.iter().zip(&expected.potential_v);
        let odd = pairs.enumerate().find(|(_, (one, other))| differs(**one, **other));
        if let Some((index, (one, other))) = odd {
            let at = |value: f64| format!("{} V at point {}", shown(value), index + 1);
            differences.push(Difference {
                what: "potential",
                found: at(*one),
                expected: at(*other),
                line: None,
            });
        }
    }
    differences
}

/// Number for number, without a branch a point.
fn is_same_grid(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len() && a.iter().zip(b).filter(|(a, b)| a.to_bits() != b.to_bits()).count() == 0
}
