//! Prints one JSON line: seconds for a square-wave scan of one couple, its error against the exact solution, and whether many
//! scans over all cores give the same bytes as one after the other.
//!
//! ```text
//! bench_twin --steps 600 --finer 1 --repeat 5 --scans 1000
//! ```
//!
//! The scan: reversible couple, k⁰ = 1 m/s, D = 1e-9 m²/s, 1 mol/m³, 1 cm²; staircase of 1 mV from half the steps above the formal
//! potential downwards, square wave of 25 mV and 25 Hz. Exact for a reversible couple (Bard & Faulkner, 2nd ed. 2001, 7.3.5):
//! Ψₘ = Σᵢ (Qᵢ₋₁ − Qᵢ)/√(m − i + 1), Q = 1/(1 + e^(−fE)), at the end of half cycle m. `error` is the worst distance of a
//! difference current from it, over the peak.

use std::io::Write as _;
use std::str::FromStr;
use std::time::Instant;

use stillwell_scan::{Technique, TechniqueKind};
use stillwell_twin::{
    Cell, Couple, FARADAY_C_PER_MOL, Geometry, Recording, Resolution, Species, Trace, TwinError, simulate,
    thermal_voltage_v,
};

type Failure = Box<dyn std::error::Error + Send + Sync>;

const D: f64 = 1e-9;
const AREA_M2: f64 = 1e-4;
const HALF_S: f64 = 0.02;

fn main() -> Result<(), Failure> {
    let (n_steps, repeat, n_scans) = (option("--steps", 600)?, option("--repeat", 5)?, option("--scans", 0)?);
    let technique = technique(n_steps);
    let resolution = resolution()?;
    let recording = Recording { resolution, ..Recording::default() };
    let run = |index: usize| simulate(&cell(index), &technique, &recording);
    let mut trace = run(0)?;
    let mut seconds = f64::INFINITY;
    for _ in 0..repeat {
        let start = Instant::now();
        trace = run(0)?;
        seconds = seconds.min(start.elapsed().as_secs_f64());
    }
    let error = error(&trace, &technique);
    let n_time_steps = trace.analog.time_s.len() - 1;
    let (alone_s, together_s, n_threads, is_same) = on_all_cores(n_scans, &run)?;
    writeln!(
        std::io::stdout(),
        "{{\"seconds_per_scan\": {seconds:e}, \"error\": {error:e}, \"time_steps\": {n_time_steps}, \"scans\": {n_scans}, \
         \"threads\": {n_threads}, \"alone_s\": {alone_s:e}, \"together_s\": {together_s:e}, \"same_bytes\": {is_same}}}"
    )?;
    Ok(())
}

/// The default, finer by `--finer`; then what is given.
fn resolution() -> Result<Resolution, Failure> {
    let given = Resolution::default().finer(option("--finer", 1)?);
    Ok(Resolution {
        nodes_per_layer: option("--nodes", given.nodes_per_layer)?,
        growth: option("--growth", given.growth)?,
        steps_per_pulse: option("--time-steps", given.steps_per_pulse)?,
    })
}

fn option<T: FromStr<Err: Into<Failure>>>(name: &str, default: T) -> Result<T, Failure> {
    let arguments: Vec<String> = std::env::args().collect();
    match arguments.iter().position(|a| a == name) {
        Some(at) => arguments.get(at + 1).ok_or("a value is missing")?.parse().map_err(Into::into),
        None => Ok(default),
    }
}

/// Cells differ in their concentration, so that no scan is the copy of another.
fn cell(index: usize) -> Cell {
    let mut cell = Cell::new(Geometry::Plane { area_m2: AREA_M2 });
    let oxidised = cell.add(Species::dissolved("oxidised", 1.0 + index as f64 / 1000.0, D));
    let reduced = cell.add(Species::dissolved("reduced", 0.0, D));
    cell.couples.push(Couple::new(oxidised, reduced, 0.0, 1.0));
    cell
}

fn technique(n_steps: usize) -> Technique {
    let start_v = 0.0005 * n_steps as f64;
    let mut technique =
        Technique::new(TechniqueKind::SquareWave, start_v, start_v - 0.001 * (n_steps as f64 - 1.0));
    technique.step_v = Some(0.001);
    technique.amplitude_v = Some(0.025);
    technique.frequency_hz = Some(0.5 / HALF_S);
    technique
}

fn error(trace: &Trace, technique: &Technique) -> f64 {
    let share = |potential_v: f64| 1.0 / (1.0 + libm::exp(-potential_v / thermal_voltage_v(298.15)));
    let mut before = 1.0;
    let mut drops = Vec::new();
    for &stair_v in &trace.potential_v {
        for side in [-1.0, 1.0] {
            let now = share(stair_v + side * technique.amplitude_v.unwrap_or(0.0));
            drops.push(before - now);
            before = now;
        }
    }
    let psi = |m: usize| -> f64 { (0..=m).map(|i| drops[i] / libm::sqrt((m - i + 1) as f64)).sum() };
    let scale = FARADAY_C_PER_MOL * AREA_M2 * libm::sqrt(D / (core::f64::consts::PI * HALF_S));
    let exact: Vec<f64> =
        (0..trace.potential_v.len()).map(|point| -scale * (psi(2 * point) - psi(2 * point + 1))).collect();
    let peak = exact.iter().fold(0.0_f64, |top, current| top.max(current.abs()));
    exact.iter().zip(&trace.current_a).fold(0.0_f64, |worst, (a, b)| worst.max((a - b).abs())) / peak
}

/// Seconds one after the other and over all cores, the number of threads, and whether all bytes are the same.
fn on_all_cores(
    n_scans: usize,
    run: &(impl Fn(usize) -> Result<Trace, TwinError> + Sync),
) -> Result<(f64, f64, usize, bool), Failure> {
    let bits = |index: usize| -> Result<Vec<u64>, TwinError> {
        Ok(run(index)?.current_a.iter().map(|current| current.to_bits()).collect())
    };
    let start = Instant::now();
    let alone: Vec<Vec<u64>> = (0..n_scans).map(bits).collect::<Result<_, _>>()?;
    let alone_s = start.elapsed().as_secs_f64();
    let n_threads = std::thread::available_parallelism()?.get();
    let start = Instant::now();
    let shares: Vec<Result<Vec<Vec<u64>>, TwinError>> = std::thread::scope(|scope| {
        let share = |thread: usize| (thread..n_scans).step_by(n_threads).map(bits).collect();
        let handles: Vec<_> = (0..n_threads).map(|thread| scope.spawn(move || share(thread))).collect();
        handles.into_iter().filter_map(|handle| handle.join().ok()).collect()
    });
    let together_s = start.elapsed().as_secs_f64();
    let shares: Vec<Vec<Vec<u64>>> = shares.into_iter().collect::<Result<_, _>>()?;
    let is_same = shares.len() == n_threads
        && (0..n_scans).all(|index| shares[index % n_threads].get(index / n_threads) == Some(&alone[index]));
    Ok((alone_s, together_s, n_threads, is_same))
}
