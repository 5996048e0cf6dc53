//! First points that do not follow the trend of those after them.

use super::finding::{Judge, TrustFinding, WhyNotTestable};
use super::quantities::Quantities;
use super::settings::{ExpectedScan, RawScan, TrustLimits};
use libm::sqrt;

pub(super) fn start_up(
    judge: Judge,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    quantities: &Quantities,
) -> Result<TrustFinding, WhyNotTestable> {
    let judged = limits.start_up_points as usize;
    let width = limits.start_up_trend_points as usize;
    if width < 6 || judged == 0 || !limits.start_up_units.is_finite() || !limits.start_up_fraction.is_finite()
    {
        return Err(WhyNotTestable::LimitNotUsable);
    }
    let used = judged.saturating_add(width);
    let points = scan.current_a.get(..used).ok_or(WhyNotTestable::TooShort)?;
    if let Some([a, b]) = expected.peak_window_v {
        let (low, high) = if a < b { (a, b) } else { (b, a) };
        if scan.potential_v[..used].iter().any(|&v| v >= low && v <= high) {
            return Err(WhyNotTestable::PeakTooNearStart);
        }
    }
    let (first_points, trend_points) = points.split_at(judged);
    let trend = Parabola::through(trend_points);
    let noise = quantities.noise_sd_a?;
    let unit = if trend.residual_sd > noise { trend.residual_sd } else { noise };
    let floor = limits.start_up_fraction * quantities.robust_range_a?;
    if !(unit.is_finite() && floor.is_finite()) {
        return Err(WhyNotTestable::NotFinite);
    }
    let mut distrusted = 0;
    for (i, &point) in first_points.iter().enumerate() {
        let x = i as f64 - judged as f64;
        let deviation = (point - trend.at(x)).abs();
        if !deviation.is_finite() {
            return Err(WhyNotTestable::NotFinite);
        }
        if deviation > limits.start_up_units * unit * sqrt(1.0 + trend.leverage(x)) && deviation > floor {
            distrusted = i + 1;
        }
    }
    let last = if distrusted > 0 { distrusted - 1 } else { 0 };
    Ok(judge.at_most(distrusted as f64, f64::from(limits.distrusted_points), last))
}

/// Least-squares parabola through evenly spaced points, in polynomials that are orthogonal on them.
struct Parabola {
    centre: f64,
    square_mean: f64,
    coefficients: [f64; 3],
    norms: [f64; 3],
    residual_sd: f64,
}

impl Parabola {
    /// Points at x = 0, 1, 2 …; at least 6.
    fn through(points: &[f64]) -> Self {
        let n = points.len() as f64;
        let mut fit = Self {
            centre: 0.5 * (n - 1.0),
            square_mean: (n * n - 1.0) / 12.0,
            coefficients: [0.0; 3],
            norms: [0.0; 3],
            residual_sd: 0.0,
        };
        for (i, &y) in points.iter().enumerate() {
            let row = fit.row(i as f64);
            for (j, &entry) in row.iter().enumerate() {
                fit.coefficients[j] += entry * y;
                fit.norms[j] += entry * entry;
            }
        }
        for j in 0..3 {
            fit.coefficients[j] /= fit.norms[j];
        }
        let mut squares = 0.0;
        for (i, &y) in points.iter().enumerate() {
            let residual = y - fit.at(i as f64);
            squares += residual * residual;
        }
        fit.residual_sd = sqrt(squares / (n - 3.0));
        fit
    }

    fn row(&self, x: f64) -> [f64; 3] {
        let u = x - self.centre;
        [1.0, u, u * u - self.square_mean]
    }

    fn at(&self, x: f64) -> f64 {
        let row = self.row(x);
        self.coefficients[0] * row[0] + self.coefficients[1] * row[1] + self.coefficients[2] * row[2]
    }

    /// Variance of the fitted value at `x` over that of one point.
    fn leverage(&self, x: f64) -> f64 {
        let row = self.row(x);
        row[0] * row[0] / self.norms[0] + row[1] * row[1] / self.norms[1] + row[2] * row[2] / self.norms[2]
    }
}
