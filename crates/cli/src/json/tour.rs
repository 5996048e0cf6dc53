//! `tour --format json`.

use serde::Serialize;
use serde_json::Value;
use stillwell_foresee::alder_vale::WELLS;

use super::determinations;
use crate::render::tour::Tour;

#[derive(Serialize)]
pub(crate) struct Document {
    simulated: bool,
    folder: String,
    figures: Vec<String>,
    wells: Vec<Value>,
    report: determinations::Document,
}

pub(crate) fn of(tour: &Tour<'_>) -> Document {
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
