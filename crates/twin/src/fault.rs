//! Scans spoilt on purpose, by a known fault of a known size, in the words of the trade.

use stillwell_scan::Scan;

use crate::cell::{Cell, Medium};
use crate::instrument::{Circuit, Mains, Overload, read_windows};
use crate::lots::{Variation, with_area};
use crate::trace::{AnalogTrace, Trace};

/// The slowest rate constant that a cell may have after a fault, m/s: no current that an instrument could see.
const DEAD_RATE_M_PER_S: f64 = 1e-30;

/// What went wrong. Each fault acts where it would in life: on the cell, on the current between cell and instrument, on
/// the circuit, or on the finished scan. All `apply_to_…` may be called on every scan; those of other places change
/// nothing. A fault beyond what [`crate::simulate()`] or [`crate::measure()`] accepts is refused there.
///
/// Under each fault stands what the current alone can show. [`Fault::needs_identity`] names those that it cannot show
/// reliably: only labels, an electrode control, a thermometer or a second measurement does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// The range is too small, and the instrument reports its ends as if they were currents.
    ///
    /// Current shows it: the top of the peak is flat at one number, or at two where the difference is reported of a
    /// clipped half. A forward half clipped while the reverse is not gives a lower, still smooth peak: look at both.
    Clipped {
        /// The range used, A.
        range_a: f64,
    },
    /// Another kind of electrode in the holder (bare, other metal, other size).
    ///
    /// Current shows it only where shape or charging differs much; a similar electrode looks like another concentration.
    /// Needs identity: the strip's label, or an electrode control.
    WrongElectrode {
        /// Factor on the area.
        area_factor: f64,
        /// Factor on all rate constants.
        rate_factor: f64,
        /// Factor on the double layer per area.
        double_layer_factor: f64,
    },
    /// A bubble on the electrode, or a drop that covers part of it.
    ///
    /// Current cannot tell it from a lower concentration by the peak: everything shrinks by one factor, charging as well.
    /// Needs identity: the electrode's own charging or an electrode control on the same strip.
    PartialCoverage {
        /// Share of the area that is wetted, above 0 to 1.
        wetted_share: f64,
    },
    /// Two electrodes' leads exchanged in a multichannel recording: each scan stands under the other's name. Applied by
    /// [`Fault::apply_to_pair`].
    ///
    /// Current cannot show it: both scans are sound. Needs identity.
    SwappedChannels,
    /// Forward and reverse current exchanged.
    ///
    /// Current shows it: the peak points the wrong way.
    SwappedReadings,
    /// Pickup from the mains.
    ///
    /// Current shows it as a ripple, unless the pulse frequency locks it to an offset (a whole ratio of the two).
    MainsPickup {
        /// Peak current, A.
        amplitude_a: f64,
        /// Frequency, Hz.
        frequency_hz: f64,
    },
    /// A strip that dried out: a little of it is wetted, through a high resistance.
    ///
    /// Current shows it in part: small, late, smeared; mild cases look like a lower concentration. Needs identity: an
    /// electrode control, or the date of opening.
    DriedStrip {
        /// Share of the area that is still wetted, above 0 to 1.
        wetted_share: f64,
        /// Uncompensated resistance, Ω.
        uncompensated_ohm: f64,
    },
    /// A strip on which nothing reacts any more (modifier lost, poisoned): only charging and the edge remain.
    ///
    /// Current cannot tell it from a sample without analyte. Needs identity: a living control.
    DeadStrip,
    /// The blank was recorded on an electrode of another lot: apply it to the cell of the blank.
    ///
    /// Current shows it only where the baselines do not match. Needs identity: lot numbers of both.
    BlankOfAnotherLot {
        /// What sets the other lot apart.
        variation: Variation,
    },
    /// The blank was recorded in another electrolyte: apply it to the cell of the blank.
    ///
    /// Current shows it only where the baselines do not match. Needs identity: the name of the electrolyte.
    BlankOfAnotherElectrolyte {
        /// Factor on the double layer.
        double_layer_factor: f64,
        /// Factor on the uncompensated resistance.
        resistance_factor: f64,
        /// Shift of the edges, V.
        edge_shift_v: f64,
    },
    /// A sample warmer (positive) or colder than the method's temperature.
    ///
    /// Current cannot show some kelvin: about 1 to 2 % a kelvin in height, little in place. Needs identity: a thermometer.
    WrongTemperature {
        /// Difference, K.
        difference_k: f64,
    },
    /// Other chloride than the method's, on a pseudo-reference that follows it: 59 mV a decade.
    ///
    /// Current shows it: the peak has moved. (A reference without [`crate::Reference::chloride_ratio`] follows as well:
    /// that it should not have is the fault.)
    ChlorideShift {
        /// Chloride in the sample over that of the method.
        ratio: f64,
    },
    /// The electrode was still dry when the scan began: it wets while recorded, and its double layer charges meanwhile.
    ///
    /// Current shows a quick wetting at the beginning of the scan; one as slow as the scan leaves a smooth, lower peak. Needs
    /// identity: an electrode control, or a wait before the scan.
    DryStart {
        /// Share of the area dry at the start, 0 to 1.
        dry_share: f64,
        /// Time in which that falls to 1/e, s, positive.
        wetting_s: f64,
        /// Current that charges the newly wetted area, at the start, A, signed.
        charging_a: f64,
    },
}

impl Fault {
    /// Name of the class, for tables.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Clipped { .. } => "clipped",
            Self::WrongElectrode { .. } => "wrong electrode",
            Self::PartialCoverage { .. } => "partial coverage",
            Self::SwappedChannels => "swapped channels",
            Self::SwappedReadings => "swapped forward and reverse",
            Self::MainsPickup { .. } => "mains pickup",
            Self::DriedStrip { .. } => "dried strip",
            Self::DeadStrip => "dead strip",
            Self::BlankOfAnotherLot { .. } => "blank of another lot",
            Self::BlankOfAnotherElectrolyte { .. } => "blank of another electrolyte",
            Self::WrongTemperature { .. } => "wrong temperature",
            Self::ChlorideShift { .. } => "chloride shift",
            Self::DryStart { .. } => "dry start",
        }
    }

    /// Whether current alone cannot show the fault reliably: it takes labels, a control, a thermometer.
    pub fn needs_identity(&self) -> bool {
        match self {
            Self::WrongElectrode { .. }
            | Self::PartialCoverage { .. }
            | Self::SwappedChannels
            | Self::DriedStrip { .. }
            | Self::DeadStrip
            | Self::BlankOfAnotherLot { .. }
            | Self::BlankOfAnotherElectrolyte { .. }
            | Self::WrongTemperature { .. }
            | Self::DryStart { .. } => true,
            Self::Clipped { .. }
            | Self::SwappedReadings
            | Self::MainsPickup { .. }
            | Self::ChlorideShift { .. } => false,
        }
    }

    /// Whether the fault is one of the blank, and is to be applied to the blank's cell only.
    pub fn is_of_blank(&self) -> bool {
        matches!(self, Self::BlankOfAnotherLot { .. } | Self::BlankOfAnotherElectrolyte { .. })
    }

    /// Spoils the cell, before it is simulated.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_twin::{Cell, Fault, Geometry};
    /// let mut cell = Cell::new(Geometry::Plane { area_m2: 8e-6 });
    /// Fault::PartialCoverage { wetted_share: 0.5 }.apply_to_cell(&mut cell);
    /// assert_eq!(cell.geometry.area_m2(), 4e-6);
    /// ```
    pub fn apply_to_cell(&self, cell: &mut Cell) {
        match *self {
            Self::WrongElectrode { area_factor, rate_factor, double_layer_factor } => {
                cell.geometry = with_area(cell.geometry, area_factor);
                scale_rates(cell, rate_factor);
                cell.double_layer_f_per_m2 *= double_layer_factor;
            }
            Self::PartialCoverage { wetted_share } => cell.geometry = with_area(cell.geometry, wetted_share),
            Self::DriedStrip { wetted_share, uncompensated_ohm } => {
                cell.geometry = with_area(cell.geometry, wetted_share);
                cell.uncompensated_ohm = uncompensated_ohm;
            }
            Self::DeadStrip => kill(cell),
            Self::BlankOfAnotherLot { variation } => *cell = variation.applied_to(cell),
            Self::BlankOfAnotherElectrolyte { double_layer_factor, resistance_factor, edge_shift_v } => {
                cell.double_layer_f_per_m2 *= double_layer_factor;
                cell.uncompensated_ohm *= resistance_factor;
                for edge in &mut cell.edges {
                    edge.potential_v += edge_shift_v;
                }
            }
            Self::WrongTemperature { difference_k } => cell.temperature_k += difference_k,
            Self::ChlorideShift { ratio } => {
                cell.reference.chloride_ratio = Some(cell.reference.chloride_ratio.unwrap_or(1.0) * ratio);
            }
            Self::Clipped { .. }
            | Self::SwappedChannels
            | Self::SwappedReadings
            | Self::MainsPickup { .. }
            | Self::DryStart { .. } => {}
        }
    }

    /// Spoils the simulated current, before it is measured: the analog trace, and the ideal readings with it.
    ///
    /// # Source
    /// Dry start: i (1 − dry e^(−t/w)) + charging e^(−t/w); common practice, no source.
    pub fn apply_to_trace(&self, trace: &mut Trace) {
        let Self::DryStart { dry_share, wetting_s, charging_a } = *self else { return };
        for (current_a, time_s) in trace.analog.current_a.iter_mut().zip(&trace.analog.time_s) {
            let still_dry = libm::exp(-time_s / wetting_s);
            *current_a = *current_a * (1.0 - dry_share * still_dry) + charging_a * still_dry;
        }
        let read = read_windows(trace, AnalogTrace::mean_in);
        trace.current_a = read.current_a;
        trace.forward_a = read.forward_a;
        trace.reverse_a = read.reverse_a;
    }

    /// Spoils the circuit, before it measures.
    pub fn apply_to_circuit(&self, circuit: &mut Circuit) {
        match *self {
            Self::Clipped { range_a } => {
                circuit.range_a = range_a;
                circuit.overload = Overload::Silent;
            }
            Self::MainsPickup { amplitude_a, frequency_hz } => {
                circuit.mains = Some(Mains { amplitude_a, frequency_hz, phase_rad: None });
            }
            _ => {}
        }
    }

    /// Spoils the finished scan.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_scan::{Scan, Technique, TechniqueKind};
    /// use stillwell_twin::{AnalogTrace, Fault, Reading, Trace, Window};
    /// let technique = Technique::new(TechniqueKind::SquareWave, 0.1, -0.5);
    /// let window = |reading, at| Window { point: 0, reading, first: at, last: at };
    /// let analog = AnalogTrace {
    ///     time_s: vec![0.0, 0.005, 0.01],
    ///     current_a: vec![0.0, -3e-6, 1e-6],
    ///     potential_v: vec![0.1, 0.075, 0.125],
    ///     windows: vec![window(Reading::Forward, 1), window(Reading::Reverse, 2)],
    /// };
    /// let mut scan = Trace::assemble(&technique, vec![0.1], analog, AnalogTrace::mean_in).to_scan("strip 1");
    /// Fault::SwappedReadings.apply_to_scan(&mut scan);
    /// assert_eq!(scan.current_a, [4e-6]);
    /// ```
    pub fn apply_to_scan(&self, scan: &mut Scan) {
        if *self == Self::SwappedReadings && scan.forward_a.is_some() {
            core::mem::swap(&mut scan.forward_a, &mut scan.reverse_a);
            for current_a in &mut scan.current_a {
                *current_a = -*current_a;
            }
        }
    }

    /// Spoils two scans recorded together: each keeps its name and gets the other's numbers.
    pub fn apply_to_pair(&self, first: &mut Scan, second: &mut Scan) {
        if *self == Self::SwappedChannels {
            core::mem::swap(first, second);
            core::mem::swap(&mut first.name, &mut second.name);
            core::mem::swap(&mut first.ordinal, &mut second.ordinal);
        }
    }
}

fn scale_rates(cell: &mut Cell, factor: f64) {
    for couple in &mut cell.couples {
        couple.rate_constant_m_per_s *= factor;
    }
}

/// No couple reacts at a visible rate, and no film is left to strip.
fn kill(cell: &mut Cell) {
    for couple in &mut cell.couples {
        couple.rate_constant_m_per_s = DEAD_RATE_M_PER_S;
    }
    for species in &mut cell.species {
        if matches!(species.medium, Medium::Film { .. }) {
            species.bulk_mol_per_m3 = 0.0;
        }
    }
}
