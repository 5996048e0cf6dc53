//! What a circuit would give: known parts limit as they must, and neither threads nor company change a number.

use stillwell_foresee::alder_vale::{CELL_TEXT, CIRCUIT_TEXT, METHOD_TEXT};
use stillwell_foresee::{CellModel, CircuitModel, ForeseeError, Limiting, Outlook, Question, tried_levels};
use stillwell_method::Method;
use stillwell_twin::{Part, Population};

fn method() -> Method {
    Method::parse(METHOD_TEXT.name, METHOD_TEXT.text).unwrap()
}

fn cell() -> CellModel {
    CellModel::parse(CELL_TEXT.name, CELL_TEXT.text).unwrap()
}

fn circuit(adc_bits: u32, range_a: f64) -> CircuitModel {
    let mut model = CircuitModel::parse(CIRCUIT_TEXT.name, CIRCUIT_TEXT.text).unwrap();
    model.circuit.adc_bits = adc_bits;
    model.circuit.range_a = range_a;
    model
}

fn question<'a>(method: &'a Method, cell: &'a CellModel, trials: u32) -> Question<'a> {
    Question { method, method_text: METHOD_TEXT, cell, trials, seed: 5 }
}

fn limit(outlook: &Outlook) -> f64 {
    outlook.stated_detection_limit.unwrap()
}

/// Strips so alike, and a line so straight, that the circuit is all there is to see.
fn alike_strips() -> CellModel {
    let mut cell = cell();
    cell.population = Population::default();
    cell.cell.uncompensated_ohm = 0.0;
    cell
}

#[test]
fn the_noisiest_part_limits_and_is_named() {
    let (method, cell) = (method(), alike_strips());
    let question = question(&method, &cell, 4);
    let mut noisy = circuit(16, 100e-6);
    noisy.circuit.flicker_a_per_root_hz *= 2.0;
    let circuits = [circuit(16, 100e-6), noisy];
    let found = question.outlooks(&circuits, || {}).unwrap();
    println!(
        "{:.3} with the handheld's 1/f noise, {:.3} with twice as much",
        limit(&found[0]),
        limit(&found[1])
    );
    let ratio = limit(&found[1]) / limit(&found[0]);
    assert!((1.6..2.4).contains(&ratio), "{ratio}");
    let shares = question.shares(&circuits[1], &found[1], || {}).unwrap();
    assert_eq!(shares[0].part, Limiting::Circuit(Part::Flicker));
    assert!(shares[0].limits && shares[1..].iter().all(|share| !share.limits), "{shares:#?}");
}

#[test]
fn strips_that_differ_limit_a_good_circuit() {
    let (method, cell) = (method(), cell());
    let question = question(&method, &cell, 4);
    let circuit = circuit(16, 100e-6);
    let found = question.outlooks(core::slice::from_ref(&circuit), || {}).unwrap();
    let shares = question.shares(&circuit, &found[0], || {}).unwrap();
    assert_eq!(shares[0].part, Limiting::Strips);
    assert!(shares[0].limits);
}

#[test]
fn a_circuit_is_foreseen_alike_alone_and_in_company_and_on_one_thread() {
    let (method, cell) = (method(), cell());
    let question = question(&method, &cell, 2);
    let circuits = [circuit(12, 100e-6), circuit(16, 100e-6)];
    let together = question.outlooks(&circuits, || {}).unwrap();
    let alone = question.outlooks(&circuits[1..], || {}).unwrap();
    assert_eq!(together[1], alone[0]);
    let one_thread = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let single = one_thread.install(|| question.outlooks(&circuits, || {})).unwrap();
    assert_eq!(together, single);
}

#[test]
fn numbers_have_no_bias_and_the_spread_that_the_population_has() {
    let method = method();
    let cell = cell();
    let question = question(&method, &cell, 12);
    let outlook = &question.outlooks(&[circuit(16, 100e-6)], || {}).unwrap()[0];
    let middle = outlook.levels.iter().find(|level| level.truth == 50.0).unwrap();
    // Three strips of 2.5 % (and 0.5 % area, 0.8 % a scan) and the calibration's share: about 2 %.
    let relative = middle.standard_deviation.unwrap() / middle.truth;
    println!(
        "bias {:.3}, relative sd {relative:.4}, U {:.3}",
        middle.bias.unwrap(),
        middle.expanded_u.unwrap()
    );
    assert!((0.008..0.035).contains(&relative));
    assert!(middle.bias.unwrap().abs() < 3.0 * middle.standard_deviation.unwrap() / 12.0_f64.sqrt());
    assert!(middle.held >= 10);
}

#[test]
fn impossible_questions_are_answered_in_words() {
    let (method, cell) = (method(), cell());
    let none = question(&method, &cell, 0).outlooks(&[circuit(16, 1e-4)], || {}).unwrap_err();
    assert_eq!(none.to_string(), "the number of trials is 0; accepted: 1 or more");
    let mut impossible = circuit(16, 1e-4);
    impossible.circuit.corner_hz = -1.0;
    let refused = question(&method, &cell, 1).outlooks(&[impossible], || {}).unwrap_err();
    assert!(matches!(refused, ForeseeError::Twin { .. }), "{refused}");
    // 10 mg/L as N is 44.27 mg/L as NO3-: the lowest limit within the standards.
    let tried: Vec<f64> = tried_levels(&method).iter().map(|level| (level * 100.0).round() / 100.0).collect();
    assert_eq!(tried, [10.0, 44.27, 50.0]);
}
