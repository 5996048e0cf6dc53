//! Prints one JSON line: nanoseconds per Monte Carlo trial through a whole calibration, on one thread and on several.
//!
//! ```text
//! bench_monte_carlo --trials N --repeat R --threads T
//! ```
//!
//! The model, the same in every language: 18 standards on levels L = 0, 10, 25, 50, 75, 100 mg/L, three each, signals
//! 3 + 2 L with normal scatter 1.2; the stock (all levels) known within ± 0.5 % (triangular), each level's own dilution within
//! ± 0.4 % (rectangular); a sample's signal 93 ± 0.7 (normal); a difference of blanks 0 ± 0.3 (normal); a temperature factor
//! 1 ± 0.01 (rectangular); a dilution 2 ± 0.01 (triangular). Every trial draws all 29 quantities, fits the line and reads the
//! sample off. Then mean, standard deviation, symmetric and shortest 95 % interval.

use std::io::Write as _;
use std::ops::Range;
use std::time::Instant;

use stillwell_assure::{
    Component, Distribution, InputQuantity, LineChain, MeasurementModel, MonteCarlo, MonteCarloPlan, Trials,
};

type Failure = Box<dyn std::error::Error>;

const LEVELS: [f64; 6] = [0.0, 10.0, 25.0, 50.0, 75.0, 100.0];

fn main() -> Result<(), Failure> {
    let n_trials = option("--trials", 1_000_000)?;
    let (repeat, n_threads) = (option("--repeat", 7)?, option("--threads", 2)?);
    let level_of_standard: Vec<usize> = (0..18).map(|standard| standard / 3).collect();
    let chain = LineChain::new(&LEVELS, &[1.0; 6], &level_of_standard)?;
    let model = MeasurementModel::new(inputs()?, &chain)?;
    let plan = MonteCarloPlan { seed: 20_260_101, coverage: 0.95, trials: Trials::Fixed(n_trials) };
    let per_trial = |found: (f64, MonteCarlo)| (found.0 / f64::from(n_trials), found.1);
    let (one_ns, one) = per_trial(best(repeat, || Ok(model.monte_carlo(&plan)?))?);
    let shared = |numbers: Range<u64>, block: &(dyn Fn(u64) -> Vec<f64> + Sync)| {
        share_out(numbers, block, u64::from(n_threads))
    };
    let (many_ns, many) = per_trial(best(repeat, || Ok(model.monte_carlo_by(&plan, &shared)?))?);
    if one != many {
        return Err("the bits depend on the number of threads".into());
    }
    let budget = model.propagate()?;
    let [low, high] = one.intervals.symmetric;
    writeln!(
        std::io::stdout(),
        r#"{{"bench":"monte_carlo","trials":{n_trials},"repeat":{repeat},"ns_per_trial":{one_ns:.2},"threads":{n_threads},"ns_per_trial_threads":{many_ns:.2},"mean":{:?},"u":{:?},"low":{low:?},"high":{high:?},"budget_u":{:?}}}"#,
        one.mean,
        one.standard_uncertainty,
        budget.standard_uncertainty
    )?;
    Ok(())
}

fn inputs() -> Result<Vec<InputQuantity>, Failure> {
    use Component::{BetweenElectrodes, Blank, Calibration, Dilution, StandardsPreparation, Temperature};
    let input = |name: &str, component, distribution| {
        InputQuantity::new(name, component, distribution, "invented for the benchmark")
    };
    let normal = |mean, standard_uncertainty| Distribution::Normal { mean, standard_uncertainty };
    let mut all = Vec::new();
    for standard in 0..18 {
        let signal = 3.0 + 2.0 * LEVELS[standard / 3];
        all.push(input(&format!("standard {standard}"), Calibration, normal(signal, 1.2))?);
    }
    all.push(input("stock", StandardsPreparation, Distribution::triangular_about(1.0, 0.005))?);
    for level in LEVELS {
        let own = Distribution::rectangular_about(1.0, 0.004);
        all.push(input(&format!("level {level}"), StandardsPreparation, own)?);
    }
    all.push(input("sample", BetweenElectrodes, normal(93.0, 0.7))?);
    all.push(input("blank", Blank, normal(0.0, 0.3))?);
    all.push(input("temperature", Temperature, Distribution::rectangular_about(1.0, 0.01))?);
    all.push(input("dilution", Dilution, Distribution::triangular_about(2.0, 0.01))?);
    Ok(all)
}

fn best(repeat: u32, work: impl Fn() -> Result<MonteCarlo, Failure>) -> Result<(f64, MonteCarlo), Failure> {
    let mut best = (f64::INFINITY, work()?);
    for _ in 0..repeat {
        let start = Instant::now();
        let found = work()?;
        best = (best.0.min(start.elapsed().as_secs_f64() * 1e9), found);
    }
    Ok(best)
}

/// Block k goes to thread k mod n; the answers are put back in order.
fn share_out(numbers: Range<u64>, block: &(dyn Fn(u64) -> Vec<f64> + Sync), n_threads: u64) -> Vec<Vec<f64>> {
    let mut answers: Vec<(u64, Vec<f64>)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..n_threads)
            .map(|worker| {
                let own = numbers.clone().filter(move |index| index % n_threads == worker);
                scope.spawn(move || own.map(|index| (index, block(index))).collect::<Vec<_>>())
            })
            .collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap_or_default()).collect()
    });
    answers.sort_unstable_by_key(|(index, _)| *index);
    answers.into_iter().map(|(_, draws)| draws).collect()
}

fn option(name: &str, usual: u32) -> Result<u32, Failure> {
    let arguments: Vec<String> = std::env::args().collect();
    let found = arguments.iter().position(|a| a == name).and_then(|at| arguments.get(at + 1));
    Ok(found.map_or(Ok(usual), |text| text.parse())?)
}
