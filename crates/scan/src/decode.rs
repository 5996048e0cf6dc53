//! Bytes to text: byte order marks, UTF-16 without one, Windows-1252, and the refusal of what is no text at all.

use std::borrow::Cow;

use crate::error::{Place, ReadError, shortened};
use crate::pin::Encoding;

/// The text as UTF-8 bytes without byte order mark, and how it was stored.
pub(crate) struct Decoded<'a> {
    pub(crate) text: Cow<'a, str>,
    pub(crate) encoding: Encoding,
}

/// Decodes `bytes`, pinned or inferred. UTF-8 is taken where the bytes are valid UTF-8; other bytes without NUL are
/// Windows-1252 (every text export that is not UTF-8 and has a µ).
pub(crate) fn decode<'a>(
    bytes: &'a [u8],
    place: &Place,
    pinned: Option<Encoding>,
) -> Result<Decoded<'a>, ReadError> {
    let encoding = match pinned {
        Some(encoding) => encoding,
        None => inferred(bytes),
    };
    let text = match encoding {
        Encoding::Utf8 => utf8(bytes, place)?,
        Encoding::Utf16Le => utf16(bytes, place, encoding, u16::from_le_bytes)?,
        Encoding::Utf16Be => utf16(bytes, place, encoding, u16::from_be_bytes)?,
        Encoding::Windows1252 => {
            refuse_binary(bytes, place)?;
            encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes).0
        }
    };
    refuse_binary(text.as_bytes(), place)?;
    if text.bytes().all(|byte| byte.is_ascii_whitespace()) {
        return Err(ReadError::Empty { place: place.clone() });
    }
    Ok(Decoded { text, encoding })
}

fn inferred(bytes: &[u8]) -> Encoding {
    match bytes {
        [0xff, 0xfe, ..] => return Encoding::Utf16Le,
        [0xfe, 0xff, ..] => return Encoding::Utf16Be,
        _ => {}
    }
    // Digits, blanks and line ends of UTF-16 have a zero in every other byte.
    let start = bytes.get(..bytes.len().min(512)).unwrap_or(bytes);
    let (mut even_zeros, mut odd_zeros) = (0, 0);
    for pair in start.chunks_exact(2) {
        if let [even, odd] = pair {
            even_zeros += usize::from(*even == 0);
            odd_zeros += usize::from(*odd == 0);
        }
    }
    let n_pairs = start.len() / 2;
    if bytes.len().is_multiple_of(2) && n_pairs > 0 {
        if odd_zeros * 2 > n_pairs && even_zeros == 0 {
            return Encoding::Utf16Le;
        }
        if even_zeros * 2 > n_pairs && odd_zeros == 0 {
            return Encoding::Utf16Be;
        }
    }
    if std::str::from_utf8(bytes).is_ok() { Encoding::Utf8 } else { Encoding::Windows1252 }
}

fn utf8<'a>(bytes: &'a [u8], place: &Place) -> Result<Cow<'a, str>, ReadError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(Cow::Borrowed(text)),
        Err(error) => Err(not_in(place, Encoding::Utf8, error.valid_up_to())),
    }
}

fn utf16<'a>(
    bytes: &[u8],
    place: &Place,
    encoding: Encoding,
    unit_from_bytes: fn([u8; 2]) -> u16,
) -> Result<Cow<'a, str>, ReadError> {
    let units = bytes.chunks_exact(2).map(|pair| match pair {
        [a, b] => unit_from_bytes([*a, *b]),
        _ => 0,
    });
    if !bytes.len().is_multiple_of(2) {
        return Err(not_in(place, encoding, bytes.len() - 1));
    }
    let mut text = String::with_capacity(bytes.len() / 2 + 16);
    for (index, c) in char::decode_utf16(units).enumerate() {
        match c {
            Ok('\u{feff}') if index == 0 => {}
            Ok(c) => text.push(c),
            Err(_unpaired) => return Err(not_in(place, encoding, index * 2)),
        }
    }
    Ok(Cow::Owned(text))
}

fn not_in(place: &Place, encoding: Encoding, offset: usize) -> ReadError {
    ReadError::NotInEncoding {
        place: place.clone(),
        encoding: encoding.word(),
        offset,
        accepted: Encoding::WORDS.join(", "),
    }
}

/// Control characters other than tab, line ends, form feed and the old end-of-file mark belong in no text.
fn refuse_binary(text: &[u8], place: &Place) -> Result<(), ReadError> {
    const ALLOWED: [u8; 6] = [b'\t', b'\n', b'\r', 0x0b, 0x0c, 0x1a];
    // This runs over every byte of every file: without branches first, and exactly where that finds something.
    let suspicious = text.chunks(4096).any(|chunk| {
        let odd = |byte: u8| u8::from(byte < 0x20) & u8::from(byte.wrapping_sub(0x09) > 4);
        chunk.iter().fold(0, |any, &byte| any | odd(byte)) != 0
    });
    if !suspicious {
        return Ok(());
    }
    let odd = text.iter().enumerate().find(|(_, byte)| **byte < 0x20 && !ALLOWED.contains(byte));
    let Some((offset, &byte)) = odd else { return Ok(()) };
    let from = text.get(offset..).unwrap_or_default();
    let excerpt = String::from_utf8_lossy(from.get(..from.len().min(24)).unwrap_or(from));
    Err(ReadError::Binary { place: Place { text: shortened(&excerpt), ..place.clone() }, offset, byte })
}
