//! `transfer --format json` and `prove --format json`. Plain data: what a package is, its own room knows.

use serde_json::{Value, json};

use super::CONTRACT;

/// A package that was made for a device.
pub struct Package<'a> {
    /// Name and revision of the method.
    pub method: &'a str,
    /// Its hash.
    pub method_blake3: &'a str,
    /// The calibration, as the study labels it.
    pub calibration: &'a str,
    /// The lot of electrodes.
    pub lot: &'a str,
    /// First and last day of use.
    pub days: [&'a str; 2],
    /// Whose key signed.
    pub signed_by: &'a str,
    /// Files in the package.
    pub n_files: usize,
    /// Their bytes.
    pub n_bytes: usize,
    /// Vectors from the study.
    pub recorded: Vectors,
    /// Vectors from the twin; none where it does not simulate the technique.
    pub simulated: Option<Vectors>,
    /// Hash that stands for all files.
    pub package_blake3: String,
    /// The ledger's record of it.
    pub ledger_record: u64,
    /// Whether that stood there before.
    pub was_recorded_before: bool,
}

/// Scans with expected bits.
#[derive(Clone, Copy)]
pub struct Vectors {
    /// Scans.
    pub n_scans: usize,
    /// Samples that they make.
    pub n_samples: usize,
    /// Scans on another grid.
    pub n_left_out: usize,
}

/// What was found of a package.
pub struct Proof<'a> {
    /// Whether everything holds, to the bit.
    pub proven: bool,
    /// What was looked at: whether it holds, and in words.
    pub looked_at: Vec<(bool, &'a str)>,
    /// What was built and run.
    pub built: Vec<Build<'a>>,
}

/// One build of the package.
pub struct Build<'a> {
    /// Where it ran, and what built it.
    pub on: &'a str,
    /// One for each vector file.
    pub runs: Vec<Run<'a>>,
    /// Name and value of what was measured.
    pub measured: &'a [(String, String)],
}

/// One vector file, walked.
pub struct Run<'a> {
    /// The file.
    pub vectors: &'a str,
    /// Its scans.
    pub n_scans: u64,
    /// Its samples.
    pub n_samples: u64,
    /// Words compared.
    pub n_words: u64,
    /// Words that differ.
    pub n_differing: u64,
    /// What else went wrong.
    pub n_errors: u64,
    /// The first differences in words.
    pub different: &'a [String],
}

/// `transfer --format json`.
pub fn package(made: &Package<'_>) -> Value {
    let Vectors { n_scans, n_samples, n_left_out } = made.recorded;
    let simulated = |of: Vectors| json!({ "n_scans": of.n_scans, "n_left_out": of.n_left_out });
    json!({
        "contract": CONTRACT,
        "method": made.method,
        "method_blake3": made.method_blake3,
        "calibration": made.calibration,
        "lot": made.lot,
        "first_day": made.days[0],
        "last_day": made.days[1],
        "signed_by": made.signed_by,
        "n_files": made.n_files,
        "n_bytes": made.n_bytes,
        "recorded": { "n_scans": n_scans, "n_samples": n_samples, "n_left_out": n_left_out },
        "simulated": made.simulated.map(simulated),
        "package_blake3": made.package_blake3,
        "ledger_record": made.ledger_record,
        "was_recorded_before": made.was_recorded_before,
    })
}

/// `prove --format json`.
pub fn proof(found: &Proof<'_>) -> Value {
    let looked_at = found.looked_at.iter().map(|(holds, words)| json!({ "holds": holds, "found": words }));
    json!({
        "contract": CONTRACT,
        "proven": found.proven,
        "looked_at": looked_at.collect::<Vec<_>>(),
        "built": found.built.iter().map(build).collect::<Vec<_>>(),
    })
}

fn build(build: &Build<'_>) -> Value {
    let run = |run: &Run<'_>| {
        json!({
            "vectors": run.vectors,
            "n_scans": run.n_scans,
            "n_samples": run.n_samples,
            "n_words": run.n_words,
            "n_differing": run.n_differing,
            "n_errors": run.n_errors,
            "different": run.different,
        })
    };
    let measured = build.measured.iter().map(|(name, value)| json!({ "what": name, "value": value }));
    json!({
        "on": build.on,
        "runs": build.runs.iter().map(run).collect::<Vec<_>>(),
        "measured": measured.collect::<Vec<_>>(),
    })
}
