//! A device's record: any bytes and any text are a record that writes back the same, or refused; never a panic.
//!
//! The checksum is mended as well, so that what stands behind it is reached.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stillwell_transfer::crc32;
use stillwell_transfer::wire::{WireError, WireRecord, from_bytes, from_line, to_bytes, to_line};

/// Key and head of the checksum, and the checksum.
const SUM_BYTES: usize = 7;

fn both_forms(record: &WireRecord) -> Vec<u8> {
    let bytes = to_bytes(record).expect("what was read can be written");
    let line = to_line(record).expect("what was read can be written");
    assert_eq!(from_line(&line).as_ref(), Ok(record));
    assert_eq!(from_bytes(&bytes).as_ref(), Ok(record));
    bytes
}

fn mended(bytes: &[u8]) -> Option<Vec<u8>> {
    let summed = bytes.get(..bytes.len().checked_sub(SUM_BYTES)?)?;
    let sum = crc32(0, summed).to_be_bytes();
    Some([summed, &[0x18, 0x1d, 0x1a], &sum].concat())
}

fuzz_target!(|bytes: &[u8]| {
    if let Ok(record) = from_bytes(bytes) {
        assert_eq!(both_forms(&record), bytes);
    }
    if let Some(mended) = mended(bytes) {
        match from_bytes(&mended) {
            Ok(record) => assert_eq!(both_forms(&record), mended),
            Err(WireError::ChecksumDiffers { stated, found }) => assert_ne!(stated, found),
            Err(error) => assert!(!error.to_string().is_empty()),
        }
    }
    if let Ok(text) = std::str::from_utf8(bytes)
        && let Ok(record) = from_line(text)
    {
        both_forms(&record);
    }
});
