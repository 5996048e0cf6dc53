//! One fault at many sizes: between a size that does no harm and one that is plain to see there may lie one that deceives.

use stillwell_method::{Input, Outcome, determine};

use crate::alder_vale::{Came, Study, came, change, is_sample, of, truth, wrongly_below};

/// The fault at each size in the wells of batches 2 and 3 that lie above the limit, under some ways to evaluate.
fn sweep(
    name: &str,
    sizes: &[f64],
    ways: &[&[(&str, &str)]],
    plant: impl Fn(&mut [f64], f64, usize),
) -> Vec<String> {
    let mut bad = Vec::new();
    for way in ways {
        let mut study = Study::read();
        for (from, to) in *way {
            study.in_method(from, to);
        }
        let sound: Input = study.assembled().expect("the scenario holds together");
        let mut came_of = Vec::new();
        let mut worst = 0.0_f64;
        for size in sizes {
            let mut input = sound.clone();
            for sample in ["AV-03", "AV-07"] {
                change(
                    &mut input,
                    |row| is_sample(row, sample),
                    |currents_a, nth| plant(currents_a, *size, nth),
                );
            }
            let report = determine(&input);
            let below = wrongly_below(&report);
            for sample in ["AV-03", "AV-07"] {
                let came = came(of(&report, sample), truth(sample));
                if let (Came::Wrong, Outcome::Quantified(found)) = (came, &of(&report, sample).outcome) {
                    worst = worst.max((found.value.value() / truth(sample) - 1.0).abs());
                }
                came_of.push(match came {
                    Came::Refused => '-',
                    Came::Withheld => 'w',
                    Came::Right => 'r',
                    Came::Wrong => 'X',
                });
            }
            if !below.is_empty() {
                bad.push(format!("{name} {size}, {way:?}: {below:?}"));
            }
        }
        #[expect(clippy::print_stdout, reason = "the table shows what each size came to")]
        {
            println!(
                "{name} {}, {:.1} % at worst unseen {:?}",
                came_of.into_iter().collect::<String>(),
                100.0 * worst,
                way.first().map(|(_, to)| to)
            );
        }
    }
    bad
}

const SUBTRACT: &[(&str, &str)] = &[];
const IGNORE: &[(&str, &str)] = &[(r#"blank = "subtract""#, r#"blank = "ignore""#)];
const TANGENT: &[(&str, &str)] = &[(
    r#"baseline = { kind = "line", left_v = [-0.42, -0.38], right_v = [-0.84, -0.80] }"#,
    r#"baseline = { kind = "tangent", window_v = [-0.84, -0.38] }"#,
)];
const NOISY: &[(&str, &str)] = &[("noise_a = 0.10e-6\n", "")];

/// Moves a scan by whole points; the ends are continued.
fn shifted(currents_a: &mut [f64], points: f64, _: usize) {
    let old = currents_a.to_owned();
    let last = old.len() - 1;
    for (place, current_a) in currents_a.iter_mut().enumerate() {
        let from = (place as f64 - points).clamp(0.0, last as f64);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within the scan")]
        let from = from as usize;
        *current_a = old[from];
    }
}

fn saturated(currents_a: &mut [f64], fraction: f64, _: usize) {
    let end_a = fraction * currents_a.iter().copied().fold(0.0, f64::min).abs();
    for current_a in currents_a.iter_mut() {
        *current_a = end_a * libm::tanh(*current_a / end_a);
    }
}

fn noisy(currents_a: &mut [f64], sd_a: f64, nth: usize) {
    let mut state = 1_u32.wrapping_add(u32::try_from(nth).expect("few scans")).wrapping_mul(2_654_435_761);
    for current_a in currents_a.iter_mut() {
        let mut draw = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state >> 8) / f64::from(1_u32 << 24) - 0.5
        };
        // Twelve uniform draws have unit variance.
        *current_a += sd_a * (0..12).map(|_| draw()).sum::<f64>();
    }
}

#[test]
fn no_shift_of_the_potential_makes_a_well_over_the_limit_one_below_it() {
    let points: Vec<f64> = (-20..=30).map(|step| f64::from(step) * 2.0).collect();
    let bad = sweep("shift", &points, &[SUBTRACT, IGNORE, TANGENT], shifted);
    assert!(bad.is_empty(), "{}", bad.join("\n"));
}

#[test]
fn no_saturation_makes_a_well_over_the_limit_one_below_it() {
    let bad =
        sweep("saturation", &[0.5, 0.7, 0.9, 1.1, 1.3, 1.6, 2.0, 3.0, 5.0], &[SUBTRACT, IGNORE], saturated);
    assert!(bad.is_empty(), "{}", bad.join("\n"));
}

#[test]
fn no_noise_makes_a_well_over_the_limit_one_below_it() {
    let sizes = [0.05e-6, 0.1e-6, 0.2e-6, 0.4e-6, 0.8e-6, 1.6e-6, 3.2e-6, 6.4e-6];
    let bad = sweep("noise", &sizes, &[SUBTRACT, NOISY], noisy);
    assert!(bad.is_empty(), "{}", bad.join("\n"));
}
