//! `[electrode]`, `[reference]` and `[sample]`: what the method was validated with.

use stillwell_evaluate::TemperatureRule;

use super::section::{Bounds, Reader, Section};

/// The electrode that the method is written for.
#[derive(Debug, Clone, PartialEq)]
pub struct Electrode {
    /// Material of the working electrode, in the trade's words.
    pub material: String,
    /// Geometric area, mm².
    pub area_mm2: Option<f64>,
    /// A strip that serves one solution and is thrown away.
    pub single_use: bool,
    /// What is done to it before the first scan that counts.
    pub conditioning: Option<String>,
}

/// The reference electrode and how far it may wander.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// Kind of reference electrode, in the trade's words.
    pub kind: String,
    /// Largest shift of the peak potential against the calibration's that is still the same peak, V.
    pub shift_limit_v: f64,
}

/// The conditions under which a sample may be determined.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleConditions {
    /// Supporting electrolyte.
    pub electrolyte: String,
    /// Accepted pH after preparation.
    pub ph: Option<[f64; 2]>,
    /// Wait between wetting the electrode and the scan, s.
    pub wait_s: Option<f64>,
    /// Electrodes that one determination takes.
    pub electrodes: u32,
    /// What temperature does to the signal, when the method says so.
    pub temperature: Option<TemperatureRule>,
    /// Validated up to this much chloride, mg/L.
    pub chloride_mg_per_l_max: Option<f64>,
    /// Validated up to this conductivity, µS/cm.
    pub conductivity_us_per_cm_max: Option<f64>,
}

pub(super) fn electrode(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<Electrode> {
    let mut section = root.section(reader, "electrode");
    let material = section.required_text(reader, "material");
    let area_mm2 = section.number(reader, "area_mm2", Bounds::POSITIVE);
    let single_use = section.flag(reader, "single_use");
    if single_use.is_none() && section.is_present() {
        section.missing(reader, "single_use", "true or false");
    }
    let conditioning = section.text(reader, "conditioning");
    section.finish(reader);
    Some(Electrode { material: material?, area_mm2, single_use: single_use?, conditioning })
}

pub(super) fn reference(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<Reference> {
    let mut section = root.section(reader, "reference");
    let kind = section.required_text(reader, "kind");
    let shift_limit_v = section.required_number(reader, "shift_limit_v", Bounds::POSITIVE);
    section.finish(reader);
    Some(Reference { kind: kind?, shift_limit_v: shift_limit_v? })
}

pub(super) fn sample(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<SampleConditions> {
    let mut section = root.section(reader, "sample");
    let electrolyte = section.required_text(reader, "electrolyte");
    let ph = section.span_of(reader, "ph");
    let wait_s = section.number(reader, "wait_s", Bounds::NOT_NEGATIVE);
    let electrodes = section.count(reader, "electrodes", 1, 1000).unwrap_or(1);
    let temperature = temperature(reader, &mut section);
    let chloride_mg_per_l_max = section.number(reader, "chloride_mg_per_l_max", Bounds::NOT_NEGATIVE);
    let conductivity_us_per_cm_max =
        section.number(reader, "conductivity_us_per_cm_max", Bounds::NOT_NEGATIVE);
    section.finish(reader);
    Some(SampleConditions {
        electrolyte: electrolyte?,
        ph,
        wait_s,
        electrodes,
        temperature,
        chloride_mg_per_l_max,
        conductivity_us_per_cm_max,
    })
}

fn temperature(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<TemperatureRule> {
    let span_c = section.span_of(reader, "temperature_c");
    let tolerance_k = section.number(reader, "temperature_tolerance_k", Bounds::NOT_NEGATIVE);
    let coefficient = section.number(reader, "temperature_coefficient_per_k", Bounds::COEFFICIENT_PER_K);
    let coefficient_u =
        section.number(reader, "temperature_coefficient_u_per_k", Bounds::COEFFICIENT_U_PER_K);
    if coefficient.is_some() != coefficient_u.is_some() {
        reader.complain(
            section.span(),
            "a temperature coefficient needs its standard uncertainty, and the other way round",
            "give both temperature_coefficient_per_k and temperature_coefficient_u_per_k",
        );
    }
    if span_c.is_none() && (tolerance_k.is_some() || coefficient.is_some()) {
        section.missing(reader, "temperature_c", "[lowest, highest]");
    }
    Some(TemperatureRule {
        span_c: span_c?,
        tolerance_k: tolerance_k.unwrap_or(0.0),
        coefficient_per_k: coefficient.zip(coefficient_u),
    })
}
