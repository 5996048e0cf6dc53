//! Numbers of about 32 digits: an unevaluated sum of two `f64`, without fused operations.
//!
//! Source: Dekker 1971, Numer. Math. 18, 224 (split product); Knuth, The Art of Computer Programming, vol. 2, 4.2.2
//! (exact sum). Operands must stay within about 1e±140; the callers scale by powers of two.

use core::ops::{Add, Div, Mul, Neg, Sub};

/// `hi + lo` with `|lo|` at most half a unit in the last place of `hi`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct DoubleDouble {
    hi: f64,
    lo: f64,
}

const SPLITTER: f64 = 134_217_729.0; // 2^27 + 1

/// `a + b` as rounded sum and exact error.
fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    let b_part = sum - a;
    (sum, (a - (sum - b_part)) + (b - b_part))
}

/// As [`two_sum`] where `|a| >= |b|` is known.
fn quick_two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    (sum, b - (sum - a))
}

fn split(a: f64) -> (f64, f64) {
    let scaled = SPLITTER * a;
    let high = scaled - (scaled - a);
    (high, a - high)
}

/// `a * b` as rounded product and exact error.
fn two_product(a: f64, b: f64) -> (f64, f64) {
    let product = a * b;
    let (a_high, a_low) = split(a);
    let (b_high, b_low) = split(b);
    (product, ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low)
}

impl DoubleDouble {
    pub(crate) const ZERO: Self = Self { hi: 0.0, lo: 0.0 };
    pub(crate) const ONE: Self = Self { hi: 1.0, lo: 0.0 };

    /// The nearest `f64`.
    pub(crate) fn to_f64(self) -> f64 {
        self.hi
    }

    /// Exact when `power` is a power of two and nothing under- or overflows.
    pub(crate) fn scale(self, power: f64) -> Self {
        Self { hi: self.hi * power, lo: self.lo * power }
    }

    pub(crate) fn square(self) -> Self {
        self * self
    }

    pub(crate) fn plus(self, value: f64) -> Self {
        let (sum, error) = two_sum(self.hi, value);
        let (hi, lo) = quick_two_sum(sum, error + self.lo);
        Self { hi, lo }
    }

    pub(crate) fn times(self, factor: f64) -> Self {
        let (product, error) = two_product(self.hi, factor);
        let (hi, lo) = quick_two_sum(product, error + self.lo * factor);
        Self { hi, lo }
    }

    /// Zero for zero and below.
    pub(crate) fn sqrt(self) -> Self {
        if self.hi <= 0.0 {
            return Self::ZERO;
        }
        let root = libm::sqrt(self.hi);
        let rest = self - Self::from(root).square();
        let (hi, lo) = quick_two_sum(root, rest.hi / (2.0 * root));
        Self { hi, lo }
    }
}

impl From<f64> for DoubleDouble {
    fn from(hi: f64) -> Self {
        Self { hi, lo: 0.0 }
    }
}

impl Add for DoubleDouble {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        let (sum, error) = two_sum(self.hi, other.hi);
        let (low_sum, low_error) = two_sum(self.lo, other.lo);
        let (sum, error) = quick_two_sum(sum, error + low_sum);
        let (hi, lo) = quick_two_sum(sum, error + low_error);
        Self { hi, lo }
    }
}

impl Neg for DoubleDouble {
    type Output = Self;
    fn neg(self) -> Self {
        Self { hi: -self.hi, lo: -self.lo }
    }
}

impl Sub for DoubleDouble {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Mul for DoubleDouble {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let (product, error) = two_product(self.hi, other.hi);
        let (hi, lo) = quick_two_sum(product, error + (self.hi * other.lo + self.lo * other.hi));
        Self { hi, lo }
    }
}

impl Div for DoubleDouble {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let first = self.hi / other.hi;
        let rest = self - other * Self::from(first);
        let second = rest.hi / other.hi;
        let rest = rest - other * Self::from(second);
        let (hi, lo) = quick_two_sum(first, second);
        Self { hi, lo } + Self::from(rest.hi / other.hi)
    }
}

impl core::iter::Sum for DoubleDouble {
    fn sum<I: Iterator<Item = Self>>(terms: I) -> Self {
        terms.fold(Self::ZERO, Add::add)
    }
}

/// A running sum whose roundings are gathered apart: as good as a sum in double-double, and several run side by side.
///
/// Source: Ogita, Rump & Oishi 2005, SIAM J. Sci. Comput. 26, 1955 (algorithm 4.4).
#[derive(Debug, Clone, Copy)]
pub(crate) struct CarriedSum {
    sum: f64,
    carried: f64,
}

impl CarriedSum {
    pub(crate) const ZERO: Self = Self { sum: 0.0, carried: 0.0 };

    pub(crate) fn add(&mut self, term: DoubleDouble) {
        let (sum, error) = two_sum(self.sum, term.hi);
        self.sum = sum;
        self.carried += error + term.lo;
    }

    pub(crate) fn total(self) -> DoubleDouble {
        let (hi, lo) = quick_two_sum(self.sum, self.carried);
        DoubleDouble { hi, lo }
    }
}

/// The power of two that brings `magnitude` into [1, 2); 1 for zero, subnormal numbers as far as one factor reaches.
pub(crate) fn power_of_two_to_unit(magnitude: f64) -> f64 {
    if magnitude == 0.0 {
        return 1.0;
    }
    let (_, exponent) = libm::frexp(magnitude);
    libm::scalbn(1.0, (1 - exponent).clamp(-1022, 1022))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whole(hi: f64, lo: f64) -> DoubleDouble {
        DoubleDouble { hi, lo }
    }

    #[test]
    fn keeps_what_one_float_drops() {
        let sum = DoubleDouble::from(1e16) + DoubleDouble::from(1.0);
        assert_eq!(sum, whole(1e16, 1.0));
        assert_eq!(sum - DoubleDouble::from(1e16), DoubleDouble::ONE);
    }

    #[test]
    fn product_of_two_floats_is_exact() {
        let a = 1.0 + f64::EPSILON;
        let square = DoubleDouble::from(a).square();
        let expected = whole(1.0 + 2.0 * f64::EPSILON, f64::EPSILON * f64::EPSILON);
        assert_eq!(square, expected);
    }

    #[test]
    fn quotient_and_root_undo_product_and_square() {
        for value in [3.0, 0.1, 7e-9, 1.234e60] {
            let third = DoubleDouble::from(value) / DoubleDouble::from(3.0);
            let back = third * DoubleDouble::from(3.0) - DoubleDouble::from(value);
            assert!(libm::fabs(back.to_f64()) <= 1e-31 * value, "{value}: {back:?}");
            let root = DoubleDouble::from(value).sqrt().square() - DoubleDouble::from(value);
            assert!(libm::fabs(root.to_f64()) <= 1e-31 * value, "{value}: {root:?}");
        }
    }

    #[test]
    fn scaling_brings_into_one_to_two() {
        for value in [1.0, 3e-12, 1.999, 5e300, 2e-300] {
            let scaled = value * power_of_two_to_unit(value);
            assert!((1.0..2.0).contains(&scaled), "{value} gave {scaled}");
        }
    }
}
