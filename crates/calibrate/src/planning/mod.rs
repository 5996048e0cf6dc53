//! Planning: how many standards, strips and scans reach a target, where to put the standards, and what limits it.
//!
//! The design is found by the formula of the interval that the chain will later state, with components of variance at hand;
//! no rule of thumb takes part. What no replicate shrinks is told apart, and a target below it is refused.

mod components;
mod demands;
mod error;
mod layout;
mod prediction;
mod search;

pub use components::{LotUse, SpreadComponents};
pub use demands::PlanDemands;
pub use error::PlanError;
pub use layout::{Layout, LevelPlan};

use prediction::{Quantiles, predict};
use stillwell_stats::distributions::normal_quantile;

/// A part of the variance of a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum PartOfVariance {
    /// Between lots.
    Lots,
    /// Levels of the standards.
    Standards,
    /// Temperature, dilution, recovery.
    Further,
    /// Between the sample's electrodes.
    SampleElectrodes,
    /// Between the scans of the sample's electrodes.
    SampleScans,
    /// The calibration curve.
    Curve,
}

/// What limits a design: its largest part.
pub type Limiting = PartOfVariance;

/// A design.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// How the standards are spread.
    pub layout: Layout,
    /// Levels and electrodes at each.
    pub levels: Vec<LevelPlan>,
    /// Electrodes of one sample.
    pub sample_electrodes: u32,
    /// Scans of each electrode, in standards and samples.
    pub scans_per_electrode: u32,
}

/// A design with what it promises and costs.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedDesign {
    /// The design.
    pub design: Design,
    /// Expanded relative uncertainty at the level, as the median result will state it.
    pub relative_u: f64,
    /// Parts of the variance as shares of one, largest first.
    pub shares: Vec<(PartOfVariance, f64)>,
    /// Strips of one calibration and its samples.
    pub strips: u32,
    /// Minutes that these take.
    pub minutes: f64,
}

impl PlannedDesign {
    /// The largest part.
    pub fn limiting(&self) -> Limiting {
        self.shares.first().map_or(PartOfVariance::Curve, |(part, _)| *part)
    }
}

/// The plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The design with the fewest strips, then minutes.
    pub design: PlannedDesign,
    /// The best design with at least a tenth fewer strips, which misses the target.
    pub cheaper: Option<PlannedDesign>,
    /// The cheapest design whose uncertainty is smaller by at least a tenth.
    pub better: Option<PlannedDesign>,
    /// For each layout the smallest uncertainty with no more standards than the design has, all else equal.
    pub layouts: Vec<PlannedDesign>,
    /// Expanded relative uncertainty that remains with replicates without end.
    pub floor_relative_u: f64,
}

/// The design with the fewest strips that reaches a target uncertainty.
///
/// Tried are all layouts with 3 to 8 levels, all numbers of electrodes, strips a sample and scans a strip within the demands.
/// What a design promises is the median of the expanded uncertainty that the chain will state: Student's t at `n − 2` degrees
/// of freedom, Fieller's larger half, the relative parts added in quadrature. Electrodes are the unit that repeats; scans of one
/// strip shrink their own part only.
///
/// # Units
/// Levels and components in one unit.
///
/// # Errors
/// [`PlanError::NotUsable`]; [`PlanError::NoReplicatesReach`] where lots, standards and corrections alone exceed the target;
/// [`PlanError::NotWithinMost`] where the largest design allowed is not enough.
///
/// # Source
/// Fieller 1954; two-stage nested design; the promise is compared with simulated studies in this room's tests.
///
/// # Example
/// ```
/// use stillwell_calibrate::{LotUse, PlanDemands, SpreadComponents, plan_design};
/// let components = SpreadComponents { electrode_variance: [4.0, 0.0, 0.0], scan_variance: [0.5, 0.0, 0.0],
///     lot_relative_sd: 0.05, lot_use: LotUse::CalibratedEach, standards_relative_u: 0.01, further_relative_u: 0.0 };
/// let demands = PlanDemands { target_relative_u: 0.10, level: 50.0, coverage: 0.95, range: [0.0, 100.0],
///     samples_per_calibration: 10, most_strips: 40, least_sample_strips: 1, most_sample_strips: 8, most_scans: 4, least_replicate_df: 0,
///     minutes_per_strip: 2.0, minutes_per_scan: 1.0 };
/// let plan = plan_design(&components, &demands)?;
/// assert!(plan.design.relative_u <= 0.10);
/// // One calibration for all lots: the spread between lots alone is more than 10 %.
/// let one_for_all = SpreadComponents { lot_use: LotUse::CalibratedOnce { lots: 3 }, ..components };
/// assert!(plan_design(&one_for_all, &demands).is_err());
/// # Ok::<(), stillwell_calibrate::PlanError>(())
/// ```
pub fn plan_design(components: &SpreadComponents, demands: &PlanDemands) -> Result<Plan, PlanError> {
    demands.check()?;
    components.check(demands.range[0])?;
    let floor_relative_u = refuse_below_floor(components, demands)?;
    search::plan(components, demands, floor_relative_u)
}

/// What a stated design promises; see [`plan_design`].
///
/// # Units
/// As [`plan_design`].
///
/// # Errors
/// [`PlanError::NotUsable`], also for fewer than 3 electrodes of standards.
///
/// # Source
/// As [`plan_design`].
pub fn promised_by(
    components: &SpreadComponents,
    design: &Design,
    demands: &PlanDemands,
) -> Result<PlannedDesign, PlanError> {
    demands.check()?;
    components.check(demands.range[0])?;
    let n = layout::n_strips(&design.levels);
    if n < 3 || design.sample_electrodes == 0 || design.scans_per_electrode == 0 {
        let (what, accepted) =
            ("the number of electrodes of standards", "at least 3, and 1 for samples and scans");
        return Err(PlanError::NotUsable { what, found: f64::from(n), accepted });
    }
    let quantiles = Quantiles::new(n - 2, demands.coverage);
    Ok(planned(components, design, demands, quantiles))
}

fn planned(
    components: &SpreadComponents,
    design: &Design,
    demands: &PlanDemands,
    quantiles: Quantiles,
) -> PlannedDesign {
    let predicted = predict(components, design, demands.level, quantiles);
    let sum: f64 = predicted.parts.iter().map(|(_, part)| part).sum();
    let mut shares: Vec<(PartOfVariance, f64)> =
        predicted.parts.iter().map(|(name, part)| (*name, part / sum)).collect();
    shares.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let strips =
        layout::n_strips(&design.levels) + demands.samples_per_calibration * design.sample_electrodes;
    let minutes_each =
        demands.minutes_per_strip + demands.minutes_per_scan * f64::from(design.scans_per_electrode);
    PlannedDesign {
        design: design.clone(),
        relative_u: predicted.expanded_u / demands.level,
        shares,
        strips,
        minutes: f64::from(strips) * minutes_each,
    }
}

/// Replicates without end: only the relative parts remain, with a normal quantile.
fn refuse_below_floor(components: &SpreadComponents, demands: &PlanDemands) -> Result<f64, PlanError> {
    let z = normal_quantile(0.5 + 0.5 * demands.coverage);
    let fixed = [
        (PartOfVariance::Lots, components.lot_u()),
        (PartOfVariance::Standards, components.standards_relative_u),
        (PartOfVariance::Further, components.further_relative_u),
    ];
    let floor = z * libm::sqrt(fixed.iter().map(|(_, u)| u * u).sum());
    let (cause, largest) = fixed
        .into_iter()
        .fold((PartOfVariance::Lots, 0.0), |worst, part| if part.1 > worst.1 { part } else { worst });
    if floor < demands.target_relative_u {
        return Ok(floor);
    }
    Err(PlanError::NoReplicatesReach {
        target_percent: 100.0 * demands.target_relative_u,
        floor_percent: 100.0 * floor,
        cause,
        cause_percent: 100.0 * z * largest,
    })
}
