//! Asymmetric least squares baselines, one scan or eight side by side with the same bits.

use crate::blocks::first_not_finite;
use crate::refusal::{Refusal, SettingName};

/// Scans solved side by side.
pub const LANES: usize = 8;

/// Constants of an asymmetric least squares baseline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AsymmetricLeastSquares {
    /// Stiffness λ, above 0 and at most 1e10 times the lower of the two weights: stiffer, and rounding in the
    /// system (16 λ/w × 1.1e-16) would pass 2e-5 of the current.
    pub stiffness: f64,
    /// Weight p of a point above the baseline (along the direction), 0 < p < 1; a point on or below has 1 − p.
    pub asymmetry: f64,
    /// Iterations after which an unsettled baseline is refused.
    pub max_iterations: u32,
}

impl AsymmetricLeastSquares {
    pub(crate) fn check(&self, n_points: usize) -> Result<(), Refusal> {
        let refuse = |setting, value| Err(Refusal::SettingNotUsable { setting, value });
        if !(self.asymmetry > 0.0 && self.asymmetry < 1.0) {
            return refuse(SettingName::Asymmetry, self.asymmetry);
        }
        let lowest_weight = if self.asymmetry < 0.5 { self.asymmetry } else { 1.0 - self.asymmetry };
        if !(self.stiffness > 0.0 && self.stiffness <= 1e10 * lowest_weight) {
            return refuse(SettingName::Stiffness, self.stiffness);
        }
        if self.max_iterations == 0 {
            return refuse(SettingName::Iterations, 0.0);
        }
        if n_points < 3 { Err(Refusal::TooFewPoints { found: n_points, needed: 3 }) } else { Ok(()) }
    }
}

/// Scratch values [`asymmetric_least_squares`] needs.
pub const fn single_scratch_len(n_points: usize) -> usize {
    3 * n_points
}

/// Scratch values [`asymmetric_least_squares_side_by_side`] needs.
pub const fn lane_scratch_len(n_points: usize) -> usize {
    3 * LANES * n_points
}

/// Baseline z of one scan y: minimises Σ wᵢ (yᵢ − zᵢ)² + λ Σ (zᵢ₋₁ − 2 zᵢ + zᵢ₊₁)², with w = p above and 1 − p
/// elsewhere; repeated from w = 1 until no weight changes. Returns the number of solutions computed.
///
/// The five-diagonal system is solved by its L D Lᵀ factors, rows in order, without pivoting (it is positive definite).
///
/// # Units
/// `current_a` and `baseline_a` in A, one length (at least 3); `scratch` [`single_scratch_len`]; `sign` +1 for
/// peaks towards positive currents, −1 for the others.
///
/// # Errors
/// [`Refusal::BaselineNotSettled`]; [`Refusal::OutOfNumberRange`] for currents near f64's largest;
/// [`Refusal::NotFinite`], lengths and settings as named.
///
/// # Source
/// Eilers, Anal. Chem. 75 (2003) 3631; Eilers & Boelens 2005.
///
/// # Example
/// ```
/// use stillwell_evaluate::{AsymmetricLeastSquares, asymmetric_least_squares, single_scratch_len};
/// let rule = AsymmetricLeastSquares { stiffness: 1e3, asymmetry: 0.01, max_iterations: 50 };
/// let mut baseline = [0.0; 5];
/// let mut scratch = [0.0; single_scratch_len(5)];
/// asymmetric_least_squares(&rule, &[1.0, 2.0, 9.0, 4.0, 5.0], 1.0, &mut baseline, &mut scratch)?;
/// assert!((baseline[2] - 3.0).abs() < 0.1);
/// # Ok::<(), stillwell_evaluate::Refusal>(())
/// ```
#[inline(always)]
pub fn asymmetric_least_squares(
    rule: &AsymmetricLeastSquares,
    current_a: &[f64],
    sign: f64,
    baseline_a: &mut [f64],
    scratch: &mut [f64],
) -> Result<u32, Refusal> {
    if let Some(index) = first_not_finite(current_a) {
        return Err(Refusal::NotFinite { index });
    }
    let [outcome] = solve::<1>(rule, current_a, sign, baseline_a, scratch)?;
    outcome
}

/// [`asymmetric_least_squares`] of eight scans at once; point i of scan k lies at `LANES * i + k`.
///
/// A scan whose weights have settled solves the same system again until the slowest is done, which gives it
/// the same bits again: its baseline and its count are frozen.
///
/// # Units
/// As there; slices are `LANES` times as long, `scratch` [`lane_scratch_len`].
///
/// # Errors
/// Lengths and settings for all; the other refusals scan by scan.
///
/// # Source
/// As there.
///
/// # Example
/// ```
/// use stillwell_evaluate::*;
/// let rule = AsymmetricLeastSquares { stiffness: 1e3, asymmetry: 0.01, max_iterations: 50 };
/// let scans: [f64; 5 * LANES] = core::array::from_fn(|at| ((at / LANES) * (at % LANES)) as f64);
/// let (mut baselines, mut scratch) = ([0.0; 5 * LANES], [0.0; lane_scratch_len(5)]);
/// let counts = asymmetric_least_squares_side_by_side(&rule, &scans, 1.0, &mut baselines, &mut scratch)?;
/// assert!(counts.iter().all(Result::is_ok));
/// # Ok::<(), Refusal>(())
/// ```
#[inline(always)]
pub fn asymmetric_least_squares_side_by_side(
    rule: &AsymmetricLeastSquares,
    current_a: &[f64],
    sign: f64,
    baseline_a: &mut [f64],
    scratch: &mut [f64],
) -> Result<[Result<u32, Refusal>; LANES], Refusal> {
    let mut outcomes = solve::<LANES>(rule, current_a, sign, baseline_a, scratch)?;
    if let Some(first) = first_not_finite(current_a) {
        for (lane, outcome) in outcomes.iter_mut().enumerate() {
            let points = current_a.iter().skip(lane).step_by(LANES);
            if let Some(index) =
                points.enumerate().skip(first / LANES).find(|(_, x)| !x.is_finite()).map(|(i, _)| i)
            {
                *outcome = Err(Refusal::NotFinite { index });
            }
        }
    }
    Ok(outcomes)
}

/// The solutions; a lane whose points or baseline are not finite is out of the number range.
#[inline(always)]
pub(super) fn solve<const L: usize>(
    rule: &AsymmetricLeastSquares,
    current_a: &[f64],
    sign: f64,
    baseline_a: &mut [f64],
    scratch: &mut [f64],
) -> Result<[Result<u32, Refusal>; L], Refusal> {
    let expected = current_a.len();
    let (y, y_rest) = current_a.as_chunks::<L>();
    let n = y.len();
    rule.check(n)?;
    if baseline_a.len() != expected || !y_rest.is_empty() {
        return Err(Refusal::LengthsDiffer { expected: n * L, found: baseline_a.len() });
    }
    let (z, _) = baseline_a.as_chunks_mut::<L>();
    let (rows, _) = scratch.as_chunks_mut::<L>();
    let found = rows.len() * L;
    if rows.len() < 3 * n {
        return Err(Refusal::WorkspaceTooSmall { found, needed: 3 * n * L });
    }
    let (weight, rows) = rows.split_at_mut(n);
    let (first, rows) = rows.split_at_mut(n);
    let (second, _) = rows.split_at_mut(n);
    weight.fill([1.0; L]);

    let mut outcomes = [Err(Refusal::BaselineNotSettled { iterations: rule.max_iterations }); L];
    let mut settled = [false; L];
    for iteration in 1..=rule.max_iterations {
        eliminate(rule.stiffness, y, weight, z, first, second);
        let changed = substitute(rule.asymmetry, sign, y, weight, z, first, second);
        for lane in 0..L {
            if !settled[lane] && changed[lane] == 0.0 {
                settled[lane] = true;
                outcomes[lane] = Ok(iteration);
            }
        }
        if settled == [true; L] {
            break;
        }
    }
    for (lane, outcome) in outcomes.iter_mut().enumerate() {
        if z.iter().any(|row| !row[lane].is_finite()) {
            *outcome = Err(Refusal::OutOfNumberRange);
        }
    }
    Ok(outcomes)
}

/// Factorises row by row and carries the right-hand side along; `z` receives D⁻¹ L⁻¹ W y.
///
/// With a the diagonal, b and c the entries one and two beside it, rows i:
/// D = (a − u₋₁ l₋₁) − λ m₋₂, u = b − c₋₁ l₋₁, l = u / D, m = c / D, r = (w y − l₋₁ r₋₁) − m₋₂ r₋₂, z = r / D.
#[inline(always)]
fn eliminate<const L: usize>(
    stiffness: f64,
    y: &[[f64; L]],
    weight: &[[f64; L]],
    z: &mut [[f64; L]],
    first: &mut [[f64; L]],
    second: &mut [[f64; L]],
) {
    let n = y.len();
    let zero = Row([0.0; L]);
    let (mut u1, mut l1, mut m1, mut m2, mut r1, mut r2) = (zero, zero, zero, zero, zero, zero);
    let mut beyond_before = 0.0;
    let rows = y.iter().zip(weight).zip(z.iter_mut()).zip(first.iter_mut()).zip(second.iter_mut());
    for (i, ((((y, w), z), first), second)) in rows.enumerate() {
        let [diagonal, beside, beyond] = penalty_row(i, n).map(|entry| Row([stiffness * entry; L]));
        let (y, w) = (Row(*y), Row(*w));
        let pivot = w.plus(diagonal).minus(u1.times(l1)).minus(Row([stiffness; L]).times(m2));
        let inverse = Row([1.0; L]).over(pivot);
        let u = beside.minus(Row([beyond_before; L]).times(l1));
        let r = w.times(y).minus(l1.times(r1)).minus(m2.times(r2));
        let (l, m) = (u.times(inverse), beyond.times(inverse));
        (*z, *first, *second) = (r.times(inverse).0, l.0, m.0);
        (u1, l1, m2, m1, r2, r1) = (u, l, m1, m, r1, r);
        beyond_before = beyond.0[0];
    }
}

/// One row of every lane; each operation is rounded lane by lane.
#[derive(Clone, Copy)]
struct Row<const L: usize>([f64; L]);

impl<const L: usize> Row<L> {
    #[inline(always)]
    fn with(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        let mut out = [0.0; L];
        for (k, value) in out.iter_mut().enumerate() {
            *value = f(self.0[k], other.0[k]);
        }
        Self(out)
    }

    #[inline(always)]
    fn plus(self, other: Self) -> Self {
        self.with(other, |a, b| a + b)
    }

    #[inline(always)]
    fn minus(self, other: Self) -> Self {
        self.with(other, |a, b| a - b)
    }

    #[inline(always)]
    fn times(self, other: Self) -> Self {
        self.with(other, |a, b| a * b)
    }

    #[inline(always)]
    fn over(self, other: Self) -> Self {
        self.with(other, |a, b| a / b)
    }
}

/// Row i of the second-difference penalty `DᵀD`: on the diagonal, one beside, two beside.
#[inline(always)]
fn penalty_row(i: usize, n: usize) -> [f64; 3] {
    // Point i takes part in the differences centred at i − 1, i and i + 1, as far as they exist.
    let exists = |centre: bool| if centre { 1.0 } else { 0.0 };
    let before = exists(i >= 2);
    let here = exists(i >= 1 && i + 1 < n);
    let after = exists(i + 2 < n);
    [before + 4.0 * here + after, -2.0 * (here + after), after]
}

/// Back substitution, and the new weights; returns how many weights changed in each lane.
#[inline(always)]
fn substitute<const L: usize>(
    asymmetry: f64,
    sign: f64,
    y: &[[f64; L]],
    weight: &mut [[f64; L]],
    z: &mut [[f64; L]],
    first: &[[f64; L]],
    second: &[[f64; L]],
) -> [f64; L] {
    let zero = Row([0.0; L]);
    let (mut z1, mut z2, mut changed) = (zero, zero, zero);
    let sign = Row([sign; L]);
    let rows = y.iter().zip(weight.iter_mut()).zip(z.iter_mut()).zip(first).zip(second).rev();
    for ((((y, w), z), first), second) in rows {
        let value = Row(*z).minus(Row(*first).times(z1)).minus(Row(*second).times(z2));
        let weight_of = |y: f64, z: f64| if y > z { asymmetry } else { 1.0 - asymmetry };
        let new = sign.times(Row(*y)).with(sign.times(value), weight_of);
        changed = changed.plus(new.with(Row(*w), |new, old| if new == old { 0.0 } else { 1.0 }));
        (*w, *z) = (new.0, value.0);
        (z2, z1) = (z1, value);
    }
    changed.0
}
