//! Every document with its address, words, parameters and fields.

use axum::routing::{MethodRouter, get};
use schemars::{JsonSchema, Schema, SchemaGenerator};
use stillwell_report::json;

use super::documents;
use crate::site::Site;

/// The shape of a document, with what it is made of left to the generator.
pub(super) type Shape = fn(&mut SchemaGenerator) -> Schema;

/// A document that programs may ask for.
pub(super) struct Operation {
    /// Address, with parameters in braces.
    pub(super) path: &'static str,
    /// Its name for generated clients.
    pub(super) id: &'static str,
    /// What it says.
    pub(super) summary: &'static str,
    /// Parameters of the query: name and words.
    pub(super) query: &'static [(&'static str, &'static str)],
    /// What the document is, taken from the type that is written.
    pub(super) shape: Shape,
    /// Refusals of its own, beside those that every address has: status and words.
    pub(super) refusals: &'static [(&'static str, &'static str)],
    /// Who answers.
    pub(super) route: MethodRouter<Site>,
}

const PLACEMENT: [(&str, &str); 9] = [
    ("peak_from", "an end of the window of the peak, V; the method's where nothing is said"),
    ("peak_to", "its other end, V"),
    ("baseline-1_from", "an end of the baseline's first window, V"),
    ("baseline-1_to", "its other end, V"),
    ("baseline-2_from", "an end of the baseline's second window, V"),
    ("baseline-2_to", "its other end, V"),
    ("height_at", "where the height is taken, V; only where the method states a potential for it"),
    ("blank", "subtract, align or ignore"),
    ("alone", "yes: only the sample of that scan and what it rests on, without counts of the series"),
];

fn shape<T: JsonSchema>(generator: &mut SchemaGenerator) -> Schema {
    T::json_schema(generator)
}

/// Without parameters of a query, and without refusals of its own.
fn plain(
    path: &'static str,
    id: &'static str,
    summary: &'static str,
    shape: Shape,
    route: MethodRouter<Site>,
) -> Operation {
    Operation { path, id, summary, query: &[], shape, refusals: &[], route }
}

/// All of them.
pub(super) fn all() -> Vec<Operation> {
    let mut all = of_study();
    all.extend(of_quality());
    all
}

/// The study, its results and its series.
fn of_study() -> Vec<Operation> {
    vec![
        plain(
            "/api/study",
            "study",
            "The whole study: series, calibrations, results with their standing, keys",
            shape::<json::study::OverviewJson>,
            get(documents::study),
        ),
        plain(
            "/api/head",
            "head",
            "The head of the ledger, to be kept where the file's owner cannot change it",
            shape::<json::study::HeadJson>,
            get(documents::head),
        ),
        Operation {
            query: &[("of", "only what concerns this sample, calibration, lot or record")],
            ..plain(
                "/api/history",
                "history",
                "The ledger: who did what, when and why",
                shape::<json::study::history::Document>,
                get(documents::history),
            )
        },
        plain(
            "/api/results/{result}",
            "result",
            "The whole chain of one issued result, as it was when it was issued",
            shape::<json::study::ChainJson<json::chain::Document>>,
            get(documents::result),
        ),
        plain(
            "/api/results/{result}/budget",
            "budget",
            "What the uncertainty of one issued result is made of; as many draws as were made on its page, else few",
            shape::<json::budgets::Document>,
            get(documents::budget),
        ),
        plain(
            "/api/series/{series}/scans",
            "scans",
            "The scans of a series with their signals and findings, as the study stands now",
            shape::<json::study::FromStudy<json::scans::Document>>,
            get(documents::scans),
        ),
        plain(
            "/api/series/{series}/calibrations",
            "calibrations",
            "The calibrations of a series, as the study stands now",
            shape::<json::study::FromStudy<json::calibrations::Document>>,
            get(documents::calibrations),
        ),
        plain(
            "/api/series/{series}/determinations",
            "determinations",
            "The determinations of a series, as the study stands now; nothing is issued",
            shape::<json::study::FromStudy<json::determinations::Document>>,
            get(documents::determinations),
        ),
        Operation {
            query: &PLACEMENT,
            refusals: &[("422", "A placement that the method does not accept")],
            ..plain(
                "/api/series/{series}/scans/{scan}/try",
                "try",
                "A scan and its series by another placement of peak and baseline; nothing is recorded",
                shape::<crate::placing::Document>,
                get(crate::placing::document),
            )
        },
    ]
}

/// Quality over time, judged over all series.
fn of_quality() -> Vec<Operation> {
    vec![
        plain(
            "/api/control",
            "control",
            "Every control chart over all series, and the verdicts that charts withhold",
            shape::<json::study::OverSeries<json::charts::Document>>,
            get(crate::quality::control),
        ),
        plain(
            "/api/lots",
            "lots",
            "Lots of electrodes beside the approved calibration",
            shape::<json::study::OverSeries<json::lots::Document>>,
            get(crate::quality::lots),
        ),
        plain(
            "/api/validation",
            "validation",
            "The validation table: each criterion with its evidence and verdict",
            shape::<json::study::OverSeries<json::validation::Document>>,
            get(crate::quality::validation),
        ),
        plain(
            "/api/comparison",
            "comparison",
            "The comparison with the laboratory whose results are on record",
            shape::<json::study::OverSeries<json::comparison::Document>>,
            get(crate::quality::comparison),
        ),
    ]
}
