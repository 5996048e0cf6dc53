//! Planning: how many standards, strips and scans reach a target, where to put the standards, and what limits it.
//!
//! The design is found by the formula of the interval that the chain will later state, with components of variance at hand;
//! no rule of thumb takes part. What no replicate shrinks is told apart, and a target below it is refused.

mod error;
mod layout;
mod prediction;
mod search;

pub use error::PlanError;
pub use layout::{Layout, LevelPlan};

use crate::calibration::Calibration;
use prediction::{Quantiles, predict};
use stillwell_stats::distributions::normal_quantile;

/// How a lot of electrodes comes into a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LotUse {
    /// Each lot has its own calibration: what a lot has in common cancels.
    CalibratedEach,
    /// One calibration, made on some lots, serves further ones.
    CalibratedOnce {
        /// Lots in the calibration.
        lots: u32,
    },
}

/// Components of variance, in level units (signal over slope). Variances are polynomials `v0 + v1 x + v2 x²` of level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpreadComponents {
    /// Between electrodes of one lot.
    pub electrode_variance: [f64; 3],
    /// Between scans of one electrode.
    pub scan_variance: [f64; 3],
    /// Relative standard deviation of sensitivity between lots.
    pub lot_relative_sd: f64,
    /// How lots come in.
    pub lot_use: LotUse,
    /// Relative standard uncertainty of the standards' levels, common to them.
    pub standards_relative_u: f64,
    /// Relative standard uncertainties of further corrections: temperature, dilution, recovery.
    pub further_relative_u: f64,
}

impl SpreadComponents {
    /// Components from a calibration at hand; lots and relative parts are stated by the caller.
    ///
    /// # Units
    /// Level units of the calibration.
    ///
    /// # Errors
    /// [`PlanError::ElectrodesUnknown`] where no level has two electrodes.
    ///
    /// # Source
    /// [`crate::ElectrodeComponents`] at unit weight times the curve's variance function, over the slope at the mean level.
    pub fn from_calibration(
        calibration: &Calibration,
        lot_relative_sd: f64,
        lot_use: LotUse,
        standards_relative_u: f64,
        further_relative_u: f64,
    ) -> Result<Self, PlanError> {
        let found = &calibration.components;
        if found.electrode_degrees_of_freedom == 0 {
            return Err(PlanError::ElectrodesUnknown);
        }
        let slope = calibration.statistics.sensitivity_a_per_level;
        let in_levels = |variance_a2: f64| {
            calibration.curve.relative_variance.map(|share| share * variance_a2 / (slope * slope))
        };
        Ok(Self {
            electrode_variance: in_levels(found.electrode_variance_a2),
            scan_variance: in_levels(found.scan_variance_a2),
            lot_relative_sd,
            lot_use,
            standards_relative_u,
            further_relative_u,
        })
    }

    fn electrode_variance_at(&self, level: f64) -> f64 {
        polynomial(self.electrode_variance, level)
    }

    fn scan_variance_at(&self, level: f64) -> f64 {
        polynomial(self.scan_variance, level)
    }

    fn electrode_mean_variance(&self, level: f64, scans: u32) -> f64 {
        self.electrode_variance_at(level) + self.scan_variance_at(level) / f64::from(scans)
    }

    /// Relative standard uncertainty from lots: of the sample's lot, and of the mean of the calibration's.
    fn lot_u(&self) -> f64 {
        match self.lot_use {
            LotUse::CalibratedEach => 0.0,
            LotUse::CalibratedOnce { lots } => self.lot_relative_sd * libm::sqrt(1.0 + 1.0 / f64::from(lots)),
        }
    }
}

fn polynomial([v0, v1, v2]: [f64; 3], level: f64) -> f64 {
    v0 + level * (v1 + level * v2)
}

/// What is asked of the design, and what it may cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanDemands {
    /// Expanded relative uncertainty, such as 0.10.
    pub target_relative_u: f64,
    /// At this level.
    pub level: f64,
    /// Two-sided coverage of the interval.
    pub coverage: f64,
    /// Range within which standards may be put.
    pub range: [f64; 2],
    /// Samples that one calibration serves; their strips count.
    pub samples_per_calibration: u32,
    /// Most strips for the standards of one calibration.
    pub most_strips: u32,
    /// Fewest strips for one sample: an electrode alone cannot be held against another.
    pub least_sample_strips: u32,
    /// Most strips for one sample.
    pub most_sample_strips: u32,
    /// Most scans of one strip.
    pub most_scans: u32,
    /// Fewest degrees of freedom between electrodes of one level, all levels together, where weights are to be fitted to them.
    pub least_replicate_df: u32,
    /// Minutes that one strip takes beside its scans.
    pub minutes_per_strip: f64,
    /// Minutes that one scan takes.
    pub minutes_per_scan: f64,
}

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
    check_components(components)?;
    check_demands(demands)?;
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
    check_components(components)?;
    check_demands(demands)?;
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

fn check_components(components: &SpreadComponents) -> Result<(), PlanError> {
    let refused = |what, found, accepted| Err(PlanError::NotUsable { what, found, accepted });
    let all = components.electrode_variance.into_iter().chain(components.scan_variance);
    if let Some(found) = all.clone().find(|v| !(v.is_finite() && *v >= 0.0)) {
        return refused("a component of variance", found, "a number of 0 or more");
    }
    let [at_zero, ..] = components.electrode_variance;
    let [of_scans, ..] = components.scan_variance;
    if at_zero + of_scans <= 0.0 {
        return refused(
            "the variance at level zero",
            at_zero + of_scans,
            "a number above 0: no electrode is exact",
        );
    }
    let relative =
        [components.lot_relative_sd, components.standards_relative_u, components.further_relative_u];
    if let Some(found) = relative.into_iter().find(|u| !(u.is_finite() && *u >= 0.0)) {
        return refused("a relative uncertainty", found, "a number of 0 or more");
    }
    match components.lot_use {
        LotUse::CalibratedOnce { lots: 0 } => {
            refused("the number of lots in the calibration", 0.0, "1 or more")
        }
        _ => Ok(()),
    }
}

/// Larger designs are beyond a bench, and the search tries all below.
const MOST_STRIPS: u32 = 96;
const MOST_OF_A_SAMPLE: u32 = 24;

fn check_demands(demands: &PlanDemands) -> Result<(), PlanError> {
    let refused = |what, found, accepted| Err(PlanError::NotUsable { what, found, accepted });
    let [low, high] = demands.range;
    if !(demands.target_relative_u > 0.0 && demands.target_relative_u < 1.0) {
        return refused("the target", demands.target_relative_u, "a fraction such as 0.10");
    }
    if !(0.5..=0.9999).contains(&demands.coverage) {
        return refused("the coverage", demands.coverage, "0.5 to 0.9999, usually 0.95");
    }
    if !(low.is_finite() && high.is_finite() && low >= 0.0 && high > low) {
        return refused("the range of the standards", low, "two levels of 0 or more, the smaller first");
    }
    if !(demands.level > 0.0 && demands.level >= low && demands.level <= high) {
        return refused(
            "the level of the target",
            demands.level,
            "a level above 0 within the range of the standards",
        );
    }
    let counts = [
        ("the number of samples a calibration", demands.samples_per_calibration, 1, 10_000),
        ("the most strips of standards", demands.most_strips, 3, MOST_STRIPS),
        ("the fewest strips of a sample", demands.least_sample_strips, 1, demands.most_sample_strips),
        ("the most strips of a sample", demands.most_sample_strips, 1, MOST_OF_A_SAMPLE),
        ("the most scans of a strip", demands.most_scans, 1, MOST_OF_A_SAMPLE),
        ("the degrees of freedom between electrodes", demands.least_replicate_df, 0, MOST_STRIPS),
    ];
    for (what, found, least, most) in counts {
        if found < least || found > most {
            return refused(
                what,
                f64::from(found),
                "1 or more (standards 3), and no more than a bench holds",
            );
        }
    }
    let minutes = [demands.minutes_per_strip, demands.minutes_per_scan];
    match minutes.into_iter().find(|value| !(value.is_finite() && *value >= 0.0)) {
        Some(found) => refused("the minutes of a strip or scan", found, "a number of 0 or more"),
        None => Ok(()),
    }
}
