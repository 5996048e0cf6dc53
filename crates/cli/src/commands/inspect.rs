//! `inspect`: how files were read and whether their scans can be trusted.

use stillwell_method::{Inspection, inspect};

use super::text_files::{bytes_at, method_at};
use crate::args::{Format, InspectArguments};
use crate::exit::{Failure, Outcome};
use crate::{json, render};

pub(crate) fn run(arguments: &InspectArguments) -> Result<(String, Outcome), Failure> {
    let method = arguments.method.as_deref().map(method_at).transpose()?.map(|(method, _)| method);
    let mut inspections = Vec::new();
    let mut problems = Vec::new();
    for path in &arguments.files {
        let bytes = bytes_at(path)?;
        match inspect(&bytes, &path.display().to_string(), method.as_ref()) {
            Ok(inspection) => inspections.push(inspection),
            Err(found) => problems.extend(found.problems),
        }
    }
    if !problems.is_empty() {
        return Err(Failure::Problems(problems));
    }
    let attention = inspections.iter().any(Inspection::needs_attention);
    let text = match arguments.format {
        Format::Table => render::inspections::text(&inspections),
        Format::Json => json::text(&json::inspections::of(&inspections)),
    };
    Ok((text, Outcome::attention_if(attention)))
}
