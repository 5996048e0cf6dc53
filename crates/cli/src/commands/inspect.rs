//! `inspect`: how files were read and whether their scans can be trusted.

use std::path::Path;

use stillwell_folder::FolderError;
use stillwell_method::{Inspection, Method, inspect};

use crate::args::{Format, InspectArguments};
use crate::exit::{Failure, Outcome};
use crate::{json, render};

pub(crate) fn run(arguments: &InspectArguments) -> Result<(String, Outcome), Failure> {
    let method = arguments.method.as_deref().map(method_at).transpose()?;
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

fn bytes_at(path: &Path) -> Result<Vec<u8>, Failure> {
    stillwell_folder::read_bytes(path).map_err(|error| Failure::Folder { folder: path.to_owned(), error })
}

fn method_at(path: &Path) -> Result<Method, Failure> {
    let bytes = bytes_at(path)?;
    let name = path.display().to_string();
    let text = String::from_utf8(bytes).map_err(|error| {
        let error = FolderError::NotUtf8 { path: path.to_owned(), at: error.utf8_error().valid_up_to() };
        Failure::Folder { folder: path.to_owned(), error }
    })?;
    Method::parse(&name, &text).map_err(|found| Failure::Problems(found.problems))
}
