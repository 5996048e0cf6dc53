//! What is on the bench: the cell with its population of electrodes, and the circuit that reads it.

use stillwell_twin::{Cell, Circuit, Population};

/// A kind of electrode in its electrolyte.
#[derive(Debug, Clone, PartialEq)]
pub struct CellModel {
    /// The cell without analyte, at the temperature for which it is stated.
    pub cell: Cell,
    /// Index of the analyte in [`Cell::species`].
    pub analyte: usize,
    /// How electrodes of this kind differ.
    pub population: Population,
}

/// The circuit that reads it.
#[derive(Debug, Clone, PartialEq)]
pub struct CircuitModel {
    /// Range, converter, noise.
    pub circuit: Circuit,
    /// Time at the end of each pulse over which one reading's samples are spread, s.
    pub sampling_window_s: f64,
}

impl CellModel {
    /// The cell with this much analyte in the solution.
    ///
    /// # Units
    /// mol/m³, the same number as mmol/L.
    #[must_use]
    pub fn with_analyte(&self, bulk_mol_per_m3: f64) -> Cell {
        let mut cell = self.cell.clone();
        if let Some(species) = cell.species.get_mut(self.analyte) {
            species.bulk_mol_per_m3 = bulk_mol_per_m3;
        }
        cell
    }
}
