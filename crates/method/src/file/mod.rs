//! The method file: what a method states, read with every place kept, so that a wrong key is shown where it stands.

mod calibration;
mod conditions;
mod evaluation;
mod limits;
mod reading;
pub(crate) mod section;
mod technique;
mod trust;
mod validation;

use stillwell_assure::validate::ValidationRequirements;
use stillwell_quantity::{Analyte, QuantityKind};
use stillwell_scan::{ReadingPin, Technique};

pub use calibration::{
    AcceptancePlan, CalibrationPlan, CalibrationScope, DetectionWay, ModelPlan, WeightsPlan,
};
pub use conditions::{Electrode, Reference, SampleConditions};
pub use evaluation::{
    BaselinePlan, BlankUse, DespikePlan, EvaluationPlan, MeasurePlan, PeakDirection, PeakPlan, SmoothPlan,
};
pub use limits::LimitPlan;
pub use trust::TrustPlan;

use crate::problem::Problems;
use crate::revision::{Hash, canonical};
use section::{Bounds, Reader, Section};

/// A method revision: everything that turns raw scans into a verdict, and its identity.
#[derive(Debug, Clone, PartialEq)]
pub struct Method {
    /// Name.
    pub name: String,
    /// Revision, as the laboratory counts it.
    pub revision: String,
    /// Hash of the canonical form: the revision's true identity.
    pub hash: Hash,
    /// What is determined.
    pub analyte: AnalytePlan,
    /// How a scan is recorded.
    pub technique: Technique,
    /// The electrode.
    pub electrode: Electrode,
    /// The reference.
    pub reference: Reference,
    /// The conditions of a sample.
    pub sample: SampleConditions,
    /// How files are read; open answers are inferred.
    pub reading: ReadingPin,
    /// From scan to signal.
    pub evaluation: EvaluationPlan,
    /// From signals to a curve.
    pub calibration: CalibrationPlan,
    /// Limits of the checks on a raw scan.
    pub trust: TrustPlan,
    /// Limits to judge against.
    pub limits: Vec<LimitPlan>,
    /// What a validation is held against; empty where the method states nothing.
    pub validation: ValidationRequirements,
}

/// What is determined.
#[derive(Debug, Clone, PartialEq)]
pub struct AnalytePlan {
    /// Name of the analyte.
    pub name: String,
    /// Unit and species of every reported number.
    pub reported_as: QuantityKind,
    /// Whether the signal holds nitrite as well.
    pub includes_nitrite: bool,
}

impl Method {
    /// Reads a method file.
    ///
    /// # Errors
    /// Everything that is wrong, each with its place and what would be accepted; an unknown key names
    /// the nearest known one.
    pub fn parse(file_name: &str, source: &str) -> Result<Self, Problems> {
        Reader::read(file_name, source, |reader, root| {
            let hash = Hash::of(root.table().map(canonical).unwrap_or_default().as_bytes());
            read(reader, root, hash)
        })
    }
}

fn read(reader: &mut Reader<'_>, root: &mut Section<'_>, hash: Hash) -> Option<Method> {
    let mut head = root.section(reader, "method");
    let name = head.required_text(reader, "name");
    let revision = head.required_text(reader, "revision");
    let analyte = analyte(reader, &mut head);
    head.finish(reader);
    let technique = technique::technique(reader, root);
    let electrode = conditions::electrode(reader, root);
    let reference = conditions::reference(reader, root);
    let sample = conditions::sample(reader, root);
    let reading = reading::reading(reader, root);
    let evaluation = evaluation::evaluation(reader, root);
    let calibration = calibration::calibration(reader, root);
    let trust = trust::trust(reader, root);
    let limits = limits::limits(reader, root, analyte.as_ref());
    let validation = validation::validation(reader, root);
    Some(Method {
        name: name?,
        revision: revision?,
        hash,
        analyte: analyte?,
        technique: technique?,
        electrode: electrode?,
        reference: reference?,
        sample: sample?,
        reading,
        evaluation: evaluation?,
        calibration: calibration?,
        trust,
        limits,
        validation,
    })
}

fn analyte(reader: &mut Reader<'_>, head: &mut Section<'_>) -> Option<AnalytePlan> {
    let mut section = head.section(reader, "analyte");
    let name = section.required_text(reader, "name");
    let molar_mass = section.number(reader, "molar_mass_g_per_mol", Bounds::POSITIVE);
    let reported_as = section.required_text(reader, "reported_as");
    let includes = section.texts(reader, "signal_includes");
    if let (Some(includes), Some(name)) = (&includes, &name) {
        let known = |part: &String| part == name || (name == "nitrate" && part == "nitrite");
        if !includes.iter().all(known) || !includes.contains(name) {
            let span = section.raw("signal_includes").and_then(toml_edit::Item::span);
            let accepted = format!("accepted: [\"{name}\"], or for nitrate [\"nitrate\", \"nitrite\"]");
            reader.complain(
                span,
                "the signal of the analyte must include it, and may include nitrite",
                accepted,
            );
        }
    }
    let includes_nitrite = includes.iter().flatten().any(|part| part == "nitrite");
    let plan = name.zip(reported_as).and_then(|(name, reported_as)| {
        let analyte = analyte_of(&name, molar_mass, includes_nitrite);
        let kind = analyte
            .and_then(|analyte| QuantityKind::parse(&reported_as, Some(&analyte)).map(|parsed| parsed.value));
        match kind {
            Ok(reported_as) => Some(AnalytePlan { name, reported_as, includes_nitrite }),
            Err(error) => {
                let span = section.raw("reported_as").and_then(toml_edit::Item::span);
                reader.complain(span, error.to_string(), "a unit and species, such as \"mg/L as NO3-\"");
                None
            }
        }
    });
    section.finish(reader);
    plan
}

fn analyte_of(
    name: &str,
    molar_mass: Option<f64>,
    includes_nitrite: bool,
) -> Result<Analyte, stillwell_quantity::QuantityError> {
    let analyte = Analyte::from_name(name, molar_mass)?;
    let is_sum = includes_nitrite && analyte == Analyte::Nitrate;
    Ok(if is_sum { Analyte::NitratePlusNitrite } else { analyte })
}
