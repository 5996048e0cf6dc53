//! Prints one JSON line: nanoseconds per linear calibration of 18 electrode means with the Fieller interval of one unknown.
//!
//! ```text
//! bench_calibrate --studies N --repeat R
//! ```
//!
//! Data, the same in every language. u(n) is the 32-bit Weyl-type hash
//! ```text
//! h = (n × 2654435761) mod 2³²; h = h xor (h >> 15); h = (h × 2246822519) mod 2³²; h = h xor (h >> 13)
//! ```
//! as h / 4294967296 − 0.5. Study k (from 0), electrode i (0 … 17), levels L = 0, 10, 25, 50, 75, 100:
//! ```text
//! level(i)   = L[i div 3]
//! signal(i)  = 3 + 2 × level(i) + 4 × u(19 k + i)
//! unknown    = 3 + 2 × (20 + 60 × ((k mod 97) / 97)) + 4 × u(19 k + 18)
//! ```
//! Only + − × ÷ in the order written, so the numbers agree to the bit. One scan an electrode, no weights, 95 %, one electrode
//! for the unknown.
//!
//! `ns_per_study` is the whole of it: `calibrate` (fit, covariance, t quantile, lack of fit, Mandel, homogeneity, back-calculation,
//! findings) and `concentration` (estimate, Fieller interval, parts of the uncertainty). `checksum` is Σ (low + value + high).

use std::hint::black_box;
use std::io::Write as _;
use std::time::Instant;
use stillwell_calibrate::{
    Acceptance, CalibrationSettings, ElectrodeSignals, Model, StandardSignal, Weights, calibrate,
    concentration,
};

type Failure = Box<dyn std::error::Error>;

const LEVELS: [f64; 6] = [0.0, 10.0, 25.0, 50.0, 75.0, 100.0];

struct Study {
    standards: Vec<StandardSignal>,
    unknown: [ElectrodeSignals; 1],
}

fn main() -> Result<(), Failure> {
    let (n_studies, repeat) = (option("--studies", 2000)?, option("--repeat", 5)?);
    let studies: Vec<Study> = (0..n_studies).map(study).collect();
    let settings = CalibrationSettings {
        model: Model::Line,
        weights: Weights::None,
        coverage: 0.95,
        max_excluded_fraction: 0.1,
        acceptance: Acceptance {
            max_back_calculated_percent: Some(15.0),
            lack_of_fit_alpha: Some(0.01),
            linearity_alpha: Some(0.01),
            homogeneity_alpha: Some(0.01),
            ..Acceptance::default()
        },
    };
    let (mut best_ns, mut checksum) = (f64::INFINITY, 0.0);
    for _ in 0..repeat {
        let start = Instant::now();
        checksum = 0.0;
        for study in &studies {
            let calibration = calibrate(black_box(&study.standards), &settings)?;
            let estimate = concentration(&calibration, &study.unknown)?;
            checksum += estimate.low() + estimate.value().unwrap_or(0.0) + estimate.high();
        }
        best_ns = best_ns.min(start.elapsed().as_secs_f64() * 1e9 / f64::from(n_studies));
    }
    writeln!(
        std::io::stdout(),
        r#"{{"bench":"calibrate","studies":{n_studies},"points":18,"repeat":{repeat},"ns_per_study":{best_ns:.1},"checksum":{checksum:?}}}"#
    )?;
    Ok(())
}

fn option(name: &str, usual: u32) -> Result<u32, Failure> {
    let arguments: Vec<String> = std::env::args().collect();
    let found = arguments.iter().position(|a| a == name).and_then(|at| arguments.get(at + 1));
    Ok(found.map_or(Ok(usual), |text| text.parse())?)
}

fn study(k: u32) -> Study {
    let base = u64::from(k) * 19;
    let standards =
        LEVELS.iter().flat_map(|level| [*level; 3]).zip(0_u64..).map(|(level, i)| StandardSignal {
            level,
            signal_a: 3.0 + 2.0 * level + 4.0 * noise(base + i),
            electrode: format!("strip {i}"),
            label: format!("scan {i}"),
            scan_number: None,
            excluded: None,
        });
    let signal = 3.0 + 2.0 * (20.0 + 60.0 * (f64::from(k % 97) / 97.0)) + 4.0 * noise(base + 18);
    Study {
        standards: standards.collect(),
        unknown: [ElectrodeSignals { electrode: "fresh".into(), signals_a: vec![signal] }],
    }
}

fn noise(n: u64) -> f64 {
    let mask = 0xffff_ffff_u64;
    let mut h = ((n & mask) * 2_654_435_761) & mask;
    h ^= h >> 15;
    h = (h * 2_246_822_519) & mask;
    h ^= h >> 13;
    h as f64 / 4_294_967_296.0 - 0.5
}
