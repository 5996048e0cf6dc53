//! Passes over curves, eight points at a time, and the one order in which the kernel adds.
//!
//! Each pass reads a block, computes it, then writes it: so written, the compiler uses vectors wherever the processor has
//! them, and the numbers do not depend on it.

/// Points in a block, and partial sums kept side by side. Part of the definition of every sum: changing it changes
/// bits.
const PARTS: usize = 8;

/// Σ f(aᵢ, bᵢ) over the shorter of two slices.
///
/// Point i is added to partial sum i mod 8; the eight are then added as ((0+1)+(2+3))+((4+5)+(6+7)). The order is
/// the same on every processor; eight independent sums let one with vectors use them.
#[inline(always)]
pub(crate) fn sum_pairs(a: &[f64], b: &[f64], f: impl Fn(f64, f64) -> f64) -> f64 {
    let mut part = [0.0_f64; PARTS];
    let (a_blocks, a_rest) = a.as_chunks::<PARTS>();
    let (b_blocks, b_rest) = b.as_chunks::<PARTS>();
    for (a_block, b_block) in a_blocks.iter().zip(b_blocks) {
        for j in 0..PARTS {
            part[j] += f(a_block[j], b_block[j]);
        }
    }
    for ((p, x), y) in part.iter_mut().zip(a_rest).zip(b_rest) {
        *p += f(*x, *y);
    }
    ((part[0] + part[1]) + (part[2] + part[3])) + ((part[4] + part[5]) + (part[6] + part[7]))
}

/// Σ xᵢ in the order of [`sum_pairs`].
#[inline(always)]
pub(crate) fn sum(values: &[f64]) -> f64 {
    sum_pairs(values, values, |x, _| x)
}

/// Writes f(aᵢ, bᵢ) over the shortest of three slices.
#[inline(always)]
pub(crate) fn map_pairs(a: &[f64], b: &[f64], out: &mut [f64], f: impl Fn(f64, f64) -> f64) {
    let ((a_blocks, a_rest), (b_blocks, b_rest)) = (a.as_chunks::<PARTS>(), b.as_chunks::<PARTS>());
    let (blocks, rest) = out.as_chunks_mut::<PARTS>();
    for ((a_block, b_block), block) in a_blocks.iter().zip(b_blocks).zip(blocks) {
        let mut values = [0.0; PARTS];
        for j in 0..PARTS {
            values[j] = f(a_block[j], b_block[j]);
        }
        *block = values;
    }
    for ((out, x), y) in rest.iter_mut().zip(a_rest).zip(b_rest) {
        *out = f(*x, *y);
    }
}

/// The largest value, 0.0 for none; the order does not matter among finite numbers.
#[inline(always)]
pub(crate) fn largest(values: &[f64]) -> f64 {
    let Some(&first) = values.first() else { return 0.0 };
    let mut part = [first; PARTS];
    let (blocks, rest) = values.as_chunks::<PARTS>();
    for block in blocks {
        for j in 0..PARTS {
            part[j] = if block[j] > part[j] { block[j] } else { part[j] };
        }
    }
    rest.iter().chain(&part).fold(first, |high, &x| if x > high { x } else { high })
}

/// Index of the first largest value, 0 for an empty slice.
#[inline(always)]
pub(crate) fn index_of_largest(values: &[f64]) -> usize {
    let high = largest(values);
    first_that(values, |x| x == high).unwrap_or(0)
}

/// Index of the first value that satisfies `holds`; whole blocks are passed over at once.
#[inline(always)]
pub(crate) fn first_that(values: &[f64], holds: impl Fn(f64) -> bool) -> Option<usize> {
    let (blocks, _) = values.as_chunks::<PARTS>();
    let passed = blocks.iter().take_while(|block| !any(block, &holds)).count() * PARTS;
    values[passed..].iter().position(|x| holds(*x)).map(|i| passed + i)
}

/// Index of the last value that satisfies `holds`.
#[inline(always)]
pub(crate) fn last_that(values: &[f64], holds: impl Fn(f64) -> bool) -> Option<usize> {
    let (_, blocks) = values.as_rchunks::<PARTS>();
    let passed = blocks.iter().rev().take_while(|block| !any(block, &holds)).count() * PARTS;
    values[..values.len() - passed].iter().rposition(|x| holds(*x))
}

#[inline(always)]
fn any(block: &[f64; PARTS], holds: impl Fn(f64) -> bool) -> bool {
    let mut found = false;
    for x in block {
        found |= holds(*x);
    }
    found
}

/// Writes a − b and tells the index of the first difference that is not a finite number.
#[inline(always)]
pub(crate) fn subtract(a: &[f64], b: &[f64], difference: &mut [f64]) -> Option<usize> {
    // 0 × x is zero for every finite number and NaN otherwise, so one sum tells for the whole slice.
    let mut part = [0.0_f64; PARTS];
    let ((a_blocks, a_rest), (b_blocks, b_rest)) = (a.as_chunks::<PARTS>(), b.as_chunks::<PARTS>());
    let (blocks, rest) = difference.as_chunks_mut::<PARTS>();
    for ((a_block, b_block), block) in a_blocks.iter().zip(b_blocks).zip(blocks) {
        let mut values = [0.0; PARTS];
        for j in 0..PARTS {
            values[j] = a_block[j] - b_block[j];
            part[j] += 0.0 * values[j];
        }
        *block = values;
    }
    for (((out, x), y), p) in rest.iter_mut().zip(a_rest).zip(b_rest).zip(&mut part) {
        *out = x - y;
        *p += 0.0 * *out;
    }
    if sum(&part) == 0.0 { None } else { difference.iter().position(|x| !x.is_finite()) }
}

/// Index of the first value that is not a finite number.
#[inline(always)]
pub(crate) fn first_not_finite(values: &[f64]) -> Option<usize> {
    if sum_pairs(values, values, |x, _| 0.0 * x) == 0.0 {
        None
    } else {
        values.iter().position(|x| !x.is_finite())
    }
}

#[cfg(test)]
mod tests {
    use super::{first_that, last_that, sum};

    #[test]
    fn sums_follow_the_stated_order() {
        // Neighbours first: 1e16 swallows part of each 3.
        let values = [3.0, 1e16, 3.0, -1e16, 0.0, 0.0, 0.0, 0.0, 0.25, 0.5, 0.25];
        let mut p = [0.0; 8];
        for (i, value) in values.iter().enumerate() {
            p[i % 8] += value;
        }
        let expected = ((p[0] + p[1]) + (p[2] + p[3])) + ((p[4] + p[5]) + (p[6] + p[7]));
        assert_eq!(sum(&values).to_bits(), expected.to_bits());
        let other = ((p[0] + p[2]) + (p[1] + p[3])) + ((p[4] + p[5]) + (p[6] + p[7]));
        assert_ne!(sum(&values).to_bits(), other.to_bits());
    }

    #[test]
    fn searches_agree_with_point_by_point() {
        for n in 0..40 {
            for hit in 0..=n {
                let values: [f64; 40] = core::array::from_fn(|i| if i == hit { 1.0 } else { 0.0 });
                let expected = (hit < n).then_some(hit);
                assert_eq!(first_that(&values[..n], |x| x == 1.0), expected);
                assert_eq!(last_that(&values[..n], |x| x == 1.0), expected);
            }
        }
    }
}
