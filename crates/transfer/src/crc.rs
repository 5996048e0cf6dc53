//! The checksum that the device verifies.

/// CRC-32 (ISO-HDLC: reflected, polynomial 0xEDB88320, start and end 0xFFFFFFFF), continued from `crc`; begin with 0.
///
/// # Source
/// ISO/IEC 13239 (from memory); check value of "123456789": 0xCBF43926 (common practice, no source).
///
/// # Example
/// ```
/// assert_eq!(stillwell_transfer::crc32(0, b"123456789"), 0xCBF4_3926);
/// ```
pub fn crc32(crc: u32, bytes: &[u8]) -> u32 {
    let mut left = !crc;
    for byte in bytes {
        left ^= u32::from(*byte);
        for _ in 0..8 {
            left = if left & 1 == 1 { (left >> 1) ^ 0xEDB8_8320 } else { left >> 1 };
        }
    }
    !left
}
