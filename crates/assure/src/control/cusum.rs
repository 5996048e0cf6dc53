//! The cumulative sum: adds up what exceeds half of a shift worth finding, and tells since when.

use stillwell_stats::distributions::{normal_cdf, normal_density};

use super::limits::ChartLimits;
use crate::QualityError;
use crate::quality_error::must_lie_between;

/// Reference value and decision interval, in σ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumSettings {
    /// Reference value k: half of the shift worth finding. 0.5 finds one σ.
    pub reference: f64,
    /// Decision interval h: the sum that means a shift.
    pub decision: f64,
}

/// The sums after one point, in σ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumPoint {
    /// Sum above.
    pub high: f64,
    /// Sum below, as a positive number.
    pub low: f64,
    /// The point from which the sum above has grown without falling to zero, if it is above zero: since when.
    pub high_since: Option<usize>,
    /// The same for the sum below.
    pub low_since: Option<usize>,
}

impl CusumSettings {
    fn check(&self) -> Result<(), QualityError> {
        must_lie_between("the reference value k", self.reference, (0.0, 5.0), "above 0 to 5 σ, such as 0.5")?;
        must_lie_between("the decision interval h", self.decision, (0.0, 50.0), "above 0 to 50 σ, such as 5")
    }
}

impl CusumPoint {
    /// Whether a sum exceeds the decision interval.
    pub fn is_beyond(&self, settings: &CusumSettings) -> bool {
        self.high > settings.decision || self.low > settings.decision
    }
}

/// Tabular sums on both sides. A point that cannot be judged leaves them as they were.
///
/// # Units
/// Values in the unit of the limits; sums in σ.
///
/// # Errors
/// [`QualityError::Unusable`] for settings outside their range.
///
/// # Source
/// Page 1954, Biometrika 41, 100; ISO 7870-4:2021: `S = max(0, S + z − k)` and `max(0, S − z − k)`, from 0 on.
///
/// # Example
/// ```
/// use stillwell_assure::control::{ChartLimits, CusumSettings, cusum};
/// let limits = ChartLimits::stated(0.0, 1.0)?;
/// let settings = CusumSettings { reference: 0.5, decision: 5.0 };
/// let points = cusum(&[-0.3, 1.2, 1.4].map(Some), &limits, settings)?;
/// assert!((points[2].high - 1.6).abs() < 1e-12 && points[2].high_since == Some(1));
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn cusum(
    values: &[Option<f64>],
    limits: &ChartLimits,
    settings: CusumSettings,
) -> Result<Vec<CusumPoint>, QualityError> {
    settings.check()?;
    let mut now = CusumPoint { high: 0.0, low: 0.0, high_since: None, low_since: None };
    Ok(values
        .iter()
        .enumerate()
        .map(|(at, found)| {
            if let Some(found) = found {
                let z = (found - limits.centre) / limits.sigma;
                now.high = f64::max(0.0, now.high + z - settings.reference);
                now.low = f64::max(0.0, now.low - z - settings.reference);
                let since = |sum: f64, before: Option<usize>| (sum > 0.0).then(|| before.unwrap_or(at));
                now.high_since = since(now.high, now.high_since);
                now.low_since = since(now.low, now.low_since);
            }
            now
        })
        .collect())
}

/// Steps of the quadrature, an even number: five digits at h = 5.
const STEPS: usize = 120;

/// Average run length of one side: how many points go by before the sum exceeds the decision interval, at a lasting shift.
///
/// # Units
/// `shift` in σ, towards the side; the answer in points. Two sides without shift: half of it.
///
/// # Errors
/// [`QualityError::Unusable`] for settings outside their range or a shift that is no number.
///
/// # Source
/// Integral equation of Page 1954, `L(u) = 1 + L(0) Φ(k − δ − u) + ∫ L(y) φ(y + k − δ − u) dy` over 0 to h, by Simpson's
/// rule; centre and σ known.
pub fn cusum_average_run_length(settings: CusumSettings, shift: f64) -> Result<f64, QualityError> {
    settings.check()?;
    must_lie_between("the shift", shift, (-50.0, 50.0), "a number of σ")?;
    let moved = settings.reference - shift;
    let step = settings.decision / STEPS as f64;
    let weight = |at: usize| match at {
        0 | STEPS => step / 3.0,
        at if at % 2 == 1 => step * 4.0 / 3.0,
        _ => step * 2.0 / 3.0,
    };
    let probability = |from: usize, to: usize| {
        let distance = moved - step * from as f64;
        let to_zero = if to == 0 { normal_cdf(distance) } else { 0.0 };
        to_zero + weight(to) * normal_density(step * to as f64 + distance)
    };
    let rows: Vec<Vec<f64>> = (0..=STEPS)
        .map(|from| (0..=STEPS).map(|to| f64::from(u8::from(from == to)) - probability(from, to)).collect())
        .collect();
    solve(rows, vec![1.0; STEPS + 1])
}

/// First unknown of a diagonally dominant system, by elimination without exchange of rows.
fn solve(mut rows: Vec<Vec<f64>>, mut right: Vec<f64>) -> Result<f64, QualityError> {
    let n = rows.len();
    // Backwards, so that the first unknown comes out last and alone.
    for pivot in (1..n).rev() {
        let (above, from_pivot) = rows.split_at_mut(pivot);
        let pivot_row = &from_pivot[0];
        for (at, row) in above.iter_mut().enumerate() {
            let factor = row[pivot] / pivot_row[pivot];
            for (entry, of_pivot) in row.iter_mut().zip(pivot_row) {
                *entry -= factor * of_pivot;
            }
            right[at] -= factor * right[pivot];
        }
    }
    let length = right[0] / rows[0][0];
    if length.is_finite() && length >= 1.0 {
        Ok(length)
    } else {
        Err(QualityError::Unusable {
            what: "the average run length",
            found: length,
            accepted: "settings whose run length is below about 1e12",
        })
    }
}
