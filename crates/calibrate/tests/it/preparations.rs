//! Standards preparation: the published stock, schemes from a usual bench, their covariance against random draws, refusals.

use crate::checks::{compare, load, tables, text};
use proptest::prelude::*;
use stillwell_calibrate::{
    Balance, Bench, BenchSheet, Flask, Pipette, PistonPipette, PreparationDemands, PreparationError, Salt,
    Step, StockSource, Tool, UncertaintySource, prepare_standards, weighed_stock,
};
use stillwell_stats::random::RandomStream;

fn bench() -> Bench {
    Bench {
        flasks: [50.0, 100.0, 200.0, 250.0, 500.0, 1000.0].map(|v| Flask::class_a(v).unwrap()).to_vec(),
        pipettes: [1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0].map(|v| Pipette::class_a(v).unwrap()).to_vec(),
        piston_pipettes: Vec::new(),
        balance: Balance {
            readability_mg: 0.1,
            linearity_mg: 0.2,
            repeatability_mg: 0.1,
            smallest_mass_mg: 100.0,
        },
    }
}

/// Potassium nitrate, levels as nitrate.
fn nitrate() -> StockSource {
    StockSource::Salt(Salt {
        analyte_share: 62.004 / 101.102,
        analyte_share_relative_u: 1e-5,
        purity: 0.9990,
        purity_half_width: 0.0010,
        stock_range_mg_per_l: [100.0, 10000.0],
    })
}

fn demands(levels: &[f64]) -> PreparationDemands {
    PreparationDemands {
        levels_mg_per_l: levels.to_vec(),
        largest_relative_u: 0.01,
        level_tolerance: 0.002,
        volume_ml: 50.0,
        temperature_half_width_k: 4.0,
        most_aliquots: 3,
    }
}

fn print(sheet: &BenchSheet, bench: &Bench) {
    for (place, s) in sheet.solutions.iter().enumerate() {
        let flask = s.flask.map_or(f64::NAN, |f| bench.flasks[f].volume_ml);
        let how = match s.step {
            Step::Weigh { mass_mg } => format!("weigh {mass_mg:.1} mg"),
            Step::Bought => "bought".to_owned(),
            Step::Dilute { from, draw } => format!("{} x {} mL of {from}", draw.aliquots, draw.volume_ml),
        };
        println!(
            "{place}: {how:20} into {flask:>6} mL: {:9.4} mg/L, u {:.3} %",
            s.concentration_mg_per_l,
            100.0 * s.relative_u
        );
    }
}

#[test]
fn published_stock_reaches_its_digits() {
    let document = load("quam.toml");
    let case =
        tables(&document, "case").iter().find(|case| text(case, "name") == "A1 cadmium stock").unwrap();
    let number = |key: &str| case[key].as_float().unwrap();
    let metal = Salt {
        analyte_share: 1.0,
        analyte_share_relative_u: 0.0,
        purity: number("purity"),
        purity_half_width: number("purity_half_width"),
        stock_range_mg_per_l: [1.0, 1e6],
    };
    let balance = Balance {
        readability_mg: 0.0,
        linearity_mg: 0.0,
        repeatability_mg: number("u_mass_mg"),
        smallest_mass_mg: 0.0,
    };
    let flask = Flask {
        volume_ml: number("volume_ml"),
        tolerance_ml: number("tolerance_ml"),
        filling_sd_ml: number("filling_sd_ml"),
    };
    // The table states the temperature's effect as a volume: 0.084 mL is 4 K.
    let half_width_k = number("temperature_half_width_ml") / (number("volume_ml") * 2.1e-4);
    let stock = weighed_stock(&metal, &balance, number("mass_mg"), flask, half_width_k).unwrap();
    let part = |wanted: &[UncertaintySource]| {
        let parts = stock.parts.iter().filter(|(source, _)| wanted.contains(source));
        parts.map(|(_, part)| part * part).sum::<f64>().sqrt()
    };
    let of_volume = [
        UncertaintySource::FlaskCalibration(0),
        UncertaintySource::Filling(0),
        UncertaintySource::Temperature,
    ];
    let misses = compare(&document, case, "A1 cadmium stock", |row| match row.quantity() {
        "concentration" => stock.concentration_mg_per_l,
        "standard_u" => stock.standard_u_mg_per_l,
        "expanded_u" => 2.0 * stock.standard_u_mg_per_l,
        "part_of_mass" => part(&[UncertaintySource::Mass]),
        "part_of_volume" => part(&of_volume),
        "part_of_purity" => part(&[UncertaintySource::Purity]),
        "volume_standard_u" => part(&of_volume) / stock.concentration_mg_per_l * number("volume_ml"),
        other => panic!("nothing computes {other}"),
    });
    assert!(misses.is_empty(), "{misses:#?}");
}

#[test]
fn six_levels_come_from_one_round_stock() {
    let started = std::time::Instant::now();
    let sheet =
        prepare_standards(&nitrate(), &bench(), &demands(&[0.0, 10.0, 25.0, 50.0, 75.0, 100.0])).unwrap();
    println!("found in {:?}", started.elapsed());
    print(&sheet, &bench());
    assert!(sheet.has_zero_level);
    assert_eq!(sheet.levels().count(), 5);
    assert_eq!(sheet.solutions.len(), 6, "no intermediate solution is needed");
    for level in sheet.levels() {
        let wanted = level.level_mg_per_l.unwrap();
        assert!((level.concentration_mg_per_l / wanted - 1.0).abs() < 0.0021);
        assert!(level.relative_u > 0.0005 && level.relative_u < 0.01);
    }
    let Step::Weigh { mass_mg } = sheet.solutions[0].step else { panic!("the salt is weighed") };
    assert!((mass_mg * 10.0 - (mass_mg * 10.0).round()).abs() < 1e-9, "rounded to what the balance shows");
    // What one stock shares: neighbouring levels are off together.
    let correlation = sheet.covariance[3][4] / (sheet.covariance[3][3] * sheet.covariance[4][4]).sqrt();
    assert!(correlation > 0.2 && correlation < 1.0, "{correlation}");
}

/// What each source is drawn from: the shapes of their distributions, not their standard deviations.
fn drawn(source: UncertaintySource, random: &mut RandomStream, bench: &Bench) -> f64 {
    let mut uniform = || 2.0 * random.uniform() - 1.0;
    match source {
        UncertaintySource::FlaskCalibration(i) => {
            bench.flasks[i].tolerance_ml * 0.5 * (uniform() + uniform())
        }
        UncertaintySource::PipetteCalibration(i) => {
            bench.pipettes[i].tolerance_ml * 0.5 * (uniform() + uniform())
        }
        UncertaintySource::PistonCalibration(i) => bench.piston_pipettes[i].systematic_ml * uniform(),
        _ => panic!("drawn by the caller"),
    }
}

/// Levels of one imagined preparation, by the full formula.
fn imagined(sheet: &BenchSheet, bench: &Bench, stock: &Salt, random: &mut RandomStream) -> Vec<f64> {
    let flasks: Vec<f64> = (0..bench.flasks.len())
        .map(|i| bench.flasks[i].volume_ml + drawn(UncertaintySource::FlaskCalibration(i), random, bench))
        .collect();
    let pipettes: Vec<f64> = (0..bench.pipettes.len())
        .map(|i| drawn(UncertaintySource::PipetteCalibration(i), random, bench))
        .collect();
    let pistons: Vec<f64> = (0..bench.piston_pipettes.len())
        .map(|i| drawn(UncertaintySource::PistonCalibration(i), random, bench))
        .collect();
    let mut concentrations: Vec<f64> = Vec::new();
    for solution in &sheet.solutions {
        let flask = solution.flask.unwrap();
        let filled = flasks[flask] + bench.flasks[flask].filling_sd_ml * random.normal();
        concentrations.push(match solution.step {
            Step::Weigh { mass_mg } => {
                let mass = mass_mg + bench.balance.standard_u_mg() * random.normal();
                let purity = stock.purity + stock.purity_half_width * (2.0 * random.uniform() - 1.0);
                let share = stock.analyte_share * (1.0 + stock.analyte_share_relative_u * random.normal());
                let warm = 1.0 + 2.1e-4 * 4.0 * (2.0 * random.uniform() - 1.0);
                1000.0 * mass * purity * share / (filled * warm)
            }
            Step::Bought => panic!("weighed here"),
            Step::Dilute { from, draw } => {
                let (offset, sd) = match draw.tool {
                    Tool::Pipette(i) => (pipettes[i], bench.pipettes[i].delivery_sd_ml),
                    Tool::PistonPipette(i) => (pistons[i], bench.piston_pipettes[i].random_ml),
                };
                let delivered: f64 =
                    (0..draw.aliquots).map(|_| draw.volume_ml + offset + sd * random.normal()).sum();
                concentrations[from] * delivered / filled
            }
        });
    }
    concentrations.split_off(sheet.solutions.len() - sheet.levels().count())
}

#[test]
fn covariance_agrees_with_imagined_preparations() {
    let mut bench = bench();
    bench.pipettes.truncate(4);
    bench.piston_pipettes = vec![PistonPipette::within_iso_8655(5.0).unwrap()];
    let StockSource::Salt(salt) = nitrate() else { panic!("a salt") };
    // Stocks of 5 g/L and more force an intermediate solution.
    let strong = Salt { stock_range_mg_per_l: [5000.0, 10000.0], ..salt };
    let mut demands = demands(&[1.0, 2.0, 5.0, 11.3]);
    demands.level_tolerance = 0.003;
    let sheet = prepare_standards(&StockSource::Salt(strong), &bench, &demands).unwrap();
    print(&sheet, &bench);
    assert!(sheet.solutions.iter().filter(|s| s.level_mg_per_l.is_none()).count() == 2, "an intermediate");
    let draws = 20000;
    let n = sheet.levels().count();
    let values: Vec<f64> = sheet.levels().map(|level| level.concentration_mg_per_l).collect();
    let mut products = vec![vec![0.0; n]; n];
    for index in 0..draws {
        let mut random = RandomStream::new(20260601, index);
        let found = imagined(&sheet, &bench, &strong, &mut random);
        for i in 0..n {
            for j in 0..n {
                products[i][j] += (found[i] - values[i]) * (found[j] - values[j]) / draws as f64;
            }
        }
    }
    for i in 0..n {
        for (j, product) in products[i].iter().enumerate() {
            let scale = (sheet.covariance[i][i] * sheet.covariance[j][j]).sqrt();
            let apart = (product - sheet.covariance[i][j]) / scale;
            // The standard error of a simulated correlation is below √2/√n.
            assert!(apart.abs() < 5.0 * (2.0 / draws as f64).sqrt(), "{i} {j}: {apart}");
        }
        let parts: f64 = sheet.parts[i].iter().map(|(_, part)| part * part).sum();
        let u = sheet.covariance[i][i].sqrt() / values[i];
        assert!((parts.sqrt() / u - 1.0).abs() < 1e-12);
    }
}

#[test]
fn bought_stock_and_adjustable_pipette_reach_odd_levels() {
    let mut bench = bench();
    bench.piston_pipettes =
        vec![PistonPipette::within_iso_8655(1.0).unwrap(), PistonPipette::within_iso_8655(10.0).unwrap()];
    let bought = StockSource::Solution { concentration_mg_per_l: 1000.0, standard_u_mg_per_l: 2.0 };
    let sheet = prepare_standards(&bought, &bench, &demands(&[3.7, 11.3, 44.3])).unwrap();
    print(&sheet, &bench);
    assert!(matches!(sheet.solutions[0].step, Step::Bought));
    for level in sheet.levels() {
        let Step::Dilute { draw, .. } = level.step else { panic!("diluted") };
        if let Tool::PistonPipette(place) = draw.tool {
            let steps = draw.volume_ml / bench.piston_pipettes[place].step_ml;
            assert!((steps - steps.round()).abs() < 1e-6, "rounded to what can be set");
        }
        assert!(level.relative_u >= 0.002, "never better than the stock");
    }
}

#[test]
fn levels_out_of_reach_are_refused_with_their_reason() {
    let refusal = |source: &StockSource, bench: &Bench, demands: &PreparationDemands| {
        let started = std::time::Instant::now();
        let error = prepare_standards(source, bench, demands).unwrap_err();
        println!("{error} ({:?})", started.elapsed());
        error
    };
    // No pipette and flask make 11.3 from 1000 within 0.2 %.
    let bought = StockSource::Solution { concentration_mg_per_l: 1000.0, standard_u_mg_per_l: 2.0 };
    assert!(matches!(
        refusal(&bought, &bench(), &demands(&[10.0, 11.3])),
        PreparationError::LevelNotMet { level: 11.3, .. }
    ));
    let exact = PreparationDemands { largest_relative_u: 0.001, ..demands(&[10.0, 50.0]) };
    assert!(matches!(
        refusal(&bought, &bench(), &exact),
        PreparationError::NotAccurateEnough { level: 10.0, best_percent, .. } if best_percent > 0.2
    ));
    let none = Bench { flasks: Vec::new(), ..bench() };
    assert_eq!(refusal(&bought, &none, &demands(&[10.0])), PreparationError::NothingAtHand { what: "flask" });
    assert_eq!(
        refusal(&bought, &bench(), &demands(&[0.0])),
        PreparationError::NothingAtHand { what: "level above zero" }
    );
    let negative = StockSource::Solution { concentration_mg_per_l: -1.0, standard_u_mg_per_l: 2.0 };
    assert!(matches!(
        refusal(&negative, &bench(), &demands(&[10.0])),
        PreparationError::NotUsable { found: -1.0, .. }
    ));
    assert!(matches!(Flask::class_a(123.0), Err(PreparationError::NotInTable { .. })));
    assert!(matches!(refusal(&bought, &bench(), &demands(&[f64::NAN])), PreparationError::NotUsable { .. }));
}

/// The largest bench that is taken, and levels that share no ratio with it.
#[test]
fn the_largest_bench_is_searched_in_seconds() {
    let mut bench = bench();
    bench.flasks = [5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 250.0, 500.0, 1000.0, 2000.0]
        .map(|v| Flask::class_a(v).unwrap())
        .to_vec();
    bench.pipettes = [0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 25.0, 50.0, 100.0]
        .map(|v| Pipette::class_a(v).unwrap())
        .to_vec();
    let levels = [0.37, 1.13, 2.9, 7.1, 11.3, 19.0, 31.0, 43.0, 59.0, 71.0, 83.0, 97.0];
    let started = std::time::Instant::now();
    let found =
        prepare_standards(&nitrate(), &bench, &PreparationDemands { most_aliquots: 5, ..demands(&levels) });
    println!("{:?} in {:?}", found.as_ref().map(|sheet| sheet.solutions.len()), started.elapsed());
    assert!(started.elapsed().as_secs() < 20);
}

fn strange() -> impl Strategy<Value = f64> {
    prop_oneof![6 => prop::sample::select(vec![1.0, 5.0, 10.0, 50.0, 100.0]), 3 => -1.0..200.0_f64, 1 => any::<f64>()]
}

proptest! {
    #[test]
    fn no_bench_makes_it_panic_and_every_sheet_is_as_accurate_as_asked(
        flasks in prop::collection::vec((strange(), 0.0..0.2_f64), 0..4),
        pipettes in prop::collection::vec((strange(), 0.0..0.05_f64), 0..4),
        levels in prop::collection::vec(strange(), 0..4),
        salt in prop::collection::vec(strange(), 4),
        largest_relative_u in prop_oneof![Just(0.05), strange()],
    ) {
        let bench = Bench {
            flasks: flasks.into_iter().map(|(volume_ml, tolerance_ml)| Flask { volume_ml, tolerance_ml, filling_sd_ml: 0.01 }).collect(),
            pipettes: pipettes.into_iter().map(|(volume_ml, tolerance_ml)| Pipette { volume_ml, tolerance_ml, delivery_sd_ml: 0.01 }).collect(),
            ..bench()
        };
        let source = StockSource::Salt(Salt {
            analyte_share: 0.01 * salt[0], analyte_share_relative_u: 0.0, purity: 0.01 * salt[1], purity_half_width: 0.0,
            stock_range_mg_per_l: [salt[2], 10.0 * salt[3]],
        });
        let demands = PreparationDemands { largest_relative_u, ..demands(&levels) };
        if let Ok(sheet) = prepare_standards(&source, &bench, &demands) {
            prop_assert_eq!(sheet.covariance.len(), sheet.levels().count());
            for level in sheet.levels() {
                let wanted = level.level_mg_per_l.unwrap();
                prop_assert!(level.relative_u <= largest_relative_u * (1.0 + 1e-12));
                prop_assert!((level.concentration_mg_per_l / wanted - 1.0).abs() < 0.003 + 0.0005);
            }
        }
    }
}
