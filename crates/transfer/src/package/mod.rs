//! The package: every file that a firmware engineer gets, as bytes. The same parts give the same bytes.
//!
//! Hand-written C stands as it is; `method.c`, `basis.c`, `sizes.h`, the lot's record, the vectors, `README.md` and
//! `CHECKSUMS` are made here. [`inspect`] finds what was changed in one since.

mod basis;
mod checksums;
mod inspect;
mod lot_record;
mod makefile;
mod readme;
mod recorded;

use stillwell_method::{Hash, Method};

pub use checksums::{CHECKSUMS, SIGNATURE, Signer, checksums, read_signer, signer_text};
pub use inspect::{Changed, Inspected, inspect};
pub use lot_record::{LotFault, LotFile};
pub use makefile::left_out;
pub use recorded::{Recorded, points_of, recorded, simulated};

use crate::c_files::C_FILES;
use crate::error::TransferError;
use crate::frozen::Frozen;
use crate::method_text::LotRecord;

/// Hand-written files of the package beside those of the kernel.
const MORE_C_FILES: &[(&str, &str)] = &[
    ("wire.h", include_str!("../../c/wire.h")),
    ("wire.c", include_str!("../../c/wire.c")),
    ("decimal.c", include_str!("../../c/decimal.c")),
    ("example.h", include_str!("../../c/example.h")),
    ("example.c", include_str!("../../c/example.c")),
    ("selfcheck.c", include_str!("../../c/selfcheck.c")),
];

/// Where the lot's record stands.
pub const LOT_FILE: &str = "lot.bin";

/// Where the vectors stand, and what each is of.
pub const RECORDED_VECTORS: &str = "vectors/recorded.bin";
/// The names of the words that the vectors expect.
pub const WORDS: &str = "vectors/words.txt";
/// The twin's vectors.
pub const SIMULATED_VECTORS: &str = "vectors/simulated.bin";

/// Where the vectors lie.
pub const VECTOR_FOLDER: &str = "vectors/";

/// What firmware compiles.
pub const FIRMWARE_SOURCES: &[&str] = &[
    "arithmetic.c",
    "order.c",
    "trust.c",
    "peak.c",
    "kernel.c",
    "inverse.c",
    "sample.c",
    "method.c",
    "basis.c",
    "wire.c",
    "decimal.c",
];

/// A file of the package.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackageFile {
    /// Its name within the package, with `/` between folders.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

impl PackageFile {
    fn new(name: &str, bytes: impl Into<Vec<u8>>) -> Self {
        Self { name: name.to_owned(), bytes: bytes.into() }
    }
}

/// What a package is made from.
#[derive(Debug)]
pub struct Parts<'p> {
    /// The frozen calibration.
    pub frozen: &'p Frozen,
    /// Its method.
    pub method: &'p Method,
    /// The study's name for the calibration, `1`.
    pub calibration: &'p str,
    /// The lot, and its first and last day.
    pub lot: [&'p str; 3],
    /// Who signs.
    pub signed_by: &'p str,
    /// The lot's record, signed.
    pub lot_record: &'p LotRecord,
    /// Vectors of what was recorded.
    pub recorded: &'p Recorded,
    /// Vectors of the twin; none where it does not know the technique.
    pub simulated: Option<&'p Recorded>,
}

/// All files, sorted by name, `CHECKSUMS` among them; the signature over it is the caller's.
///
/// # Errors
/// As [`Frozen::method_c`].
pub fn package(parts: &Parts<'_>) -> Result<Vec<PackageFile>, TransferError> {
    let kind = &parts.method.analyte.reported_as;
    let mut files: Vec<PackageFile> =
        C_FILES.iter().map(|file| PackageFile::new(file.name, file.text)).collect();
    for (name, text) in MORE_C_FILES {
        if !files.iter().any(|file| file.name == *name) {
            files.push(PackageFile::new(name, *text));
        }
    }
    let lot = [parts.lot_record.record.as_slice(), &parts.lot_record.blank].concat();
    files.extend([
        PackageFile::new("method.c", parts.frozen.method_c()?),
        PackageFile::new("basis.c", basis::basis_c(kind, &parts.frozen.method_hash)),
        PackageFile::new("sizes.h", basis::sizes_h(parts.frozen)),
        PackageFile::new("Makefile", makefile::makefile(&parts.frozen.left_out()?)),
        PackageFile::new("README.md", readme::readme(parts)),
        PackageFile::new(LOT_FILE, lot),
        PackageFile::new(RECORDED_VECTORS, parts.recorded.bytes.clone()),
        PackageFile::new(WORDS, parts.recorded.words_text()),
    ]);
    if let Some(simulated) = parts.simulated {
        files.push(PackageFile::new(SIMULATED_VECTORS, simulated.bytes.clone()));
    }
    files.sort_by(|a, b| a.name.cmp(&b.name));
    let listed = checksums(&files);
    files.push(PackageFile::new(CHECKSUMS, listed));
    files.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(files)
}

/// BLAKE3 of some bytes, in hexadecimal.
fn blake3_of(bytes: &[u8]) -> String {
    Hash::of(bytes).to_string()
}
