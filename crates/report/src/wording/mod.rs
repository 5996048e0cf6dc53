//! Words of a study that command line, page and dossier share: numbers, verdicts, trust, records, cautions.

mod records;
mod results;
mod trust;

pub use records::{
    approval_by, calibration_words, laboratory_words, record_words, verdict_words, verdicts_words,
};
pub use results::{Said, number, quantity, sample};
pub use trust::{Trust, TrustGrade, trust};

use stillwell_quantity::round_to_uncertainty;

/// What must be read with every result.
pub const CAUTIONS: [&str; 4] = [
    "A result supports a decision; by itself it is neither a legal statement of compliance nor medical advice.",
    "Only the named analyte was measured. Reports to an authority follow the local code and an accredited procedure.",
    "Water high in nitrate is a hazard above all to bottle-fed infants.",
    "Handle standards and reagents as their safety data sheets say.",
];

/// `2026-05-12 08:30`, UTC.
pub fn moment(at_utc: &str) -> String {
    at_utc.get(..16).unwrap_or(at_utc).replace('T', " ")
}

/// `1 scan`, `12 scans`; a word that ends in s keeps its form.
pub fn counted(n: usize, word: &str) -> String {
    if n == 1 || word.ends_with('s') { format!("{n} {word}") } else { format!("{n} {word}s") }
}

/// A current with its standard error, both to the error's second digit: `293.33 nA, standard error 0.48 nA`.
pub fn current_with_error(value_a: f64, error_a: f64) -> String {
    let larger = value_a.abs().max(error_a);
    let (scale, prefix) = [(1e3, "m"), (1e6, "µ"), (1e9, "n")]
        .into_iter()
        .find(|(scale, _)| larger * scale >= 1.0)
        .unwrap_or((1e12, "p"));
    let rounded = round_to_uncertainty(value_a * scale, error_a * scale);
    format!("{} {prefix}A, standard error {} {prefix}A", rounded.value, rounded.expanded_u)
}

/// A number that a person gave, with a fitting prefix and every digit it had: `100 µA`, `0.5 mV`.
pub fn given(value: f64, unit: &str) -> String {
    const PREFIXES: [(f64, &str); 6] =
        [(1.0, ""), (1e3, "m"), (1e6, "µ"), (1e9, "n"), (1e12, "p"), (1e15, "f")];
    let size = value.abs();
    let fits = |(scale, _): &&(f64, &str)| size * scale > 1.0 - 1e-9;
    let is_whole = unit == "bit" || unit.is_empty() || size == 0.0;
    let plain = if is_whole { Some(&(1.0, "")) } else { PREFIXES.iter().find(fits).or(PREFIXES.last()) };
    let (scale, prefix) = plain.copied().unwrap_or((1.0, ""));
    let digits = format!("{:.9}", value * scale);
    let digits = digits.trim_end_matches('0').trim_end_matches('.');
    format!("{digits} {prefix}{unit}").trim_end().to_owned()
}

/// Degrees of freedom as a whole number, or without end.
pub fn degrees_of_freedom(number: f64) -> String {
    if number.is_infinite() { "∞".to_owned() } else { format!("{number:.0}") }
}
