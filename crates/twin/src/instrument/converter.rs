//! The current's converter: a mid-tread quantiser that stops at its end codes.

/// A converter in two's complement: codes −2^(bits−1) to 2^(bits−1) − 1, code 0 at zero current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Converter {
    /// Current of the lowest code, A (its negative); the highest code is one step short of it.
    pub range_a: f64,
    /// Bits, sign included; 2 to 32.
    pub bits: u32,
}

/// What a converter gives for one current.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Code {
    /// The code.
    pub code: i64,
    /// Whether it is an end code: the current may lie anywhere beyond.
    pub is_end: bool,
}

impl Converter {
    /// Width of one code, A: 2 range / 2^bits.
    ///
    /// # Source
    /// Common practice, no source.
    ///
    /// # Example
    ///
    /// ```
    /// let converter = stillwell_twin::Converter { range_a: 1.0, bits: 3 };
    /// assert_eq!(converter.step_a(), 0.25);
    /// ```
    pub fn step_a(&self) -> f64 {
        self.range_a / self.codes_a_side()
    }

    /// The code of a current; not-a-number counts as beyond the lower end.
    ///
    /// # Source
    /// Mid-tread quantiser, rounding half away from zero; common practice, no source.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_twin::{Code, Converter};
    /// let converter = Converter { range_a: 1.0, bits: 3 };
    /// assert_eq!(converter.code(0.12), Code { code: 0, is_end: false });
    /// assert_eq!(converter.code(9.0), Code { code: 3, is_end: true });
    /// assert_eq!(converter.code(-9.0), Code { code: -4, is_end: true });
    /// ```
    pub fn code(&self, current_a: f64) -> Code {
        let side = self.codes_a_side();
        let nearest = libm::round(current_a / self.step_a());
        let held = if nearest.is_nan() { -side } else { nearest.clamp(-side, side - 1.0) };
        #[expect(clippy::cast_possible_truncation, reason = "a whole number of at most 32 bits")]
        let code = held as i64;
        Code { code, is_end: held <= -side || held >= side - 1.0 }
    }

    /// The current that a code stands for, A.
    pub fn current_a(&self, code: Code) -> f64 {
        code.code as f64 * self.step_a()
    }

    /// 2^(bits−1).
    fn codes_a_side(&self) -> f64 {
        (1_u64 << self.bits.clamp(1, 32).saturating_sub(1)) as f64
    }
}
