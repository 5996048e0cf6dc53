//! The cell: what is in it, what reacts at the electrode, and how the electrode is connected.

use crate::error::TwinError;
use crate::geometry::Geometry;
use crate::reference::Reference;
use crate::surface::Surface;
use crate::temperature::REFERENCE_TEMPERATURE_K;
use crate::validity::check_cell;

/// An electrode in its cell. Fields are plain data; [`crate::simulate()`] refuses what cannot be.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// Shape and size of the electrode.
    pub geometry: Geometry,
    /// Everything that diffuses.
    pub species: Vec<Species>,
    /// Electron transfers at the surface, up to [`crate::MAX_COUPLES`].
    pub couples: Vec<Couple>,
    /// First-order chemistry in the solution or the film; no species may come back to itself.
    pub reactions: Vec<Reaction>,
    /// Exponential currents of the solvent and the electrode itself.
    pub edges: Vec<Edge>,
    /// Double layer, F/m² of geometric area.
    pub double_layer_f_per_m2: f64,
    /// Uncompensated resistance, Ω. With 0 the double layer follows at once: a step's charging current is not shown.
    pub uncompensated_ohm: f64,
    /// Temperature, K.
    pub temperature_k: f64,
    /// State of the reference electrode.
    pub reference: Reference,
    /// State of the surface.
    pub surface: Surface,
    /// Thickness of the diffusion layer while the solution is stirred (during the deposition), m.
    pub stirred_layer_m: Option<f64>,
}

/// Where a species lives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Medium {
    /// The solution, without end on the scale of a scan.
    Solution,
    /// A film on the electrode (a deposited metal, mercury, an adsorbed layer), closed at its far side.
    Film {
        /// Thickness, m.
        thickness_m: f64,
    },
}

/// A dissolved substance.
#[derive(Debug, Clone, PartialEq)]
pub struct Species {
    /// For messages.
    pub name: String,
    /// Solution or film.
    pub medium: Medium,
    /// Concentration before anything reacts, mol/m³ (the same number as mmol/L).
    pub bulk_mol_per_m3: f64,
    /// Diffusion coefficient at 25 °C, m²/s.
    pub diffusion_m2_per_s: f64,
    /// Its activation energy, J/mol.
    pub diffusion_activation_j_per_mol: f64,
}

/// An electron transfer: oxidised + n e⁻ ⇌ reduced, by Butler and Volmer; the first electron is the slow step when n > 1:
/// `k_red = k⁰ e^(−αf(E−E⁰′))`, `k_ox = k⁰ e^((n−α)f(E−E⁰′))`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Couple {
    /// Index in [`Cell::species`] of what is reduced.
    pub oxidised: usize,
    /// Index of its product.
    pub reduced: usize,
    /// Electrons.
    pub n_electrons: u32,
    /// Formal potential E⁰′, V.
    pub formal_potential_v: f64,
    /// Standard rate constant k⁰ at 25 °C, m/s.
    pub rate_constant_m_per_s: f64,
    /// Its activation energy, J/mol.
    pub rate_activation_j_per_mol: f64,
    /// Transfer coefficient of the slow electron, between 0 and 1.
    pub alpha: f64,
}

/// A first-order reaction: follow-up (`to` another substance or nothing) or catalytic (`to` the oxidised form).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reaction {
    /// Index in [`Cell::species`] of what disappears.
    pub from: usize,
    /// Index of what appears; `None`: nothing that reacts further.
    pub to: Option<usize>,
    /// Rate constant at 25 °C, 1/s.
    pub rate_per_s: f64,
    /// Its activation energy, J/mol.
    pub activation_j_per_mol: f64,
}

/// Which way the current of an edge goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EdgeDirection {
    /// Reduction, negative current, at low potentials.
    Reduction,
    /// Oxidation, positive current, at high potentials.
    Oxidation,
}

impl EdgeDirection {
    /// Sign of the current.
    pub(crate) fn sign(self) -> f64 {
        match self {
            Self::Reduction => -1.0,
            Self::Oxidation => 1.0,
        }
    }
}

/// The solvent's own edge: a current that grows tenfold with each [`Edge::decade_v`] and depletes nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Which way.
    pub direction: EdgeDirection,
    /// Potential at which the current density is [`Edge::density_a_per_m2`], V.
    pub potential_v: f64,
    /// Current density there, A/m², positive.
    pub density_a_per_m2: f64,
    /// Potential for a factor of ten, V, positive.
    pub decade_v: f64,
}

impl Cell {
    /// A cell at 25 °C with nothing in it: no double layer, no resistance, a true reference.
    pub fn new(geometry: Geometry) -> Self {
        Self {
            geometry,
            species: Vec::new(),
            couples: Vec::new(),
            reactions: Vec::new(),
            edges: Vec::new(),
            double_layer_f_per_m2: 0.0,
            uncompensated_ohm: 0.0,
            temperature_k: REFERENCE_TEMPERATURE_K,
            reference: Reference::default(),
            surface: Surface::default(),
            stirred_layer_m: None,
        }
    }

    /// Refuses impossible cells, as [`crate::simulate()`] would.
    ///
    /// # Errors
    /// The first number out of its range, or what does not fit together.
    pub fn check(&self) -> Result<(), TwinError> {
        check_cell(self).map(|_| ())
    }

    /// Adds a species and returns its index.
    pub fn add(&mut self, species: Species) -> usize {
        self.species.push(species);
        self.species.len() - 1
    }
}

impl Species {
    /// A dissolved species whose diffusion does not change with temperature.
    pub fn dissolved(name: &str, bulk_mol_per_m3: f64, diffusion_m2_per_s: f64) -> Self {
        Self {
            name: name.to_owned(),
            medium: Medium::Solution,
            bulk_mol_per_m3,
            diffusion_m2_per_s,
            diffusion_activation_j_per_mol: 0.0,
        }
    }
}

impl Couple {
    /// A one-electron couple with α = 0.5 whose rate does not change with temperature.
    pub fn new(oxidised: usize, reduced: usize, formal_potential_v: f64, rate_constant_m_per_s: f64) -> Self {
        Self {
            oxidised,
            reduced,
            n_electrons: 1,
            formal_potential_v,
            rate_constant_m_per_s,
            rate_activation_j_per_mol: 0.0,
            alpha: 0.5,
        }
    }
}
