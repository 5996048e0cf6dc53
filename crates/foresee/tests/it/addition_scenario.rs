//! The scenario of standard additions: what lies in `examples/alder-vale-addition` is what the twin makes, and the chain
//! tells the truth about it.

use std::sync::OnceLock;

use stillwell_assure::DecisionCode;
use stillwell_calibrate::MatrixEffect;
use stillwell_foresee::alder_vale_addition::{ADDED_WELLS, METHOD_TEXT, README, files};
use stillwell_method::{Effect, Input, NamedText, Outcome, RawFile, addition, determine};

use crate::committed::{
    assert_is_small_and_holds_nothing_else, assert_is_what_the_twin_makes, row_of, truth_in,
};

/// Simulated once for all tests.
fn made() -> &'static [RawFile] {
    static MADE: OnceLock<Vec<RawFile>> = OnceLock::new();
    MADE.get_or_init(|| files(|| {}).unwrap_or_else(|error| panic!("{error}")))
}

fn input() -> Input {
    let (sheet, raw): (Vec<RawFile>, Vec<RawFile>) =
        made().iter().cloned().partition(|file| file.name == "run-sheet.csv");
    let text = String::from_utf8(sheet[0].bytes.clone()).unwrap();
    let sheet = NamedText { name: "run-sheet.csv", text: &text };
    Input::assemble(METHOD_TEXT, sheet, &raw, |_| {}).unwrap()
}

#[test]
fn the_twin_makes_the_committed_files_byte_for_byte() {
    assert_is_what_the_twin_makes("alder-vale-addition", made());
}

#[test]
fn the_folder_is_small_and_holds_nothing_else() {
    assert_is_small_and_holds_nothing_else("alder-vale-addition", made(), 300_000);
}

#[test]
fn the_page_tells_the_same_truth() {
    for well in ADDED_WELLS {
        let row = row_of(README, well.name);
        assert_eq!(truth_in(row), well.truth_mg_per_l, "{row}");
    }
}

/// The method is that of Alder Vale but for its first lines.
#[test]
fn the_method_is_that_of_alder_vale() {
    let lines = |text: &'static str| text.lines().skip(2).collect::<Vec<_>>();
    assert_eq!(lines(METHOD_TEXT.text), lines(stillwell_foresee::alder_vale::METHOD_TEXT.text));
}

#[test]
fn standard_addition_tells_the_truth_where_the_calibration_does_not() {
    let report = addition(&input());
    assert_eq!(report.series.len(), ADDED_WELLS.len());
    for (series, well) in report.series.iter().zip(ADDED_WELLS) {
        let result = series.result.as_ref().unwrap();
        let truth = well.truth_mg_per_l;
        assert!(result.low <= truth && truth <= result.high, "{}: {result:?}", well.name);
        let matters = well.free_share < 1.0;
        let effect = if matters { MatrixEffect::Differs } else { MatrixEffect::WithinBound };
        assert_eq!(series.matrix.unwrap().effect, effect, "{}", well.name);
        assert_eq!(series.withheld().count(), 0, "{:?}", series.findings);
        let code = if matters { DecisionCode::Above } else { DecisionCode::Below };
        assert_eq!(series.decisions[0].code, code, "{}", well.name);
    }
}

#[test]
fn the_calibration_reads_the_covered_strips_low_and_no_verdict_is_drawn_from_it() {
    let report = determine(&input());
    let [covered, clean] = report.determinations.as_slice() else { panic!("two wells") };
    let Outcome::Quantified(estimate) = &covered.outcome else { panic!("a number") };
    // Wrong, and surely so: the whole interval lies below the guideline value, the truth above.
    assert!(estimate.high < 50.0 && ADDED_WELLS[0].truth_mg_per_l > 50.0, "{estimate:?}");
    let withheld: Vec<&str> = covered.withheld().map(|finding| finding.check.id()).collect();
    assert_eq!(withheld, ["matrix-effect"]);
    assert!(
        covered.findings.iter().any(|f| f.effect == Effect::Withheld
            && f.found.contains("external calibration cannot be defended here"))
    );
    assert_eq!(clean.withheld().count(), 0);
}
