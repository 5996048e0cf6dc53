//! The record of a result: what the package's C writes is what we read, and nothing else is read.

mod device;
mod lines;
mod published;
mod refusals;

use stillwell_quantity::{Concentration, QuantityKind, Species, Unit};
use stillwell_transfer::wire::{WireNumbers, WireOutcome, WireRecord, WireVerdict};

fn kind() -> QuantityKind {
    QuantityKind { unit: Unit::MilligramPerLitre, species: Species::nitrate() }
}

fn of(value: f64) -> Concentration {
    Concentration::of_kind(value, kind()).expect("it goes well")
}

/// A quantified sample of an invented well.
fn quantified() -> WireRecord {
    WireRecord {
        name: "urn:dev:mac:0024befffe804ff1".to_owned(),
        counter: 1000,
        time_s: Some(1_790_000_000),
        method: [0xa5; 32],
        lot: "L21".to_owned(),
        lot_checksum: 0x0102_0304,
        calibration: [0x3c; 32],
        kind: kind(),
        outcome: WireOutcome::Quantified(Box::new(WireNumbers {
            value: of(1.1),
            low: of(-0.0),
            high: of(1.0e300),
            level: of(f64::from_bits(1)),
            level_standard_u: of(1.0 / 3.0),
        })),
        verdicts: vec![WireVerdict::Below, WireVerdict::TooCloseToCall],
        withheld: 0,
        warnings: 3,
        n_electrodes: 3,
        n_scans: 6,
        n_offered: 7,
        trust_failed: 0x1000,
        trust_untested: 0x200,
        reasons: 1,
    }
}

fn outcomes() -> Vec<WireOutcome> {
    vec![
        quantified().outcome,
        WireOutcome::BelowQuantification(of(4.5)),
        WireOutcome::NotDetected(of(1.5)),
        WireOutcome::AboveRange(of(120.0)),
        WireOutcome::Refused { because: 3, fault: 0 },
    ]
}

/// The record with another outcome, and the verdicts that may stand beside it.
fn with(outcome: WireOutcome) -> WireRecord {
    let verdicts = match outcome {
        WireOutcome::Refused { .. } => vec![WireVerdict::NotDecidable; 2],
        _ => quantified().verdicts,
    };
    WireRecord { outcome, verdicts, ..quantified() }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect::<Vec<_>>().concat()
}
