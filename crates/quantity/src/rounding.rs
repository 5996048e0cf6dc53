//! Rounding for people: a value to its uncertainty, and bounds that never understate.

use std::fmt;

/// Shown in place of a number that is not there.
pub const NOT_AVAILABLE: &str = "not available";

/// A value and its expanded uncertainty as text, rounded to the same place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rounded {
    /// The value.
    pub value: String,
    /// Its expanded uncertainty.
    pub expanded_u: String,
}

impl fmt::Display for Rounded {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ± {}", self.value, self.expanded_u)
    }
}

/// Rounds `expanded_u` to two significant digits and `value` to the same decimal place.
///
/// Halves go away from zero, judged on the shortest decimal that names the number. An uncertainty of zero leaves the
/// value as it stands; a value or uncertainty that is not finite, or a negative uncertainty, gives [`NOT_AVAILABLE`]
/// twice, so that no number appears without its uncertainty. Very small or large numbers are written with a power of
/// ten.
///
/// # Units
/// Both in the same unit.
///
/// # Source
/// Two digits at most: JCGM 100:2008, 7.2.6. Halves: ISO 80000-1, Annex B, rule B (from memory).
///
/// # Example
/// ```
/// use stillwell_quantity::round_to_uncertainty;
/// assert_eq!(round_to_uncertainty(48.2371, 3.149).to_string(), "48.2 ± 3.1");
/// ```
pub fn round_to_uncertainty(value: f64, expanded_u: f64) -> Rounded {
    let (Some(value), Some(expanded_u)) =
        (Decimal::of(value), Decimal::of(expanded_u).filter(|u| !u.negative))
    else {
        return Rounded { value: NOT_AVAILABLE.to_owned(), expanded_u: NOT_AVAILABLE.to_owned() };
    };
    if expanded_u.digits.is_empty() {
        return Rounded { value: value.text(value.last_place()), expanded_u: "0".to_owned() };
    }
    let expanded_u = expanded_u.to_digits(2, Direction::Nearest);
    let place = expanded_u.first_place - 1;
    let rounded = value.to_place(place, Direction::Nearest);
    Rounded { value: rounded.text(place.max(value.first_place - 17)), expanded_u: expanded_u.text(place) }
}

/// Rounds upward to `digits` significant digits: the text never names less than `value`, as "less than X" needs.
///
/// Digits beyond the 15th are traces of binary arithmetic (55.00000000000001 for 1.1 × 50) and are rounded off first;
/// `digits` is held to 1 to 15.
///
/// # Units
/// Any; the text is in the unit of `value`.
///
/// # Source
/// Common practice, no source: a bound is rounded to the side on which it stays true.
///
/// # Example
/// ```
/// assert_eq!(stillwell_quantity::round_up(1.21, 2), "1.3");
/// ```
pub fn round_up(value: f64, digits: u8) -> String {
    bound(value, digits, Direction::Up)
}

/// Rounds downward to `digits` significant digits: the text never names more than `value`, as "above X" needs.
///
/// Digits beyond the 15th are rounded off first, and `digits` is held to 1 to 15, as in [`round_up`].
///
/// # Units
/// Any; the text is in the unit of `value`.
///
/// # Source
/// Common practice, no source: a bound is rounded to the side on which it stays true.
///
/// # Example
/// ```
/// assert_eq!(stillwell_quantity::round_down(104.9, 2), "100");
/// ```
pub fn round_down(value: f64, digits: u8) -> String {
    bound(value, digits, Direction::Down)
}

fn bound(value: f64, digits: u8, direction: Direction) -> String {
    let digits = i32::from(digits.clamp(1, 15));
    Decimal::of(value).map_or_else(
        || NOT_AVAILABLE.to_owned(),
        |decimal| {
            let rounded = decimal.to_digits(15, Direction::Nearest).to_digits(digits, direction);
            rounded.text(rounded.first_place - digits + 1)
        },
    )
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Direction {
    Nearest,
    Up,
    Down,
}

/// A decimal number: its digits without zeros at either end, none for zero.
#[derive(Debug, Clone)]
struct Decimal {
    negative: bool,
    digits: Vec<u8>,
    /// Power of ten of the first digit.
    first_place: i32,
}

impl Decimal {
    /// The shortest decimal that names `number`.
    fn of(number: f64) -> Option<Self> {
        if !number.is_finite() {
            return None;
        }
        let text = format!("{:e}", number.abs());
        let (mantissa, exponent) = text.split_once('e')?;
        let digits = mantissa.bytes().filter(u8::is_ascii_digit).map(|digit| digit - b'0').collect();
        Some(Self { negative: number < 0.0, digits, first_place: exponent.parse().ok()? }.trimmed())
    }

    fn trimmed(mut self) -> Self {
        while self.digits.last() == Some(&0) {
            self.digits.pop();
        }
        if self.digits.is_empty() {
            self.negative = false;
            self.first_place = 0;
        }
        self
    }

    fn last_place(&self) -> i32 {
        i32::try_from(self.digits.len()).map_or(0, |length| (self.first_place - length + 1).min(0))
    }

    /// Rounded to so many significant digits.
    fn to_digits(&self, digits: i32, direction: Direction) -> Self {
        self.to_place(self.first_place - digits + 1, direction)
    }

    /// Rounded to a multiple of 10^`place`.
    fn to_place(&self, place: i32, direction: Direction) -> Self {
        let kept = usize::try_from(self.first_place - place + 1).unwrap_or(0);
        if kept >= self.digits.len() {
            return self.clone();
        }
        let away = match direction {
            // One place further left than the first digit is below one half.
            Direction::Nearest => {
                self.first_place - place + 1 >= 0 && self.digits.get(kept).is_some_and(|digit| *digit >= 5)
            }
            Direction::Up => !self.negative,
            Direction::Down => self.negative,
        };
        let mut digits: Vec<u8> = self.digits.iter().take(kept).copied().collect();
        let mut first_place = if kept == 0 { place } else { self.first_place };
        let mut carry = u8::from(away);
        for digit in digits.iter_mut().rev() {
            *digit += carry;
            carry = *digit / 10;
            *digit %= 10;
        }
        if carry > 0 {
            digits.insert(0, carry);
            first_place += i32::from(kept > 0);
        }
        Self { negative: self.negative, digits, first_place }.trimmed()
    }

    /// The digit at 10^`place`.
    fn digit(&self, place: i32) -> char {
        let digit = usize::try_from(self.first_place - place).ok().and_then(|at| self.digits.get(at));
        char::from(b'0' + digit.copied().unwrap_or(0))
    }

    /// Written down to 10^`place`, plainly where that is readable, else with a power of ten.
    fn text(&self, place: i32) -> String {
        const PLAIN_FIRST_PLACE: i32 = 6;
        const PLAIN_LAST_PLACE: i32 = -6;
        let mut text = String::new();
        if self.negative {
            text.push('-');
        }
        if self.first_place <= PLAIN_FIRST_PLACE && place >= PLAIN_LAST_PLACE {
            self.write(&mut text, self.first_place.max(0), place.min(0), 0);
        } else if self.digits.is_empty() {
            text.push('0');
        } else {
            self.write(&mut text, self.first_place, place.min(self.first_place), self.first_place);
            text.push_str("×10");
            text.extend(self.first_place.to_string().chars().map(superscript));
        }
        text
    }

    /// The digits from 10^`first` down to 10^`last`, with the decimal point behind 10^`point`.
    fn write(&self, text: &mut String, first: i32, last: i32, point: i32) {
        for place in (last..=first).rev() {
            text.push(self.digit(place));
            if place == point && place > last {
                text.push('.');
            }
        }
    }
}

const fn superscript(c: char) -> char {
    match c {
        '0' => '⁰',
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        '4' => '⁴',
        '5' => '⁵',
        '6' => '⁶',
        '7' => '⁷',
        '8' => '⁸',
        '9' => '⁹',
        _ => '⁻',
    }
}
