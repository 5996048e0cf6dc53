//! Texts kept byte for byte: raw files, run sheets, method files; compressed, named by their hash.

use std::cell::RefCell;

use rusqlite::{Connection, OptionalExtension as _, Transaction, params};

use zstd::bulk::Compressor;

use crate::error::StudyError;
use crate::hash::Digest;

/// The largest text that is taken; the reader of scans takes no more either.
pub(crate) const MAX_BYTES: usize = stillwell_scan::MAX_BYTES;

/// Fast rather than small: text of numbers shrinks to about a third at every level.
const LEVEL: i32 = 1;

/// A text on its way into the study.
#[derive(Debug)]
pub(crate) struct Packed {
    pub(crate) hash: Digest,
    pub(crate) n_bytes: usize,
    pub(crate) bytes: Vec<u8>,
    /// Bytes of the packed form that mean nothing when it is unpacked are kept as well.
    pub(crate) bytes_hash: Digest,
}

impl Packed {
    pub(crate) fn of(bytes: &[u8]) -> Result<Self, StudyError> {
        Self::with(bytes, Digest::of(bytes))
    }

    /// Packs a text whose hash is known.
    pub(crate) fn with(bytes: &[u8], hash: Digest) -> Result<Self, StudyError> {
        let packed = PACKER
            .with_borrow_mut(|packer| {
                let packer = match packer {
                    Some(there) => there,
                    none => none.insert(Compressor::new(LEVEL)?),
                };
                packer.compress(bytes)
            })
            .map_err(|error| StudyError::Storage { found: format!("compression failed: {error}") })?;
        Ok(Self { hash, n_bytes: bytes.len(), bytes_hash: Digest::of(&packed), bytes: packed })
    }
}

thread_local! {
    /// Made once a thread: its tables take longer to make than a text takes to pack.
    static PACKER: RefCell<Option<Compressor<'static>>> = const { RefCell::new(None) };
}

/// Keeps a text, unless it is there. Says whether it is new.
pub(crate) fn put(transaction: &Transaction<'_>, text: &Packed) -> Result<bool, StudyError> {
    let sql = "INSERT INTO content (hash, n_bytes, packed, packed_hash) VALUES (?1, ?2, ?3, ?4) \
               ON CONFLICT (hash) DO NOTHING";
    let n_bytes = i64::try_from(text.n_bytes).unwrap_or(i64::MAX);
    Ok(transaction.prepare_cached(sql)?.execute(params![text.hash, n_bytes, text.bytes, text.bytes_hash])?
        == 1)
}

/// The text of this hash, shown to be the one that was kept.
pub(crate) fn get(connection: &Connection, hash: &Digest) -> Result<Vec<u8>, StudyError> {
    let sql = "SELECT n_bytes, packed FROM content WHERE hash = ?1";
    let found: Option<(i64, Vec<u8>)> =
        connection.prepare_cached(sql)?.query_row([hash], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
    let Some((n_bytes, packed)) = found else {
        return Err(StudyError::damaged(format!("the text {} is missing", hash.short())));
    };
    let bytes = unpack(n_bytes, &packed)
        .ok_or_else(|| StudyError::damaged(format!("the text {} cannot be unpacked", hash.short())))?;
    if Digest::of(&bytes) != *hash {
        return Err(StudyError::damaged(format!("the text {} is not what was kept", hash.short())));
    }
    Ok(bytes)
}

/// None unless the packed bytes hold exactly so many bytes; no more than [`MAX_BYTES`] are ever unpacked.
pub(crate) fn unpack(n_bytes: i64, packed: &[u8]) -> Option<Vec<u8>> {
    let n_bytes = usize::try_from(n_bytes).ok().filter(|n| *n <= MAX_BYTES)?;
    zstd::bulk::decompress(packed, n_bytes).ok().filter(|bytes| bytes.len() == n_bytes)
}

/// The text of this hash as UTF-8.
pub(crate) fn text(connection: &Connection, hash: &Digest) -> Result<String, StudyError> {
    String::from_utf8(get(connection, hash)?)
        .map_err(|_not_utf8| StudyError::damaged(format!("the text {} is not UTF-8", hash.short())))
}
