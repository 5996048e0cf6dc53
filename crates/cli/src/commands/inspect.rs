//! `inspect`: how files were read and whether their scans can be trusted.

use stillwell_method::{Inspection, Method, inspect};
use stillwell_report::json;
use stillwell_study::Study;

use super::source::{is_a_study, series_of};
use super::text_files::{bytes_at, method_at};
use crate::args::{Format, InspectArguments};
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) fn run(arguments: &InspectArguments) -> Result<(String, Outcome), Failure> {
    let method = arguments.method.as_deref().map(method_at).transpose()?.map(|(method, _)| method);
    let mut inspections = Vec::new();
    let mut problems = Vec::new();
    let mut look = |bytes: &[u8], name: &str, method: Option<&Method>| match inspect(bytes, name, method) {
        Ok(inspection) => inspections.push(inspection),
        Err(found) => problems.extend(found.problems),
    };
    for path in &arguments.files {
        if !is_a_study(path)? {
            look(&bytes_at(path)?, &path.display().to_string(), method.as_ref());
            continue;
        }
        let study = Study::open_to_read(path)?;
        let of_study = study.method()?.method;
        let series = series_of(&study, arguments.series.as_deref())?;
        for file in &series.act.files {
            let name = format!("{}: {}", path.display(), file.name);
            look(&study.raw_file(&file.raw)?, &name, Some(method.as_ref().unwrap_or(&of_study)));
        }
    }
    if !problems.is_empty() {
        return Err(Failure::Problems(problems));
    }
    let attention = inspections.iter().any(Inspection::needs_attention);
    let text = match arguments.output.format {
        Format::Table => render::inspections::text(&inspections),
        Format::Json => json::text(&json::inspections::of(&inspections)),
    };
    Ok((text, Outcome::attention_if(attention)))
}
