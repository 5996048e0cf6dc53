//! Every document with its address, words, parameters and fields.

use axum::routing::{MethodRouter, get};

use super::documents;
use crate::site::Site;

/// A field at the top of a document, and its JSON type.
pub(super) type Field = (&'static str, &'static str);

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
    /// Fields at its top.
    pub(super) fields: &'static [Field],
    /// Who answers.
    pub(super) route: MethodRouter<Site>,
}

/// What names the study and the head of its ledger.
const HEAD: [Field; 5] = [
    ("contract", "integer"),
    ("study", "string"),
    ("ledger_blake3", "string"),
    ("head_record", "integer"),
    ("head_blake3", "string"),
];

const STUDY: [Field; 10] = [
    HEAD[0],
    HEAD[1],
    HEAD[2],
    HEAD[3],
    HEAD[4],
    ("method", "object"),
    ("series", "array"),
    ("calibrations", "array"),
    ("results", "array"),
    ("keys", "array"),
];
const HISTORY: [Field; 7] =
    [HEAD[0], HEAD[1], HEAD[2], HEAD[3], HEAD[4], ("entries", "array"), ("results", "array")];
const CHAIN: [Field; 4] =
    [("method", "object"), ("chains", "array"), ("result", "object"), ("study", "object")];
const SCANS: [Field; 3] = [("method", "object"), ("scans", "array"), ("study", "object")];
const CALIBRATIONS: [Field; 3] = [("method", "object"), ("calibrations", "array"), ("study", "object")];
const DETERMINATIONS: [Field; 4] =
    [("method", "object"), ("determinations", "array"), ("batch_findings", "array"), ("study", "object")];

const CONTROL: [Field; 8] = [
    ("method", "object"),
    ("training_points", "integer"),
    ("gates", "boolean"),
    ("charts", "array"),
    ("not_charted", "array"),
    ("ageing", "array"),
    ("withheld", "array"),
    ("study", "object"),
];
const LOTS: [Field; 7] = [
    ("method", "object"),
    ("approved_lot", "string"),
    ("channel", "string"),
    ("margin_percent", "number"),
    ("risk", "number"),
    ("lots", "array"),
    ("study", "object"),
];
const VALIDATION: [Field; 6] = [
    ("method", "object"),
    ("calibrations", "array"),
    ("days", "integer"),
    ("all_met", "boolean"),
    ("rows", "array"),
    ("study", "object"),
];
const COMPARISON: [Field; 10] = [
    ("method", "object"),
    ("verdict", "string"),
    ("words", "array"),
    ("advice", "array"),
    ("largest_bias_percent", "number"),
    ("pairs", "array"),
    ("without_partner", "array"),
    ("not_reported_by_laboratory", "array"),
    ("laboratory_records", "array"),
    ("study", "object"),
];

const TRIED: [Field; 5] = [
    ("placement", "object"),
    ("scan", "object"),
    ("determinations", "array"),
    ("series", "object"),
    ("figure", "string"),
];
const PLACEMENT: [(&str, &str); 8] = [
    ("peak_from", "an end of the window of the peak, V; the method's where nothing is said"),
    ("peak_to", "its other end, V"),
    ("baseline-1_from", "an end of the baseline's first window, V"),
    ("baseline-1_to", "its other end, V"),
    ("baseline-2_from", "an end of the baseline's second window, V"),
    ("baseline-2_to", "its other end, V"),
    ("blank", "subtract, align or ignore"),
    ("alone", "yes: only the sample of that scan and what it rests on, without counts of the series"),
];

/// All of them.
pub(super) fn all() -> Vec<Operation> {
    let plain = |path, id, summary, fields, route| Operation { path, id, summary, query: &[], fields, route };
    vec![
        plain(
            "/api/study",
            "study",
            "The whole study: series, calibrations, results with their standing, keys",
            &STUDY,
            get(documents::study),
        ),
        plain(
            "/api/head",
            "head",
            "The head of the ledger, to be kept where the file's owner cannot change it",
            &HEAD,
            get(documents::head),
        ),
        Operation {
            query: &[("of", "only what concerns this sample, calibration, lot or record")],
            ..plain(
                "/api/history",
                "history",
                "The ledger: who did what, when and why",
                &HISTORY,
                get(documents::history),
            )
        },
        plain(
            "/api/results/{result}",
            "result",
            "The whole chain of one issued result, as it was when it was issued",
            &CHAIN,
            get(documents::result),
        ),
        plain(
            "/api/series/{series}/scans",
            "scans",
            "The scans of a series with their signals and findings, as the study stands now",
            &SCANS,
            get(documents::scans),
        ),
        plain(
            "/api/series/{series}/calibrations",
            "calibrations",
            "The calibrations of a series, as the study stands now",
            &CALIBRATIONS,
            get(documents::calibrations),
        ),
        plain(
            "/api/series/{series}/determinations",
            "determinations",
            "The determinations of a series, as the study stands now; nothing is issued",
            &DETERMINATIONS,
            get(documents::determinations),
        ),
        Operation {
            query: &PLACEMENT,
            ..plain(
                "/api/series/{series}/scans/{scan}/try",
                "try",
                "A scan and its series by another placement of peak and baseline; nothing is recorded",
                &TRIED,
                get(crate::placing::document),
            )
        },
        plain(
            "/api/control",
            "control",
            "Every control chart over all series, and the verdicts that charts withhold",
            &CONTROL,
            get(crate::quality::control),
        ),
        plain(
            "/api/lots",
            "lots",
            "Lots of electrodes beside the approved calibration",
            &LOTS,
            get(crate::quality::lots),
        ),
        plain(
            "/api/validation",
            "validation",
            "The validation table: each criterion with its evidence and verdict",
            &VALIDATION,
            get(crate::quality::validation),
        ),
        plain(
            "/api/comparison",
            "comparison",
            "The comparison with the laboratory whose results are on record",
            &COMPARISON,
            get(crate::quality::comparison),
        ),
    ]
}
