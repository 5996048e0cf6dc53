//! One number from text: correctly rounded, with either decimal mark.
//!
//! Up to 19 digits are gathered in an integer; where that integer is below 2^53 and the power of ten at most 22 both are
//! exact in binary and one multiplication or division rounds once (Clinger 1990, "How to read floating point numbers
//! accurately", fast path). Everything else goes to the standard library, so the bits are always those of `str::parse`.

/// Exact powers of ten.
const POWERS_OF_TEN: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];

/// The largest integer up to which every integer is exact in an f64.
const MAX_EXACT: u64 = 1 << 53;

/// A number at `start` and the index after it. `None` where no finite number starts there.
///
/// Accepted: sign (`+`, `-`, `−`), digits with an optional mark, exponent with `e`, `E`, `d` or `D`. A decimal comma needs a
/// digit behind it: `1,` is a number and a delimiter.
#[inline]
pub(crate) fn number_at(text: &[u8], start: usize, mark: u8) -> Option<(f64, usize)> {
    let mut at = start;
    let mut is_negative = false;
    match text.get(at)? {
        b'-' => {
            is_negative = true;
            at += 1;
        }
        b'+' => at += 1,
        0xe2 if is_typographic_minus(text, at) => {
            is_negative = true;
            at += 3;
        }
        _ => {}
    }
    let digits_start = at;
    let mut mantissa: u64 = 0;
    while let Some(digit) = digit_at(text, at) {
        mantissa = mantissa.wrapping_mul(10).wrapping_add(digit);
        at += 1;
    }
    let mut n_digits = at - digits_start;
    let mut exponent: i32 = 0;
    if text.get(at) == Some(&mark) && (mark == b'.' || digit_at(text, at + 1).is_some()) {
        at += 1;
        let fraction_start = at;
        while let Some(digit) = digit_at(text, at) {
            mantissa = mantissa.wrapping_mul(10).wrapping_add(digit);
            at += 1;
        }
        let n_decimals = at - fraction_start;
        n_digits += n_decimals;
        exponent = -(i32::try_from(n_decimals).ok()?);
    }
    if n_digits == 0 {
        return None;
    }
    if matches!(text.get(at), Some(b'e' | b'E' | b'd' | b'D'))
        && let Some((written, after)) = exponent_at(text, at + 1)
    {
        exponent = exponent.saturating_add(written);
        at = after;
    }
    if n_digits <= 19 && mantissa < MAX_EXACT {
        let magnitude = mantissa as f64;
        let power = POWERS_OF_TEN.get(exponent.unsigned_abs() as usize);
        if let Some(power) = power {
            let value = if exponent < 0 { magnitude / power } else { magnitude * power };
            return Some((if is_negative { -value } else { value }, at));
        }
    }
    by_standard_library(text.get(digits_start..at)?, is_negative, mark).map(|value| (value, at))
}

#[inline]
fn digit_at(text: &[u8], at: usize) -> Option<u64> {
    let digit = text.get(at)?.wrapping_sub(b'0');
    (digit < 10).then_some(u64::from(digit))
}

/// U+2212 and the dash U+2013 that word processors put in its place.
fn is_typographic_minus(text: &[u8], at: usize) -> bool {
    matches!(text.get(at..at + 3), Some([0xe2, 0x88, 0x92] | [0xe2, 0x80, 0x93]))
}

fn exponent_at(text: &[u8], start: usize) -> Option<(i32, usize)> {
    let mut at = start;
    let mut is_negative = false;
    match text.get(at)? {
        b'-' => {
            is_negative = true;
            at += 1;
        }
        b'+' => at += 1,
        0xe2 if is_typographic_minus(text, at) => {
            is_negative = true;
            at += 3;
        }
        _ => {}
    }
    let digits_start = at;
    let mut exponent: i32 = 0;
    while let Some(digit) = digit_at(text, at) {
        exponent = exponent.saturating_mul(10).saturating_add(i32::try_from(digit).ok()?);
        at += 1;
    }
    (at > digits_start).then_some((if is_negative { -exponent } else { exponent }, at))
}

#[cold]
fn by_standard_library(unsigned: &[u8], is_negative: bool, mark: u8) -> Option<f64> {
    let mut plain = String::with_capacity(unsigned.len());
    for c in std::str::from_utf8(unsigned).ok()?.chars() {
        plain.push(match c {
            'd' | 'D' => 'e',
            '\u{2212}' | '\u{2013}' => '-',
            c if c == char::from(mark) => '.',
            c => c,
        });
    }
    let value: f64 = plain.parse().ok()?;
    value.is_finite().then_some(if is_negative { -value } else { value })
}

#[cfg(test)]
mod tests {
    use super::number_at;

    #[test]
    fn reads_every_notation_of_a_number() {
        for (text, mark, value) in [
            ("1", b'.', 1.0),
            ("-1.5", b'.', -1.5),
            ("+.5", b'.', 0.5),
            ("5.", b'.', 5.0),
            ("-0,125", b',', -0.125),
            ("\u{2212}2,5E\u{2212}3", b',', -2.5e-3),
            ("1.25D-06", b'.', 1.25e-6),
            ("9007199254740993", b'.', 9007199254740992.0),
            ("1e-400", b'.', 0.0),
        ] {
            assert_eq!(number_at(text.as_bytes(), 0, mark), Some((value, text.len())), "{text}");
        }
    }

    #[test]
    fn leaves_what_is_no_number() {
        for text in ["", "-", ".", "e5", "abc", "1e999", "\u{2212}"] {
            assert_eq!(number_at(text.as_bytes(), 0, b'.'), None, "{text}");
        }
        assert_eq!(number_at(b"1,", 0, b','), Some((1.0, 1)));
        assert_eq!(number_at(b"1e", 0, b'.'), Some((1.0, 1)));
    }
}
