//! How electrodes differ: from lot to lot, from electrode to electrode, from scan to scan, each a function of its number.

use core::f64::consts::TAU;

use stillwell_stats::distributions::{normal_cdf, normal_quantile};
use stillwell_stats::random::RandomStream;

use crate::cell::Cell;
use crate::error::TwinError;
use crate::geometry::Geometry;

/// Deviates are cut off beyond so many standard deviations of the normal distribution they come from.
const CUT: f64 = 3.0;

/// Standard deviations of one property at three levels. Contributions of the levels add.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spread {
    /// Between lots.
    pub lot_sd: f64,
    /// Between electrodes of a lot.
    pub electrode_sd: f64,
    /// Between scans of an electrode.
    pub scan_sd: f64,
}

/// How a kind of electrode varies. Area, rate constant, double layer and sensitivity are lognormal about the cell's
/// value, which is their median: their [`Spread`] is that of the natural logarithm, for small ones the relative standard
/// deviation. The reference's potential is normal. Every deviate is cut off at ±3.04 of its standard deviation and
/// scaled so that the stated standard deviation is that of the cut distribution.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Population {
    /// ln of the geometric area.
    pub area: Spread,
    /// ln of the rate constants of all couples, together.
    pub rate_constant: Spread,
    /// ln of the double layer per area.
    pub double_layer: Spread,
    /// ln of the share of the area that reacts (loading with modifier or catalyst): currents of couples and edges
    /// follow it, charging does not.
    pub sensitivity: Spread,
    /// Potential of the reference, V.
    pub reference_v: Spread,
    /// Drift of the reference from each electrode of a lot to the next, V: ageing in the box.
    pub drift_v_per_electrode: f64,
}

/// What sets one scan's electrode apart from the stated cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Variation {
    /// Factor on the area.
    pub area: f64,
    /// Factor on the rate constants.
    pub rate_constant: f64,
    /// Factor on the double layer per area.
    pub double_layer: f64,
    /// Factor on the currents of couples and edges beyond that of the area.
    pub sensitivity: f64,
    /// Added to the reference's offset, V.
    pub reference_v: f64,
}

/// Numbers of the levels, so that lot 1 and electrode 1 of lot 0 draw from different streams.
#[derive(Debug, Clone, Copy)]
enum Level {
    Lot = 1,
    Electrode = 2,
    Scan = 3,
}

impl Population {
    /// The variation of one scan: a pure function of seed and numbers, in whatever order and on whatever thread it is
    /// asked for. Scans of an electrode share its draw, electrodes of a lot that lot's.
    ///
    /// # Units
    /// Any whole numbers; factors, and V for the reference.
    ///
    /// # Errors
    /// A standard deviation is negative, not finite or beyond its range.
    ///
    /// # Source
    /// Nested random effects (Searle et al. 1992, Variance Components); truncated normal: z = Φ⁻¹(Φ(−3) + u(Φ(3) − Φ(−3))).
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_twin::{Population, Spread};
    /// let area = Spread { lot_sd: 0.03, electrode_sd: 0.05, scan_sd: 0.0 };
    /// let population = Population { area, ..Population::default() };
    /// let first = population.draw(7, 2, 5, 0)?;
    /// assert_eq!(first, population.draw(7, 2, 5, 1)?); // nothing varies between scans here
    /// assert_ne!(first, population.draw(7, 2, 6, 0)?);
    /// # Ok::<(), stillwell_twin::TwinError>(())
    /// ```
    pub fn draw(&self, seed: u64, lot: u64, electrode: u64, scan: u64) -> Result<Variation, TwinError> {
        self.check()?;
        let spreads = [self.area, self.rate_constant, self.double_layer, self.sensitivity, self.reference_v];
        let mut of_lot = level_stream(seed, Level::Lot, [lot, 0, 0]);
        let mut of_electrode = level_stream(seed, Level::Electrode, [lot, electrode, 0]);
        let mut of_scan = level_stream(seed, Level::Scan, [lot, electrode, scan]);
        let [area, rate_constant, double_layer, sensitivity, reference_v] = spreads.map(|spread| {
            spread.lot_sd * cut_normal(&mut of_lot)
                + spread.electrode_sd * cut_normal(&mut of_electrode)
                + spread.scan_sd * cut_normal(&mut of_scan)
        });
        Ok(Variation {
            area: libm::exp(area),
            rate_constant: libm::exp(rate_constant),
            double_layer: libm::exp(double_layer),
            sensitivity: libm::exp(sensitivity),
            reference_v: reference_v + self.drift_v_per_electrode * electrode as f64,
        })
    }

    fn check(&self) -> Result<(), TwinError> {
        check_spread("area (of its logarithm)", self.area, 1.0, "0 to 1")?;
        check_spread("rate constant (of its logarithm)", self.rate_constant, 3.0, "0 to 3")?;
        check_spread("double layer (of its logarithm)", self.double_layer, 1.0, "0 to 1")?;
        check_spread("sensitivity (of its logarithm)", self.sensitivity, 1.0, "0 to 1")?;
        check_spread("reference in V", self.reference_v, 0.5, "0 to 0.5")?;
        let drift_v = self.drift_v_per_electrode;
        if (-0.1..=0.1).contains(&drift_v) {
            return Ok(());
        }
        let what = "the reference's drift in V per electrode".to_owned();
        Err(TwinError::OutOfRange { what, found: drift_v, accepted: "-0.1 to 0.1" })
    }
}

fn check_spread(name: &str, spread: Spread, most: f64, accepted: &'static str) -> Result<(), TwinError> {
    let levels = [("lots", spread.lot_sd), ("electrodes", spread.electrode_sd), ("scans", spread.scan_sd)];
    for (level, sd) in levels {
        if !(0.0..=most).contains(&sd) {
            let what = format!("the standard deviation of {name} between {level}");
            return Err(TwinError::OutOfRange { what, found: sd, accepted });
        }
    }
    Ok(())
}

impl Variation {
    /// Nothing varies.
    pub const NONE: Self =
        Self { area: 1.0, rate_constant: 1.0, double_layer: 1.0, sensitivity: 1.0, reference_v: 0.0 };

    /// The cell of this electrode. The sensitivity enters as area, and leaves the double layer by its reciprocal.
    /// (On a small sphere an area also changes the curvature, as a larger drop's does.)
    ///
    /// # Source
    /// Common practice, no source.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_twin::{Cell, Geometry, Variation};
    /// let mut cell = Cell::new(Geometry::Plane { area_m2: 1e-5 });
    /// cell.double_layer_f_per_m2 = 0.2;
    /// let loaded = Variation { sensitivity: 2.0, ..Variation::NONE }.applied_to(&cell);
    /// assert_eq!(loaded.geometry.area_m2(), 2e-5);
    /// assert_eq!(loaded.double_layer_f_per_m2, 0.1);
    /// ```
    #[must_use]
    pub fn applied_to(&self, cell: &Cell) -> Cell {
        let mut varied = cell.clone();
        varied.geometry = with_area(cell.geometry, self.area * self.sensitivity);
        varied.double_layer_f_per_m2 *= self.double_layer / self.sensitivity;
        for couple in &mut varied.couples {
            couple.rate_constant_m_per_s *= self.rate_constant;
        }
        varied.reference.offset_v += self.reference_v;
        varied
    }
}

/// The same shape with its area multiplied.
pub(crate) fn with_area(geometry: Geometry, factor: f64) -> Geometry {
    let root = libm::sqrt(factor);
    match geometry {
        Geometry::Plane { area_m2 } => Geometry::Plane { area_m2: area_m2 * factor },
        Geometry::Disc { radius_m } => Geometry::Disc { radius_m: radius_m * root },
        Geometry::Sphere { radius_m } => Geometry::Sphere { radius_m: radius_m * root },
        Geometry::Hemisphere { radius_m } => Geometry::Hemisphere { radius_m: radius_m * root },
    }
}

/// A normal deviate cut off at ±[`CUT`], scaled to standard deviation 1. One uniform number each: no draw moves another.
fn cut_normal(stream: &mut RandomStream) -> f64 {
    let below = normal_cdf(-CUT);
    let within = 1.0 - 2.0 * below;
    let density = libm::exp(-CUT * CUT / 2.0) / libm::sqrt(TAU);
    let variance = 1.0 - 2.0 * CUT * density / within;
    normal_quantile(below + within * stream.uniform()) / libm::sqrt(variance)
}

/// The stream of one member of a level.
fn level_stream(seed: u64, level: Level, numbers: [u64; 3]) -> RandomStream {
    let [lot, electrode, scan] = numbers;
    let of_lot = mixed(seed, mixed(level as u64, lot));
    RandomStream::new(of_lot, mixed(electrode, scan))
}

/// Two numbers to one whose bits all depend on both, and on their order.
fn mixed(first: u64, second: u64) -> u64 {
    finished(finished(first).wrapping_add(second))
}

/// One number to another, all bits stirred, no two alike.
///
/// # Source
/// Finaliser of `SplitMix64` after one step of its sequence: Steele, Lea & Flood 2014, OOPSLA, 453 (constants from memory).
fn finished(word: u64) -> u64 {
    let word = word.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let word = (word ^ (word >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let word = (word ^ (word >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    word ^ (word >> 31)
}
