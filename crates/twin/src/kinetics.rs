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

/// Reduction fluxes of all couples and the current that they and the edges make.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Fluxes {
    /// mol/(m² s), positive for reduction.
    pub(crate) of_couple: [f64; MAX_COUPLES],
    /// A.
    pub(crate) current_a: f64,
    /// Its derivative by the potential, A/V.
    pub(crate) slope_a_per_v: f64,
}

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

    /// The fluxes at a potential; `None` when they cannot be told apart in double precision.
    pub(crate) fn fluxes(&self, potential_v: f64, supply: Supply<'_>) -> Option<Fluxes> {
        let n = self.laws.len();
        let mut rows = [[0.0; MAX_COUPLES + 1]; MAX_COUPLES];
        let mut rate_change = [[0.0; 2]; MAX_COUPLES];
        for (k, law) in self.laws.iter().enumerate() {
            rate_change[k] = self.row(law, k, potential_v, supply, &mut rows[k]);
        }
        let mut change_rows = rows;
        let of_couple = solve(&mut rows, n)?;
        for (k, law) in self.laws.iter().enumerate() {
            let surface = |species: usize| {
                let taken = self.taken(species, supply, &of_couple);
                supply.level[species] - taken
            };
            change_rows[k][n] =
                rate_change[k][0] * surface(law.oxidised) - rate_change[k][1] * surface(law.reduced);
        }
        let change = solve(&mut change_rows, n)?;
        let scale = FARADAY_C_PER_MOL * self.active_area_m2;
        let (edge_a, edge_slope) = self.edge_current(potential_v);
        let (mut current_a, mut slope_a_per_v) = (edge_a, edge_slope);
        for (k, law) in self.laws.iter().enumerate() {
            current_a -= law.n * scale * of_couple[k];
            slope_a_per_v -= law.n * scale * change[k];
        }
        Some(Fluxes { of_couple, current_a, slope_a_per_v })
    }

    fn taken(&self, species: usize, supply: Supply<'_>, fluxes: &[f64; MAX_COUPLES]) -> f64 {
        let n = self.laws.len();
        debug_assert!(species < self.n_species, "checked at the door");
        supply.response[species * n..][..n].iter().zip(fluxes).map(|(response, flux)| response * flux).sum()
    }

    /// `J = k_red c_ox − k_ox c_red` as a row of the system for the fluxes, divided by the largest of 1 and the two rate
    /// constants: no rate constant then overflows, and a reversible couple becomes Nernst's law.
    /// Returns the derivatives of both rate constants by potential, divided likewise.
    fn row(
        &self,
        law: &Law,
        k: usize,
        potential_v: f64,
        supply: Supply<'_>,
        row: &mut [f64; MAX_COUPLES + 1],
    ) -> [f64; 2] {
        let n = self.laws.len();
        let x = self.per_volt * (potential_v - law.formal_potential_v);
        let (ln_red, ln_ox) = (law.ln_rate - law.alpha * x, law.ln_rate + (law.n - law.alpha) * x);
        let largest = ln_red.max(ln_ox).max(0.0);
        let (red, ox) = (libm::exp(ln_red - largest), libm::exp(ln_ox - largest));
        for (j, entry) in row.iter_mut().take(n).enumerate() {
            *entry = red * supply.response[law.oxidised * n + j] - ox * supply.response[law.reduced * n + j];
        }
        row[k] += if largest > 0.0 { libm::exp(-largest) } else { 1.0 };
        row[n] = red * supply.level[law.oxidised] - ox * supply.level[law.reduced];
        [-law.alpha * self.per_volt * red, (law.n - law.alpha) * self.per_volt * ox]
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
fn solve(rows: &mut [[f64; MAX_COUPLES + 1]; MAX_COUPLES], n: usize) -> Option<[f64; MAX_COUPLES]> {
    if n == 1 {
        // Most cells; three quarters of the time saved.
        let flux = rows[0][1] / rows[0][0];
        return flux.is_finite().then(|| core::array::from_fn(|k| if k == 0 { flux } else { 0.0 }));
    }
    for column in 0..n {
        let size = |row: &[f64; MAX_COUPLES + 1]| row[column].abs();
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
