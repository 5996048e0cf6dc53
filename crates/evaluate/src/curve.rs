//! The frozen constants of one calibration, and the curve they draw.

use libm::sqrt;

/// All constants of one calibration, frozen: what a device needs in order to turn a signal into a concentration.
///
/// The curve is `signal_a = c0 + c1 x + c2 x²` with `x` in the method's reporting unit. The spread that belongs to it is that of
/// *electrode means*: an electrode, not a scan, is the unit that repeats.
///
/// Below `level_min` a second-order curve goes on as its tangent there, so that the scatter of blanks is neither cut off nor bent
/// by a parabola nobody measured; above `level_max` it is never used for a value.
///
/// # Units
/// `coefficients`: A, A per unit, A per unit²; `residual_sd`: A; `level_min`, `level_max`: the reporting unit; the rest has none
/// beyond these.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// `c0`, `c1`, `c2`; `c2` is zero for lines, `c0` too for a line through the origin.
    pub coefficients: [f64; 3],
    /// How many coefficients were fitted: 1 (line through the origin), 2 (line) or 3 (second order).
    pub n_coefficients: u8,
    /// `(XᵀWX)⁻¹` in the order `c0, c1, c2`; rows and columns of absent coefficients are zero. The upper triangle is read.
    pub unscaled_covariance: [[f64; 3]; 3],
    /// Standard deviation of one electrode mean at unit weight.
    pub residual_sd: f64,
    /// Degrees of freedom of `residual_sd`; at least 1.
    pub degrees_of_freedom: u32,
    /// Quantile of Student's t for the two-sided coverage wanted, for example t(0.975; df).
    pub t_quantile: f64,
    /// `v0, v1, v2`: the variance of one electrode mean at level x is `residual_sd² (v0 + v1 x + v2 x²)`; unweighted is `1, 0, 0`.
    pub relative_variance: [f64; 3],
    /// Lowest level of the standards.
    pub level_min: f64,
    /// Highest level of the standards.
    pub level_max: f64,
}

impl Curve {
    /// Whether the constants belong together: all finite, absent coefficients zero, variances not negative, levels in order.
    ///
    /// It finds corrupted or half-filled constants; it cannot find wrong ones.
    pub fn is_usable(&self) -> bool {
        let numbers_finite = self.coefficients.iter().all(|c| c.is_finite())
            && self.unscaled_covariance.iter().flatten().all(|c| c.is_finite())
            && self.relative_variance.iter().all(|v| v.is_finite())
            && self.residual_sd.is_finite()
            && self.t_quantile.is_finite()
            && self.level_min.is_finite()
            && self.level_max.is_finite();
        numbers_finite
            && self.residual_sd >= 0.0
            && self.t_quantile > 0.0
            && self.degrees_of_freedom > 0
            && self.level_min < self.level_max
            && self.absent_coefficients_are_zero()
            && (0..3).all(|i| self.unscaled_covariance[i][i] >= 0.0)
    }

    fn absent_coefficients_are_zero(&self) -> bool {
        let present = match self.n_coefficients {
            1 => [false, true, false],
            2 => [true, true, false],
            3 => [true, true, true],
            _ => return false,
        };
        (0..3).all(|i| {
            present[i]
                || (self.coefficients[i] == 0.0
                    && (0..3).all(|j| {
                        self.unscaled_covariance[i][j] == 0.0 && self.unscaled_covariance[j][i] == 0.0
                    }))
        })
    }

    /// `v0 + v1 x + v2 x²` with `x` held inside the calibrated range: outside it nothing is known about the spread.
    ///
    /// # Source
    /// As [`Curve::relative_variance`]; held: common practice, no source.
    pub fn relative_variance_at(&self, x: f64) -> f64 {
        let level = if x < self.level_min {
            self.level_min
        } else if x > self.level_max {
            self.level_max
        } else {
            x
        };
        self.relative_variance_beyond(level)
    }

    /// The same without holding `x`: what strips would scatter by if the variance went on as it does inside.
    pub(crate) fn relative_variance_beyond(&self, x: f64) -> f64 {
        let [v0, v1, v2] = self.relative_variance;
        v0 + x * (v1 + x * v2)
    }

    /// `c1 + 2 c2 x`: the slope of the curve at level `x`, on its own formula inside the range and out.
    ///
    /// # Source
    /// As [`signal_at`].
    pub fn slope_at(&self, x: f64) -> f64 {
        let [_, c1, c2] = self.coefficients;
        c1 + 2.0 * c2 * x
    }

    /// The slope by which an uncertainty of the signal becomes one of the level: below the lowest standard that of the tangent
    /// there.
    ///
    /// # Source
    /// As [`signal_at`].
    pub fn reading_slope(&self, x: f64) -> f64 {
        self.slope_at(if x > self.level_min { x } else { self.level_min })
    }

    /// The level at which the curve, on its calibrated branch and along that branch's own formula, has this signal; none
    /// beyond the turn of a second-order curve.
    ///
    /// Unlike [`crate::inverse`] it goes on beyond the range: a standard at the top must be read back whichever way it scatters.
    ///
    /// # Source
    /// The formula of [`signal_at`] solved for the level, with the root that does not cancel.
    pub fn level_at(&self, signal_a: f64) -> Option<f64> {
        let [c0, c1, c2] = self.coefficients;
        let level = if c2 == 0.0 {
            (signal_a - c0) / c1
        } else {
            let above_lowest = signal_a - signal_at(self, self.level_min);
            let slope = self.slope_at(self.level_min);
            // With d counted from the lowest level: c2 d² + slope d = above_lowest.
            let root = sqrt(slope * slope + 4.0 * c2 * above_lowest);
            self.level_min + 2.0 * above_lowest / (slope + if slope < 0.0 { -root } else { root })
        };
        level.is_finite().then_some(level)
    }

    /// The third entry of the design row `(1, x, …)`: `x²`, and below the lowest standard its tangent.
    fn square_or_tangent(&self, x: f64) -> f64 {
        if x < self.level_min { self.level_min * (2.0 * x - self.level_min) } else { x * x }
    }

    /// `r (XᵀWX)⁻¹ rᵀ` at level `x`; rounding below zero is cut off.
    pub(crate) fn unscaled_variance_at(&self, x: f64) -> f64 {
        let c = &self.unscaled_covariance;
        let q = self.square_or_tangent(x);
        let first = c[0][0] + x * (2.0 * c[0][1] + x * c[1][1]);
        let variance = first + q * (2.0 * (c[0][2] + x * c[1][2]) + q * c[2][2]);
        if variance < 0.0 { 0.0 } else { variance }
    }
}

/// The signal that the curve promises at level `x`.
///
/// `c0 + c1 x + c2 x²`; a second-order curve goes on as its tangent below `level_min`. Nothing stops at `level_max`: the caller draws
/// or checks, it does not report.
///
/// # Units
/// `x` in the method's reporting unit; result in A. A non-finite `x` gives a non-finite signal.
///
/// # Source
/// ISO 8466-1 (line) and ISO 8466-2 (second order), calibration functions; the tangent below the range: common practice, no source.
///
/// # Example
/// ```
/// # let curve = stillwell_evaluate::Curve { coefficients: [1e-9, 2e-9, 0.0], n_coefficients: 2,
/// #     unscaled_covariance: [[0.5, -0.05, 0.0], [-0.05, 0.01, 0.0], [0.0; 3]], residual_sd: 1e-11, degrees_of_freedom: 4,
/// #     t_quantile: 2.776, relative_variance: [1.0, 0.0, 0.0], level_min: 0.0, level_max: 10.0 };
/// assert_eq!(stillwell_evaluate::signal_at(&curve, 3.0), 1e-9 + 3.0 * 2e-9);
/// ```
pub fn signal_at(curve: &Curve, x: f64) -> f64 {
    let [c0, c1, c2] = curve.coefficients;
    if curve.n_coefficients == 3 { c0 + c1 * x + c2 * curve.square_or_tangent(x) } else { c0 + c1 * x }
}

/// Half the width of the band that holds the mean signal of `electrodes` new electrodes at level `x`.
///
/// `t √( s² v(x) / m + extra + s² r (XᵀWX)⁻¹ rᵀ )`, with `v` taken inside the calibrated range and `r = (1, x, x²)`.
///
/// # Units
/// `x` in the reporting unit, `extra_variance_a2` in A², result in A. Non-finite arguments, no electrode or a negative variance
/// give a result that is not finite.
///
/// # Source
/// Draper & Smith, Applied Regression Analysis, section 1.4 (prediction of a mean of q new observations); from memory.
///
/// # Example
/// ```
/// # let curve = stillwell_evaluate::Curve { coefficients: [1e-9, 2e-9, 0.0], n_coefficients: 2,
/// #     unscaled_covariance: [[0.5, -0.05, 0.0], [-0.05, 0.01, 0.0], [0.0; 3]], residual_sd: 1e-11, degrees_of_freedom: 4,
/// #     t_quantile: 2.776, relative_variance: [1.0, 0.0, 0.0], level_min: 0.0, level_max: 10.0 };
/// let one = stillwell_evaluate::prediction_half_width_a(&curve, 3.0, 1, 0.0);
/// let four = stillwell_evaluate::prediction_half_width_a(&curve, 3.0, 4, 0.0);
/// assert!(four < one);
/// ```
pub fn prediction_half_width_a(curve: &Curve, x: f64, electrodes: u32, extra_variance_a2: f64) -> f64 {
    let s2 = curve.residual_sd * curve.residual_sd;
    let of_unknown = s2 * curve.relative_variance_at(x) / f64::from(electrodes) + extra_variance_a2;
    curve.t_quantile * sqrt(of_unknown + s2 * curve.unscaled_variance_at(x))
}
