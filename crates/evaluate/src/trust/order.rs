//! Medians without allocation, and the scan's smallest step of current.

use super::finding::WhyNotTestable;

/// Puts `values` into the workspace and takes their median (mean of the middle two for an even number).
#[inline(always)]
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

/// The same of sizes, which have no sign: their bits stand in their order.
#[inline(always)]
pub(super) fn median_of_sizes(
    sizes: impl ExactSizeIterator<Item = f64>,
    workspace: &mut [f64],
) -> Result<f64, WhyNotTestable> {
    let n = sizes.len();
    let chosen = workspace.get_mut(..n).ok_or(WhyNotTestable::WorkspaceTooSmall)?;
    for (place, size) in chosen.iter_mut().zip(sizes) {
        *place = size;
    }
    median_of_sizes_in_place(chosen)
}

/// The median of sizes that may be put into another order.
pub(super) fn median_of_sizes_in_place(chosen: &mut [f64]) -> Result<f64, WhyNotTestable> {
    middle(chosen, |a, b| a.to_bits().cmp(&b.to_bits()))
}

/// The median of values that may be put into another order.
fn median_in_place(chosen: &mut [f64]) -> Result<f64, WhyNotTestable> {
    middle(chosen, f64::total_cmp)
}

fn middle(
    chosen: &mut [f64],
    order: impl Fn(&f64, &f64) -> core::cmp::Ordering,
) -> Result<f64, WhyNotTestable> {
    let n = chosen.len();
    if n == 0 {
        return Err(WhyNotTestable::TooShort);
    }
    let (below, &mut upper, _) = chosen.select_nth_unstable_by(n / 2, order);
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
#[inline(always)]
pub(super) fn apparent_resolution_a(current_a: &[f64], level_a: f64) -> f64 {
    let mut largest = 0.0;
    for &x in current_a {
        if x.abs() > largest {
            largest = x.abs();
        }
    }
    let smallest_counted = SAME * largest;
    if level_a == 0.0 {
        // Nothing is left out.
        let of_all = smallest_difference_a(current_a, smallest_counted);
        return if of_all.is_finite() { of_all } else { 0.0 };
    }
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

/// The smallest first or second difference above a size; infinite where there is none.
#[inline(always)]
fn smallest_difference_a(current_a: &[f64], above_a: f64) -> f64 {
    let mut smallest = [f64::INFINITY; LANES];
    let mut take = |lane: usize, a: f64, b: f64, c: f64| {
        for difference in [(b - a).abs(), ((c - b) - (b - a)).abs()] {
            let counted = if difference > above_a { difference } else { f64::INFINITY };
            smallest[lane] = if counted < smallest[lane] { counted } else { smallest[lane] };
        }
    };
    let n = current_a.len().saturating_sub(2);
    let mut start = 0;
    while let (Some(a), Some(b), Some(c)) =
        (lanes_from(current_a, start), lanes_from(current_a, start + 1), lanes_from(current_a, start + 2))
    {
        for lane in 0..LANES {
            take(lane, a[lane], b[lane], c[lane]);
        }
        start += LANES;
    }
    for three in current_a[start.min(n)..].windows(3) {
        take(0, three[0], three[1], three[2]);
    }
    smallest.iter().fold(f64::INFINITY, |smallest, &x| if x < smallest { x } else { smallest })
}

/// Numbers looked at side by side.
pub(super) const LANES: usize = 8;

#[inline(always)]
pub(super) fn lanes_from(values: &[f64], start: usize) -> Option<&[f64; LANES]> {
    values.get(start..).and_then(<[f64]>::first_chunk::<LANES>)
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
