//! The lot's record read back from its bytes: layout, checksum, days, and what its signature stands over.

use crate::constants::{LAYOUT, LOT_BYTES, LOT_CHECKSUM_AT, LOT_SIGNATURE_AT};
use crate::crc::crc32;

/// Why bytes are no lot record that a device takes.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LotFault {
    /// Shorter than a record, or not the length that its blank asks for.
    #[error("{found} bytes; a record with a blank of {n_blank} points has {expected}")]
    Length {
        /// Bytes found.
        found: usize,
        /// Points of the blank as stated.
        n_blank: u32,
        /// Bytes expected.
        expected: usize,
    },
    /// Another layout.
    #[error("layout {found}; this one knows {known}")]
    Layout {
        /// As stated.
        found: u32,
        /// As known.
        known: u32,
    },
    /// A byte was changed.
    #[error("its checksum is {found:08x}, it states {stated:08x}: a byte was changed")]
    Checksum {
        /// As stated.
        stated: u32,
        /// As found.
        found: u32,
    },
}

/// A lot's record and its blank, as in `lot.bin` and in a device's flash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotFile {
    /// The lot's identity.
    pub lot: String,
    /// First and last day of use, days since 1970-01-01.
    pub days: [u32; 2],
    /// Hash of the method revision.
    pub method_hash: [u8; 32],
    /// Hash of the calibration.
    pub calibration_hash: [u8; 32],
    /// Points of the blank.
    pub n_blank: u32,
    /// The checksum.
    pub checksum: u32,
    /// What is signed.
    pub signed_bytes: Vec<u8>,
    /// The signature.
    pub signature: [u8; 64],
}

/// Where the counts stand: behind 51 doubles.
const COUNTS_AT: usize = 408;
const HASHES_AT: usize = LOT_CHECKSUM_AT - 64;
const LOT_AT: usize = HASHES_AT - 32;

impl LotFile {
    /// Reads a record, and shows that no byte of it was changed.
    ///
    /// # Errors
    /// [`LotFault`].
    pub fn read(bytes: &[u8]) -> Result<Self, LotFault> {
        let count = |k: usize| {
            let at = COUNTS_AT + 4 * k;
            let four = bytes.get(at..at + 4).and_then(|four| <[u8; 4]>::try_from(four).ok());
            four.map_or(0, u32::from_le_bytes)
        };
        let n_blank = count(6);
        let expected = LOT_BYTES.saturating_add((n_blank as usize).saturating_mul(8));
        let short = || LotFault::Length { found: bytes.len(), n_blank, expected };
        if bytes.len() != expected {
            return Err(short());
        }
        if count(0) != LAYOUT {
            return Err(LotFault::Layout { found: count(0), known: LAYOUT });
        }
        let (record, blank) = bytes.split_at_checked(LOT_BYTES).ok_or_else(short)?;
        let before = record.get(..LOT_CHECKSUM_AT).ok_or_else(short)?;
        let stated = record.get(LOT_CHECKSUM_AT..LOT_CHECKSUM_AT + 4);
        let stated = stated.and_then(|four| <[u8; 4]>::try_from(four).ok()).map_or(0, u32::from_le_bytes);
        let found = crc32(crc32(0, before), blank);
        if found != stated {
            return Err(LotFault::Checksum { stated, found });
        }
        let hash =
            |at: usize| before.get(at..at + 32).and_then(|hash| hash.try_into().ok()).unwrap_or([0; 32]);
        let name: [u8; 32] = hash(LOT_AT);
        let name = name.split(|byte| *byte == 0).next().unwrap_or(&[]);
        Ok(Self {
            lot: String::from_utf8_lossy(name).into_owned(),
            days: [count(7), count(8)],
            method_hash: hash(HASHES_AT),
            calibration_hash: hash(HASHES_AT + 32),
            n_blank,
            checksum: stated,
            signed_bytes: [before, blank].concat(),
            signature: record.get(LOT_SIGNATURE_AT..).and_then(|s| s.try_into().ok()).unwrap_or([0; 64]),
        })
    }
}
