//! Hashes of content and records, and the one way in which fields are joined before they are hashed.

use std::fmt;

use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A BLAKE3 hash: of a text's bytes, of a scan's numbers, or of a record with all that came before it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Digest([u8; 32]);

impl Digest {
    /// What stands before the first record of a ledger.
    pub(crate) const NOTHING: Self = Self([0; 32]);

    /// The hash of some bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Self(*blake3::hash(bytes).as_bytes())
    }

    /// A hash from its 64 hexadecimal digits, in either case.
    ///
    /// # Example
    /// ```
    /// let hash = stillwell_study::Digest::of(b"a scan");
    /// assert_eq!(stillwell_study::Digest::parse(&hash.to_string()), Some(hash));
    /// assert_eq!(stillwell_study::Digest::parse("a scan"), None);
    /// ```
    pub fn parse(text: &str) -> Option<Self> {
        let digits: &[u8; 64] = text.trim().as_bytes().try_into().ok()?;
        let mut bytes = [0; 32];
        for (byte, pair) in bytes.iter_mut().zip(digits.as_chunks::<2>().0) {
            let [high, low] = pair.map(|digit| char::from(digit).to_digit(16));
            *byte = u8::try_from(16 * high? + low?).ok()?;
        }
        Some(Self(bytes))
    }

    /// The first twelve hexadecimal digits, for tables.
    pub fn short(&self) -> String {
        self.to_string().chars().take(12).collect()
    }

    /// A hash whose 32 bytes are known.
    pub(crate) const fn of_bytes(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The 32 bytes.
    pub fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(blake3::Hash::from_bytes(self.0).to_hex().as_str())
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.short())
    }
}

impl Serialize for Digest {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Digest {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse(&text).ok_or_else(|| serde::de::Error::custom("a hash has 64 hexadecimal digits"))
    }
}

impl ToSql for Digest {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(ValueRef::Blob(&self.0)))
    }
}

impl FromSql for Digest {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let bytes = value.as_blob()?;
        bytes.try_into().map(Self).map_err(|_wrong_length| FromSqlError::InvalidType)
    }
}

/// Joins fields so that no two lists of fields give the same bytes: a tag of what is hashed, then each field behind its
/// length.
pub(crate) struct Joined {
    hasher: blake3::Hasher,
    /// Fields that wait: the hasher is much faster on many bytes at once.
    waiting: Vec<u8>,
}

/// So many bytes wait at most, unless a field is longer.
const MOST_WAITING: usize = 32 << 10;

impl Joined {
    pub(crate) fn new(tag: &str) -> Self {
        Self { hasher: blake3::Hasher::new(), waiting: Vec::new() }.field(tag.as_bytes())
    }

    /// The same, where about so many bytes will be joined.
    pub(crate) fn with_room(tag: &str, n_bytes: usize) -> Self {
        let waiting = Vec::with_capacity(n_bytes.min(MOST_WAITING));
        Self { hasher: blake3::Hasher::new(), waiting }.field(tag.as_bytes())
    }

    pub(crate) fn field(mut self, bytes: &[u8]) -> Self {
        self.push(bytes);
        self
    }

    pub(crate) fn push(&mut self, bytes: &[u8]) {
        self.waiting.extend_from_slice(&(bytes.len() as u64).to_le_bytes());
        if self.waiting.len() + bytes.len() <= MOST_WAITING {
            self.waiting.extend_from_slice(bytes);
        } else {
            self.hasher.update(&self.waiting);
            self.waiting.clear();
            self.hasher.update(bytes);
        }
    }

    pub(crate) fn number(self, value: u64) -> Self {
        self.field(&value.to_le_bytes())
    }

    pub(crate) fn digest(mut self) -> Digest {
        self.hasher.update(&self.waiting);
        Digest(*self.hasher.finalize().as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_cannot_be_shifted_into_one_another() {
        let joined = |a: &[u8], b: &[u8]| Joined::new("t").field(a).field(b).digest();
        assert_ne!(joined(b"ab", b"c"), joined(b"a", b"bc"));
        assert_ne!(joined(b"", b"abc"), joined(b"abc", b""));
        assert_ne!(Joined::new("t").field(b"a").digest(), Joined::new("u").field(b"a").digest());
    }

    #[test]
    fn how_fields_wait_does_not_change_the_hash() {
        let long = vec![7_u8; 3 * MOST_WAITING];
        let fields: [&[u8]; 5] = [b"a", &long, b"", &long[..MOST_WAITING - 20], b"b"];
        let mut plain = blake3::Hasher::new();
        let mut joined = Joined::new("t");
        for field in [b"t".as_slice()].iter().chain(&fields) {
            plain.update(&(field.len() as u64).to_le_bytes());
            plain.update(field);
        }
        fields.iter().for_each(|field| joined.push(field));
        assert_eq!(joined.digest().as_bytes(), plain.finalize().as_bytes());
    }

    #[test]
    fn only_64_hexadecimal_digits_are_a_hash() {
        let hash = Digest::of(b"x");
        assert_eq!(Digest::parse(&hash.to_string().to_uppercase()), Some(hash));
        let signs = "+1".repeat(32);
        for bad in ["", "12", &"g".repeat(64), &"é".repeat(32), &signs] {
            assert_eq!(Digest::parse(bad), None, "{bad}");
        }
    }
}
