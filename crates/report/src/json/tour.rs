//! `tour --format json`.

use std::path::Path;

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;
use stillwell_foresee::alder_vale::WELLS;
use stillwell_method::Report;

use super::determinations;

/// What the tour shows.
pub struct Tour<'a> {
    /// Where the scenario was written.
    pub folder: &'a Path,
    /// What the chain found.
    pub report: &'a Report,
    /// Paths of the figures within the folder.
    pub figures: Vec<String>,
    /// The sample whose chain is followed.
    pub followed: &'static str,
    /// The sample that is refused.
    pub refused: &'static str,
}

/// The tour.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    simulated: bool,
    folder: String,
    figures: Vec<String>,
    wells: Vec<Value>,
    report: determinations::Document,
}

/// `tour --format json`.
pub fn of(tour: &Tour<'_>) -> Document {
    let unit = tour.report.method.reported_as.suffix();
    let well = |well: &stillwell_foresee::alder_vale::Well| {
        let entries = [
            ("sample".to_owned(), Value::from(well.name)),
            (format!("truth_{unit}"), well.truth_mg_per_l.into()),
            ("shows".to_owned(), well.shows.into()),
        ];
        Value::Object(entries.into_iter().collect())
    };
    Document {
        simulated: true,
        folder: tour.folder.display().to_string(),
        figures: tour.figures.clone(),
        wells: WELLS.iter().map(well).collect(),
        report: determinations::of(tour.report),
    }
}
