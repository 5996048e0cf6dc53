//! Potential and current at the interface: faradaic current, double layer and uncompensated resistance at once.

use crate::cell::Cell;
use crate::kinetics::{Fluxes, Kinetics, MAX_COUPLES, Rates, Supply};

/// Rounds of the search for the potential behind the resistance. Newton needs three or four; the rest is for bisection.
const MAX_ROUNDS: usize = 200;

/// Where the search may end, V: far below anything that shows.
const TOLERANCE_V: f64 = 1e-12;

/// Longest step of the search, V.
const MAX_STEP_V: f64 = 0.1;

/// Resistance and double layer of a cell.
#[derive(Debug, Clone)]
pub(crate) struct Interface {
    resistance_ohm: f64,
    capacitance_f: f64,
    /// At the potential that was asked for last.
    rates: Rates,
    /// Of the last answer.
    pub(crate) fluxes: Fluxes,
}

/// What the circuit imposes at one stage of a time step.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Drive {
    /// Potential applied between electrode and reference, V.
    pub(crate) applied_v: f64,
    /// Its rate of change, V/s.
    pub(crate) rate_v_per_s: f64,
    /// Potential across the double layer from which this stage starts, V.
    pub(crate) from_v: f64,
    /// Length of the stage, s.
    pub(crate) stage_s: f64,
}

/// What the interface answered.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Answer {
    /// Potential across the double layer, V.
    pub(crate) interface_v: f64,
    /// Current through the electrode, A.
    pub(crate) current_a: f64,
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Unsettled {
    /// The fluxes cannot be told apart in double precision.
    Fluxes,
    /// The search for the potential did not end: the smallest mismatch that it saw.
    Potential { mismatch_v: f64 },
}

impl Interface {
    pub(crate) fn new(cell: &Cell, kinetics: &Kinetics, first_v: f64) -> Self {
        let capacitance_f = cell.double_layer_f_per_m2 * cell.geometry.area_m2();
        Self {
            resistance_ohm: cell.uncompensated_ohm,
            capacitance_f,
            rates: kinetics.rates(first_v),
            fluxes: [0.0; MAX_COUPLES],
        }
    }

    /// Solves `E_applied − E = R (i_faradaic(E) + C dE/dt)` for E; without resistance E is the applied potential.
    #[inline]
    pub(crate) fn settle(
        &mut self,
        kinetics: &Kinetics,
        supply: Supply<'_>,
        drive: Drive,
    ) -> Result<Answer, Unsettled> {
        if self.resistance_ohm > 0.0 {
            return self.search(kinetics, supply, drive);
        }
        let interface_v = drive.applied_v;
        self.move_to(kinetics, interface_v);
        let settled = kinetics.settle(&self.rates, supply, &mut self.fluxes);
        settled.ok_or(Unsettled::Fluxes)?;
        let current_a =
            kinetics.current_a(&self.rates, &self.fluxes) + self.capacitance_f * drive.rate_v_per_s;
        Ok(Answer { interface_v, current_a })
    }

    /// The rates at a potential that stands still without resistance.
    #[inline]
    pub(crate) fn standing(
        &mut self,
        kinetics: &Kinetics,
        applied_v: f64,
        rate_v_per_s: f64,
    ) -> Option<&Rates> {
        if self.resistance_ohm > 0.0 || rate_v_per_s != 0.0 {
            return None;
        }
        self.move_to(kinetics, applied_v);
        Some(&self.rates)
    }

    #[inline]
    fn move_to(&mut self, kinetics: &Kinetics, interface_v: f64) {
        if self.rates.potential_v.to_bits() != interface_v.to_bits() {
            self.rates = kinetics.rates(interface_v);
        }
    }

    /// Newton's method, kept between bounds: the mismatch falls with the potential, so its sign says on which side of
    /// the solution a trial lies.
    #[inline(never)]
    fn search(&mut self, kinetics: &Kinetics, supply: Supply<'_>, drive: Drive) -> Result<Answer, Unsettled> {
        let r = self.resistance_ohm;
        let charging = r * self.capacitance_f / drive.stage_s;
        let (mut low_v, mut high_v) = (f64::NEG_INFINITY, f64::INFINITY);
        let mut interface_v = drive.from_v;
        let mut smallest_v = f64::INFINITY;
        for _ in 0..MAX_ROUNDS {
            self.move_to(kinetics, interface_v);
            kinetics.settle(&self.rates, supply, &mut self.fluxes).ok_or(Unsettled::Fluxes)?;
            let slope_a_per_v = kinetics.slope_a_per_v(&self.rates, supply, &self.fluxes);
            let slope_a_per_v = slope_a_per_v.ok_or(Unsettled::Fluxes)?;
            let faradaic_a = kinetics.current_a(&self.rates, &self.fluxes);
            let mismatch_v =
                drive.applied_v - interface_v - r * faradaic_a - charging * (interface_v - drive.from_v);
            smallest_v = smallest_v.min(mismatch_v.abs());
            let slope = -1.0 - r * slope_a_per_v.max(0.0) - charging;
            if mismatch_v > 0.0 {
                low_v = low_v.max(interface_v);
            } else {
                high_v = high_v.min(interface_v);
            }
            let step_v = (-mismatch_v / slope).clamp(-MAX_STEP_V, MAX_STEP_V);
            if step_v.abs() <= TOLERANCE_V {
                let charging_a = self.capacitance_f * (interface_v - drive.from_v) / drive.stage_s;
                // By Ohm's law or as a sum: whichever an error of the potential changes less.
                let by_ohm = slope < -2.0;
                let current_a =
                    if by_ohm { (drive.applied_v - interface_v) / r } else { faradaic_a + charging_a };
                return Ok(Answer { interface_v, current_a });
            }
            let next_v = interface_v + step_v;
            interface_v =
                if low_v < next_v && next_v < high_v { next_v } else { f64::midpoint(low_v, high_v) };
        }
        Err(Unsettled::Potential { mismatch_v: smallest_v })
    }
}
