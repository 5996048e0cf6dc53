//! `[validation]`: what is asked of the method, and who asks. A number without a requirement is neither met nor not met.

use stillwell_assure::validate::{Requirement, ValidationRequirements};

use super::section::{Bounds, Reader, Section};

pub(super) fn validation(reader: &mut Reader<'_>, root: &mut Section<'_>) -> ValidationRequirements {
    let mut section = root.section(reader, "validation");
    if !section.is_present() {
        return ValidationRequirements::default();
    }
    let source = section.required_text(reader, "source").unwrap_or_default();
    let from = |value: Option<f64>| value.map(|value| Requirement::new(value, source.clone()));
    let between = |value: Option<[f64; 2]>| value.map(|value| Requirement::new(value, source.clone()));
    let positive = Bounds::POSITIVE;
    let asked = ValidationRequirements {
        range: between(section.span_of(reader, "range")),
        deviation_percent: from(section.number(reader, "deviation_percent", positive)),
        detection_limit: from(section.number(reader, "detection_limit", positive)),
        quantification_limit: from(section.number(reader, "quantification_limit", positive)),
        repeatability_percent: from(section.number(reader, "repeatability_percent", positive)),
        intermediate_percent: from(section.number(reader, "intermediate_percent", positive)),
        bias_percent: from(section.number(reader, "bias_percent", positive)),
        recovery_percent: between(section.span_of(reader, "recovery_percent")),
        interference_percent: from(section.number(reader, "interference_percent", positive)),
    };
    section.finish(reader);
    asked
}
