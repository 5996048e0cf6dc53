//! `dossier --format json`: which document was written.

use std::path::Path;

use schemars::JsonSchema;
use serde::Serialize;
use stillwell_study::Digest;

use super::MethodJson;
use super::study::{HeadJson, head};
use crate::dossier::DossierInput;

/// A dossier that was written.
#[derive(Debug, Clone, Copy)]
pub struct Written<'w> {
    /// What it shows.
    pub input: &'w DossierInput,
    /// Where it is.
    pub path: &'w Path,
    /// The document.
    pub document: &'w str,
}

impl Written<'_> {
    /// Hash of its bytes.
    pub fn blake3(&self) -> Digest {
        Digest::of(self.document.as_bytes())
    }
}

/// Which document was written, of which series, at which head of the ledger.
#[derive(Serialize, JsonSchema)]
pub struct DossierJson {
    method: MethodJson,
    series: String,
    series_name: String,
    ledger: HeadJson,
    path: String,
    bytes: usize,
    blake3: String,
    needs_attention: bool,
}

/// The same as a document for machines.
pub fn of(written: &Written<'_>) -> DossierJson {
    let input = written.input;
    DossierJson {
        method: MethodJson::from(&input.input.method),
        series: input.series.label.clone(),
        series_name: input.series.act.name.clone(),
        ledger: head(&input.history.anchor, Path::new(&input.study_file)),
        path: written.path.display().to_string(),
        bytes: written.document.len(),
        blake3: written.blake3().to_string(),
        needs_attention: !input.is_free(),
    }
}
