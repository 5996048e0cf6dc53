//! Sound scans: simulated at a known concentration, determined by the chain, held against the truth.

use rayon::prelude::*;
use stillwell_method::{Report, Role};
use stillwell_twin::Fault;

use super::{Subject, determination};
use crate::error::ForeseeError;
use crate::plan::{Batch, Measurement};
use crate::scored::{Came, Scored, scored};

const SCANS_PER_STRIP: u32 = 2;

/// Ageing in an opened box: 3 % of the area and a third of the rate lost. Chosen; common practice, no source.
const AGEING: Fault =
    Fault::WrongElectrode { area_factor: 0.97, rate_factor: 0.67, double_layer_factor: 1.0 };

/// The state of the strips of one study.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LotState {
    /// All from a fresh box.
    Fresh,
    /// All from a box that has aged.
    Aged,
    /// Calibrated fresh; checks, controls and samples on strips that have aged since.
    AgedSinceCalibration,
}

impl LotState {
    /// Every state.
    pub const ALL: [Self; 3] = [Self::Fresh, Self::Aged, Self::AgedSinceCalibration];

    /// The states take turns.
    fn of_study(number: u32) -> Self {
        match number % 3 {
            0 => Self::Fresh,
            1 => Self::Aged,
            _ => Self::AgedSinceCalibration,
        }
    }

    /// Its name, for tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::Fresh => "fresh lot",
            Self::Aged => "aged lot",
            Self::AgedSinceCalibration => "aged since calibration",
        }
    }

    fn ages(self, role: Role) -> bool {
        match self {
            Self::Fresh => false,
            Self::Aged => true,
            Self::AgedSinceCalibration => !matches!(role, Role::Blank | Role::Standard),
        }
    }
}

/// What came of all studies.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundTrip {
    /// Studies made.
    pub studies: u32,
    /// By lot state, then by level.
    pub strata: Vec<Stratum>,
    /// Scans of fresh and aged lots that were made, and refused though nothing was wrong with them.
    pub good_scans: (usize, usize),
    /// Samples that hold more than a limit of the method, over all strata.
    pub above_a_limit: usize,
}

/// Studies of one lot state at one true level.
#[derive(Debug, Clone, PartialEq)]
pub struct Stratum {
    /// State of the strips.
    pub state: LotState,
    /// True level in the method's reporting unit.
    pub truth: f64,
    /// Samples.
    pub samples: usize,
    /// Samples without a number.
    pub refused: usize,
    /// Samples with a number or bound from which no verdict was drawn.
    pub withheld: usize,
    /// Samples with a number.
    pub numbers: usize,
    /// Numbers whose interval holds the truth.
    pub numbers_held: usize,
    /// Samples with a bound.
    pub bounds: usize,
    /// Bounds that hold the truth.
    pub bounds_held: usize,
    /// Mean of (number − truth)/U; none without numbers.
    pub bias_in_u: Option<f64>,
    /// Truth above a limit of the method, said to be below it.
    pub falsely_below: usize,
    /// Truth not above a limit of the method, said to be above it.
    pub falsely_above: usize,
}

/// Simulates and determines `studies` studies, each a lot of its own with its own calibration, check standards and controls,
/// and one sample at each of `truths`. The lot states take turns. `progress` is called after each study.
///
/// # Units
/// `truths` in the method's reporting unit.
///
/// # Errors
/// What the twin refuses, or a method without levels.
pub fn round_trip(
    subject: &Subject<'_>,
    studies: u32,
    truths: &[f64],
    progress: impl Fn() + Sync,
) -> Result<RoundTrip, ForeseeError> {
    let found = (1..=studies)
        .into_par_iter()
        .map(|number| {
            let state = LotState::of_study(number);
            let found = study(subject, u64::from(number), state, truths);
            progress();
            found
        })
        .collect::<Result<Vec<Study>, ForeseeError>>()?;
    let strata = LotState::ALL.into_iter().flat_map(|state| {
        let of_state: Vec<&Study> = found.iter().filter(|study| study.state == state).collect();
        let of_level = |(index, truth): (usize, &f64)| {
            let samples: Vec<&Scored> =
                of_state.iter().filter_map(|study| study.samples.get(index)).collect();
            stratum(state, *truth, &samples)
        };
        truths.iter().enumerate().map(of_level).collect::<Vec<Stratum>>()
    });
    let good = found.iter().filter(|study| study.state != LotState::AgedSinceCalibration);
    let limits = crate::scored::limits(subject.method);
    let is_above = |truth: f64| limits.iter().any(|(_, limit)| truth > *limit);
    Ok(RoundTrip {
        studies,
        strata: strata.collect(),
        good_scans: good.fold((0, 0), |sum, study| (sum.0 + study.scans.0, sum.1 + study.scans.1)),
        above_a_limit: studies as usize * truths.iter().filter(|truth| is_above(**truth)).count(),
    })
}

struct Study {
    state: LotState,
    samples: Vec<Scored>,
    scans: (usize, usize),
}

fn study(subject: &Subject<'_>, number: u64, state: LotState, truths: &[f64]) -> Result<Study, ForeseeError> {
    let strips = subject.method.sample.electrodes;
    let names: Vec<String> = (1..=truths.len()).map(|place| format!("W{place}")).collect();
    let samples = names.iter().zip(truths);
    let samples = samples.map(|(name, truth)| Measurement::sample(name, *truth, strips, SCANS_PER_STRIP));
    let mut batch = subject.batch(number, samples.collect())?;
    age(&mut batch, state);
    let report = subject.report(batch)?;
    let scored = names
        .iter()
        .zip(truths)
        .filter_map(|(name, truth)| Some(scored(subject.method, determination(&report, name)?, *truth)));
    Ok(Study { state, samples: scored.collect(), scans: scans(&report) })
}

fn age(batch: &mut Batch, state: LotState) {
    for measurement in batch.files.iter_mut().flat_map(|(_, measurements)| measurements) {
        if state.ages(measurement.role) {
            measurement.faults.push((AGEING, measurement.strips));
        }
    }
}

fn scans(report: &Report) -> (usize, usize) {
    (report.scans.len(), report.scans.iter().filter(|link| link.is_refused()).count())
}

fn stratum(state: LotState, truth: f64, samples: &[&Scored]) -> Stratum {
    let count = |is_one: &dyn Fn(&Scored) -> bool| samples.iter().filter(|scored| is_one(scored)).count();
    let in_u: Vec<f64> = samples
        .iter()
        .filter_map(|scored| scored.estimate)
        .map(|(value, expanded_u)| (value - truth) / expanded_u)
        .collect();
    Stratum {
        state,
        truth,
        samples: samples.len(),
        refused: count(&|scored| scored.came == Came::Refused),
        withheld: count(&|scored| scored.holds.is_some() && !scored.has_verdict),
        numbers: in_u.len(),
        numbers_held: count(&|scored| scored.estimate.is_some() && scored.holds == Some(true)),
        bounds: count(&|scored| scored.estimate.is_none() && scored.holds.is_some()),
        bounds_held: count(&|scored| scored.estimate.is_none() && scored.holds == Some(true)),
        bias_in_u: stillwell_stats::mean(&in_u).ok(),
        falsely_below: count(&|scored| scored.is_falsely_below),
        falsely_above: count(&|scored| scored.is_falsely_above),
    }
}
