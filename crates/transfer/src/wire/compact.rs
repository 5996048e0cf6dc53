//! The compact form: one CBOR map (RFC 8949) with whole numbers as keys, in their order, each number with all its 64 bits.

use std::convert::Infallible;

use minicbor::decode::Error as DecodeError;
use minicbor::encode::Error as EncodeError;
use minicbor::{Decoder, Encoder};
use stillwell_quantity::{Concentration, QuantityKind};

use super::basis::{basis_texts, kind_of};
use super::error::WireError;
use super::keys::{self, Key};
use super::record::{VERSION, WireNumbers, WireOutcome, WireRecord, WireVerdict};
use crate::crc::crc32;

/// `STW_WIRE_MOST_CBOR`.
const MOST_BYTES: usize = 512;

/// The record's bytes, as `stw_wire_cbor` writes them.
///
/// # Errors
/// A record that no device could have sent.
///
/// # Source
/// RFC 8949, 4.2.1, but for numbers, which are never shortened.
pub fn to_bytes(record: &WireRecord) -> Result<Vec<u8>, WireError> {
    record.check()?;
    let written = (|| {
        let mut to = Encoder::new(Vec::new());
        to.map(n_entries(record))?;
        put_whose(&mut to, record)?;
        put_numbers(&mut to, &record.outcome)?;
        put_codes(&mut to, record)?;
        let sum = crc32(0, to.writer());
        put(&mut to, keys::CHECKSUM, sum)?;
        Ok(to.into_writer())
    })();
    written
        .map_err(|error: EncodeError<Infallible>| WireError::NotCompact { at: 0, found: error.to_string() })
}

/// The sum that both forms carry.
pub(crate) fn checksum(record: &WireRecord) -> Result<u32, WireError> {
    let bytes = to_bytes(record)?;
    // The key and head of the sum, and the sum itself, are at most seven bytes; its value ends them.
    let read = read(&bytes)?;
    Ok(read.stated)
}

type Sink = Encoder<Vec<u8>>;
type Put = Result<(), EncodeError<Infallible>>;

fn n_entries(record: &WireRecord) -> u64 {
    let numbers = match record.outcome {
        WireOutcome::Quantified(_) => 5,
        WireOutcome::Refused { .. } => 2,
        _ => 1,
    };
    21 + numbers + u64::from(record.time_s.is_some())
}

fn put(to: &mut Sink, key: Key, value: u32) -> Put {
    to.u32(key.0)?.u32(value)?;
    Ok(())
}

fn put_whose(to: &mut Sink, record: &WireRecord) -> Put {
    put(to, keys::VERSION, VERSION)?;
    to.u32(keys::NAME.0)?.str(&record.name)?;
    put(to, keys::COUNTER, record.counter)?;
    if let Some(time_s) = record.time_s {
        put(to, keys::TIME, time_s)?;
    }
    to.u32(keys::METHOD.0)?.bytes(&record.method)?;
    to.u32(keys::LOT.0)?.str(&record.lot)?;
    put(to, keys::LOT_CHECKSUM, record.lot_checksum)?;
    to.u32(keys::CALIBRATION.0)?.bytes(&record.calibration)?;
    let texts = basis_texts(&record.kind);
    for (key, text) in [keys::ANALYTE, keys::UNIT, keys::SPECIES].into_iter().zip(&texts) {
        to.u32(key.0)?.str(text)?;
    }
    Ok(())
}

fn put_numbers(to: &mut Sink, outcome: &WireOutcome) -> Put {
    put(to, keys::OUTCOME, outcome.code())?;
    match outcome {
        WireOutcome::Quantified(numbers) => {
            let WireNumbers { value, low, high, level, level_standard_u } = &**numbers;
            let named = [
                (keys::VALUE, value),
                (keys::LOW, low),
                (keys::HIGH, high),
                (keys::LEVEL, level),
                (keys::LEVEL_U, level_standard_u),
            ];
            for (key, number) in named {
                to.u32(key.0)?.f64(number.value())?;
            }
        }
        WireOutcome::BelowQuantification(bound)
        | WireOutcome::NotDetected(bound)
        | WireOutcome::AboveRange(bound) => {
            to.u32(keys::BOUND.0)?.f64(bound.value())?;
        }
        WireOutcome::Refused { because, fault } => {
            put(to, keys::REFUSED, *because)?;
            put(to, keys::FAULT, *fault)?;
        }
    }
    Ok(())
}

/// Counts and sets of codes, in the order in which both forms say them.
pub(super) fn codes(record: &WireRecord) -> [(Key, u32); 8] {
    [
        (keys::WITHHELD, record.withheld),
        (keys::WARNINGS, record.warnings),
        (keys::ELECTRODES, record.n_electrodes),
        (keys::SCANS, record.n_scans),
        (keys::OFFERED, record.n_offered),
        (keys::TRUST_FAILED, record.trust_failed),
        (keys::TRUST_UNTESTED, record.trust_untested),
        (keys::REASONS, record.reasons),
    ]
}

fn put_codes(to: &mut Sink, record: &WireRecord) -> Put {
    to.u32(keys::VERDICTS.0)?.array(record.verdicts.len() as u64)?;
    for verdict in &record.verdicts {
        to.u32(verdict.code())?;
    }
    codes(record).into_iter().try_for_each(|(key, value)| put(to, key, value))
}

/// Reads what `stw_wire_cbor` wrote.
///
/// # Errors
/// Bytes that are no record of this version, a number without a basis, a changed byte, and any other way to write the same.
pub fn from_bytes(bytes: &[u8]) -> Result<WireRecord, WireError> {
    if bytes.len() > MOST_BYTES {
        return Err(WireError::TooLong { n: bytes.len(), most: MOST_BYTES });
    }
    let Read { record, stated, summed } = read(bytes)?;
    let found = crc32(0, bytes.get(..summed).unwrap_or_default());
    if found != stated {
        return Err(WireError::ChecksumDiffers { stated, found });
    }
    if to_bytes(&record)? != bytes {
        return Err(WireError::NotAsWritten);
    }
    Ok(record)
}

struct Read {
    record: WireRecord,
    stated: u32,
    /// Bytes before the sum's key.
    summed: usize,
}

/// A decoder that knows which field it stands at.
struct Reader<'b> {
    from: Decoder<'b>,
    /// The key that was read ahead.
    next: Option<u32>,
    left: u64,
    /// Where that key began.
    key_at: usize,
}

fn read(bytes: &[u8]) -> Result<Read, WireError> {
    let mut from = Decoder::new(bytes);
    let left = from.map().map_err(|error| not_compact(&from, &error))?;
    let left =
        left.ok_or_else(|| WireError::NotCompact { at: 0, found: "a map without a length".to_owned() })?;
    let mut reader = Reader { from, next: None, left, key_at: 0 };
    let version = reader.whole(keys::VERSION)?;
    if version != VERSION {
        return Err(WireError::VersionUnknown { found: version, known: VERSION });
    }
    let record = reader.record()?;
    reader.look()?;
    let summed = reader.key_at;
    let stated = reader.whole(keys::CHECKSUM)?;
    Ok(Read { record, stated, summed })
}

fn not_compact(from: &Decoder<'_>, error: &DecodeError) -> WireError {
    WireError::NotCompact { at: from.position(), found: error.to_string() }
}

impl<'b> Reader<'b> {
    /// The key that comes next, if one does.
    fn look(&mut self) -> Result<Option<u32>, WireError> {
        if self.next.is_none() && self.left > 0 {
            self.key_at = self.from.position();
            let key = self.from.u32().map_err(|error| not_compact(&self.from, &error))?;
            self.next = Some(key);
            self.left -= 1;
        }
        Ok(self.next)
    }

    fn is_next(&mut self, key: Key) -> Result<bool, WireError> {
        Ok(self.look()? == Some(key.0))
    }

    fn at(&mut self, key: Key) -> Result<(), WireError> {
        if !self.is_next(key)? {
            return Err(WireError::Missing { field: key.label() });
        }
        self.next = None;
        Ok(())
    }

    fn taken<T>(
        &mut self,
        key: Key,
        take: impl FnOnce(&mut Decoder<'b>) -> Result<T, DecodeError>,
    ) -> Result<T, WireError> {
        self.at(key)?;
        take(&mut self.from).map_err(|error| not_compact(&self.from, &error))
    }

    fn whole(&mut self, key: Key) -> Result<u32, WireError> {
        self.taken(key, Decoder::u32)
    }

    fn text(&mut self, key: Key) -> Result<&'b str, WireError> {
        self.taken(key, Decoder::str)
    }

    fn hash(&mut self, key: Key) -> Result<[u8; 32], WireError> {
        let bytes = self.taken(key, Decoder::bytes)?;
        <[u8; 32]>::try_from(bytes).map_err(|_length| {
            WireError::unusable(key.label(), format!("{} bytes", bytes.len()), "a hash of 32 bytes")
        })
    }

    fn number(&mut self, key: Key, kind: &QuantityKind) -> Result<Concentration, WireError> {
        let value = self.taken(key, Decoder::f64)?;
        concentration(key, value, kind)
    }

    fn record(&mut self) -> Result<WireRecord, WireError> {
        let name = self.text(keys::NAME)?.to_owned();
        let counter = self.whole(keys::COUNTER)?;
        let time_s = if self.is_next(keys::TIME)? { Some(self.whole(keys::TIME)?) } else { None };
        let method = self.hash(keys::METHOD)?;
        let lot = self.text(keys::LOT)?.to_owned();
        let lot_checksum = self.whole(keys::LOT_CHECKSUM)?;
        let calibration = self.hash(keys::CALIBRATION)?;
        let kind = kind_of(self.text(keys::ANALYTE)?, self.text(keys::UNIT)?, self.text(keys::SPECIES)?)?;
        let outcome = self.outcome(&kind)?;
        Ok(WireRecord {
            name,
            counter,
            time_s,
            method,
            lot,
            lot_checksum,
            calibration,
            kind,
            outcome,
            verdicts: self.verdicts()?,
            withheld: self.whole(keys::WITHHELD)?,
            warnings: self.whole(keys::WARNINGS)?,
            n_electrodes: self.whole(keys::ELECTRODES)?,
            n_scans: self.whole(keys::SCANS)?,
            n_offered: self.whole(keys::OFFERED)?,
            trust_failed: self.whole(keys::TRUST_FAILED)?,
            trust_untested: self.whole(keys::TRUST_UNTESTED)?,
            reasons: self.whole(keys::REASONS)?,
        })
    }

    fn outcome(&mut self, kind: &QuantityKind) -> Result<WireOutcome, WireError> {
        Ok(match self.whole(keys::OUTCOME)? {
            1 => WireOutcome::Quantified(Box::new(WireNumbers {
                value: self.number(keys::VALUE, kind)?,
                low: self.number(keys::LOW, kind)?,
                high: self.number(keys::HIGH, kind)?,
                level: self.number(keys::LEVEL, kind)?,
                level_standard_u: self.number(keys::LEVEL_U, kind)?,
            })),
            2 => WireOutcome::BelowQuantification(self.number(keys::BOUND, kind)?),
            3 => WireOutcome::NotDetected(self.number(keys::BOUND, kind)?),
            4 => WireOutcome::AboveRange(self.number(keys::BOUND, kind)?),
            5 => {
                WireOutcome::Refused { because: self.whole(keys::REFUSED)?, fault: self.whole(keys::FAULT)? }
            }
            other => return Err(WireError::unusable("outcome_", other.to_string(), "a code from 1 to 5")),
        })
    }

    fn verdicts(&mut self) -> Result<Vec<WireVerdict>, WireError> {
        let n = self.taken(keys::VERDICTS, Decoder::array)?.unwrap_or(u64::MAX);
        if n > 4 {
            return Err(WireError::unusable("verdicts_", "a longer list", "one for each limit, 4 at most"));
        }
        (0..n)
            .map(|_| {
                let code = self.from.u32().map_err(|error| not_compact(&self.from, &error))?;
                let known = WireVerdict::ALL.into_iter().find(|verdict| verdict.code() == code);
                known.ok_or_else(|| WireError::unusable("verdicts_", code.to_string(), "codes from 1 to 5"))
            })
            .collect()
    }
}

/// A number with what it is a number of.
pub(crate) fn concentration(key: Key, value: f64, kind: &QuantityKind) -> Result<Concentration, WireError> {
    Concentration::of_kind(value, kind.clone())
        .map_err(|_not_finite| WireError::unusable(key.label(), value.to_string(), "a finite number"))
}
