//! The round trip and the table of faults, in the sizes that a test may take. The README's tables are made by
//! `cargo run --release -p stillwell-foresee --example score -- 5000 200`.

use stillwell_foresee::alder_vale::{CELL_TEXT, CIRCUIT_TEXT, METHOD_TEXT};
use stillwell_foresee::score::{
    Coverage, CoverageRow, FaultRow, LotState, Scope, Stratum, Subject, coverage_table, fault_table,
    round_trip,
};
use stillwell_foresee::{CellModel, CircuitModel};
use stillwell_method::Method;

const SEED: u64 = 31;
const STUDIES: u32 = 300;

/// Near the detection limit, a quarter of the range, at the limit of 50 mg/L, above it, beyond the range.
const TRUTHS: [f64; 5] = [1.5, 25.0, 50.0, 65.0, 150.0];

struct Bench {
    method: Method,
    cell: CellModel,
    circuit: CircuitModel,
}

impl Bench {
    fn of_alder_vale() -> Self {
        Self {
            method: Method::parse(METHOD_TEXT.name, METHOD_TEXT.text).unwrap(),
            cell: CellModel::parse(CELL_TEXT.name, CELL_TEXT.text).unwrap(),
            circuit: CircuitModel::parse(CIRCUIT_TEXT.name, CIRCUIT_TEXT.text).unwrap(),
        }
    }

    fn subject(&self) -> Subject<'_> {
        Subject {
            method: &self.method,
            method_text: METHOD_TEXT,
            cell: &self.cell,
            circuit: &self.circuit,
            seed: SEED,
        }
    }
}

/// The fewest of `n` that a share allows, by three standard deviations of the binomial distribution: 0.13 % by chance.
fn fewest(n: usize, share: f64) -> f64 {
    let n = n as f64;
    n * share - 3.0 * (n * share * (1.0 - share)).sqrt()
}

#[test]
fn intervals_of_sound_scans_hold_the_truth_and_nothing_is_falsely_below() {
    let bench = Bench::of_alder_vale();
    let found = round_trip(&bench.subject(), STUDIES, &TRUTHS, || {}).unwrap();
    let sound: Vec<&Stratum> =
        found.strata.iter().filter(|stratum| stratum.state != LotState::AgedSinceCalibration).collect();
    let sum = |of: fn(&Stratum) -> usize| sound.iter().map(|stratum| of(stratum)).sum::<usize>();
    let (numbers, held) = (sum(|s| s.numbers), sum(|s| s.numbers_held));
    let (bounds, bounds_held) = (sum(|s| s.bounds), sum(|s| s.bounds_held));
    let falsely_below: usize = found.strata.iter().map(|stratum| stratum.falsely_below).sum();
    println!("{STUDIES} studies: numbers {held} of {numbers}, bounds {bounds_held} of {bounds}");
    println!("falsely below {falsely_below} of {} above a limit", found.above_a_limit);
    println!("good scans refused {} of {}", found.good_scans.1, found.good_scans.0);
    assert!(numbers > 600 && bounds > 150);
    assert!(held as f64 >= fewest(numbers, 0.95), "{held} of {numbers}");
    assert!(bounds_held as f64 >= fewest(bounds, 0.95), "{bounds_held} of {bounds}");
    assert_eq!(falsely_below, 0);
    assert!(found.good_scans.1 as f64 <= 0.02 * found.good_scans.0 as f64, "{:?}", found.good_scans);
    // Sound samples that come to nothing: their calibration fails its own 1 % tests, or their strips disagree.
    let (samples, lost) = (sum(|s| s.samples), sum(|s| s.refused + s.withheld));
    println!("sound samples without a verdict {lost} of {samples}");
    assert!((lost as f64) < 0.08 * samples as f64, "{lost} of {samples}");
}

#[test]
fn what_current_can_show_is_seen_and_what_it_cannot_is_named() {
    let bench = Bench::of_alder_vale();
    let rows = fault_table(&bench.subject(), 10, 50.0, || {}).unwrap();
    for row in &rows {
        println!(
            "{:32} {:12} identity {:5} refused {:2} flagged {:2} right {:2} wrong {:2} falsely below {}",
            row.name,
            row.scope.name(),
            row.needs_identity,
            row.refused,
            row.flagged,
            row.right,
            row.wrong,
            row.falsely_below
        );
        assert_eq!(row.samples, row.refused + row.flagged + row.right + row.wrong);
    }
    let of =
        |name: &str, scope: Scope| rows.iter().find(|row| row.name == name && row.scope == scope).unwrap();
    let is_seen = |row: &FaultRow| row.refused + row.flagged + row.right >= row.samples - 1;
    for name in ["clipped", "swapped forward and reverse", "mains pickup", "chloride shift"] {
        for scope in [Scope::OneStrip, Scope::EveryStrip] {
            assert!(is_seen(of(name, scope)), "{name}");
            assert_eq!(of(name, scope).falsely_below, 0, "{name}");
        }
    }
    for row in rows.iter().filter(|row| row.falsely_below > 0) {
        assert!(row.needs_identity, "{} deceives although current can show it", row.name);
    }
    // A strip of three that reads nothing like the others never passes for a sample.
    assert_eq!(of("dead strip", Scope::OneStrip).wrong, 0);
    assert_eq!(of("swapped channels", Scope::OneStrip).wrong, 0);
}

/// The README of the check, `crates/method/coverage.md`, has the same for 300 laboratories.
#[test]
fn half_covered_and_dry_strips_do_not_pass_and_sound_ones_do() {
    let mut bench = Bench::of_alder_vale();
    let text = METHOD_TEXT.text.replace("[trust]", "[trust]\ncoverage = [0.75, 1.35]");
    bench.method = Method::parse(METHOD_TEXT.name, &text).unwrap();
    let method_text = stillwell_method::NamedText { name: METHOD_TEXT.name, text: &text };
    let subject = Subject { method_text, ..bench.subject() };
    let of = |rows: &[CoverageRow], state: Coverage| *rows.iter().find(|row| row.state == state).unwrap();
    let difference = coverage_table(&subject, 30, 100.0, false).unwrap();
    let both = coverage_table(&subject, 30, 100.0, true).unwrap();
    for rows in [&difference, &both] {
        println!("{rows:?}");
        assert_eq!(of(rows, Coverage::Whole).refused, 0);
        assert!(of(rows, Coverage::Whole).untold <= 1);
        assert_eq!(of(rows, Coverage::Half).passed, 0);
        assert_eq!(of(rows, Coverage::Dry).passed, 0);
    }
    // What the difference current cannot show stands in forward and reverse.
    assert!(of(&difference, Coverage::SlowWetting).passed > 20);
    assert!(of(&both, Coverage::SlowWetting).passed <= 1);
}
