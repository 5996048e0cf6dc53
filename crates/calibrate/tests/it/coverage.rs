//! Known truth: how often the interval holds the true level when electrodes differ more than scans.
//!
//! Six levels, three strips each, four scans a strip; strip standard deviation 3, scan standard deviation 0.9, slope 1.
//! An unknown is measured with four scans on one strip, and on three strips.

use crate::standards::{settings, standard};
use stillwell_calibrate::{
    Calibration, ElectrodeSignals, Model, StandardSignal, Weights, calibrate, concentration,
};
use stillwell_stats::random::RandomStream;

const LEVELS: [f64; 6] = [0.0, 10.0, 25.0, 50.0, 75.0, 100.0];
const STUDIES: u64 = 3000;

/// How the strips of one study spread at a level.
type StripSd = fn(f64) -> f64;

struct Study {
    random: RandomStream,
    strip_sd: StripSd,
}

impl Study {
    fn new(index: u64, strip_sd: StripSd) -> Self {
        Self { random: RandomStream::new(20260302, index), strip_sd }
    }

    /// Signals of `scans` scans of one fresh strip.
    fn strip(&mut self, level: f64, scans: u32) -> Vec<f64> {
        let spread = (self.strip_sd)(level);
        let of_strip = spread * self.random.normal();
        // The scans' spread keeps its proportion to the strips'.
        (0..scans).map(|_| 5.0 + level + of_strip + 0.3 * spread * self.random.normal()).collect()
    }

    fn standards(&mut self) -> Vec<StandardSignal> {
        let mut standards = Vec::new();
        for (i, level) in LEVELS.into_iter().enumerate() {
            for strip in 0..3 {
                for (scan, signal) in (0..).zip(self.strip(level, 4)) {
                    standards.push(standard(level, &format!("strip {i}.{strip}"), scan, signal));
                }
            }
        }
        standards
    }

    fn unknown(&mut self, level: f64, electrodes: u32, scans: u32) -> Vec<ElectrodeSignals> {
        (0..electrodes)
            .map(|i| ElectrodeSignals {
                electrode: format!("fresh {i}"),
                signals_a: self.strip(level, scans),
            })
            .collect()
    }
}

#[derive(Default)]
struct Count {
    held: u32,
    of: u32,
}

impl Count {
    fn add(&mut self, calibration: &Calibration, sample: &[ElectrodeSignals], truth: f64) {
        let estimate = concentration(calibration, sample).unwrap();
        self.of += 1;
        self.held += u32::from(estimate.low() <= truth && truth <= estimate.high());
    }

    fn fraction(&self) -> f64 {
        f64::from(self.held) / f64::from(self.of)
    }

    /// Four binomial standard errors about 95 %.
    fn is_consistent_with_95_percent(&self) -> bool {
        (self.fraction() - 0.95).abs() < 4.0 * (0.95 * 0.05 / f64::from(self.of)).sqrt()
    }
}

fn constant(_: f64) -> f64 {
    3.0
}

fn rising(level: f64) -> f64 {
    (1.0 + 0.0036 * level * level).sqrt()
}

/// As strips do whose sensitivity differs and whose blank hardly does.
fn proportional(level: f64) -> f64 {
    (0.0036 + 0.0036 * level * level).sqrt()
}

#[test]
fn electrode_means_cover_and_scans_taken_as_independent_do_not() {
    let fit = settings(Model::Line, Weights::None, 0.95);
    let [mut one_strip, mut three_strips, mut one_scan, mut independent]: [Count; 4] = Default::default();
    for index in 0..STUDIES {
        let mut study = Study::new(index, constant);
        let standards = study.standards();
        let calibration = calibrate(&standards, &fit).unwrap();
        let truth = 5.0 + 90.0 * study.random.uniform();
        let sample = study.unknown(truth, 1, 4);
        one_strip.add(&calibration, &sample, truth);
        three_strips.add(&calibration, &study.unknown(truth, 3, 4), truth);
        one_scan.add(&calibration, &study.unknown(truth, 1, 1), truth);

        let as_if: Vec<_> =
            standards.iter().map(|s| StandardSignal { electrode: s.label.clone(), ..s.clone() }).collect();
        let as_if_sample: Vec<_> = sample[0]
            .signals_a
            .iter()
            .enumerate()
            .map(|(i, &signal)| ElectrodeSignals { electrode: format!("scan {i}"), signals_a: vec![signal] })
            .collect();
        independent.add(&calibrate(&as_if, &fit).unwrap(), &as_if_sample, truth);
    }
    for (name, count) in [
        ("one strip of 4 scans", &one_strip),
        ("three strips of 4 scans", &three_strips),
        ("one strip of 1 scan", &one_scan),
        ("scans taken as independent", &independent),
    ] {
        println!("{name:28} {:.4} of {} studies", count.fraction(), count.of);
    }
    assert!(one_strip.fraction() >= 0.93 && one_strip.is_consistent_with_95_percent());
    // The sample's own electrodes may widen the interval, one sample in a hundred, never shrink it.
    assert!(three_strips.fraction() >= 0.93 && three_strips.fraction() < 0.97);
    assert!(one_scan.fraction() >= 0.93 && one_scan.fraction() < 0.97);
    assert!(independent.fraction() < 0.80, "{}", independent.fraction());
}

#[test]
fn variance_function_covers_at_both_ends_of_the_range() {
    let fit = settings(Model::Line, Weights::VarianceFunction, 0.95);
    let flat = settings(Model::Line, Weights::None, 0.95);
    for (name, strip_sd) in [
        ("constant", constant as StripSd),
        ("rising 1 to 6.1", rising as StripSd),
        ("proportional", proportional as StripSd),
    ] {
        let [mut low, mut high, mut low_flat, mut high_flat]: [Count; 4] = Default::default();
        for index in 0..STUDIES {
            let mut study = Study::new(index, strip_sd);
            let standards = study.standards();
            let calibration = calibrate(&standards, &fit).unwrap();
            let unweighted = calibrate(&standards, &flat).unwrap();
            let sample = study.unknown(5.0, 1, 4);
            low.add(&calibration, &sample, 5.0);
            low_flat.add(&unweighted, &sample, 5.0);
            let sample = study.unknown(90.0, 1, 4);
            high.add(&calibration, &sample, 90.0);
            high_flat.add(&unweighted, &sample, 90.0);
        }
        println!(
            "{name:16} by function: {:.4} at 5, {:.4} at 90; unweighted: {:.4} at 5, {:.4} at 90",
            low.fraction(),
            high.fraction(),
            low_flat.fraction(),
            high_flat.fraction()
        );
        for count in [&low, &high] {
            assert!(count.fraction() >= 0.93, "{name}: {}", count.fraction());
        }
        if (strip_sd)(100.0) > 2.0 * (strip_sd)(0.0) {
            assert!(high_flat.fraction() < 0.85, "without weights the spread at the top is understated");
        }
    }
}
