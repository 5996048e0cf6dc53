//! Numbers that carry their derivatives along: exact gradients for the reference models.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// The most parameters a reference model has.
pub(crate) const WIDTH: usize = 9;

/// What a model is written in: a plain number, or one with derivatives.
pub(crate) trait Number:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Div<Output = Self> + Neg<Output = Self>
{
    fn of(value: f64) -> Self;
    fn exp(self) -> Self;
    fn ln(self) -> Self;
    fn sin(self) -> Self;
    fn cos(self) -> Self;
    fn atan(self) -> Self;

    fn square(self) -> Self {
        self * self
    }

    fn to_the(self, power: Self) -> Self {
        (self.ln() * power).exp()
    }
}

impl Number for f64 {
    fn of(value: f64) -> Self {
        value
    }
    fn exp(self) -> Self {
        libm::exp(self)
    }
    fn ln(self) -> Self {
        libm::log(self)
    }
    fn sin(self) -> Self {
        libm::sin(self)
    }
    fn cos(self) -> Self {
        libm::cos(self)
    }
    fn atan(self) -> Self {
        libm::atan(self)
    }
    fn to_the(self, power: Self) -> Self {
        libm::pow(self, power)
    }
}

/// A value and its derivatives by the parameters.
#[derive(Clone, Copy)]
pub(crate) struct Dual {
    pub(crate) value: f64,
    pub(crate) slopes: [f64; WIDTH],
}

impl Dual {
    pub(crate) fn parameter(index: usize, value: f64) -> Self {
        let mut slopes = [0.0; WIDTH];
        slopes[index] = 1.0;
        Self { value, slopes }
    }

    /// A function of this number with the given value and derivative.
    fn chain(self, value: f64, slope: f64) -> Self {
        Self { value, slopes: self.slopes.map(|s| s * slope) }
    }

    fn both(self, other: Self, value: f64, by_self: f64, by_other: f64) -> Self {
        let slope = |i: usize| self.slopes[i] * by_self + other.slopes[i] * by_other;
        Self { value, slopes: std::array::from_fn(slope) }
    }
}

impl Number for Dual {
    fn of(value: f64) -> Self {
        Self { value, slopes: [0.0; WIDTH] }
    }
    fn exp(self) -> Self {
        let value = libm::exp(self.value);
        self.chain(value, value)
    }
    fn ln(self) -> Self {
        self.chain(libm::log(self.value), 1.0 / self.value)
    }
    fn sin(self) -> Self {
        self.chain(libm::sin(self.value), libm::cos(self.value))
    }
    fn cos(self) -> Self {
        self.chain(libm::cos(self.value), -libm::sin(self.value))
    }
    fn atan(self) -> Self {
        self.chain(libm::atan(self.value), 1.0 / (1.0 + self.value * self.value))
    }
}

impl Add for Dual {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        self.both(other, self.value + other.value, 1.0, 1.0)
    }
}

impl Sub for Dual {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self.both(other, self.value - other.value, 1.0, -1.0)
    }
}

impl Mul for Dual {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        self.both(other, self.value * other.value, other.value, self.value)
    }
}

impl Div for Dual {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let value = self.value / other.value;
        self.both(other, value, 1.0 / other.value, -value / other.value)
    }
}

impl Neg for Dual {
    type Output = Self;
    fn neg(self) -> Self {
        self.chain(-self.value, -1.0)
    }
}
