//! Each fault does what its name says to the scan, at its place and nowhere else.

use stillwell_scan::Scan;
use stillwell_stats::random::RandomStream;
use stillwell_twin::{
    Cell, Circuit, Edge, EdgeDirection, Fault, Recording, Reference, Trace, Variation, measure, simulate,
};

use crate::scenes::{one_couple, square_wave};

fn cell() -> Cell {
    let mut cell = one_couple(1e-4);
    cell.double_layer_f_per_m2 = 0.2;
    cell.uncompensated_ohm = 5.0;
    cell.reference = Reference { chloride_ratio: Some(1.0), ..Reference::default() };
    let direction = EdgeDirection::Reduction;
    cell.edges.push(Edge { direction, potential_v: -0.8, density_a_per_m2: 1.0, decade_v: 0.12 });
    cell
}

fn circuit() -> Circuit {
    Circuit::new(5e-4, 16)
}

/// The whole way, with a fault at all its places.
fn recorded(fault: Option<Fault>) -> (Trace, Scan) {
    let (mut cell, mut circuit) = (cell(), circuit());
    if let Some(fault) = fault {
        fault.apply_to_cell(&mut cell);
        fault.apply_to_circuit(&mut circuit);
    }
    let technique = square_wave(0.3, -0.4, 0.025, 0.005, 25.0);
    let mut trace = simulate(&cell, &technique, &Recording::default()).unwrap();
    if let Some(fault) = fault {
        fault.apply_to_trace(&mut trace);
    }
    let mut scan = measure(&trace, &circuit, &mut RandomStream::new(5, 0)).unwrap();
    if let Some(fault) = fault {
        fault.apply_to_scan(&mut scan);
    }
    (trace, scan)
}

/// Height and place of the lowest current.
fn peak(scan: &Scan) -> (f64, f64) {
    let points = scan.current_a.iter().zip(&scan.potential_v);
    points.fold(
        (0.0, f64::NAN),
        |lowest, (current, potential)| {
            if *current < lowest.0 { (*current, *potential) } else { lowest }
        },
    )
}

fn all_faults() -> Vec<Fault> {
    let variation = Variation { area: 1.1, ..Variation::NONE };
    vec![
        Fault::Clipped { range_a: 1e-4 },
        Fault::WrongElectrode { area_factor: 0.8, rate_factor: 0.01, double_layer_factor: 0.3 },
        Fault::PartialCoverage { wetted_share: 0.6 },
        Fault::SwappedChannels,
        Fault::SwappedReadings,
        Fault::MainsPickup { amplitude_a: 2e-5, frequency_hz: 50.0 },
        Fault::DriedStrip { wetted_share: 0.2, uncompensated_ohm: 5e3 },
        Fault::DeadStrip,
        Fault::BlankOfAnotherLot { variation },
        Fault::BlankOfAnotherElectrolyte {
            double_layer_factor: 1.5,
            resistance_factor: 4.0,
            edge_shift_v: 0.2,
        },
        Fault::WrongTemperature { difference_k: -12.0 },
        Fault::ChlorideShift { ratio: 10.0 },
        Fault::DryStart { dry_share: 0.7, wetting_s: 0.5, charging_a: 2e-5 },
    ]
}

#[test]
fn every_fault_acts_at_one_place_and_has_its_own_name() {
    let (trace, sound) = recorded(None);
    let mut names: Vec<&str> = all_faults().iter().map(Fault::name).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), all_faults().len());
    for fault in all_faults() {
        let (mut spoilt_cell, mut spoilt_circuit) = (cell(), circuit());
        let (mut spoilt_trace, mut spoilt_scan) = (trace.clone(), sound.clone());
        let (mut first, mut second) = (sound.clone(), sound.clone());
        second.current_a[0] = 1.0;
        fault.apply_to_cell(&mut spoilt_cell);
        fault.apply_to_circuit(&mut spoilt_circuit);
        fault.apply_to_trace(&mut spoilt_trace);
        fault.apply_to_scan(&mut spoilt_scan);
        fault.apply_to_pair(&mut first, &mut second);
        let changed = [
            spoilt_cell != cell(),
            spoilt_circuit != circuit(),
            spoilt_trace != trace,
            spoilt_scan != sound,
            first != sound,
        ];
        assert_eq!(changed.iter().filter(|changed| **changed).count(), 1, "{}: {changed:?}", fault.name());
    }
}

#[test]
fn the_scan_shows_each_fault_as_its_name_says() {
    let (_, sound) = recorded(None);
    let (height_a, place_v) = peak(&sound);
    let share = |fault| peak(&recorded(Some(fault)).1).0 / height_a;
    // The area is the only scale of a plane without resistance; 5 ohm bend that by a few per cent here.
    let covered = share(Fault::PartialCoverage { wetted_share: 0.6 });
    assert!((covered - 0.6).abs() < 0.02, "{covered}");
    assert!(share(Fault::DeadStrip) < 0.1);
    assert!(share(Fault::DriedStrip { wetted_share: 0.2, uncompensated_ohm: 5e3 }) < 0.2);
    assert!(
        share(Fault::WrongElectrode { area_factor: 1.0, rate_factor: 0.01, double_layer_factor: 1.0 }) < 0.8
    );
    let swapped = recorded(Some(Fault::SwappedReadings)).1;
    assert!(
        swapped
            .current_a
            .iter()
            .zip(&sound.current_a)
            .all(|(swapped, sound)| swapped.to_bits() == (-sound).to_bits())
    );
    let shifted_v = peak(&recorded(Some(Fault::ChlorideShift { ratio: 10.0 })).1).1 - place_v;
    // A chloride ratio of ten: −59 mV on the reference, so that the peak appears 59 mV higher; points are 5 mV apart.
    assert!((shifted_v - 0.059).abs() < 0.0051, "{shifted_v}");
}

#[test]
fn a_clipped_scan_is_silent_at_the_end_codes() {
    let clipped = recorded(Some(Fault::Clipped { range_a: 1e-4 })).1;
    assert!(clipped.overload_points.is_empty());
    let lowest =
        clipped.forward_a.unwrap().iter().filter(|value| value.to_bits() == (-1e-4_f64).to_bits()).count();
    assert!(lowest > 5, "{lowest}");
}

#[test]
fn a_dry_start_shrinks_the_beginning_and_spares_the_end() {
    let (trace, sound) = recorded(None);
    let fault = Fault::DryStart { dry_share: 0.7, wetting_s: 0.5, charging_a: 2e-5 };
    let (spoilt_trace, spoilt) = recorded(Some(fault));
    let last = sound.current_a.len() - 1;
    assert!((spoilt.current_a[last] - sound.current_a[last]).abs() < 1e-7);
    let forward = |scan: &Scan, point: usize| scan.forward_a.as_ref().unwrap()[point];
    assert!((forward(&spoilt, 0) - (0.3 * forward(&sound, 0) + 2e-5)).abs() < 2e-6);
    // The ideal readings follow the analog current.
    let at = trace.analog.windows[0].last;
    assert_eq!(spoilt_trace.forward_a.unwrap()[0].to_bits(), spoilt_trace.analog.current_a[at].to_bits());
}

#[test]
fn swapped_channels_exchange_numbers_under_the_names() {
    let (_, mut first) = recorded(None);
    let (_, mut second) = recorded(Some(Fault::DeadStrip));
    first.name = "well 3".to_owned();
    second.name = "well 4".to_owned();
    let dead = second.current_a.clone();
    Fault::SwappedChannels.apply_to_pair(&mut first, &mut second);
    assert_eq!((first.name.as_str(), second.name.as_str()), ("well 3", "well 4"));
    assert_eq!(first.current_a, dead);
}
