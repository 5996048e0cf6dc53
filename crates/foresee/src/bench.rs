//! The bench: one strip dipped into one solution and scanned, with its truth known.

use stillwell_quantity::{Concentration, QuantityKind, Unit};
use stillwell_scan::{Scan, Technique, TechniqueKind};
use stillwell_stats::random::RandomStream;
use stillwell_twin::{Cell, Circuit, Fault, Recording, Trace, TwinError, measure, simulate};

use crate::error::ForeseeError;
use crate::model::{CellModel, CircuitModel};

/// 0 °C in K.
const ZERO_CELSIUS_K: f64 = 273.15;

/// Strips of a lot and scans of a strip that have a stream of their own.
const MOST_STRIPS: u64 = 10_000;
const MOST_SCANS: u64 = 1_000;

/// Cell, circuit and technique together, and the seed from which all chance comes.
#[derive(Debug, Clone, Copy)]
pub struct Bench<'a> {
    /// The kind of electrode in its electrolyte.
    pub cell: &'a CellModel,
    /// What reads it.
    pub circuit: &'a CircuitModel,
    /// What is applied.
    pub technique: &'a Technique,
    /// Another seed is another world.
    pub seed: u64,
}

/// One scan of one strip in one solution. Nothing else decides what comes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Exposure {
    /// What the strip sees, mol/m³.
    pub analyte_mol_per_m3: f64,
    /// Temperature, °C; `None`: that of the cell.
    pub temperature_c: Option<f64>,
    /// Number of the lot.
    pub lot: u64,
    /// Number of the strip within its lot.
    pub electrode: u64,
    /// Number of the scan on its strip, from 1.
    pub scan: u32,
    /// What goes wrong.
    pub faults: Vec<Fault>,
}

impl Bench<'_> {
    /// The current of one exposure, before any circuit reads it.
    ///
    /// # Errors
    /// Whatever the twin refuses.
    pub fn trace(&self, exposure: &Exposure) -> Result<Trace, TwinError> {
        let technique = self.circuit.circuit.applied(self.technique)?;
        let recording =
            Recording { sampling_window_s: self.circuit.sampling_window_s, ..Recording::default() };
        let mut trace = simulate(&self.cell_of(exposure)?, &technique, &recording)?;
        for fault in &exposure.faults {
            fault.apply_to_trace(&mut trace);
        }
        Ok(trace)
    }

    fn cell_of(&self, exposure: &Exposure) -> Result<Cell, TwinError> {
        let variation = self.cell.population.draw(
            self.seed,
            exposure.lot,
            exposure.electrode,
            u64::from(exposure.scan),
        )?;
        let mut cell = variation.applied_to(&self.cell.with_analyte(exposure.analyte_mol_per_m3));
        cell.surface.scan_number = exposure.scan;
        if let Some(temperature_c) = exposure.temperature_c {
            cell.temperature_k = temperature_c + ZERO_CELSIUS_K;
        }
        for fault in &exposure.faults {
            fault.apply_to_cell(&mut cell);
        }
        Ok(cell)
    }

    /// What a circuit reports of it. Its noise depends on seed, lot, strip and scan alone: two circuits that differ in one
    /// part see the same noise in the others.
    ///
    /// # Errors
    /// Whatever the twin refuses.
    pub fn read(&self, trace: &Trace, exposure: &Exposure, circuit: &Circuit) -> Result<Scan, TwinError> {
        let mut circuit = circuit.clone();
        for fault in &exposure.faults {
            fault.apply_to_circuit(&mut circuit);
        }
        let mut scan = measure(trace, &circuit, &mut RandomStream::new(self.seed, exposure.stream()))?;
        for fault in &exposure.faults {
            fault.apply_to_scan(&mut scan);
        }
        Ok(scan)
    }

    /// # Errors
    /// A technique without a current.
    pub(crate) fn check(&self) -> Result<(), ForeseeError> {
        if self.technique.kind == TechniqueKind::Potentiometry {
            return Err(ForeseeError::NoCurrent { kind: self.technique.kind.word() });
        }
        Ok(())
    }
}

impl Exposure {
    /// Readable numbers: lot 21, strip 7, scan 2 is 210 007 002.
    fn stream(&self) -> u64 {
        (self.lot.wrapping_mul(MOST_STRIPS).wrapping_add(self.electrode))
            .wrapping_mul(MOST_SCANS)
            .wrapping_add(u64::from(self.scan))
    }
}

/// A level in a method's reporting unit as amount of substance.
///
/// # Units
/// Any unit of the quantity room in; mol/m³ out.
///
/// # Errors
/// A level that is no number, or an analyte without molar mass.
pub(crate) fn amount_mol_per_m3(level: f64, kind: &QuantityKind) -> Result<f64, ForeseeError> {
    Concentration::of_kind(level, kind.clone())
        .and_then(|level| level.to(Unit::MillimolePerLitre, &kind.species))
        .map(|amount| amount.value())
        .map_err(|source| ForeseeError::Level { unit: kind.to_string(), source: Box::new(source) })
}
