//! `[solution]`, `[reference]` and `[surface]`: the state in which the electrode is used.

use stillwell_method::toml_file::{Reader, Section};
use stillwell_twin::{REFERENCE_TEMPERATURE_K, Reference, Surface, Wear};

use super::tried::tried;
use crate::judged::Key;

pub(super) struct Solution {
    pub(super) temperature_k: f64,
    pub(super) uncompensated_ohm: f64,
    pub(super) stirred_layer_m: Option<f64>,
}

pub(super) fn solution(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Solution {
    let mut section = root.section(reader, "solution");
    let temperature_k = Key::celsius("temperature_c").read(
        &mut section,
        reader,
        tried(|cell, value| cell.temperature_k = value),
    );
    let uncompensated_ohm = Key::same("uncompensated_ohm").read(
        &mut section,
        reader,
        tried(|cell, value| cell.uncompensated_ohm = value),
    );
    let stirred_layer_m = Key::um("stirred_layer_um").read(
        &mut section,
        reader,
        tried(|cell, value| cell.stirred_layer_m = Some(value)),
    );
    section.finish(reader);
    Solution {
        temperature_k: temperature_k.unwrap_or(REFERENCE_TEMPERATURE_K),
        uncompensated_ohm: uncompensated_ohm.unwrap_or(0.0),
        stirred_layer_m,
    }
}

pub(super) fn reference(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Reference {
    let mut section = root.section(reader, "reference");
    let mut number = |name, put: fn(&mut Reference, f64)| {
        Key::same(name).read(&mut section, reader, tried(move |cell, value| put(&mut cell.reference, value)))
    };
    let offset_v = number("offset_v", |reference, value| reference.offset_v = value);
    let drift_v_per_s = number("drift_v_per_s", |reference, value| reference.drift_v_per_s = value);
    let chloride_ratio = number("chloride_ratio", |reference, value| reference.chloride_ratio = Some(value));
    section.finish(reader);
    Reference {
        offset_v: offset_v.unwrap_or(0.0),
        drift_v_per_s: drift_v_per_s.unwrap_or(0.0),
        chloride_ratio,
    }
}

pub(super) fn surface(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Surface {
    let mut section = root.section(reader, "surface");
    let scan_number = section.count(reader, "scan_number", 1, 1_000_000).unwrap_or(1);
    let area = wear(reader, &mut section, "area");
    let rate = wear(reader, &mut section, "rate");
    section.finish(reader);
    Surface { scan_number, area, rate }
}

fn wear(reader: &mut Reader<'_>, surface: &mut Section<'_>, name: &'static str) -> Wear {
    let mut section = surface.section(reader, name);
    let mut number = |name, put: fn(&mut Wear, f64)| {
        Key::same(name).read(
            &mut section,
            reader,
            tried(move |cell, value| put(&mut cell.surface.area, value)),
        )
    };
    let deficit = number("activation_deficit", |wear, value| wear.activation_deficit = value);
    let scans = number("activation_scans", |wear, value| wear.activation_scans = value);
    let loss = number("passivation_per_scan", |wear, value| wear.passivation_per_scan = value);
    section.finish(reader);
    Wear {
        activation_deficit: deficit.unwrap_or(Wear::NONE.activation_deficit),
        activation_scans: scans.unwrap_or(Wear::NONE.activation_scans),
        passivation_per_scan: loss.unwrap_or(Wear::NONE.passivation_per_scan),
    }
}
