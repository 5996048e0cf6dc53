//! `prove`: a device's package is as it was made, and computes the same bits here and on the emulated Cortex-M3.
//!
//! The package is only read: it is built in a folder of its own, which goes afterwards.

mod build;
mod measure;

use std::fs;
use std::path::{Path, PathBuf};

use stillwell_report::json::{self, devices};
use stillwell_study::{Digest, Study, StudyRole, is_signed_by};
use stillwell_transfer::package::{
    CHECKSUMS, Changed, LOT_FILE, LotFile, PackageFile, SIGNATURE, Signer, inspect, read_signer,
};

use crate::args::Format;
use crate::device_args::ProveArguments;
use crate::exit::{Failure, Outcome};
use crate::render;

pub(crate) use build::Built;

/// What building leaves beside the package's files.
const BUILD_FOLDER: &str = "build";
/// No package is larger.
const MOST_BYTES: u64 = 64 << 20;
const MOST_FILES: usize = 1000;

/// One thing that was looked at.
pub(crate) struct Said {
    pub(crate) holds: bool,
    pub(crate) words: String,
}

/// Everything that was found.
#[derive(Default)]
pub(crate) struct Proof {
    pub(crate) said: Vec<Said>,
    pub(crate) built: Vec<Built>,
}

impl Proof {
    pub(crate) fn holds(&self) -> bool {
        self.said.iter().all(|one| one.holds)
            && !self.built.is_empty()
            && self.built.iter().all(|built| built.runs.iter().all(build::Run::same))
    }

    fn say(&mut self, holds: bool, words: impl Into<String>) {
        self.said.push(Said { holds, words: words.into() });
    }
}

pub(crate) fn run(arguments: &ProveArguments) -> Result<(String, Outcome), Failure> {
    let files = read(&arguments.package)?;
    let mut proof = Proof::default();
    whole(&files, &mut proof);
    let signer = signer(&files, &mut proof);
    lot(&files, signer.as_ref(), &mut proof);
    if let Some(path) = &arguments.study {
        ledger(path, &files, signer.as_ref(), &mut proof)?;
    }
    // What was changed is not built: it may be a stranger's code.
    if proof.said.iter().all(|one| one.holds) {
        build::on_this_machine(&files, &arguments.host_cc, &mut proof)?;
        if let Some(cc) = &arguments.cc {
            build::on_cortex_m3(&files, cc, &mut proof)?;
        }
    }
    let text = match arguments.output.format {
        Format::Table => render::devices::proof(&proof, &arguments.package),
        Format::Json => document(&proof),
    };
    Ok((text, Outcome::attention_if(!proof.holds())))
}

fn document(proof: &Proof) -> String {
    json::text(&devices::proof(&devices::Proof {
        proven: proof.holds(),
        looked_at: proof.said.iter().map(|one| (one.holds, one.words.as_str())).collect(),
        built: proof.built.iter().map(Built::plain).collect(),
    }))
}

/// Every file of the package but what building left, sorted by name.
fn read(folder: &Path) -> Result<Vec<PackageFile>, Failure> {
    let mut files = Vec::new();
    let mut open = vec![PathBuf::new()];
    let mut n_bytes = 0;
    while let Some(within) = open.pop() {
        let here = folder.join(&within);
        let entries = fs::read_dir(&here).map_err(|error| not_a_package(&here, &error.to_string()))?;
        for entry in entries {
            let entry = entry.map_err(|error| not_a_package(&here, &error.to_string()))?;
            let path = within.join(entry.file_name());
            let about = entry.metadata().map_err(|error| not_a_package(&here, &error.to_string()))?;
            if about.is_dir() {
                if path != Path::new(BUILD_FOLDER) {
                    open.push(path);
                }
                continue;
            }
            n_bytes += about.len();
            if n_bytes > MOST_BYTES || files.len() >= MOST_FILES {
                return Err(not_a_package(folder, "holds far more than a package does"));
            }
            let bytes =
                fs::read(entry.path()).map_err(|error| not_a_package(&entry.path(), &error.to_string()))?;
            files.push(PackageFile { name: path.to_string_lossy().replace('\\', "/"), bytes });
        }
    }
    files.sort_by(|a, b| a.name.cmp(&b.name));
    if content(&files, CHECKSUMS).is_none() {
        return Err(not_a_package(folder, &format!("has no {CHECKSUMS}")));
    }
    Ok(files)
}

fn not_a_package(path: &Path, found: &str) -> Failure {
    Failure::NotThere {
        what: format!("{}: {found}", path.display()),
        cure: "name the folder that `stillwell transfer` made".to_owned(),
    }
}

fn content<'f>(files: &'f [PackageFile], name: &str) -> Option<&'f [u8]> {
    files.iter().find(|file| file.name == name).map(|file| file.bytes.as_slice())
}

fn whole(files: &[PackageFile], proof: &mut Proof) {
    let found = inspect(files);
    if found.changed.is_empty() {
        proof.say(true, format!("{} files are as they were made", found.n_listed));
    }
    for changed in &found.changed {
        let words = match changed {
            Changed::Bytes { name, listed, found } => {
                format!("{name} was changed: BLAKE3 {}… instead of {}…", short(found), short(listed))
            }
            Changed::Missing { name } => format!("{name} is missing"),
            Changed::NotListed { name } => format!("{name} does not belong to the package"),
            Changed::NoList => format!("{CHECKSUMS} is no list of hashes and names"),
        };
        proof.say(false, words);
    }
}

fn short(hash: &str) -> &str {
    hash.get(..12).unwrap_or(hash)
}

fn signer(files: &[PackageFile], proof: &mut Proof) -> Option<Signer> {
    let text = content(files, SIGNATURE).and_then(|bytes| std::str::from_utf8(bytes).ok());
    let Some(signer) = text.and_then(read_signer) else {
        proof.say(false, format!("{SIGNATURE} is missing or is none"));
        return None;
    };
    let list = content(files, CHECKSUMS).unwrap_or_default();
    let key = Digest::parse(&signer.public_key);
    let holds = key.is_some_and(|key| is_signed_by(&key, list, &signer.signature));
    let who = format!("{} with the key {}…", signer.name, short(&signer.public_key));
    proof.say(
        holds,
        if holds {
            format!("{CHECKSUMS} is signed by {who}")
        } else {
            format!("{SIGNATURE} is not one of {who} over these {CHECKSUMS}: one of the two was changed")
        },
    );
    Some(signer)
}

fn lot(files: &[PackageFile], signer: Option<&Signer>, proof: &mut Proof) {
    let bytes = content(files, LOT_FILE).unwrap_or_default();
    let record = match LotFile::read(bytes) {
        Ok(record) => record,
        Err(fault) => return proof.say(false, format!("{LOT_FILE}: {fault}")),
    };
    let key = signer.and_then(|signer| Digest::parse(&signer.public_key));
    let holds = key.is_some_and(|key| is_signed_by(&key, &record.signed_bytes, &record.signature));
    proof.say(
        holds,
        format!(
            "the record of lot {} {} (checksum {:08x}, {} points of blank)",
            record.lot,
            if holds { "is signed by the same key" } else { "is not signed by that key" },
            record.checksum,
            record.n_blank
        ),
    );
    let today = stillwell_study::today();
    let [first, last] = record.days.map(stillwell_study::day_of_number);
    if record.days[1] < today {
        proof.say(
            false,
            format!("lot {} was to be used until {last}; a device gives no verdict after it", record.lot),
        );
    } else {
        proof.say(true, format!("lot {} is to be used from {first} to {last}", record.lot));
    }
}

/// Whether the study that is named made it.
fn ledger(
    path: &Path,
    files: &[PackageFile],
    signer: Option<&Signer>,
    proof: &mut Proof,
) -> Result<(), Failure> {
    let study = Study::open_to_read(path)?;
    let package = Digest::of(content(files, CHECKSUMS).unwrap_or_default());
    match study.transfer_of(&package)? {
        Some(record) => proof.say(
            true,
            format!(
                "record #{} of the study holds this package: {} by {}",
                record.seq, record.at_utc, record.actor
            ),
        ),
        None => proof.say(false, format!("the study's ledger holds no package {}…", package.short())),
    }
    let mut is_known = false;
    for (record, key) in study.keys()? {
        let is_signers = signer.is_some_and(|signer| key.public_key.to_string() == signer.public_key);
        is_known |=
            is_signers && key.role == StudyRole::Approver && study.standing(&record)?.withdrawn.is_none();
    }
    proof.say(
        is_known,
        if is_known {
            "the signer is an approver of the study"
        } else {
            "the signer is no approver of the study"
        },
    );
    Ok(())
}
