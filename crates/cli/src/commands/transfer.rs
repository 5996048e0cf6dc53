//! `transfer`: an approved calibration as a package of C.

use stillwell_foresee::{CellModel, CircuitModel, KnownTruth, alder_vale};
use stillwell_method::{Input, NamedText, RawFile};
use stillwell_report::json::{self, devices};
use stillwell_study::{Carriable, Digest, Reevaluation, SigningPerson, Study};
use stillwell_transfer::package::{self, CHECKSUMS, Parts, Recorded, SIGNATURE, Signer};
use stillwell_transfer::{Alternative, Cost, Frozen, LotTerms, TransferError};

use super::new_folder;
use super::study::passphrase::unlock;
use crate::args::Format;
use crate::device_args::TransferArguments;
use crate::exit::{Failure, Outcome};
use crate::progress::{Counter, during};
use crate::render;

/// Every package has the same scans of the twin.
const TWIN_SEED: u64 = 1;

/// What was made, for whoever prints it.
pub(crate) struct Made {
    pub(crate) calibration: String,
    pub(crate) lot: String,
    pub(crate) days: [String; 2],
    pub(crate) method: String,
    pub(crate) method_hash: String,
    pub(crate) signed_by: String,
    pub(crate) recorded: Recorded,
    pub(crate) simulated: Option<Recorded>,
    pub(crate) n_files: usize,
    pub(crate) n_bytes: usize,
    pub(crate) package: Digest,
    pub(crate) record: u64,
    pub(crate) was_there: bool,
}

pub(crate) fn run(arguments: &TransferArguments) -> Result<(String, Outcome), Failure> {
    new_folder::check_free(&arguments.out)?;
    let mut study = Study::open_now(&arguments.study)?;
    let carried = during("walking the chain", || {
        study.to_transfer(arguments.lot.as_deref(), arguments.calibration.as_deref())
    })?;
    let frozen = frozen(&study, &carried)?;
    let person = unlock(&arguments.signing, &arguments.by.actor)?;
    let recorded = during("walking the recorded scans through the kernel", || {
        package::recorded(&frozen, &carried.input, &carried.report, carried.day_numbers[0])
    });
    let recorded = recorded.map_err(|error| refused(&error))?;
    let simulated = simulated(&study, &carried, &frozen)?;
    let (files, package) =
        signed_files(&study, &carried, &frozen, &person, [Some(&recorded), simulated.as_ref()])?;
    new_folder::write(&arguments.out, &files)?;
    let reason = arguments.by.reason.as_deref().unwrap_or("package made");
    let (record, was_there) = study.record_transfer(&carried, package, &person, reason)?;
    let made = Made {
        calibration: carried.calibration.label.clone(),
        lot: carried.calibration.act.result.lot.clone(),
        days: carried.days.clone(),
        method: format!("{}, revision {}", carried.revision.method.name, carried.revision.method.revision),
        method_hash: carried.revision.method.hash.to_string(),
        signed_by: person.name().to_owned(),
        recorded,
        simulated,
        n_files: files.len(),
        n_bytes: files.iter().map(|file| file.bytes.len()).sum(),
        package,
        record: record.seq,
        was_there,
    };
    let text = match arguments.output.format {
        Format::Table => render::devices::made(&made, &arguments.out),
        Format::Json => document(&made),
    };
    Ok((text, Outcome::Done))
}

fn document(made: &Made) -> String {
    let vectors = |of: &Recorded| devices::Vectors {
        n_scans: of.n_scans,
        n_samples: of.n_samples,
        n_left_out: of.n_left_out,
    };
    json::text(&devices::package(&devices::Package {
        method: &made.method,
        method_blake3: &made.method_hash,
        calibration: &made.calibration,
        lot: &made.lot,
        days: made.days.each_ref().map(String::as_str),
        signed_by: &made.signed_by,
        n_files: made.n_files,
        n_bytes: made.n_bytes,
        recorded: vectors(&made.recorded),
        simulated: made.simulated.as_ref().map(vectors),
        package_blake3: made.package.to_string(),
        ledger_record: made.record,
        was_recorded_before: made.was_there,
    }))
}

fn refused(error: &TransferError) -> Failure {
    Failure::NotThere {
        what: error.to_string(),
        cure: "change the method, and have the revision approved".to_owned(),
    }
}

/// The frozen calibration; where a step is none of a device's, what each alternative costs.
fn frozen(study: &Study, carried: &Carriable) -> Result<Frozen, Failure> {
    let [first_day, last_day] = carried.day_numbers;
    let terms = LotTerms { lot: carried.calibration.act.result.lot.clone(), first_day, last_day };
    match Frozen::of(&carried.input, &carried.report, carried.place, terms) {
        Ok(frozen) => Ok(frozen),
        Err(error) => {
            let method = &carried.revision.method;
            let others = stillwell_transfer::alternatives(method, &study.method_text()?);
            if others.is_empty() {
                return Err(refused(&error));
            }
            let counter = Counter::new("evaluating the study with another step", others.len() as u64);
            let costs = others
                .into_iter()
                .map(|other| {
                    counter.step();
                    cost_of(study, other)
                })
                .collect::<Vec<_>>();
            let unit = method.analyte.reported_as.to_string();
            Err(Failure::NotThere { what: error.to_string(), cure: render::devices::costs(&costs, &unit) })
        }
    }
}

/// What an alternative does to the results on record: its cost and how many verdicts change, or why it cannot be tried.
pub(crate) struct Tried {
    pub(crate) step: String,
    pub(crate) found: Result<(Cost, usize), String>,
}

fn cost_of(study: &Study, other: Alternative) -> Tried {
    let found = study.try_revision(&other.method_text).map_err(|error| error.to_string());
    let found = found.map(|found| (Cost::of(&pairs(&found)), verdicts(&found)));
    Tried { step: other.step, found }
}

fn verdicts(found: &Reevaluation) -> usize {
    found.differences.iter().filter(|one| !one.changed_verdicts.is_empty()).count()
}

/// Numbers of results that were issued: before and with the alternative. What came out the same to the bit costs nothing.
fn pairs(found: &Reevaluation) -> Vec<(Option<f64>, Option<f64>)> {
    let number = |brief: &stillwell_study::Brief| brief.value.filter(|_| brief.outcome == "quantified");
    let pair = |one: &stillwell_study::Difference| {
        (one.before.as_ref().and_then(|(_, brief)| number(brief)), number(&one.now))
    };
    found.differences.iter().map(pair).collect()
}

/// Scans of the twin on this method's grid; none where it does not simulate the technique.
fn simulated(study: &Study, carried: &Carriable, frozen: &Frozen) -> Result<Option<Recorded>, Failure> {
    let method = &carried.revision.method;
    let text = study.method_text()?;
    let parts = (
        CellModel::parse(alder_vale::CELL_TEXT.name, alder_vale::CELL_TEXT.text),
        CircuitModel::parse(alder_vale::CIRCUIT_TEXT.name, alder_vale::CIRCUIT_TEXT.text),
    );
    let (Ok(cell), Ok(circuit)) = parts else { return Ok(None) };
    let truth = KnownTruth::of_method(method, TWIN_SEED);
    let Ok(batch) = truth.batch(method, &circuit) else { return Ok(None) };
    let counter = Counter::new("simulating scan", batch.n_scans() as u64);
    let named = NamedText { name: "method.toml", text: &text };
    let Ok(files) = truth.files((method, named), &cell, &circuit, || counter.step()) else { return Ok(None) };
    let Some((sheet, raw)) = files.split_last() else { return Ok(None) };
    let sheet = String::from_utf8_lossy(&sheet.bytes).into_owned();
    let sheet = NamedText { name: "run-sheet.csv", text: &sheet };
    let Ok(input) = Input::assemble(named, sheet, raw, |_| {}) else { return Ok(None) };
    let scans = input.files.values().flat_map(|file| &file.scans);
    let found = package::simulated(frozen, scans).map_err(|error| refused(&error))?;
    Ok(Some(found).filter(|found| found.n_scans > 0))
}

/// Every file with the signature, and the hash that stands for all of them.
fn signed_files(
    study: &Study,
    carried: &Carriable,
    frozen: &Frozen,
    person: &SigningPerson,
    [recorded, simulated]: [Option<&Recorded>; 2],
) -> Result<(Vec<RawFile>, Digest), Failure> {
    let unsigned = frozen.lot_record(true).map_err(|error| refused(&error))?;
    let signature = study.sign_for_device(person, &unsigned.signed_bytes())?;
    let lot_record = unsigned.signed(signature);
    let nothing = Recorded {
        bytes: Vec::new(),
        n_scans: 0,
        n_samples: 0,
        n_left_out: 0,
        words: [Vec::new(), Vec::new()],
    };
    let [first_day, last_day] = &carried.days;
    let parts = Parts {
        frozen,
        method: &carried.revision.method,
        calibration: &carried.calibration.label,
        lot: [&carried.calibration.act.result.lot, first_day, last_day],
        signed_by: person.name(),
        lot_record: &lot_record,
        recorded: recorded.unwrap_or(&nothing),
        simulated,
    };
    let files = package::package(&parts).map_err(|error| refused(&error))?;
    let list = files.iter().find(|file| file.name == CHECKSUMS).map_or(&[][..], |file| &file.bytes);
    let signer = Signer {
        name: person.name().to_owned(),
        public_key: person.public_key().to_string(),
        signature: study.sign_for_device(person, list)?,
    };
    let package = Digest::of(list);
    let signature = package::signer_text(&signer).into_bytes();
    let mut raw: Vec<RawFile> =
        files.into_iter().map(|file| RawFile { name: file.name, bytes: file.bytes }).collect();
    raw.push(RawFile { name: SIGNATURE.to_owned(), bytes: signature });
    Ok((raw, package))
}
