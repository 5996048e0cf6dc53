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
//! findings) and `concentration` (estimate, Fieller interval, parts of the uncertainty). `fit_and_inverse_ns` is the bare part of
//! it that a statistics package does in the same words: line, covariance, t quantile, Fieller interval.
//! `checksum` is Σ (low + value + high), the same for both.

use std::hint::black_box;
use std::io::Write as _;
use std::time::Instant;
use stillwell_calibrate::{
    Acceptance, CalibrationSettings, ElectrodeSignals, Model, StandardSignal, Weights, calibrate,
    concentration,
};
use stillwell_evaluate::{Curve, Inverse, inverse};
use stillwell_stats::distributions::student_t_quantile;
use stillwell_stats::polynomial_least_squares;

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
    let (mut bare_ns, mut bare_checksum) = (f64::INFINITY, 0.0);
    let levels: Vec<f64> = LEVELS.iter().flat_map(|level| [*level; 3]).collect();
    let bare: Vec<(Vec<f64>, f64)> =
        studies.iter().map(|s| (s.signals(), s.unknown[0].signals_a[0])).collect();
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
    for _ in 0..repeat {
        let start = Instant::now();
        bare_checksum = 0.0;
        for (signals, unknown) in &bare {
            bare_checksum += fit_and_inverse(black_box(&levels), signals, *unknown)?;
        }
        bare_ns = bare_ns.min(start.elapsed().as_secs_f64() * 1e9 / f64::from(n_studies));
    }
    if (checksum - bare_checksum).abs() > 1e-9 * checksum {
        return Err(format!("checksums differ: {checksum} and {bare_checksum}").into());
    }
    writeln!(
        std::io::stdout(),
        r#"{{"bench":"calibrate","studies":{n_studies},"points":18,"repeat":{repeat},"ns_per_study":{best_ns:.1},"fit_and_inverse_ns":{bare_ns:.1},"checksum":{checksum:?}}}"#
    )?;
    Ok(())
}

impl Study {
    fn signals(&self) -> Vec<f64> {
        self.standards.iter().map(|s| s.signal_a).collect()
    }
}

fn fit_and_inverse(levels: &[f64], signals: &[f64], unknown: f64) -> Result<f64, Failure> {
    let fit = polynomial_least_squares(levels, signals, &[0, 1], None)?;
    let c = &fit.unscaled_covariance;
    let curve = Curve {
        coefficients: [fit.coefficients[0], fit.coefficients[1], 0.0],
        n_coefficients: 2,
        unscaled_covariance: [[c[0][0], c[0][1], 0.0], [c[1][0], c[1][1], 0.0], [0.0; 3]],
        residual_sd: fit.residual_sd,
        degrees_of_freedom: u32::try_from(fit.degrees_of_freedom)?,
        t_quantile: student_t_quantile(0.975, fit.degrees_of_freedom as f64),
        relative_variance: [1.0, 0.0, 0.0],
        level_min: LEVELS[0],
        level_max: LEVELS[5],
    };
    match inverse(&curve, unknown, 1, 0.0) {
        Inverse::Within { value, low, high } | Inverse::Below { value, low, high } => Ok(low + value + high),
        other => Err(format!("{other:?}").into()),
    }
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
