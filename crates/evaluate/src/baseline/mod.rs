//! Baselines: what the current would be without the peak, drawn on the smoothed curve.

mod asymmetric;
mod line;
mod polynomial;
mod tangent;

pub use asymmetric::{
    AsymmetricLeastSquares, asymmetric_least_squares, asymmetric_least_squares_side_by_side,
};
pub use asymmetric::{LANES, lane_scratch_len, single_scratch_len};

use crate::refusal::{RangeName, Refusal, SettingName};
use crate::settings::{IndexRange, PeakSettings, Placement};

/// How the baseline is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Baseline {
    /// Zero.
    None,
    /// The straight line through the mean point (potential and current) of each of two ranges.
    Line {
        /// Anchor before the peak.
        before: IndexRange,
        /// Anchor after the peak.
        after: IndexRange,
    },
    /// The straight line through the lowest point along the direction in each of two ranges.
    Minima {
        /// Searched before the peak.
        before: IndexRange,
        /// Searched after the peak.
        after: IndexRange,
    },
    /// The common tangent under the peak: the straight line through two points of `search`, one on either side,
    /// that no point of `search` lies beneath (an edge of the lower hull). Adding a straight line to the scan
    /// leaves the height unchanged. It rests on the lowest noise, so it is biased where there is no peak.
    Tangent {
        /// Must reach beyond the peak window on both sides.
        search: IndexRange,
    },
    /// A polynomial fitted by least squares to two ranges outside the peak.
    Polynomial {
        /// Degree, 0 to 4.
        degree: usize,
        /// Fitted range before the peak.
        before: IndexRange,
        /// Fitted range after the peak.
        after: IndexRange,
    },
    /// Asymmetric least squares over the whole scan.
    AsymmetricLeastSquares(AsymmetricLeastSquares),
}

/// Asymmetric least squares of eight scans, for the batch.
#[inline(always)]
pub(crate) fn draw_side_by_side(
    rule: &AsymmetricLeastSquares,
    smoothed: &[f64],
    sign: f64,
    baseline: &mut [f64],
    scratch: &mut [f64],
) -> Result<[Result<u32, Refusal>; LANES], Refusal> {
    asymmetric::solve::<LANES>(rule, smoothed, sign, baseline, scratch)
}

/// What drawing a baseline yields beside the curve.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Drawn {
    pub(crate) points: Option<[usize; 2]>,
    pub(crate) iterations: u32,
}

impl Baseline {
    pub(crate) fn check(&self, peak: &PeakSettings, n_points: usize) -> Result<(), Refusal> {
        match *self {
            Self::None => Ok(()),
            Self::Line { before, after } | Self::Minima { before, after } => {
                check_sides(before, after, n_points)
            }
            Self::Tangent { search } => {
                let around = search.first < peak.window.first && peak.window.last < search.last;
                if search.fits(n_points) && around {
                    Ok(())
                } else {
                    Err(not_usable(RangeName::TangentSearch, search))
                }
            }
            Self::Polynomial { degree, before, after } => {
                check_sides(before, after, n_points)?;
                if degree > polynomial::MAX_DEGREE {
                    return Err(Refusal::SettingNotUsable {
                        setting: SettingName::BaselineDegree,
                        value: degree as f64,
                    });
                }
                let found = before.n_points() + after.n_points();
                if found > degree { Ok(()) } else { Err(Refusal::TooFewPoints { found, needed: degree + 1 }) }
            }
            Self::AsymmetricLeastSquares(rule) => rule.check(n_points),
        }
    }

    /// Draws the baseline of `smoothed` into `baseline`.
    #[inline(always)]
    pub(crate) fn draw(
        &self,
        potential_v: &[f64],
        smoothed: &[f64],
        peak: &PeakSettings,
        baseline: &mut [f64],
        scratch: &mut [f64],
    ) -> Result<Drawn, Refusal> {
        let sign = peak.direction.sign();
        match *self {
            Self::None => {
                baseline.fill(0.0);
                Ok(Drawn::default())
            }
            Self::Line { before, after } => {
                line::through_means(potential_v, smoothed, before, after).fill(potential_v, baseline);
                Ok(Drawn::default())
            }
            Self::Minima { before, after } => {
                let points = [before, after].map(|range| line::lowest(smoothed, range, sign));
                line::through_points(potential_v, smoothed, points).fill(potential_v, baseline);
                Ok(Drawn { points: Some(points), iterations: 0 })
            }
            Self::Tangent { search } => {
                let searched = peak.placement == Placement::Search;
                let points = tangent::points(potential_v, smoothed, search, peak.window, sign, searched);
                line::through_points(potential_v, smoothed, points).fill(potential_v, baseline);
                Ok(Drawn { points: Some(points), iterations: 0 })
            }
            Self::Polynomial { degree, before, after } => {
                polynomial::fit(potential_v, smoothed, degree, [before, after], baseline);
                Ok(Drawn::default())
            }
            Self::AsymmetricLeastSquares(rule) => {
                // Points that smoothing drove beyond the largest number are out of range, not a fault of the scan.
                let [iterations] = asymmetric::solve::<1>(&rule, smoothed, sign, baseline, scratch)?;
                Ok(Drawn { points: None, iterations: iterations? })
            }
        }
    }
}

fn check_sides(before: IndexRange, after: IndexRange, n_points: usize) -> Result<(), Refusal> {
    if !before.fits(n_points) {
        return Err(not_usable(RangeName::BaselineBefore, before));
    }
    if !after.fits(n_points) || after.first <= before.last {
        return Err(not_usable(RangeName::BaselineAfter, after));
    }
    Ok(())
}

fn not_usable(range: RangeName, at: IndexRange) -> Refusal {
    Refusal::RangeNotUsable { range, first: at.first, last: at.last }
}
