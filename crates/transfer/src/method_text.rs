//! `method.c`: the constants of one revision as C text, and the lot's record as bytes.

use std::fmt::Write as _;

use crate::constants::{LOT_BYTES, LOT_SIGNATURE_AT, lot_fields, method_constants};
use crate::crc::crc32;
use crate::error::TransferError;
use crate::frozen::Frozen;
use crate::layout::exact_hexadecimal;

impl Frozen {
    /// The text of `method.c`: every double an exact hexadecimal number, the hash in a comment and in the data.
    ///
    /// # Errors
    /// [`TransferError::SettingsNotUsable`], or a baseline that the device does not draw.
    pub fn method_c(&self) -> Result<String, TransferError> {
        let constants = method_constants(self)?;
        let mut text = format!(
            "/* method.c - generated, never edited.\n * Method revision {}.\n * Each double is exact. */\n\
             #include \"method.h\"\n\n",
            self.method_hash
        );
        let tables = [("potentials", &constants.potential_v), ("weights", &constants.weights)];
        for (name, values) in tables.into_iter().filter(|(_, values)| !values.is_empty()) {
            // Writing to a String cannot fail.
            let _written = write!(text, "static const double {name}[{}] = {{", values.len());
            for (k, value) in values.iter().enumerate() {
                let separator = if k % 4 == 0 { "\n    " } else { " " };
                let _written = write!(text, "{separator}{},", exact_hexadecimal(*value));
            }
            text.push_str("\n};\n\n");
        }
        text.push_str("static const stw_method_constants constants = {\n");
        text.push_str(&constants.fields.initialiser());
        text.push_str("};\n\nconst stw_method stw_this_method = {\n    .constants = &constants,\n");
        let place =
            |values: &[f64], name: &str| if values.is_empty() { "0".to_owned() } else { name.to_owned() };
        let _written = write!(
            text,
            "    .potential_v = {},\n    .weights = {},\n    .n_potentials = {}u,\n    .n_weights = {}u,\n    .checksum = 0x{:08x}u,\n}};\n",
            place(&constants.potential_v, "potentials"),
            place(&constants.weights, "weights"),
            constants.potential_v.len(),
            constants.weights.len(),
            constants.checksum()
        );
        Ok(text)
    }

    /// The lot's record as it lies in the device, unsigned: its signature is zero. With `has_own_blank` the blank belongs to it
    /// and follows it; without, the device records its blanks itself.
    ///
    /// # Errors
    /// [`TransferError::LotIdentityTooLong`].
    pub fn lot_record(&self, has_own_blank: bool) -> Result<LotRecord, TransferError> {
        let signed = lot_fields(self, has_own_blank)?.bytes();
        let blank_a = self.blank_a().filter(|_| has_own_blank).unwrap_or(&[]);
        let blank: Vec<u8> = blank_a.iter().flat_map(|value| value.to_bits().to_le_bytes()).collect();
        let checksum = crc32(crc32(0, &signed), &blank);
        let mut record = signed;
        record.extend(checksum.to_le_bytes());
        record.resize(LOT_BYTES, 0);
        Ok(LotRecord { record, blank })
    }
}

/// A lot's record and the blank behind it, as bytes in a device's memory.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotRecord {
    /// The record (`stw_lot`).
    pub record: Vec<u8>,
    /// The blank, 8 bytes a point; empty where the device records its own.
    pub blank: Vec<u8>,
}

impl LotRecord {
    /// What is signed: all bytes before the checksum, then the blank's.
    pub fn signed_bytes(&self) -> Vec<u8> {
        let before = self.record.get(..crate::constants::LOT_CHECKSUM_AT).unwrap_or(&[]);
        [before, &self.blank].concat()
    }

    /// The same record with its signature.
    #[must_use]
    pub fn signed(mut self, signature: [u8; 64]) -> Self {
        if let Some(place) = self.record.get_mut(LOT_SIGNATURE_AT..LOT_BYTES) {
            place.copy_from_slice(&signature);
        }
        self
    }
}
