//! Vectors of every variant of the scenario's method: recorded scans, twin-made scans, spoilt scans, samples.

use std::collections::BTreeMap;

use stillwell_evaluate::{Conditions, Point, ScanOutcome, ScanResult, TrustCheck, TrustState};
use stillwell_method::Role;
use stillwell_transfer::{Frozen, Vectors, run_sample, run_scan};

use crate::scene::{Draw, FIRST_DAY, Folder, LAST_DAY, SPOILS, Scene, Twin, VARIANTS, points_of, spoil};

/// How often each outcome stands among the vectors.
#[derive(Debug, Default)]
pub(crate) struct Census {
    pub(crate) trust: BTreeMap<(usize, bool), usize>,
    pub(crate) outcomes: BTreeMap<u8, usize>,
    pub(crate) reasons: BTreeMap<u32, usize>,
    pub(crate) refusals: BTreeMap<u8, usize>,
    pub(crate) samples: BTreeMap<String, usize>,
}

impl Census {
    fn count(&mut self, result: &ScanResult) {
        for finding in &result.trust.findings {
            match finding.state {
                TrustState::Passed => *self.trust.entry((finding.check as usize, true)).or_default() += 1,
                TrustState::Failed => *self.trust.entry((finding.check as usize, false)).or_default() += 1,
                TrustState::NotTestable(_) => {}
            }
        }
        *self.outcomes.entry(result.outcome as u8).or_default() += 1;
        for bit in 0..9 {
            if result.reasons.bits() >> bit & 1 == 1 {
                *self.reasons.entry(1 << bit).or_default() += 1;
            }
        }
        *self.refusals.entry(result.refusal.map_or(0, |refusal| refusal.code())).or_default() += 1;
    }

    /// Every check that looks at currents has passed and failed, and every outcome of a scan was seen.
    pub(crate) fn assert_complete(&self) {
        for check in TrustCheck::ALL {
            let of_grid = (check as usize) > 0 && (check as usize) < TrustCheck::Clipping as usize;
            for passed in [true, false] {
                let seen = self.trust.contains_key(&(check as usize, passed));
                assert!(seen || of_grid, "{check:?} never {passed}: {self:?}");
            }
        }
        for outcome in [ScanOutcome::SignalByPeak, ScanOutcome::SignalAtPlace, ScanOutcome::Refused] {
            assert!(self.outcomes.contains_key(&(outcome as u8)), "{outcome:?}: {self:?}");
        }
        for reason in [1, 2, 4, 8, 16, 32, 64, 256] {
            assert!(self.reasons.contains_key(&reason), "reason {reason}: {self:?}");
        }
        for refusal in [0, 9, 10, 11] {
            assert!(self.refusals.contains_key(&refusal), "refusal {refusal}: {self:?}");
        }
    }
}

/// A variant with one frozen calibration and a blank for scans that have none of their own.
pub(crate) struct Variant {
    pub(crate) scene: Scene,
    pub(crate) frozen: Frozen,
}

/// Every variant that has an accepted calibration; the last lot, whose files hold forward and reverse currents, takes turns
/// with the first.
pub(crate) fn variants() -> Vec<Variant> {
    let mut variants = Vec::new();
    for (index, (name, edits)) in VARIANTS.iter().enumerate() {
        let scene = Folder::alder_vale().edited(edits).scene();
        let lots = if index == 0 { vec![0, 2] } else { vec![2 * ((index + 1) % 2)] };
        for lot in lots {
            let frozen = scene.frozen(lot).unwrap_or_else(|error| panic!("{name}: {error}"));
            let scene = Folder::alder_vale().edited(edits).scene();
            variants.push(Variant { scene, frozen });
        }
    }
    variants
}

pub(crate) struct Writer {
    pub(crate) vectors: Vectors,
    pub(crate) census: Census,
}

impl Writer {
    pub(crate) fn new() -> Self {
        Self { vectors: Vectors::default(), census: Census::default() }
    }

    /// One scan by itself or within a sample.
    fn scan(&mut self, frozen: &Frozen, points: &[Point], electrode: Option<usize>) -> ScanResult {
        let (result, words) = run_scan(frozen, frozen.blank_a(), points).expect("the grid fits");
        self.census.count(&result);
        let has_reverse = frozen.method().expect("frozen").has_reverse;
        self.vectors.scan(points, has_reverse, electrode, &words);
        result
    }

    /// The scenario's recorded scans that share the variant's grid and columns.
    pub(crate) fn recorded(&mut self, variant: &Variant, every: usize) {
        let has_reverse = variant.frozen.method().expect("frozen").has_reverse;
        for (place, link) in variant.scene.report.scans.iter().enumerate().step_by(every) {
            let scan = variant.scene.scan(place);
            if link.row.role != Role::Blank && (scan.forward_a.is_some() || !has_reverse) {
                self.scan(&variant.frozen, &points_of(scan), None);
            }
        }
    }

    /// Twin-made scans, every other one spoilt.
    pub(crate) fn twin(&mut self, variant: &Variant, twin: &Twin, numbers: std::ops::Range<u64>) {
        for number in numbers {
            let mut points = twin.scan(&variant.scene.input, number);
            let mut draw = Draw::new(123, number);
            if number % 2 == 1 {
                let kind = usize::try_from(number / 2).map_or(0, |half| half % SPOILS);
                spoil(&mut points, kind, &mut draw);
            }
            self.scan(&variant.frozen, &points, None);
        }
    }

    /// Samples of twin-made scans on one to four electrodes under random conditions.
    pub(crate) fn samples(&mut self, variant: &Variant, twin: &Twin, numbers: std::ops::Range<u64>) {
        for number in numbers {
            let mut draw = Draw::new(321, number);
            let conditions = conditions(&mut draw);
            self.vectors.sample_begin(&conditions);
            let first = 7 * number;
            let n_electrodes = 1 + draw.below(4);
            let mut scans = Vec::new();
            for electrode in 0..n_electrodes {
                for scan in 0..=draw.below(2) {
                    let points = points_of_sample(variant, twin, first, (electrode, scan), &mut draw);
                    scans.push((electrode, self.scan(&variant.frozen, &points, Some(electrode))));
                }
            }
            let (result, words) = run_sample(&variant.frozen, &conditions, &scans)
                .expect("frozen")
                .expect("possible conditions");
            self.vectors.sample_end(&words);
            let outcome = format!("{:?}", result.outcome);
            let name = outcome.split(['(', '{']).take(2).collect::<Vec<_>>().join(" ");
            *self.census.samples.entry(name).or_default() += 1;
        }
    }
}

/// Most electrodes see the same solution, some another; a second scan is spoilt now and then.
fn points_of_sample(
    variant: &Variant,
    twin: &Twin,
    first: u64,
    (electrode, scan): (usize, usize),
    draw: &mut Draw,
) -> Vec<Point> {
    let other = if draw.below(6) == 0 { 1 + electrode as u64 } else { 0 };
    let mut points = twin.scan(&variant.scene.input, first + other);
    points.iter_mut().for_each(|point| point.current_a += draw.between(-3e-8, 3e-8));
    if scan == 1 && draw.below(8) == 0 {
        spoil(&mut points, draw.below(SPOILS), draw);
    }
    points
}

fn conditions(draw: &mut Draw) -> Conditions {
    let dilution_factor = if draw.below(4) == 0 { draw.between(1.0, 20.0) } else { 1.0 };
    Conditions {
        temperature_c: (draw.below(10) > 0).then(|| draw.between(8.0, 32.0)),
        dilution_factor,
        dilution_u: if draw.below(2) == 0 { 0.01 * dilution_factor } else { 0.0 },
        today: (draw.below(10) > 0).then(|| FIRST_DAY + draw.below(1000) as u32),
        control_alive: draw.below(3) > 0 && LAST_DAY > 0,
    }
}

/// Numbers on which a square root is easily wrong: edges of every kind, squares and their neighbours, and random bits.
pub(crate) fn root_numbers(n_random: usize) -> Vec<f64> {
    let mut numbers =
        vec![0.0, -0.0, 1.0, 2.0, 3.0, 4.0, 0.5, f64::MIN_POSITIVE, f64::MAX, f64::INFINITY, -1.0];
    numbers.extend([
        f64::NAN,
        f64::NEG_INFINITY,
        f64::EPSILON,
        f64::from_bits(1),
        f64::from_bits(2),
        f64::from_bits(3),
    ]);
    for power in -1074..=1023 {
        numbers.push(libm::scalbn(1.0, power));
    }
    for k in 1..200_u32 {
        let square = f64::from(k) * f64::from(k);
        let bits = square.to_bits();
        numbers.extend([bits - 1, bits, bits + 1].map(f64::from_bits));
    }
    let mut draw = Draw::new(9, 9);
    for _ in 0..n_random {
        let high = (draw.uniform() * 4_294_967_296.0) as u64;
        let low = (draw.uniform() * 4_294_967_296.0) as u64;
        numbers.push(f64::from_bits((high << 32 | low) & !(1 << 63)));
    }
    numbers
}
