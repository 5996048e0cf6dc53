//! The reactions at the surface: fluxes of all couples at one potential, and how they change with it.
//!
//! # Source
//! Butler–Volmer: Bard & Faulkner, Electrochemical Methods, 2nd ed. 2001, 3.3; slow first step: 3.5.

use crate::cell::{Cell, Edge};
use crate::temperature::{FARADAY_C_PER_MOL, arrhenius_factor, thermal_voltage_v};

/// Couples that one cell may have.
pub const MAX_COUPLES: usize = 8;

/// Exponent beyond which an edge is cut off, so that no search for a potential meets an infinity; a scan that needs more is
/// refused by its current density long before.
const MAX_EDGE_EXPONENT: f64 = 60.0;

/// Current density of the edges, A/m², at which a scan is refused: ten times what boils water at an electrode.
pub(crate) const MAX_EDGE_DENSITY_A_PER_M2: f64 = 1e6;

/// Rate laws of a cell at its temperature and in its state.
#[derive(Debug, Clone)]
pub(crate) struct Kinetics {
    laws: Vec<Law>,
    edges: Vec<Edge>,
    n_species: usize,
    active_area_m2: f64,
    /// F/RT, 1/V.
    per_volt: f64,
}

#[derive(Debug, Clone, Copy)]
struct Law {
    oxidised: usize,
    reduced: usize,
    n: f64,
    alpha: f64,
    ln_rate: f64,
    formal_potential_v: f64,
}

/// Surface concentrations as the solution allows them: c = level − Σ response × flux.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Supply<'a> {
    /// By species, mol/m³.
    pub(crate) level: &'a [f64],
    /// By species and couple, s/m.
    pub(crate) response: &'a [f64],
}

/// All that depends on the potential alone: it need not be calculated again while the potential stands still.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rates {
    pub(crate) potential_v: f64,
    pub(crate) of_couple: [Rate; MAX_COUPLES],
    edges_a: f64,
    edges_slope_a_per_v: f64,
}

/// Rate constants of one couple over the largest of 1 m/s and themselves.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Rate {
    pub(crate) red: f64,
    pub(crate) ox: f64,
    pub(crate) one: f64,
}

/// Reduction fluxes of all couples, mol/(m² s), positive for reduction.
pub(crate) type Fluxes = [f64; MAX_COUPLES];

/// A row of the system for the fluxes; column `n` is the right-hand side.
type Row = [f64; MAX_COUPLES + 1];

impl Kinetics {
    pub(crate) fn new(cell: &Cell) -> Self {
        let scan = cell.surface.scan_number;
        let ln_share = libm::log(cell.surface.rate.share(scan));
        let law = |couple: &crate::cell::Couple| Law {
            oxidised: couple.oxidised,
            reduced: couple.reduced,
            n: f64::from(couple.n_electrons),
            alpha: couple.alpha,
            ln_rate: libm::log(couple.rate_constant_m_per_s)
                + libm::log(arrhenius_factor(couple.rate_activation_j_per_mol, cell.temperature_k))
                + ln_share,
            formal_potential_v: couple.formal_potential_v,
        };
        Self {
            laws: cell.couples.iter().map(law).collect(),
            edges: cell.edges.clone(),
            n_species: cell.species.len(),
            active_area_m2: cell.geometry.area_m2() * cell.surface.area.share(scan),
            per_volt: 1.0 / thermal_voltage_v(cell.temperature_k),
        }
    }

    pub(crate) fn n_couples(&self) -> usize {
        self.laws.len()
    }

    /// −1 where a couple's reduction makes the species, +1 where it takes it.
    pub(crate) fn takes(&self, couple: usize, species: usize) -> f64 {
        let law = &self.laws[couple];
        f64::from(u8::from(law.oxidised == species)) - f64::from(u8::from(law.reduced == species))
    }

    /// Both rate constants and 1 are divided by the largest of the three: no rate constant then overflows, and a reversible
    /// couple becomes Nernst's law.
    pub(crate) fn rates(&self, potential_v: f64) -> Rates {
        let mut of_couple = [Rate::default(); MAX_COUPLES];
        for (rate, law) in of_couple.iter_mut().zip(&self.laws) {
            let x = self.per_volt * (potential_v - law.formal_potential_v);
            let (ln_red, ln_ox) = (law.ln_rate - law.alpha * x, law.ln_rate + (law.n - law.alpha) * x);
            let largest = ln_red.max(ln_ox).max(0.0);
            let share = |logarithm: f64| libm::exp(logarithm - largest);
            *rate = Rate { red: share(ln_red), ox: share(ln_ox), one: share(0.0) };
        }
        let (edges_a, edges_slope_a_per_v) = self.edge_current(potential_v);
        Rates { potential_v, of_couple, edges_a, edges_slope_a_per_v }
    }

    /// Fills in the fluxes of the couples; `None` when they cannot be told apart in double precision.
    #[inline]
    pub(crate) fn settle(&self, rates: &Rates, supply: Supply<'_>, fluxes: &mut Fluxes) -> Option<()> {
        if let [law] = self.laws.as_slice() {
            // Most cells: no system of equations, and a division that need not wait for the levels.
            let Rate { red, ox, one } = rates.of_couple[0];
            let free = red * supply.level[law.oxidised] - ox * supply.level[law.reduced];
            let back = red * supply.response[law.oxidised] - ox * supply.response[law.reduced];
            fluxes[0] = free * (1.0 / (one + back));
            return fluxes[0].is_finite().then_some(());
        }
        let mut rows = self.rows(rates, supply);
        for ((law, rate), row) in self.laws.iter().zip(&rates.of_couple).zip(&mut rows) {
            row[self.laws.len()] =
                rate.red * supply.level[law.oxidised] - rate.ox * supply.level[law.reduced];
        }
        *fluxes = solve(&mut rows, self.laws.len())?;
        Some(())
    }

    /// Current of the fluxes and the edges, A.
    #[inline]
    pub(crate) fn current_a(&self, rates: &Rates, fluxes: &Fluxes) -> f64 {
        let scale = FARADAY_C_PER_MOL * self.active_area_m2;
        self.laws.iter().zip(fluxes).fold(rates.edges_a, |sum, (law, flux)| sum - law.n * scale * flux)
    }

    /// Derivative of the current by the potential, A/V; `None` as for the fluxes.
    pub(crate) fn slope_a_per_v(&self, rates: &Rates, supply: Supply<'_>, fluxes: &Fluxes) -> Option<f64> {
        let scale = FARADAY_C_PER_MOL * self.active_area_m2;
        // How the right-hand side changes with the potential, at these fluxes.
        let change = |law: &Law, rate: &Rate| {
            let surface = |species: usize| supply.level[species] - self.taken(species, supply, fluxes);
            let red_change = -law.alpha * self.per_volt * rate.red;
            let ox_change = (law.n - law.alpha) * self.per_volt * rate.ox;
            red_change * surface(law.oxidised) - ox_change * surface(law.reduced)
        };
        if let [law] = self.laws.as_slice() {
            let rate = &rates.of_couple[0];
            let back = rate.red * supply.response[law.oxidised] - rate.ox * supply.response[law.reduced];
            let slope = law.n * scale * change(law, rate) / (rate.one + back);
            return slope.is_finite().then_some(rates.edges_slope_a_per_v - slope);
        }
        let mut rows = self.rows(rates, supply);
        for ((law, rate), row) in self.laws.iter().zip(&rates.of_couple).zip(&mut rows) {
            row[self.laws.len()] = change(law, rate);
        }
        let changes = solve(&mut rows, self.laws.len())?;
        let slopes = self.laws.iter().zip(&changes).map(|(law, change)| law.n * scale * change);
        Some(slopes.fold(rates.edges_slope_a_per_v, |sum, slope| sum - slope))
    }

    fn taken(&self, species: usize, supply: Supply<'_>, fluxes: &Fluxes) -> f64 {
        let n = self.laws.len();
        debug_assert!(species < self.n_species, "checked at the door");
        supply.response[species * n..][..n].iter().zip(fluxes).map(|(response, flux)| response * flux).sum()
    }

    /// `J = k_red c_ox − k_ox c_red` of each couple as a system for the fluxes, without its right-hand side.
    fn rows(&self, rates: &Rates, supply: Supply<'_>) -> [Row; MAX_COUPLES] {
        let n = self.laws.len();
        let mut rows = [[0.0; MAX_COUPLES + 1]; MAX_COUPLES];
        for (k, (law, rate)) in self.laws.iter().zip(&rates.of_couple).enumerate() {
            for (j, entry) in rows[k].iter_mut().take(n).enumerate() {
                *entry = rate.red * supply.response[law.oxidised * n + j]
                    - rate.ox * supply.response[law.reduced * n + j];
            }
            rows[k][k] += rate.one;
        }
        rows
    }

    /// Sum of the sizes of all edges' current densities.
    pub(crate) fn edge_density_a_per_m2(&self, potential_v: f64) -> f64 {
        let size = |edge: &Edge| edge.density_a_per_m2 * libm::exp(edge_exponent(edge, potential_v));
        self.edges.iter().map(size).sum()
    }

    fn edge_current(&self, potential_v: f64) -> (f64, f64) {
        let (mut current_a, mut slope_a_per_v) = (0.0, 0.0);
        for edge in &self.edges {
            let size_a =
                self.active_area_m2 * edge.density_a_per_m2 * libm::exp(edge_exponent(edge, potential_v));
            current_a += edge.direction.sign() * size_a;
            slope_a_per_v += size_a * core::f64::consts::LN_10 / edge.decade_v;
        }
        (current_a, slope_a_per_v)
    }
}

fn edge_exponent(edge: &Edge, potential_v: f64) -> f64 {
    let decades = edge.direction.sign() * (potential_v - edge.potential_v) / edge.decade_v;
    (decades * core::f64::consts::LN_10).min(MAX_EDGE_EXPONENT)
}

/// Gaussian elimination with the largest pivot; column `n` is the right-hand side.
fn solve(rows: &mut [Row; MAX_COUPLES], n: usize) -> Option<Fluxes> {
    for column in 0..n {
        let size = |row: &Row| row[column].abs();
        let pivot = (column..n).max_by(|&a, &b| size(&rows[a]).total_cmp(&size(&rows[b])))?;
        rows.swap(column, pivot);
        let pivot_row = rows[column];
        if !(pivot_row[column].abs() > 0.0 && pivot_row[column].is_finite()) {
            return None;
        }
        for row in rows.iter_mut().take(n).skip(column + 1) {
            let factor = row[column] / pivot_row[column];
            for (entry, above) in row.iter_mut().zip(&pivot_row).take(n + 1).skip(column) {
                *entry -= factor * above;
            }
        }
    }
    let mut solution = [0.0; MAX_COUPLES];
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| rows[k][j] * solution[j]).sum();
        solution[k] = (rows[k][n] - known) / rows[k][k];
    }
    solution.iter().all(|flux| flux.is_finite()).then_some(solution)
}
