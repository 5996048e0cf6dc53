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

/// The same as integers.
const TENS: [u64; 9] = [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000];

/// The largest integer up to which every integer is exact in an f64.
const MAX_EXACT: u64 = 1 << 53;

/// The same as [`number_at`], quick for what most cells hold: a minus or none, up to eight whole digits, up to seven
/// decimals, no exponent. All these have a mantissa below 10^15.
#[expect(clippy::inline_always, reason = "the reader's innermost loop: a call costs a quarter of its time")]
#[inline(always)]
pub(crate) fn quick_number_at(text: &[u8], start: usize, mark: u8) -> Option<(f64, usize)> {
    let careful = || number_at(text, start, mark);
    let Some(window) = text.get(start..).and_then(<[u8]>::first_chunk::<24>) else {
        return careful();
    };
    // The mask is there for the compiler only: no index below reaches 16.
    let byte = |at: usize| window.get(at & 15).copied().unwrap_or(0);
    let is_negative = byte(0) == b'-';
    let digits_start = usize::from(is_negative);
    let mut at = digits_start;
    let mut mantissa: u64 = 0;
    loop {
        let digit = byte(at).wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        mantissa = mantissa * 10 + u64::from(digit);
        at += 1;
        if at > digits_start + 8 {
            return careful();
        }
    }
    if at == digits_start {
        return careful();
    }
    let mut n_decimals = 0;
    let mut next = byte(at);
    if next == mark {
        at += 1;
        let fraction = window.get(at..).and_then(<[u8]>::first_chunk::<8>);
        let (value, n_digits) = leading_digits(*fraction?);
        if n_digits == 0 || n_digits == 8 {
            return careful();
        }
        mantissa = mantissa * TENS.get(n_digits).copied().unwrap_or(1) + value;
        n_decimals = n_digits;
        at += n_digits;
        next = window.get(at).copied().unwrap_or(0);
    }
    if matches!(next, b'e' | b'E' | b'd' | b'D') {
        return careful();
    }
    let magnitude = mantissa as f64 / POWERS_OF_TEN.get(n_decimals).copied().unwrap_or(1.0);
    Some((if is_negative { -magnitude } else { magnitude }, start + at))
}

/// A number at `start` and the index after it. `None` where no finite number starts there.
///
/// Accepted: sign (`+`, `-`, `−`), digits with an optional mark, exponent with `e`, `E`, `d` or `D`. A decimal comma needs a
/// digit behind it: `1,` is a number and a delimiter.
#[inline(never)]
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
        (mantissa, at) = more_digits(text, at, mantissa);
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

/// Appends all digits from `start` on to the mantissa, eight characters at a time.
#[inline]
fn more_digits(text: &[u8], start: usize, start_mantissa: u64) -> (u64, usize) {
    let (mut at, mut mantissa) = (start, start_mantissa);
    while let Some(chunk) = text.get(at..).and_then(<[u8]>::first_chunk::<8>) {
        let (value, n_digits) = leading_digits(*chunk);
        if n_digits == 0 {
            return (mantissa, at);
        }
        let ten = TENS.get(n_digits).copied().unwrap_or(1);
        mantissa = mantissa.wrapping_mul(ten).wrapping_add(value);
        at += n_digits;
        if n_digits < 8 {
            return (mantissa, at);
        }
    }
    while let Some(digit) = digit_at(text, at) {
        mantissa = mantissa.wrapping_mul(10).wrapping_add(digit);
        at += 1;
    }
    (mantissa, at)
}

/// The digits at the start of eight characters: their value and how many they are.
#[inline]
fn leading_digits(chunk: [u8; 8]) -> (u64, usize) {
    // Each byte of a digit becomes 0 to 9; the first that does not is the first with its high bit set below.
    let digits = u64::from_le_bytes(chunk) ^ 0x3030_3030_3030_3030;
    let others = (digits.wrapping_add(0x7676_7676_7676_7676) | digits) & 0x8080_8080_8080_8080;
    let n_digits = (others.trailing_zeros() / 8) as usize;
    if n_digits == 0 {
        return (0, 0);
    }
    // Leading zeros fill the eight up.
    (eight_digits(digits << (64 - 8 * n_digits)), n_digits)
}

/// The number of eight digits, first digit in the lowest byte: joined to pairs, then to fours, then to eight.
#[inline]
fn eight_digits(digits: u64) -> u64 {
    const LOW: u64 = 0x0000_00ff_0000_00ff;
    let pairs = digits.wrapping_mul(10).wrapping_add(digits >> 8);
    let high = (pairs & LOW).wrapping_mul(100 + (1_000_000 << 32));
    let low = ((pairs >> 16) & LOW).wrapping_mul(1 + (10_000 << 32));
    high.wrapping_add(low) >> 32
}

/// U+2212 and the dash U+2013 that word processors put in its place.
fn is_typographic_minus(text: &[u8], at: usize) -> bool {
    matches!(text.get(at..at + 3), Some([0xe2, 0x88, 0x92] | [0xe2, 0x80, 0x93]))
}

#[inline(never)]
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
