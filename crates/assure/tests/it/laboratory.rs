//! A simulated laboratory whose truth is known: strips, blanks and standards in one batch, samples at three levels with a series
//! of additions each, the check standards and recoveries of ten earlier batches, and a calibration over four lots.
//!
//! All numbers are invented. Levels are in mg/L; signals are `SLOPE × lot × (blank + strip + level × (1 + strip) + scan)` less the
//! mean of the batch's blank strips.

use stillwell_calibrate::{AdditionScan, ElectrodeSignals, StandardSignal};
use stillwell_stats::random::RandomStream;

const SEED: u64 = 20_260_701;
pub(crate) const STRATA: usize = 3;
/// Near the detection limit, mid range, at the limit: in the water as it came.
pub(crate) const TRUTHS: [f64; STRATA] = [2.0, 25.0, 50.0];
/// Levels of the standards, three strips each; every strip is scanned twice.
const LEVELS: [f64; 6] = [0.0, 5.0, 15.0, 30.0, 45.0, 60.0];
const STRIPS: usize = 3;
const SCANS: u32 = 2;
const PAST_BATCHES: usize = 10;
const LOTS: usize = 4;
pub(crate) const RECOVERIES: usize = 6;

const SLOPE_A: f64 = 2e-8;
/// What water without analyte gives.
const BLANK: f64 = 2.0;
/// Sensitivity from lot to lot, from strip to strip, from scan to scan: relative.
const LOT: f64 = 0.08;
const STRIP: f64 = 0.04;
const SCAN: f64 = 0.015;
/// Blank noise from strip to strip and from scan to scan.
const STRIP_BLANK: f64 = 0.5;
const SCAN_BLANK: f64 = 0.2;
/// Standard uncertainty of the stock that all standards and additions are made from, of a reference, of one dilution: relative.
pub(crate) const STOCK_U: f64 = 0.01;
pub(crate) const REFERENCE_U: f64 = 0.01;
pub(crate) const DILUTION_U: f64 = 0.004;
/// Measured volume over the volume of sample: the electrolyte is added to every sample.
pub(crate) const DILUTION: f64 = 1.25;

/// Standard deviation of the mean of one strip's scans, in levels: what the simulation draws from.
pub(crate) fn strip_sd(level: f64) -> f64 {
    let scans = f64::from(SCANS);
    let constant = STRIP_BLANK * STRIP_BLANK + SCAN_BLANK * SCAN_BLANK / scans;
    let growing = STRIP * STRIP + SCAN * SCAN / scans;
    (constant + growing * level * level).sqrt()
}

pub(crate) fn standard_levels() -> [f64; 6] {
    LEVELS
}

/// One water: measured as a sample, and with additions.
pub(crate) struct Sample {
    pub(crate) truth: f64,
    pub(crate) strips: Vec<ElectrodeSignals>,
    /// What the calibration could read at best: the truth on the scale of the standards, before the dilution is undone.
    pub(crate) on_standards_scale: f64,
    pub(crate) additions: Vec<AdditionScan>,
    /// What the line of additions could find at best: all signal is analyte, and the additions are what they are called.
    pub(crate) all_signal_is_analyte: f64,
}

/// The other way to calibrate: standards of four lots in one calibration, and the waters on strips of a fifth lot.
pub(crate) struct AcrossLots {
    pub(crate) standards: Vec<StandardSignal>,
    /// Signals of all strips of each water: the lot is what repeats.
    pub(crate) samples: [Vec<f64>; STRATA],
}

/// A batch of the past: its own lot and calibration, a check standard at every level, and a recovery.
pub(crate) struct PastBatch {
    pub(crate) standards: Vec<StandardSignal>,
    pub(crate) checks: [Vec<ElectrodeSignals>; STRATA],
    pub(crate) recoveries: [Vec<ElectrodeSignals>; STRATA],
}

/// Everything that one laboratory measured; every way of evaluation gets this and nothing else.
pub(crate) struct Study {
    pub(crate) index: u64,
    pub(crate) standards: Vec<StandardSignal>,
    pub(crate) samples: [Sample; STRATA],
    pub(crate) past: Vec<PastBatch>,
    pub(crate) across_lots: AcrossLots,
}

/// A lot of strips with its blank.
struct Batch {
    sensitivity: f64,
    /// Mean of the blank strips, in levels; the blank itself is `BLANK`.
    blank: f64,
}

struct Bench {
    random: RandomStream,
    /// Relative error of the stock; the laboratory keeps it for years.
    stock: f64,
}

impl Study {
    pub(crate) fn new(index: u64) -> Self {
        let mut random = RandomStream::new(SEED, index);
        let stock = STOCK_U * random.normal();
        let mut bench = Bench { random, stock };
        let batch = bench.batch();
        let standards = bench.standards(&batch);
        let samples = TRUTHS.map(|truth| bench.sample(&batch, truth));
        // The check solution has one error in all batches, each recovery its own.
        let check = bench.error(REFERENCE_U);
        let past = (0..PAST_BATCHES).map(|_| bench.past(check)).collect();
        let across_lots = bench.across_lots();
        Self { index, standards, samples, past, across_lots }
    }
}

impl Bench {
    fn error(&mut self, relative_u: f64) -> f64 {
        1.0 + relative_u * self.random.normal()
    }

    /// Scans of one fresh strip, in levels and without the lot's sensitivity.
    fn scans(&mut self, level: f64) -> Vec<f64> {
        let (blank, sensitivity) = (STRIP_BLANK * self.random.normal(), self.error(STRIP));
        (0..SCANS)
            .map(|_| {
                let noise = SCAN_BLANK * self.random.normal() + SCAN * level * self.random.normal();
                BLANK + blank + level * sensitivity + noise
            })
            .collect()
    }

    fn batch(&mut self) -> Batch {
        let sensitivity = self.error(LOT);
        let blanks: Vec<f64> = (0..STRIPS).flat_map(|_| self.scans(0.0)).collect();
        Batch { sensitivity, blank: blanks.iter().sum::<f64>() / blanks.len() as f64 }
    }

    fn strip(&mut self, batch: &Batch, level: f64) -> Vec<f64> {
        let signal = |found: f64| SLOPE_A * batch.sensitivity * (found - batch.blank);
        self.scans(level).into_iter().map(signal).collect()
    }

    fn strips(&mut self, batch: &Batch, level: f64) -> Vec<ElectrodeSignals> {
        (0..STRIPS)
            .map(|k| ElectrodeSignals {
                electrode: format!("strip {k}"),
                signals_a: self.strip(batch, level),
            })
            .collect()
    }

    fn standards(&mut self, batch: &Batch) -> Vec<StandardSignal> {
        let mut standards = Vec::new();
        for level in LEVELS {
            for strip in 0..STRIPS {
                let signals = self.strip(batch, level * (1.0 + self.stock));
                standards.extend((1..).zip(signals).map(|(scan, signal_a)| StandardSignal {
                    level,
                    signal_a,
                    electrode: format!("{level}.{strip}"),
                    label: format!("{level}.{strip}, scan {scan}"),
                    scan_number: Some(scan),
                    excluded: None,
                }));
            }
        }
        standards
    }

    fn sample(&mut self, batch: &Batch, truth: f64) -> Sample {
        let measured = truth / (DILUTION * self.error(DILUTION_U));
        let strips = self.strips(batch, measured);
        let (fraction, step) = addition_plan(truth);
        let share = fraction / self.error(DILUTION_U);
        let mut additions = Vec::new();
        for added in [0.0, step, 2.0 * step, 3.0 * step] {
            for strip in 0..STRIPS {
                let signals = self.strip(batch, truth * share + added * (1.0 + self.stock));
                let electrode = format!("{added}.{strip}");
                additions.extend(signals.into_iter().map(|signal_a| AdditionScan {
                    added,
                    sample_fraction: fraction,
                    signal_a,
                    electrode: electrode.clone(),
                    label: electrode.clone(),
                    excluded: None,
                }));
            }
        }
        let signal = truth * share + BLANK - batch.blank;
        Sample {
            truth,
            strips,
            on_standards_scale: measured / (1.0 + self.stock),
            additions,
            all_signal_is_analyte: signal / fraction / (1.0 + self.stock),
        }
    }

    fn across_lots(&mut self) -> AcrossLots {
        let mut standards = Vec::new();
        for lot in 0..LOTS {
            let batch = self.batch();
            let named =
                |s: StandardSignal| StandardSignal { electrode: format!("{lot}.{}", s.electrode), ..s };
            standards.extend(self.standards(&batch).into_iter().map(named));
        }
        let fresh = self.batch();
        let samples = TRUTHS.map(|truth| {
            let measured = truth / (DILUTION * self.error(DILUTION_U));
            self.strips(&fresh, measured).into_iter().flat_map(|strip| strip.signals_a).collect()
        });
        AcrossLots { standards, samples }
    }

    fn past(&mut self, check: f64) -> PastBatch {
        let batch = self.batch();
        let standards = self.standards(&batch);
        let mut of = |reference: &mut dyn FnMut(&mut Self) -> f64| {
            TRUTHS.map(|level| {
                let truth = level * reference(self);
                let measured = truth / (DILUTION * self.error(DILUTION_U));
                self.strips(&batch, measured)
            })
        };
        let checks = of(&mut |_| check);
        let recoveries = of(&mut |bench| bench.error(REFERENCE_U));
        PastBatch { standards, checks, recoveries }
    }
}

/// The sample's share of the measured volume and the step of the additions, so that the series stays within the range.
fn addition_plan(truth: f64) -> (f64, f64) {
    if truth < 10.0 {
        (0.8, 4.0)
    } else if truth < 40.0 {
        (0.8, 13.0)
    } else {
        (0.4, 13.0)
    }
}
