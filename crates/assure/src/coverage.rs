//! Coverage intervals from Monte Carlo draws.

/// Two intervals of one coverage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoverageIntervals {
    /// As many draws below as above.
    pub symmetric: [f64; 2],
    /// The shortest of all.
    pub shortest: [f64; 2],
}

/// Both intervals that hold the fraction `coverage` of the draws; the draws are put into another order.
///
/// # Units
/// Any one unit; at least two finite draws and 0 < `coverage` < 1, or the answer is `None`.
///
/// # Source
/// JCGM 101:2008, 7.7: with q draws inside, the ends are the r-th and the (r + q)-th in order.
///
/// # Example
/// ```
/// let mut draws: Vec<f64> = (1..=1000).map(f64::from).collect();
/// let found = stillwell_assure::coverage_intervals(&mut draws, 0.95).unwrap();
/// assert_eq!(found.symmetric, [25.0, 975.0]);
/// ```
pub fn coverage_intervals(draws: &mut [f64], coverage: f64) -> Option<CoverageIntervals> {
    let n = draws.len();
    let inside = n_inside(n, coverage)?;
    let outside = n - inside;
    let (low, high) = tails(draws, outside, inside);
    // Counted from 0, r − 1 is the place of the lower end in `low` and of the upper end in `high`.
    let r = if outside.is_multiple_of(2) { outside / 2 } else { outside.div_ceil(2) };
    let ends = |at: usize| Some([*low.get(at)?, *high.get(at)?]);
    let symmetric = ends(r.checked_sub(1)?)?;
    let width = |[low, high]: [f64; 2]| high - low;
    let mut shortest = symmetric;
    for at in 0..outside {
        let candidate = ends(at)?;
        if width(candidate) < width(shortest) {
            shortest = candidate;
        }
    }
    Some(CoverageIntervals { symmetric, shortest })
}

/// Draws inside, at least one left outside.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "between 0 and the number of draws"
)]
fn n_inside(n: usize, coverage: f64) -> Option<usize> {
    if !(coverage > 0.0 && coverage < 1.0) || n < 2 {
        return None;
    }
    Some((libm::floor(coverage * n as f64 + 0.5) as usize).clamp(1, n - 1))
}

/// The lowest and the highest `outside` draws, each in order. Only these are sorted.
fn tails(draws: &mut [f64], outside: usize, inside: usize) -> (&[f64], &[f64]) {
    if inside < outside {
        draws.sort_unstable_by(f64::total_cmp);
    } else {
        // The places outside − 1 and inside are in range: both counts lie between 1 and n − 1.
        draws.select_nth_unstable_by(outside - 1, f64::total_cmp);
        if inside > outside {
            draws[outside..].select_nth_unstable_by(inside - outside, f64::total_cmp);
        }
        draws[..outside].sort_unstable_by(f64::total_cmp);
        draws[inside..].sort_unstable_by(f64::total_cmp);
    }
    (&draws[..outside], &draws[inside..])
}
