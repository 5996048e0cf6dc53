//! Trade studies: every combination once, no circuit's result depends on the others, and the best is a steady one.

use stillwell_foresee::{
    CellModel, CircuitModel, ForeseeError, Outlook, Question, Spread, Varied, alder_vale, compared, grid,
};
use stillwell_method::Method;

fn circuit() -> CircuitModel {
    let text = alder_vale::CIRCUIT_TEXT;
    CircuitModel::parse(text.name, text.text).unwrap_or_else(|problems| panic!("{problems}"))
}

fn varied(texts: &[&str]) -> Vec<Varied> {
    texts.iter().map(|text| Varied::parse(text).unwrap()).collect()
}

#[test]
fn every_combination_stands_once_and_the_last_key_varies_fastest() {
    let choices = grid(&circuit(), &varied(&["range_a=1e-5,1e-4", "adc_bits=10,12,16"])).unwrap();
    let values: Vec<&[f64]> = choices.iter().map(|choice| choice.values.as_slice()).collect();
    let expected: [&[f64]; 6] =
        [&[1e-5, 10.0], &[1e-5, 12.0], &[1e-5, 16.0], &[1e-4, 10.0], &[1e-4, 12.0], &[1e-4, 16.0]];
    assert_eq!(values, expected);
    for choice in &choices {
        assert_eq!(choice.values, [choice.model.circuit.range_a, f64::from(choice.model.circuit.adc_bits)]);
    }
}

#[test]
fn too_many_combinations_and_one_key_twice_are_refused() {
    let bits: Vec<String> = (8..17).map(|bits| bits.to_string()).collect();
    let many = format!("adc_bits={}", bits.join(","));
    let ranges = "range_a=1e-5,2e-5,3e-5,4e-5,5e-5,6e-5,7e-5,8e-5";
    assert_eq!(
        grid(&circuit(), &varied(&[&many, ranges])),
        Err(ForeseeError::GridTooLarge { found: 72, at_most: 64 })
    );
    assert_eq!(
        grid(&circuit(), &varied(&["adc_bits=8", "adc_bits=9"])),
        Err(ForeseeError::VariedTwice { key: "adc_bits" })
    );
}

/// The number of decimals in the text once followed the finest circuit of a study, and 10 bit came out differently.
#[test]
fn what_a_circuit_gives_does_not_depend_on_the_others() {
    let method_text = alder_vale::METHOD_TEXT;
    let method = Method::parse(method_text.name, method_text.text).unwrap();
    let cell = CellModel::parse(alder_vale::CELL_TEXT.name, alder_vale::CELL_TEXT.text).unwrap();
    let question = Question { method: &method, method_text, cell: &cell, trials: 2, seed: 1 };
    let circuits: Vec<CircuitModel> = grid(&circuit(), &varied(&["adc_bits=10,24"]))
        .unwrap()
        .into_iter()
        .map(|choice| choice.model)
        .collect();
    let together = question.outlooks(&circuits, || {}).unwrap();
    for (circuit, found) in circuits.iter().zip(together) {
        assert_eq!(question.outlooks(core::slice::from_ref(circuit), || {}).unwrap(), [found]);
    }
}

fn outlook(calibrated: u32, limit: Option<f64>) -> Outlook {
    Outlook {
        trials: 12,
        calibrated,
        detection_limit: limit.map(|median| Spread { median, low: median, high: median }),
        quantification_limit: None,
        stated_detection_limit: limit,
        noise_a: None,
        scans: (0, 0),
        scan_obstacle: None,
        obstacle: None,
        levels: Vec::new(),
    }
}

#[test]
fn a_circuit_that_loses_trials_is_not_the_best_by_its_luckier_ones() {
    let outlooks = [outlook(1, Some(0.5)), outlook(12, Some(1.0)), outlook(0, None), outlook(12, Some(3.0))];
    let found = compared(&outlooks);
    assert_eq!((found.best, found.worst, found.is_alike), (Some(1), Some(3), false));
    assert_eq!(found.times_best, [Some(0.5), Some(1.0), None, Some(3.0)]);
    assert!(compared(&outlooks[1..3]).is_alike);
}
