//! The package's `README.md`: what is in it, what to call, what it needs, how to check a board, and the cautions.

use super::{Parts, RECORDED_VECTORS, SIMULATED_VECTORS};
use crate::frozen::Frozen;
use crate::wire::basis_texts;

/// Bytes of the structs on a 32-bit Arm; a test holds them against the compiler's.
pub(crate) const SCAN_BYTES: usize = 216;
pub(crate) const SCAN_RESULT_BYTES: usize = 560;
pub(crate) const SAMPLE_BYTES: usize = 272;
pub(crate) const SAMPLE_RESULT_BYTES: usize = 160;
pub(crate) const WIRE_BYTES: usize = 32;

pub(super) fn readme(parts: &Parts<'_>) -> String {
    let template = include_str!("../../c/README.template.md");
    let frozen = parts.frozen;
    let kind = &parts.method.analyte.reported_as;
    let [analyte, unit, species] = basis_texts(kind);
    let [lot, first_day, last_day] = parts.lot;
    let storage = 8 * (frozen.n_points() + n_ends(frozen));
    let blank = 8 * frozen.blank_a().map_or(0, <[f64]>::len);
    let fixed = SCAN_BYTES + SCAN_RESULT_BYTES + SAMPLE_BYTES + SAMPLE_RESULT_BYTES + WIRE_BYTES;
    let values = [
        ("METHOD", one_line(&parts.method.name)),
        ("REVISION", one_line(&parts.method.revision)),
        ("METHOD_HASH", frozen.method_hash.to_string()),
        ("CALIBRATION", one_line(parts.calibration)),
        ("CALIBRATION_HASH", frozen.calibration_hash.to_string()),
        ("LOT", one_line(lot)),
        ("FIRST_DAY", first_day.to_owned()),
        ("LAST_DAY", last_day.to_owned()),
        ("SIGNED_BY", one_line(parts.signed_by)),
        ("ANALYTE", one_line(&analyte)),
        ("UNIT", unit),
        ("SPECIES", one_line(&species)),
        ("POINTS", frozen.n_points().to_string()),
        ("STORAGE_BYTES", storage.to_string()),
        ("BLANK_BYTES", blank.to_string()),
        ("FIXED_BYTES", fixed.to_string()),
        ("RAM_FLASH_BLANK", (fixed + storage).to_string()),
        ("RAM_OWN_BLANK", (fixed + storage + blank).to_string()),
        ("SCAN_BYTES", SCAN_BYTES.to_string()),
        ("SCAN_RESULT_BYTES", SCAN_RESULT_BYTES.to_string()),
        ("SAMPLE_BYTES", SAMPLE_BYTES.to_string()),
        ("SAMPLE_RESULT_BYTES", SAMPLE_RESULT_BYTES.to_string()),
        ("WIRE_BYTES", WIRE_BYTES.to_string()),
        ("LOT_BYTES", (crate::constants::LOT_BYTES + blank).to_string()),
        ("VECTORS", vectors(parts)),
        ("EXAMPLE", include_str!("../../c/example.c").trim_end().to_owned()),
        (
            "INTERVAL",
            frozen.freeze.interval_s.map_or_else(|| "not stated by the method".to_owned(), interval),
        ),
    ];
    values.iter().fold(template.to_owned(), |text, (name, value)| text.replace(&format!("@{name}@"), value))
}

fn n_ends(frozen: &Frozen) -> usize {
    if frozen.freeze.has_reverse { 2 * frozen.freeze.trust.end_points as usize } else { 0 }
}

fn interval(interval_s: f64) -> String {
    format!("{} ms", interval_s * 1e3)
}

/// A name from a method file or a study cannot begin a line or a tag of its own.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() || matches!(c, '<' | '>' | '`' | '|') { ' ' } else { c }).collect()
}

fn vectors(parts: &Parts<'_>) -> String {
    let recorded = parts.recorded;
    let left_out = match recorded.n_left_out {
        0 => String::new(),
        n => format!("; {n} scans of another length are left out"),
    };
    let (n_scans, n_samples) = (recorded.n_scans, recorded.n_samples);
    let own = format!(
        "| `{RECORDED_VECTORS}` | {n_scans} scans and {n_samples} samples of the study itself{left_out} |"
    );
    let twin = parts.simulated.map_or_else(
        || "| none of the twin | it does not simulate this technique |".to_owned(),
        |simulated| {
            format!(
                "| `{SIMULATED_VECTORS}` | {} scans that the twin made of this method |",
                simulated.n_scans
            )
        },
    );
    format!("{own}\n{twin}")
}
