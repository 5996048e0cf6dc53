//! `[technique]`: how a scan is recorded.

use stillwell_scan::{Technique, TechniqueKind};

use super::section::{Bounds, Reader, Section};

pub(super) fn technique(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<Technique> {
    let mut section = root.section(reader, "technique");
    let kinds: Vec<(&'static str, TechniqueKind)> = TechniqueKind::WORDS
        .iter()
        .filter_map(|word| TechniqueKind::from_word(word).map(|kind| (*word, kind)))
        .collect();
    if section.raw("kind").is_none() {
        section.missing(reader, "kind", "\"square-wave\"");
    }
    let kind = section.choice(reader, "kind", &kinds);
    let start_v = section.required_number(reader, "start_v", Bounds::POTENTIAL_V);
    let end_v = section.required_number(reader, "end_v", Bounds::POTENTIAL_V);
    let mut number = |key, accepted| section.number(reader, key, accepted);
    let step_v = number("step_v", Bounds::POSITIVE);
    let vertex_v = number("vertex_v", Bounds::POTENTIAL_V);
    let amplitude_v = number("amplitude_v", Bounds::AMPLITUDE_V);
    let frequency_hz = number("frequency_hz", Bounds::POSITIVE);
    let scan_rate_v_per_s = number("scan_rate_v_per_s", Bounds::POSITIVE);
    let pulse_s = number("pulse_s", Bounds::POSITIVE);
    let pulse_period_s = number("pulse_period_s", Bounds::POSITIVE);
    let deposition_v = number("deposition_v", Bounds::POTENTIAL_V);
    let deposition_s = number("deposition_s", Bounds::NOT_NEGATIVE);
    let quiet_s = number("quiet_s", Bounds::NOT_NEGATIVE);
    let duration_s = number("duration_s", Bounds::POSITIVE);
    let cycles = section.count(reader, "cycles", 1, 1000);
    section.finish(reader);
    if let (Some(kind), Some(start_v), Some(end_v)) = (kind, start_v, end_v)
        && (start_v - end_v).abs() < 1e-9
        && !kind.passes_potentials_twice()
    {
        let found = format!("start_v and end_v are both {start_v}");
        reader.complain(section.span(), found, "a scan that goes from one potential to another");
        return None;
    }
    Some(Technique {
        step_v,
        vertex_v,
        cycles,
        amplitude_v,
        frequency_hz,
        scan_rate_v_per_s,
        pulse_s,
        pulse_period_s,
        deposition_v,
        deposition_s,
        quiet_s,
        duration_s,
        ..Technique::new(kind?, start_v?, end_v?)
    })
}
