//! The mean of a few signals as the desktop's statistics form it, bit for bit.

/// `hi + lo`, about 32 digits (Dekker 1971, Numer. Math. 18, 224; Knuth, vol. 2, 4.2.2).
#[derive(Clone, Copy)]
struct Pair {
    hi: f64,
    lo: f64,
}

fn sum_of_two(a: f64, b: f64) -> Pair {
    let hi = a + b;
    let part = hi - a;
    Pair { hi, lo: (a - (hi - part)) + (b - part) }
}

/// As [`sum_of_two`] where the first is not the smaller.
fn sum_of_ordered(a: f64, b: f64) -> Pair {
    let hi = a + b;
    Pair { hi, lo: b - (hi - a) }
}

fn halves(a: f64) -> Pair {
    let scaled = 134_217_729.0 * a;
    let hi = scaled - (scaled - a);
    Pair { hi, lo: a - hi }
}

fn product_of_two(a: f64, b: f64) -> Pair {
    let (x, y) = (halves(a), halves(b));
    let hi = a * b;
    Pair { hi, lo: ((x.hi * y.hi - hi) + x.hi * y.lo + x.lo * y.hi) + x.lo * y.lo }
}

impl Pair {
    fn plus(self, other: Self) -> Self {
        let (sum, low) = (sum_of_two(self.hi, other.hi), sum_of_two(self.lo, other.lo));
        let first = sum_of_ordered(sum.hi, sum.lo + low.hi);
        sum_of_ordered(first.hi, first.lo + low.lo)
    }

    /// `self − n × factor`.
    fn less(self, n: f64, factor: f64) -> Self {
        let product = product_of_two(n, factor);
        self.plus(Self { hi: -product.hi, lo: -product.lo })
    }

    /// The nearest number to the quotient by a count.
    fn over(self, n: f64) -> f64 {
        let first = self.hi / n;
        let rest = self.less(n, first);
        let second = rest.hi / n;
        let rest = rest.less(n, second);
        sum_of_ordered(first, second).plus(Self { hi: rest.hi / n, lo: 0.0 }).hi
    }
}

/// The mean of finite values; a single value is its own mean, none have the mean 0.
///
/// The values are scaled by a power of two and summed in pairs of numbers.
///
/// # Units
/// Those of the values.
///
/// # Source
/// Definition; the same operations in the same order as the statistics room's mean.
///
/// # Example
/// ```
/// assert_eq!(stillwell_evaluate::exact_mean(&[1e16, 1.0, -1e16]), 1.0 / 3.0);
/// ```
pub fn exact_mean(values: &[f64]) -> f64 {
    match values {
        [] => return 0.0,
        [only] => return *only,
        _ => {}
    }
    let largest = values.iter().fold(0.0_f64, |high, x| if x.abs() > high { x.abs() } else { high });
    let scale = power_of_two_to_unit(largest);
    let zero = Pair { hi: 0.0, lo: 0.0 };
    let sum = values.iter().fold(zero, |sum, x| sum.plus(Pair { hi: x * scale, lo: 0.0 }));
    sum.over(values.len() as f64) / scale
}

/// The mean of one electrode's scans; sorting makes the order in which they came irrelevant to the last bit.
///
/// # Units
/// Those of the signals.
///
/// # Source
/// As [`exact_mean`].
///
/// # Example
/// ```
/// let (mut one, mut other) = ([0.3, 0.1, 0.2], [0.2, 0.3, 0.1]);
/// assert_eq!(stillwell_evaluate::electrode_mean(&mut one), stillwell_evaluate::electrode_mean(&mut other));
/// ```
pub fn electrode_mean(signals: &mut [f64]) -> f64 {
    signals.sort_unstable_by(f64::total_cmp);
    exact_mean(signals)
}

/// The power of two that brings a magnitude into [1, 2); 1 for zero.
fn power_of_two_to_unit(magnitude: f64) -> f64 {
    let bits = magnitude.to_bits();
    if bits == 0 {
        return 1.0;
    }
    // Biased exponent as if there were no subnormal numbers: 1 less for each leading zero of their fraction.
    let biased = (bits >> 52).cast_signed();
    let biased = if biased == 0 { 12 - i64::from(bits.leading_zeros()) } else { biased };
    let power = (1023 - biased).clamp(-1022, 1022);
    f64::from_bits(((power + 1023).unsigned_abs()) << 52)
}
