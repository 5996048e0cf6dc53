//! From a signal back to a concentration, with the interval that the calibration allows.

use crate::curve::Curve;
use libm::sqrt;

/// What a signal says about the concentration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Inverse {
    /// The estimate lies between the lowest and the highest standard.
    Within {
        /// The estimate.
        value: f64,
        /// Lower end of the interval; may be below the range, or negative.
        low: f64,
        /// Upper end of the interval; may be above the range.
        high: f64,
    },
    /// The estimate lies below the lowest standard. The numbers are kept as computed, negative ones too, so that means and
    /// detection limits are not censored; whoever shows them censors.
    Below {
        /// The estimate; may be negative.
        value: f64,
        /// Lower end of the interval.
        low: f64,
        /// Upper end of the interval.
        high: f64,
    },
    /// No upper end can be given: the estimate lies above the highest standard, or the upper end of its interval lies where a
    /// second-order curve no longer answers.
    Above {
        /// The concentration is at least this; never above the highest standard, hence a statement inside the calibrated range.
        low: f64,
    },
    /// No statement is possible.
    Unresolved(InverseFault),
}

impl Inverse {
    /// The interval for a verdict; open upwards (`+∞`) for [`Inverse::Above`], none where nothing was resolved.
    pub fn interval(&self) -> Option<(f64, f64)> {
        match *self {
            Self::Within { low, high, .. } | Self::Below { low, high, .. } => Some((low, high)),
            Self::Above { low } => Some((low, f64::INFINITY)),
            Self::Unresolved(_) => None,
        }
    }
}

/// Why no concentration can be stated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum InverseFault {
    /// The signal or its extra variance is not a finite number.
    InputNotFinite,
    /// The extra variance is negative.
    ExtraVarianceNegative,
    /// No electrode was measured.
    NoElectrodes,
    /// The constants of the curve do not belong together ([`Curve::is_usable`]).
    CurveUnusable,
    /// The variance function is zero or negative where the estimate lies.
    VarianceNotPositive {
        /// The level at which it was evaluated (inside the calibrated range).
        level: f64,
        /// The relative variance found there.
        relative_variance: f64,
    },
    /// The slope cannot be told from zero: the interval would be unbounded.
    SlopeNotSignificant {
        /// `t² s² var(slope) / slope²`; below 1 would be accepted. Infinite when the slope is zero.
        g: f64,
    },
    /// The second-order curve turns round inside the calibrated range.
    NotMonotonic {
        /// The level of its extreme.
        turning_level: f64,
    },
    /// The numbers left the range that a f64 can hold.
    NumberOverflow,
}

/// The concentration that belongs to the mean signal of `electrodes` electrodes, with its interval.
///
/// Every level `x` is kept at which the signal found lies inside the prediction band:
/// `(y − f(x))² ≤ t² ( s² v(x̂)/m + extra + s² r (XᵀWX)⁻¹ rᵀ )`. For lines this is Fieller's interval in closed form; for a
/// second-order curve its two ends are found by bisection on the branch on which the slope is significant, and below the
/// lowest standard in closed form on the tangent there.
///
/// *Where it is exact:* for lines with independent normal errors of the electrode means and known relative weights, `v` constant,
/// no `extra` variance, and the t quantile of the degrees of freedom of `s`. With `v` depending on the level it is taken at the
/// estimate, held inside the calibrated range; with `extra` the quantile belongs to the caller's effective degrees of freedom; for second-order curves
/// the band is exact at each level. In all three cases the coverage is then approximate.
///
/// Nothing is extrapolated upwards: an estimate above `level_max` gives [`Inverse::Above`] with the lower end, at most `level_max`.
/// Estimates below `level_min` give [`Inverse::Below`], negative or not. Noise that depends on the level is
/// not known above the range, where that of `level_max` is used; since the statement made ("at least `low`") concerns a level
/// inside the range, it stays defensible as long as `v` does not fall with the level.
///
/// # Units
/// `mean_signal_a` in A, `extra_variance_a2` in A² (added to the variance of the mean signal), result in the unit of the curve's levels.
///
/// # Errors
/// [`Inverse::Unresolved`] with an [`InverseFault`]; never a NaN, never a panic.
///
/// # Source
/// Fieller 1954, J. R. Stat. Soc. B 16, 175; Draper & Smith, Applied Regression Analysis, section 3.2 (inverse regression, g
/// criterion); ISO 8466-2 for the use of the monotonic branch; from memory. Bisection and tangent: common practice, no source.
///
/// # Example
/// ```
/// use stillwell_evaluate::{Curve, Inverse, inverse};
/// // Seven fluorescein standards, 0 to 12 pg/mL (Miller & Miller, chapter 5).
/// let curve = Curve { coefficients: [1.5178571428571406, 1.930357142857143, 0.0], n_coefficients: 2,
///     unscaled_covariance: [[0.4642857142857143, -0.05357142857142857, 0.0], [-0.05357142857142857, 1.0 / 112.0, 0.0], [0.0; 3]],
///     residual_sd: 0.43284771324005317, degrees_of_freedom: 5, t_quantile: 2.5705818356363146,
///     relative_variance: [1.0, 0.0, 0.0], level_min: 0.0, level_max: 12.0 };
/// let Inverse::Within { value, low, high } = inverse(&curve, 13.5, 1, 0.0) else { panic!() };
/// assert!((value - 6.2072).abs() < 1e-4 && (low - 5.5906).abs() < 1e-4 && (high - 6.8251).abs() < 1e-4);
/// ```
pub fn inverse(curve: &Curve, mean_signal_a: f64, electrodes: u32, extra_variance_a2: f64) -> Inverse {
    let found = check_arguments(curve, mean_signal_a, electrodes, extra_variance_a2).and_then(|()| {
        let unknown =
            Unknown { signal_a: mean_signal_a, electrodes: f64::from(electrodes), extra_variance_a2 };
        if curve.n_coefficients == 3 { on_second_order(curve, unknown) } else { on_line(curve, unknown) }
    });
    match found {
        Ok(inverse) => inverse,
        Err(fault) => Inverse::Unresolved(fault),
    }
}

#[derive(Clone, Copy)]
struct Unknown {
    signal_a: f64,
    electrodes: f64,
    extra_variance_a2: f64,
}

fn check_arguments(
    curve: &Curve,
    signal_a: f64,
    electrodes: u32,
    extra_variance_a2: f64,
) -> Result<(), InverseFault> {
    if !signal_a.is_finite() || !extra_variance_a2.is_finite() {
        return Err(InverseFault::InputNotFinite);
    }
    if extra_variance_a2 < 0.0 {
        return Err(InverseFault::ExtraVarianceNegative);
    }
    if electrodes == 0 {
        return Err(InverseFault::NoElectrodes);
    }
    if !curve.is_usable() {
        return Err(InverseFault::CurveUnusable);
    }
    Ok(())
}

/// Variance of the unknown's mean signal, `s² v(x̂)/m + extra`, relative to the slope: a variance of levels.
fn variance_in_levels(
    curve: &Curve,
    unknown: Unknown,
    estimate: f64,
    slope: f64,
) -> Result<f64, InverseFault> {
    let relative_variance = curve.relative_variance_at(estimate);
    if !relative_variance.is_finite() {
        return Err(InverseFault::NumberOverflow);
    }
    if relative_variance <= 0.0 {
        let level = estimate.clamp(curve.level_min, curve.level_max);
        return Err(InverseFault::VarianceNotPositive { level, relative_variance });
    }
    let sd = curve.residual_sd / slope;
    Ok(sd * sd * relative_variance / unknown.electrodes + unknown.extra_variance_a2 / slope / slope)
}

/// A straight line with what is known about its two coefficients.
struct Line {
    intercept_a: f64,
    slope: f64,
    c00: f64,
    c01: f64,
    c11: f64,
}

struct Ends {
    low: f64,
    high: f64,
}

impl Line {
    fn of(curve: &Curve) -> Self {
        let c = &curve.unscaled_covariance;
        Self {
            intercept_a: curve.coefficients[0],
            slope: curve.coefficients[1],
            c00: c[0][0],
            c01: c[0][1],
            c11: c[1][1],
        }
    }

    /// The tangent of a second-order curve at its lowest standard.
    fn tangent_at_lowest(curve: &Curve) -> Self {
        let [c0, _, c2] = curve.coefficients;
        let c = &curve.unscaled_covariance;
        let x = curve.level_min;
        let square = x * x;
        Self {
            intercept_a: c0 - c2 * square,
            slope: curve.slope_at(x),
            c00: not_negative(c[0][0] - 2.0 * square * c[0][2] + square * square * c[2][2]),
            c01: c[0][1] + 2.0 * x * c[0][2] - square * (c[1][2] + 2.0 * x * c[2][2]),
            c11: not_negative(c[1][1] + 4.0 * x * (c[1][2] + x * c[2][2])),
        }
    }

    /// `g = t² s² var(slope) / slope²`, or the refusal when it is not below 1.
    fn significance(&self, curve: &Curve) -> Result<f64, InverseFault> {
        if self.slope == 0.0 {
            return Err(InverseFault::SlopeNotSignificant { g: f64::INFINITY });
        }
        let ts = curve.t_quantile * (curve.residual_sd / self.slope);
        let g = ts * ts * self.c11;
        if g < 1.0 {
            Ok(g)
        } else if g.is_nan() {
            Err(InverseFault::NumberOverflow)
        } else {
            Err(InverseFault::SlopeNotSignificant { g })
        }
    }

    fn level(&self, signal_a: f64) -> f64 {
        (signal_a - self.intercept_a) / self.slope
    }

    /// Fieller's two ends, written about the weighted mean of the standards so that nothing cancels.
    ///
    /// With `d` the estimate's distance from that mean, `V` the unknown's variance and `V̄` that of the line there, both in
    /// levels: `( d ± t √( s²c₁₁/b² · d² + (1−g)(V + V̄) ) ) / (1−g)`.
    fn ends(&self, curve: &Curve, estimate: f64, variance: f64) -> Result<Ends, InverseFault> {
        let g = self.significance(curve)?;
        let sd = curve.residual_sd / self.slope;
        let (centre, at_centre) = if self.c11 > 0.0 {
            let centre = -self.c01 / self.c11;
            (centre, not_negative(self.c00 + self.c01 * centre))
        } else {
            (0.0, self.c00)
        };
        let distance = estimate - centre;
        let keep = 1.0 - g;
        let spread = sd * sd * self.c11 * distance * distance + keep * (variance + sd * sd * at_centre);
        let half = curve.t_quantile * sqrt(spread);
        let low = centre + (distance - half) / keep;
        let high = centre + (distance + half) / keep;
        if !(low.is_finite() && high.is_finite()) {
            return Err(InverseFault::NumberOverflow);
        }
        // The estimate belongs to its interval; rounding must not push it out.
        Ok(Ends {
            low: if low > estimate { estimate } else { low },
            high: if high < estimate { estimate } else { high },
        })
    }
}

fn on_line(curve: &Curve, unknown: Unknown) -> Result<Inverse, InverseFault> {
    let line = Line::of(curve);
    line.significance(curve)?;
    let value = line.level(unknown.signal_a);
    if !value.is_finite() {
        return Err(InverseFault::NumberOverflow);
    }
    let variance = variance_in_levels(curve, unknown, value, line.slope)?;
    let Ends { low, high } = line.ends(curve, value, variance)?;
    Ok(if value > curve.level_max {
        Inverse::Above { low: if low > curve.level_max { curve.level_max } else { low } }
    } else if value < curve.level_min {
        Inverse::Below { value, low, high }
    } else {
        Inverse::Within { value, low, high }
    })
}

fn on_second_order(curve: &Curve, unknown: Unknown) -> Result<Inverse, InverseFault> {
    let tangent = Line::tangent_at_lowest(curve);
    tangent.significance(curve)?;
    let branch = Branch::of(curve, tangent.slope, unknown)?;
    let on_tangent = tangent.level(unknown.signal_a);
    let estimate = if on_tangent < curve.level_min {
        Some(on_tangent)
    } else {
        Branch::crossing(curve.level_min, curve.level_max, |x| branch.excess(x))
    };
    let variance = variance_in_levels(curve, unknown, estimate.unwrap_or(curve.level_max), tangent.slope)?;
    branch.check_finite(variance)?;
    let below_range = tangent.ends(curve, on_tangent, variance)?;
    let low = branch.low(variance, &below_range);
    let Some(value) = estimate else {
        return Ok(Inverse::Above { low });
    };
    let low = if low > value { value } else { low };
    let Some(high) = branch.high(variance, &below_range) else {
        return Ok(Inverse::Above { low });
    };
    let high = if high < value { value } else { high };
    Ok(if value < curve.level_min {
        Inverse::Below { value, low, high }
    } else {
        Inverse::Within { value, low, high }
    })
}

/// The part of a second-order curve that answers: from its lowest standard to where its slope stops being significant, at most one
/// calibrated span above the highest standard (used for the upper end of an interval only).
struct Branch<'a> {
    curve: &'a Curve,
    slope: f64,
    signal_a: f64,
    end: f64,
}

/// More halvings than any calibrated span needs to shrink to neighbouring numbers.
const HALVINGS: u32 = 200;

fn middle_of(low: f64, high: f64) -> f64 {
    low + 0.5 * (high - low)
}

fn not_negative(x: f64) -> f64 {
    if x < 0.0 { 0.0 } else { x }
}

impl<'a> Branch<'a> {
    fn of(curve: &'a Curve, slope: f64, unknown: Unknown) -> Result<Self, InverseFault> {
        let [_, c1, c2] = curve.coefficients;
        let at_top = curve.slope_at(curve.level_max);
        if !(at_top.is_finite() && slope.is_finite()) {
            return Err(InverseFault::NumberOverflow);
        }
        if at_top == 0.0 || (at_top > 0.0) != (slope > 0.0) {
            let turning_level = -0.5 * c1 / c2;
            return Err(if turning_level.is_finite() {
                InverseFault::NotMonotonic { turning_level }
            } else {
                InverseFault::NumberOverflow
            });
        }
        let furthest = curve.level_max + (curve.level_max - curve.level_min);
        if !furthest.is_finite() {
            return Err(InverseFault::NumberOverflow);
        }
        let mut branch = Self { curve, slope, signal_a: unknown.signal_a, end: furthest };
        branch.end = branch.last_significant(furthest);
        Ok(branch)
    }

    fn check_finite(&self, variance: f64) -> Result<(), InverseFault> {
        let finite = [self.curve.level_min, self.curve.level_max, self.end]
            .iter()
            .all(|&x| self.excess(x).is_finite() && self.half_width(x, variance).is_finite());
        if finite { Ok(()) } else { Err(InverseFault::NumberOverflow) }
    }

    /// Lower end: where the upper edge of the band reaches the signal. A signal above the whole band of the calibrated branch
    /// gives the end of that branch: the most that can be defended.
    fn low(&self, variance: f64, below_range: &Ends) -> f64 {
        let upper_edge = |x: f64| self.excess(x) + self.half_width(x, variance);
        let start = self.curve.level_min;
        if upper_edge(start) >= 0.0 {
            return if below_range.low > start { start } else { below_range.low };
        }
        let top = if self.end < self.curve.level_max { self.end } else { self.curve.level_max };
        Self::crossing(start, top, upper_edge).unwrap_or(top)
    }

    /// Upper end: where the lower edge of the band reaches the signal; none where the branch ends before.
    fn high(&self, variance: f64, below_range: &Ends) -> Option<f64> {
        let lower_edge = |x: f64| self.excess(x) - self.half_width(x, variance);
        let start = self.curve.level_min;
        if lower_edge(start) >= 0.0 {
            return Some(if below_range.high > start { start } else { below_range.high });
        }
        Self::crossing(start, self.end, lower_edge)
    }

    /// `(f(x) − y) / slope`: negative where the curve has not yet reached the signal.
    fn excess(&self, x: f64) -> f64 {
        (crate::curve::signal_at(self.curve, x) - self.signal_a) / self.slope
    }

    /// Half width of the prediction band in levels along the tangent.
    fn half_width(&self, x: f64, variance: f64) -> f64 {
        let sd = self.curve.residual_sd / self.slope;
        self.curve.t_quantile * sqrt(variance + sd * sd * self.curve.unscaled_variance_at(x))
    }

    /// `(f′/slope)² − t² s² var(f′)/slope²`: positive where the slope is significant. While it is, the edges of the
    /// band rise with the curve (Cauchy & Schwarz), so that each is crossed once.
    fn significance(&self, x: f64) -> f64 {
        let c = &self.curve.unscaled_covariance;
        let steepness = self.curve.slope_at(x) / self.slope;
        let ts = self.curve.t_quantile * (self.curve.residual_sd / self.slope);
        steepness * steepness - ts * ts * (c[1][1] + 4.0 * x * (c[1][2] + x * c[2][2]))
    }

    /// The end of the stretch from the lowest standard on which the slope is significant, at most `furthest`.
    ///
    /// `significance` is a parabola: between two positive ends it can only dip at its own vertex.
    fn last_significant(&self, furthest: f64) -> f64 {
        let start = self.curve.level_min;
        let half = 0.5 * (furthest - start);
        let (first, middle, last) =
            (self.significance(start), self.significance(start + half), self.significance(furthest));
        let bend = first - 2.0 * middle + last;
        let tilt = last - first;
        let mut end = furthest;
        if bend > 0.0 {
            let vertex = start + half - half * (0.5 * tilt / bend);
            if vertex > start && vertex < furthest && self.significance(vertex) <= 0.0 {
                end = vertex;
            }
        }
        if self.significance(end) > 0.0 {
            return end;
        }
        let (mut low, mut high) = (start, end);
        for _ in 0..HALVINGS {
            let x = middle_of(low, high);
            if x <= low || x >= high {
                break;
            }
            if self.significance(x) > 0.0 {
                low = x;
            } else {
                high = x;
            }
        }
        low
    }

    /// Where a rising function crosses zero between `from` and `to`; none when it is still negative at `to`.
    fn crossing(from: f64, to: f64, rising: impl Fn(f64) -> f64) -> Option<f64> {
        if rising(to) < 0.0 {
            return None;
        }
        let (mut low, mut high) = (from, to);
        for _ in 0..HALVINGS {
            let x = middle_of(low, high);
            if x <= low || x >= high {
                break;
            }
            if rising(x) < 0.0 {
                low = x;
            } else {
                high = x;
            }
        }
        Some(high)
    }
}
