//! What is asked of the standards, and whether the bench and the demands are numbers that mean something.

use super::error::PreparationError;
use super::glassware::Bench;

/// What is asked of the standards.
#[derive(Debug, Clone, PartialEq)]
pub struct PreparationDemands {
    /// Levels of the analyte, mg/L; level 0 is the electrolyte alone and needs no preparation here.
    pub levels_mg_per_l: Vec<f64>,
    /// Largest relative standard uncertainty of a level, such as 0.01.
    pub largest_relative_u: f64,
    /// How far, relatively, the level prepared may lie from the one wanted.
    pub level_tolerance: f64,
    /// Volume needed of each level.
    pub volume_ml: f64,
    /// Half width of the temperature about that of the flasks' calibration.
    pub temperature_half_width_k: f64,
    /// Most deliveries of one pipette into one flask.
    pub most_aliquots: u32,
}

/// More of a kind than any bench holds; the search tries them all.
const MOST_OF_A_KIND: usize = 12;
const MOST_LEVELS: usize = 12;
const LARGEST_VOLUME_ML: f64 = 1e5;

pub(super) fn check_bench(bench: &Bench) -> Result<(), PreparationError> {
    let refused = |what, found, accepted| Err(PreparationError::NotUsable { what, found, accepted });
    let is_positive = |value: f64| value.is_finite() && value > 0.0;
    let is_spread = |value: f64| value.is_finite() && value >= 0.0;
    if bench.flasks.is_empty() {
        return Err(PreparationError::NothingAtHand { what: "flask" });
    }
    let most = bench.flasks.len().max(bench.pipettes.len()).max(bench.piston_pipettes.len());
    if most > MOST_OF_A_KIND {
        return refused("the number of flasks or pipettes of a kind", most as f64, "at most 12");
    }
    let glass = bench.flasks.iter().map(|f| (f.volume_ml, f.tolerance_ml, f.filling_sd_ml));
    for (volume, tolerance, sd) in
        glass.chain(bench.pipettes.iter().map(|p| (p.volume_ml, p.tolerance_ml, p.delivery_sd_ml)))
    {
        if !(is_positive(volume) && volume <= LARGEST_VOLUME_ML) {
            return refused("a volume in mL", volume, "a number above 0, at most 100000");
        }
        if !(is_spread(tolerance) && is_spread(sd)) {
            return refused("a tolerance or spread in mL", tolerance, "a number of 0 or more");
        }
    }
    for piston in &bench.piston_pipettes {
        if !(is_positive(piston.from_ml) && is_positive(piston.step_ml) && piston.to_ml > piston.from_ml) {
            return refused(
                "the range of an adjustable pipette",
                piston.from_ml,
                "from above 0, to above from, a step above 0",
            );
        }
        if !(is_spread(piston.systematic_ml) && is_spread(piston.random_ml)) {
            return refused(
                "an error of an adjustable pipette in mL",
                piston.systematic_ml,
                "a number of 0 or more",
            );
        }
    }
    let b = &bench.balance;
    let of_balance = [b.readability_mg, b.linearity_mg, b.repeatability_mg, b.smallest_mass_mg];
    match of_balance.into_iter().find(|value| !is_spread(*value)) {
        Some(found) => refused("a number of the balance in mg", found, "a number of 0 or more"),
        None => Ok(()),
    }
}

pub(super) fn check_demands(bench: &Bench, demands: &PreparationDemands) -> Result<(), PreparationError> {
    let refused = |what, found, accepted| Err(PreparationError::NotUsable { what, found, accepted });
    if bench.pipettes.is_empty() && bench.piston_pipettes.is_empty() {
        return Err(PreparationError::NothingAtHand { what: "pipette" });
    }
    if let Some(&found) = demands.levels_mg_per_l.iter().find(|level| !(level.is_finite() && **level >= 0.0))
    {
        return refused("a level in mg/L", found, "a number of 0 or more");
    }
    let n_levels = demands.levels_mg_per_l.iter().filter(|level| **level > 0.0).count();
    if n_levels == 0 {
        return Err(PreparationError::NothingAtHand { what: "level above zero" });
    }
    if n_levels > MOST_LEVELS {
        return refused("the number of levels", n_levels as f64, "at most 12");
    }
    if !(demands.largest_relative_u > 0.0 && demands.largest_relative_u < 1.0) {
        return refused(
            "the largest relative uncertainty",
            demands.largest_relative_u,
            "a fraction such as 0.01",
        );
    }
    if !(demands.level_tolerance >= 0.0 && demands.level_tolerance < 0.5) {
        return refused("the tolerance of the levels", demands.level_tolerance, "a fraction such as 0.002");
    }
    if !(demands.volume_ml.is_finite() && demands.volume_ml > 0.0) {
        return refused("the volume needed in mL", demands.volume_ml, "a number above 0");
    }
    if !(demands.temperature_half_width_k.is_finite() && demands.temperature_half_width_k >= 0.0) {
        return refused("the half width of temperature in K", demands.temperature_half_width_k, "0 or more");
    }
    if !(1..=5).contains(&demands.most_aliquots) {
        return refused("the number of deliveries", f64::from(demands.most_aliquots), "1 to 5");
    }
    Ok(())
}
