//! The cell and the circuit file: any text is a model or a list of problems, each with a place in the file; what is a model can
//! be simulated or is refused in words. Never a panic.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stillwell_foresee::{Bench, CellModel, CircuitModel, Exposure, alder_vale};
use stillwell_method::Problems;
use stillwell_scan::{Technique, TechniqueKind};

fn check_problems(problems: &Problems, text: &str) {
    assert!(!problems.problems.is_empty());
    let n_lines = text.matches('\n').count() + 1;
    for problem in &problems.problems {
        assert!(!problem.found.is_empty() && !problem.cure.is_empty(), "{problem:?}");
        assert!(problem.place.line <= n_lines, "{problem:?}");
    }
}

/// A scan of few points: a fuzzer's second is short.
fn technique() -> Technique {
    let mut technique = Technique::new(TechniqueKind::SquareWave, -0.3, -0.4);
    technique.step_v = Some(0.02);
    technique.amplitude_v = Some(0.025);
    technique.frequency_hz = Some(25.0);
    technique
}

fn simulate(cell: &CellModel, circuit: &CircuitModel) {
    let technique = technique();
    let bench = Bench { cell, circuit, technique: &technique, seed: 1 };
    let exposure = Exposure {
        analyte_mol_per_m3: 0.8,
        temperature_c: None,
        lot: 1,
        electrode: 1,
        scan: 1,
        faults: Vec::new(),
    };
    let read = bench.trace(&exposure).and_then(|trace| bench.read(&trace, &exposure, &circuit.circuit));
    match read {
        Err(error) => assert!(!error.to_string().is_empty()),
        Ok(scan) => {
            for (point, current_a) in scan.current_a.iter().enumerate() {
                assert!(current_a.is_finite() || scan.overload_points.contains(&point), "{current_a}");
            }
        }
    }
}

fuzz_target!(|bytes: &[u8]| {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let example = |text: Result<CircuitModel, Problems>| text.expect("the example");
    match CellModel::parse("cell.toml", text) {
        Err(problems) => check_problems(&problems, text),
        Ok(cell) => {
            let handheld = alder_vale::CIRCUIT_TEXT;
            simulate(&cell, &example(CircuitModel::parse(handheld.name, handheld.text)));
        }
    }
    match CircuitModel::parse("circuit.toml", text) {
        Err(problems) => check_problems(&problems, text),
        Ok(circuit) => {
            let strip = alder_vale::CELL_TEXT;
            simulate(&CellModel::parse(strip.name, strip.text).expect("the example"), &circuit);
        }
    }
});
