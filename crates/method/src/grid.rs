//! From the method's potentials to the kernel's constants on one scan's grid.

use stillwell_evaluate::{
    AreaLimits, AsymmetricLeastSquares, Baseline, Despike, Direction, FixedPotential, IndexRange, Measure,
    PeakLimits, PeakSettings, Placement, Refusal, Settings, Smoother,
};

use crate::file::{BaselinePlan, EvaluationPlan, MeasurePlan, PeakDirection, SmoothPlan};

/// Background larger than this many peak heights swallows the peak (common practice, no source).
const BACKGROUND_RATIO: f64 = 20.0;

/// How the peak of a scan is to be found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Search {
    /// The maximum in the window.
    ForPeak,
    /// No search: the height at this potential, V (an area is taken over the whole window).
    At(f64),
}

/// Smoothing weights: made once a method, used for every scan.
pub(crate) struct Weights {
    storage: Vec<f64>,
    plan: SmoothPlan,
}

impl Weights {
    pub(crate) fn new(plan: SmoothPlan) -> Self {
        let window = match plan {
            SmoothPlan::None => 0,
            SmoothPlan::SavitzkyGolay { window, .. } | SmoothPlan::MovingAverage { window } => {
                window as usize
            }
        };
        Self { storage: vec![0.0; Smoother::storage_len(window)], plan }
    }

    pub(crate) fn smoother(&mut self) -> Result<Option<Smoother<'_>>, Refusal> {
        match self.plan {
            SmoothPlan::None => Ok(None),
            SmoothPlan::SavitzkyGolay { window, degree } => {
                Smoother::savitzky_golay(window as usize, degree as usize, &mut self.storage).map(Some)
            }
            SmoothPlan::MovingAverage { window } => {
                Smoother::moving_average(window as usize, &mut self.storage).map(Some)
            }
        }
    }
}

/// The kernel's settings for one scan, or the window that does not lie on its grid.
pub(crate) fn settings<'w>(
    plan: &EvaluationPlan,
    potential_v: &[f64],
    smoother: Option<Smoother<'w>>,
    search: Search,
    reference_potential_v: Option<(f64, f64)>,
) -> Result<Settings<'w>, WindowOffGrid> {
    let range = |window_v: [f64; 2]| index_range(potential_v, window_v).ok_or(WindowOffGrid { window_v });
    let window = range(plan.peak.window_v)?;
    let baseline = baseline(&plan.baseline, potential_v)?;
    let noise = noise_ranges(&baseline, window, potential_v.len());
    let peak = PeakSettings {
        window,
        direction: match plan.peak.direction {
            PeakDirection::Reduction => Direction::Reduction,
            PeakDirection::Oxidation => Direction::Oxidation,
        },
        placement: Placement::Search,
        measure: match plan.peak.measure {
            MeasurePlan::Height => Measure::Height,
            MeasurePlan::HeightAt(at_v) => Measure::HeightAt(place(potential_v, at_v)?),
            MeasurePlan::Area => Measure::Area(AreaLimits::Window),
        },
    };
    let limits = PeakLimits {
        min_signal_to_noise: Some(plan.peak.least_signal_to_noise),
        max_background_ratio: Some(BACKGROUND_RATIO),
        second_peak_fraction: Some(plan.peak.second_peak_fraction),
        reference_potential_v,
    };
    let despike = plan.despike.map(|despike| Despike {
        limit: despike.limit,
        min_ratio: despike.least_ratio,
        floor_a: despike.floor_a,
    });
    let searching = Settings { despike, smoother, baseline, peak, noise, limits };
    Ok(match search {
        Search::ForPeak => searching,
        Search::At(at_v) => searching.without_search(match plan.peak.measure {
            MeasurePlan::Height => Some(place(potential_v, at_v)?),
            MeasurePlan::HeightAt(_) | MeasurePlan::Area => None,
        }),
    })
}

fn place(potential_v: &[f64], at_v: f64) -> Result<FixedPotential, WindowOffGrid> {
    FixedPotential::on(potential_v, at_v).ok_or(WindowOffGrid { window_v: [at_v, at_v] })
}

/// A window of the method that the scan does not cover.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct WindowOffGrid {
    pub(crate) window_v: [f64; 2],
}

/// The points of a rising or falling grid that lie within a window.
pub(crate) fn index_range(potential_v: &[f64], [low, high]: [f64; 2]) -> Option<IndexRange> {
    // A thousandth of a step: potentials are written with few decimals.
    let slack = match potential_v {
        [first, second, ..] => (second - first).abs() * 1e-3,
        _ => 0.0,
    };
    let inside = |value: &f64| *value >= low - slack && *value <= high + slack;
    let first = potential_v.iter().position(inside)?;
    let last = potential_v.iter().rposition(inside)?;
    Some(IndexRange { first, last })
}

fn baseline(plan: &BaselinePlan, potential_v: &[f64]) -> Result<Baseline, WindowOffGrid> {
    let range = |window_v: [f64; 2]| index_range(potential_v, window_v).ok_or(WindowOffGrid { window_v });
    let sides = |left_v: [f64; 2], right_v: [f64; 2]| -> Result<(IndexRange, IndexRange), WindowOffGrid> {
        let (left, right) = (range(left_v)?, range(right_v)?);
        Ok(if left.first <= right.first { (left, right) } else { (right, left) })
    };
    Ok(match *plan {
        BaselinePlan::None => Baseline::None,
        BaselinePlan::Line { left_v, right_v } => {
            let (before, after) = sides(left_v, right_v)?;
            Baseline::Line { before, after }
        }
        BaselinePlan::Minima { left_v, right_v } => {
            let (before, after) = sides(left_v, right_v)?;
            Baseline::Minima { before, after }
        }
        BaselinePlan::Tangent { window_v } => Baseline::Tangent { search: range(window_v)? },
        BaselinePlan::Polynomial { degree, left_v, right_v } => {
            let (before, after) = sides(left_v, right_v)?;
            Baseline::Polynomial { degree: degree as usize, before, after }
        }
        BaselinePlan::AsymmetricLeastSquares { stiffness, asymmetry, iterations } => {
            Baseline::AsymmetricLeastSquares(AsymmetricLeastSquares {
                stiffness,
                asymmetry,
                max_iterations: iterations,
            })
        }
    })
}

/// Noise is taken where the baseline rests, else on either side of the peak's window.
fn noise_ranges(baseline: &Baseline, window: IndexRange, n_points: usize) -> [Option<IndexRange>; 2] {
    match *baseline {
        Baseline::Line { before, after }
        | Baseline::Minima { before, after }
        | Baseline::Polynomial { before, after, .. } => [Some(before), Some(after)],
        Baseline::Tangent { search } => {
            [between(search.first, window.first), between(window.last + 1, search.last + 1)]
        }
        Baseline::None | Baseline::AsymmetricLeastSquares(_) => {
            [between(0, window.first), between(window.last + 1, n_points)]
        }
    }
}

fn between(first: usize, end: usize) -> Option<IndexRange> {
    (first < end).then(|| IndexRange { first, last: end - 1 })
}
