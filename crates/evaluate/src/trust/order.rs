//! Medians without allocation, and the scan's smallest step of current.

use super::finding::WhyNotTestable;

/// Puts `values` into the workspace and takes their median (mean of the middle two for an even number).
pub(super) fn median_of(
    values: impl ExactSizeIterator<Item = f64>,
    workspace: &mut [f64],
) -> Result<f64, WhyNotTestable> {
    let n = values.len();
    let chosen = workspace.get_mut(..n).ok_or(WhyNotTestable::WorkspaceTooSmall)?;
    for (place, value) in chosen.iter_mut().zip(values) {
        *place = value;
    }
    median_in_place(chosen)
}

/// The median of values that may be put into another order.
pub(super) fn median_in_place(chosen: &mut [f64]) -> Result<f64, WhyNotTestable> {
    let n = chosen.len();
    if n == 0 {
        return Err(WhyNotTestable::TooShort);
    }
    let (below, &mut upper, _) = chosen.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return Ok(upper);
    }
    let mut lower = f64::NEG_INFINITY;
    for &x in below.iter() {
        if x > lower {
            lower = x;
        }
    }
    Ok(0.5 * lower + 0.5 * upper)
}

/// Median of 4 numbers and their range.
#[inline(always)]
pub(super) fn middle_and_range_of_four(values: [f64; 4]) -> (f64, f64) {
    let [mut lowest, mut highest] = [values[0]; 2];
    let mut sum = 0.0;
    for x in values {
        if x < lowest {
            lowest = x;
        }
        if x > highest {
            highest = x;
        }
        sum += x;
    }
    (0.5 * (sum - lowest - highest), highest - lowest)
}

/// Median of three numbers.
#[inline(always)]
pub(super) fn median_of_three(a: f64, b: f64, c: f64) -> f64 {
    let (low, high) = if a < b { (a, b) } else { (b, a) };
    let above = if c < low { low } else { c };
    if c > high { high } else { above }
}

/// Numbers nearer than this fraction of the largest current count as equal: sums of printed decimals leave such remainders.
const SAME: f64 = 1e-9;

/// The smallest change from a point to the next, apart from none; 0 where all are alike.
pub(super) fn smallest_change_a(current_a: &[f64]) -> f64 {
    let mut largest = 0.0;
    for &x in current_a {
        if x.abs() > largest {
            largest = x.abs();
        }
    }
    let mut smallest = f64::INFINITY;
    for two in current_a.windows(2) {
        let &[a, b] = two else { continue };
        let change = (b - a).abs();
        if change > SAME * largest && change < smallest {
            smallest = change;
        }
    }
    if smallest.is_finite() { smallest } else { 0.0 }
}

/// The step in which the currents near `level_a` seem to be recorded: the smallest first or second difference that is not zero.
///
/// Currents of less than half of `level_a` are left out, since records with a fixed number of digits are finer there. Zero
/// when nothing changes.
pub(super) fn apparent_resolution_a(current_a: &[f64], level_a: f64) -> f64 {
    let mut largest = 0.0;
    for &x in current_a {
        if x.abs() > largest {
            largest = x.abs();
        }
    }
    let smallest_counted = SAME * largest;
    let mut resolution = f64::INFINITY;
    for three in current_a.windows(3) {
        let &[a, b, c] = three else { continue };
        if a.abs() < 0.5 * level_a.abs() || b.abs() < 0.5 * level_a.abs() || c.abs() < 0.5 * level_a.abs() {
            continue;
        }
        for difference in [(b - a).abs(), ((c - b) - (b - a)).abs()] {
            if difference > smallest_counted && difference < resolution {
                resolution = difference;
            }
        }
    }
    if resolution.is_finite() { resolution } else { 0.0 }
}

/// The whole part of a number from 0 to 4·10⁹; larger ones give the largest whole number of 32 bits, NaN gives 0.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "cutting off is the purpose; the conversion saturates"
)]
pub(super) fn whole_part(x: f64) -> f64 {
    f64::from(x as u32)
}
