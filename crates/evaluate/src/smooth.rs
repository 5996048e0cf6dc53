//! Smoothing by local polynomials (Savitzky–Golay) and moving average, edges included.

use crate::refusal::{Refusal, SettingName};

/// Longest smoothing window.
pub const MAX_SMOOTHING_WINDOW: usize = 101;
/// Highest smoothing degree.
pub const MAX_SMOOTHING_DEGREE: usize = 5;

/// Frozen smoothing weights in the caller's storage.
///
/// Row r (r = 0 … half) holds the weights of the `window` points that give the fitted polynomial's value at the
/// window's point r; row `half` is the centre. Rows after the centre are their mirror images, so that smoothing
/// a reversed scan gives the reversed result to the bit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Smoother<'a> {
    window: usize,
    weights: &'a [f64],
}

impl<'a> Smoother<'a> {
    /// Number of weights a window needs in storage: (half + 1) rows of `window`.
    pub const fn storage_len(window: usize) -> usize {
        (window / 2 + 1) * window
    }

    /// Computes Savitzky–Golay weights into `storage`.
    ///
    /// Weight of point i for the value at t, both counted from the centre, half = m:
    /// Σₖ (2k+1) (2m)⁽ᵏ⁾/(2m+k+1)⁽ᵏ⁺¹⁾ Pₖ(i) Pₖ(t), with Gram polynomials Pₖ and generalised factorials a⁽ᵇ⁾.
    ///
    /// # Units
    /// `window` in points (odd, 1 to 101), `degree` 0 to 5 and below `window`; the weights have no unit.
    ///
    /// # Errors
    /// [`Refusal::SettingNotUsable`] for another window or degree, [`Refusal::WorkspaceTooSmall`].
    ///
    /// # Source
    /// Gorry, Anal. Chem. 62 (1990) 570, equations 9 to 11; Savitzky & Golay, Anal. Chem. 36 (1964) 1627.
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::Smoother;
    /// let mut storage = [0.0; Smoother::storage_len(5)];
    /// let smoother = Smoother::savitzky_golay(5, 2, &mut storage)?;
    /// assert!((smoother.row(2)[0] + 3.0 / 35.0).abs() < 1e-15);
    /// # Ok::<(), stillwell_evaluate::Refusal>(())
    /// ```
    pub fn savitzky_golay(window: usize, degree: usize, storage: &'a mut [f64]) -> Result<Self, Refusal> {
        check_window(window)?;
        if degree > MAX_SMOOTHING_DEGREE || degree >= window {
            return Err(Refusal::SettingNotUsable {
                setting: SettingName::SmoothingDegree,
                value: degree as f64,
            });
        }
        let needed = Self::storage_len(window);
        let found = storage.len();
        let Some(weights) = storage.get_mut(..needed) else {
            return Err(Refusal::WorkspaceTooSmall { found, needed });
        };
        let half = window / 2;
        for (r, row) in weights.chunks_exact_mut(window).enumerate() {
            let at_t = gram_polynomials(half, r as f64 - half as f64);
            for (i, weight) in row.iter_mut().enumerate() {
                let at_i = gram_polynomials(half, i as f64 - half as f64);
                let mut sum = 0.0;
                for k in 0..=degree {
                    sum += gram_factor(half, k) * at_i[k] * at_t[k];
                }
                *weight = sum;
            }
        }
        Ok(Self { window, weights })
    }

    /// A moving average: the mean of `window` points; at the edges the line through the first or last window.
    ///
    /// # Units
    /// `window` in points (odd, 3 to 101).
    ///
    /// # Errors
    /// As [`Smoother::savitzky_golay`], of which this is degree 1.
    ///
    /// # Source
    /// Savitzky & Golay 1964: degree 0 and 1 have the centre weights 1/window.
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::Smoother;
    /// let mut storage = [0.0; Smoother::storage_len(3)];
    /// let smoother = Smoother::moving_average(3, &mut storage)?;
    /// assert_eq!(smoother.row(1), [1.0 / 3.0; 3]);
    /// # Ok::<(), stillwell_evaluate::Refusal>(())
    /// ```
    pub fn moving_average(window: usize, storage: &'a mut [f64]) -> Result<Self, Refusal> {
        Self::savitzky_golay(window, 1, storage)
    }

    /// Takes weights frozen earlier, in the layout described above.
    ///
    /// # Errors
    /// [`Refusal::SettingNotUsable`] for a window that is not odd or a weight that is not finite,
    /// [`Refusal::LengthsDiffer`] for another number of weights.
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::Smoother;
    /// // Three points, degree 1: the first point of the line through them, and their mean.
    /// let frozen = [5.0 / 6.0, 1.0 / 3.0, -1.0 / 6.0, 1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0];
    /// let mut smoothed = [0.0; 3];
    /// Smoother::from_frozen(3, &frozen)?.smooth(&[1.0, 2.0, 3.0], &mut smoothed)?;
    /// assert!(smoothed.iter().zip([1.0, 2.0, 3.0]).all(|(found, line)| (found - line).abs() < 1e-15));
    /// # Ok::<(), stillwell_evaluate::Refusal>(())
    /// ```
    pub fn from_frozen(window: usize, weights: &'a [f64]) -> Result<Self, Refusal> {
        check_window(window)?;
        let expected = Self::storage_len(window);
        if weights.len() != expected {
            return Err(Refusal::LengthsDiffer { expected, found: weights.len() });
        }
        match weights.iter().find(|w| !w.is_finite()) {
            Some(&value) => Err(Refusal::SettingNotUsable { setting: SettingName::SmoothingWeight, value }),
            None => Ok(Self { window, weights }),
        }
    }

    /// Points in the window.
    pub fn window(&self) -> usize {
        self.window
    }

    /// The weights that give the value at the window's point `r` (0 to half); empty beyond.
    ///
    /// # Source
    /// As [`Smoother::savitzky_golay`].
    pub fn row(&self, r: usize) -> &'a [f64] {
        self.weights.chunks_exact(self.window).nth(r).unwrap_or(&[])
    }

    /// Smooths a whole curve, edges included.
    ///
    /// Inside, the points that lie equally far from the centre are added first, outermost pair first, the
    /// centre last. At the edges the first (last) window's polynomial is evaluated at its own points, its terms
    /// added from the scan's end inwards.
    ///
    /// # Units
    /// Any; `values` and `smoothed` of one length, at least `window`.
    ///
    /// # Errors
    /// [`Refusal::LengthsDiffer`], [`Refusal::TooFewPoints`].
    ///
    /// # Source
    /// Gorry 1990 for the edges.
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::Smoother;
    /// let mut storage = [0.0; Smoother::storage_len(5)];
    /// let smoother = Smoother::savitzky_golay(5, 2, &mut storage)?;
    /// let mut smoothed = [0.0; 6];
    /// smoother.smooth(&[0.0, 1.0, 4.0, 9.0, 16.0, 25.0], &mut smoothed)?;
    /// assert!((smoothed[0]).abs() < 1e-14 && (smoothed[5] - 25.0).abs() < 1e-13);
    /// # Ok::<(), stillwell_evaluate::Refusal>(())
    /// ```
    pub fn smooth(&self, values: &[f64], smoothed: &mut [f64]) -> Result<(), Refusal> {
        if values.len() != smoothed.len() {
            return Err(Refusal::LengthsDiffer { expected: values.len(), found: smoothed.len() });
        }
        if values.len() < self.window {
            return Err(Refusal::TooFewPoints { found: values.len(), needed: self.window });
        }
        self.smooth_checked(values, smoothed);
        Ok(())
    }

    /// [`Smoother::smooth`] after its checks.
    #[inline(always)]
    pub(crate) fn smooth_checked(&self, values: &[f64], smoothed: &mut [f64]) {
        let (half, n) = (self.window / 2, values.len());
        let (Some(centre), Some(inside)) =
            (self.weights.get(half * self.window..), smoothed.get_mut(half..n - half))
        else {
            return;
        };
        smooth_inside(centre, values, inside);
        for (r, row) in self.weights.chunks_exact(self.window).take(half).enumerate() {
            let mut left = 0.0;
            let mut right = 0.0;
            for ((w, from_start), from_end) in row.iter().zip(values).zip(values.iter().rev()) {
                left += w * from_start;
                right += w * from_end;
            }
            smoothed[r] = left;
            smoothed[n - 1 - r] = right;
        }
    }
}

fn check_window(window: usize) -> Result<(), Refusal> {
    if window % 2 == 1 && window <= MAX_SMOOTHING_WINDOW {
        Ok(())
    } else {
        Err(Refusal::SettingNotUsable { setting: SettingName::SmoothingWindow, value: window as f64 })
    }
}

/// Outputs computed side by side; each keeps its own fixed order, so the number does not change bits.
const BLOCK: usize = 16;

/// Inner points; windows of 5 to 15 with a length the compiler knows, so that it keeps the weights in registers.
#[inline(always)]
fn smooth_inside(centre: &[f64], values: &[f64], inside: &mut [f64]) {
    match centre.len() {
        5 => smooth_inside_of(known::<5>(centre), values, inside),
        7 => smooth_inside_of(known::<7>(centre), values, inside),
        9 => smooth_inside_of(known::<9>(centre), values, inside),
        11 => smooth_inside_of(known::<11>(centre), values, inside),
        13 => smooth_inside_of(known::<13>(centre), values, inside),
        15 => smooth_inside_of(known::<15>(centre), values, inside),
        _ => smooth_inside_of(centre, values, inside),
    }
}

#[inline(always)]
fn known<const N: usize>(row: &[f64]) -> &[f64] {
    row.first_chunk::<N>().map_or(row, |row| row.as_slice())
}

#[inline(always)]
fn smooth_inside_of(centre: &[f64], values: &[f64], inside: &mut [f64]) {
    let (window, n_out) = (centre.len(), inside.len());
    let mut start = 0;
    while start + BLOCK <= n_out {
        let points = &values[start..start + BLOCK + window - 1];
        smooth_block::<BLOCK>(centre, points, &mut inside[start..start + BLOCK]);
        start += BLOCK;
    }
    if start == n_out {
        return;
    }
    if n_out >= BLOCK {
        // The last block overlaps the one before and computes the same bits again.
        let last = n_out - BLOCK;
        smooth_block::<BLOCK>(centre, &values[last..], &mut inside[last..]);
    } else {
        for (i, out) in inside.iter_mut().enumerate().skip(start) {
            smooth_block::<1>(centre, &values[i..i + window], core::slice::from_mut(out));
        }
    }
}

#[inline(always)]
fn smooth_block<const N: usize>(centre: &[f64], points: &[f64], out: &mut [f64]) {
    let window = centre.len();
    let half = window / 2;
    let mut sums = [0.0_f64; N];
    for (k, &weight) in centre[..half].iter().enumerate() {
        let (Some(before), Some(after)) =
            (points[k..].first_chunk::<N>(), points[window - 1 - k..].first_chunk::<N>())
        else {
            return;
        };
        for j in 0..N {
            sums[j] += weight * (before[j] + after[j]);
        }
    }
    let Some(middle) = points[half..].first_chunk::<N>() else { return };
    for j in 0..N {
        sums[j] += centre[half] * middle[j];
    }
    out.copy_from_slice(&sums);
}

/// P₀ … P₅ at i for 2m + 1 points (Gorry 1990, equation 9 without derivatives).
fn gram_polynomials(half: usize, i: f64) -> [f64; MAX_SMOOTHING_DEGREE + 1] {
    let m = half as f64;
    let mut p = [0.0; MAX_SMOOTHING_DEGREE + 1];
    p[0] = 1.0;
    let mut before = 0.0;
    for k in 1..=MAX_SMOOTHING_DEGREE.min(2 * half) {
        let kf = k as f64;
        let down = kf * (2.0 * m - kf + 1.0);
        p[k] = ((4.0 * kf - 2.0) * i * p[k - 1] - (kf - 1.0) * (2.0 * m + kf) * before) / down;
        before = p[k - 1];
    }
    p
}

/// (2k+1) (2m)⁽ᵏ⁾ / (2m+k+1)⁽ᵏ⁺¹⁾.
fn gram_factor(half: usize, k: usize) -> f64 {
    let m2 = 2.0 * half as f64;
    let kf = k as f64;
    let mut factor = (2.0 * kf + 1.0) / (m2 + kf + 1.0);
    for j in 0..k {
        factor = factor * (m2 - j as f64) / (m2 + kf - j as f64);
    }
    factor
}
