//! The same couples integrated by the method of lines (`peers/twin_oracle.py`), reversible to irreversible.

use std::io::Write as _;
use std::process::Stdio;

use serde_json::{Value, json};
use stillwell_scan::Technique;
use stillwell_twin::{Cell, Recording, Resolution, Trace, simulate};

use crate::scenes::{AREA_M2, D, linear_sweep, one_couple, ramp, square_wave};

/// Furthest from the oracle, relative to the largest current of the case.
const LIMIT: f64 = 0.001;

const ALPHA: f64 = 0.4;

fn cell(rate_constant_m_per_s: f64) -> Cell {
    let mut cell = one_couple(rate_constant_m_per_s);
    cell.couples[0].alpha = ALPHA;
    cell.species[1].diffusion_m2_per_s = 0.6 * D;
    cell
}

fn question(rate_constant_m_per_s: f64, stretches: &[Value]) -> Value {
    json!({
        "k0": rate_constant_m_per_s, "alpha": ALPHA, "d_oxidised": D, "d_reduced": 0.6 * D, "bulk": 1.0,
        "area": AREA_M2, "stretches": stretches,
    })
}

/// One list of currents for each case; `None` after announcing the skip where there is no Python.
fn ask(cases: &[Value]) -> Option<Vec<Vec<f64>>> {
    let mut command = stillwell_house::python()?;
    command.arg(stillwell_house::repository().join("peers/twin_oracle.py"));
    command.env("OMP_NUM_THREADS", "1").env("OPENBLAS_NUM_THREADS", "1");
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    let mut stdin = child.stdin.take().unwrap();
    stdin.write_all(&serde_json::to_vec(cases).unwrap()).unwrap();
    drop(stdin);
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "the oracle failed; its words stand above");
    Some(serde_json::from_slice(&output.stdout).unwrap())
}

/// Holds are `[duration, potential, potential, [its end]]`, in the order of the trace's windows.
fn holds(technique: &Technique, half_s: f64) -> Vec<Value> {
    let waveform = technique.waveform().unwrap();
    let n_halves = 2 * technique.n_points().unwrap();
    let potential_v = |half: usize| waveform.potential_at((half as f64 + 0.5) * half_s).unwrap();
    (0..n_halves).map(|half| json!([half_s, potential_v(half), potential_v(half), [half_s]])).collect()
}

fn compare(name: &str, found: &[f64], expected: &[f64]) {
    assert_eq!(found.len(), expected.len(), "{name}");
    let scale = expected.iter().fold(0.0_f64, |top, current| top.max(current.abs()));
    let errors = found.iter().zip(expected).map(|(found, expected)| (found - expected).abs() / scale);
    let worst = errors.fold(0.0_f64, f64::max);
    println!("{name:44} {:4} currents, worst {:.4} % of the largest", found.len(), 100.0 * worst);
    assert!(worst <= LIMIT, "{name}: {worst}");
}

fn fine(factor: u32) -> Recording {
    Recording { resolution: Resolution::default().finer(factor), ..Recording::default() }
}

/// Reversible, quasi-reversible, irreversible, m/s.
const RATES: [f64; 3] = [1e2, 3e-5, 1e-7];

#[test]
fn sweeps_and_square_waves_are_those_of_the_method_of_lines() {
    let wave = square_wave(0.1, -0.16, 0.05, 0.02, 25.0);
    let sweep = |rate: f64| {
        let end_v = if rate < 1e-6 { -0.6 } else { -0.3 };
        linear_sweep(0.3, end_v, 0.005, 0.1)
    };
    let run = |rate: f64, technique: &Technique, recording: &Recording| -> Trace {
        simulate(&cell(rate), technique, recording).unwrap()
    };
    let mut cases = Vec::new();
    let mut found: Vec<(String, Vec<f64>)> = Vec::new();
    for rate in RATES {
        let trace = run(rate, &sweep(rate), &ramp(3));
        let duration_s = sweep(rate).waveform().unwrap().duration_s();
        let moments = &trace.time_s[1..];
        cases.push(question(rate, &[json!([duration_s, 0.3, sweep(rate).end_v, moments])]));
        found.push((format!("linear sweep, k0 = {rate:e} m/s"), trace.current_a[1..].to_vec()));
        let trace = run(rate, &wave, &fine(4));
        cases.push(question(rate, &holds(&wave, 0.02)));
        let windows = &trace.analog.windows;
        let currents = windows.iter().map(|window| trace.analog.mean_in(window)).collect();
        found.push((format!("square wave, k0 = {rate:e} m/s"), currents));
    }
    let Some(answers) = ask(&cases) else { return };
    assert_eq!(answers.len(), found.len());
    for ((name, found), expected) in found.iter().zip(&answers) {
        compare(name, found, expected);
    }
}
