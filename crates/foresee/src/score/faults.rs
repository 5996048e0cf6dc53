//! Spoilt scans: every class of fault at sizes drawn at random, on one strip or on every strip of a sample.

use rayon::prelude::*;
use stillwell_method::Role;
use stillwell_stats::random::RandomStream;
use stillwell_twin::{Fault, Variation};

use super::{Subject, determination};
use crate::bench::{Bench, Exposure, amount_mol_per_m3};
use crate::error::ForeseeError;
use crate::plan::{Batch, Measurement};
use crate::scored::{Came, Scored, scored};

const SCANS_PER_STRIP: u32 = 2;

/// True levels that take turns: below and above the limit that matters.
const TRUTHS: [f64; 2] = [0.6, 1.3];

/// On how many strips of a sample a fault sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// The first only.
    OneStrip,
    /// All of the sample's (blank faults: all of the batch's blanks).
    EveryStrip,
}

impl Scope {
    /// Its name, for tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::OneStrip => "one strip",
            Self::EveryStrip => "every strip",
        }
    }
}

/// What became of the samples of one class of fault.
#[derive(Debug, Clone, PartialEq)]
pub struct FaultRow {
    /// The class, in the words of the trade.
    pub name: &'static str,
    /// Sizes from which it was drawn.
    pub sizes: &'static str,
    /// On how many strips.
    pub scope: Scope,
    /// Current alone cannot show it reliably.
    pub needs_identity: bool,
    /// Samples.
    pub samples: usize,
    /// No number.
    pub refused: usize,
    /// A number with a warning, or without a verdict.
    pub flagged: usize,
    /// A number or bound that holds the truth.
    pub right: usize,
    /// A number or bound that does not, with nothing said.
    pub wrong: usize,
    /// Above a limit, said to be below it.
    pub falsely_below: usize,
}

/// One class: its sizes in words, and how one is drawn.
struct Class {
    sizes: &'static str,
    draw: fn(&mut Draw) -> Option<Fault>,
}

/// Random sizes.
struct Draw {
    stream: RandomStream,
    /// Forward current that the sample's peak drives, A, roughly; from which a range is drawn that clips it.
    peak_a: f64,
}

impl Draw {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.stream.uniform()
    }

    /// Even in the logarithm.
    fn decades(&mut self, low: f64, high: f64) -> f64 {
        libm::exp(self.between(libm::log(low), libm::log(high)))
    }

    fn sign(&mut self) -> f64 {
        if self.stream.uniform() < 0.5 { -1.0 } else { 1.0 }
    }
}

const CLASSES: [Class; 14] = [
    Class { sizes: "", draw: |_| None },
    Class {
        sizes: "range 0.1 to 0.9 of the peak, ends reported as currents",
        draw: |draw| Some(Fault::Clipped { range_a: draw.between(0.1, 0.9) * draw.peak_a }),
    },
    Class {
        sizes: "area × 0.5 to 2, rate × 0.01 to 100, charging × 0.3 to 3",
        draw: |draw| {
            Some(Fault::WrongElectrode {
                area_factor: draw.decades(0.5, 2.0),
                rate_factor: draw.decades(0.01, 100.0),
                double_layer_factor: draw.decades(0.3, 3.0),
            })
        },
    },
    Class {
        sizes: "30 to 90 % wetted",
        draw: |draw| Some(Fault::PartialCoverage { wetted_share: draw.between(0.3, 0.9) }),
    },
    Class { sizes: "with a sample of another level", draw: |_| Some(Fault::SwappedChannels) },
    Class { sizes: "", draw: |_| Some(Fault::SwappedReadings) },
    Class {
        sizes: "0.1 to 10 µA, 49.5 to 60.5 Hz",
        draw: |draw| {
            Some(Fault::MainsPickup {
                amplitude_a: draw.decades(0.1e-6, 10e-6),
                frequency_hz: draw.between(49.5, 60.5),
            })
        },
    },
    Class {
        sizes: "5 to 60 % wetted through 1 to 100 kΩ",
        draw: |draw| {
            Some(Fault::DriedStrip {
                wetted_share: draw.between(0.05, 0.6),
                uncompensated_ohm: draw.decades(1e3, 1e5),
            })
        },
    },
    Class { sizes: "", draw: |_| Some(Fault::DeadStrip) },
    Class {
        sizes: "area × 0.8 to 1.25, charging × 0.5 to 2",
        draw: |draw| {
            let area = draw.decades(0.8, 1.25);
            let double_layer = draw.decades(0.5, 2.0);
            Some(Fault::BlankOfAnotherLot { variation: Variation { area, double_layer, ..Variation::NONE } })
        },
    },
    Class {
        sizes: "charging × 0.5 to 2, resistance × 0.1 to 10, edge ± 0.1 V",
        draw: |draw| {
            Some(Fault::BlankOfAnotherElectrolyte {
                double_layer_factor: draw.decades(0.5, 2.0),
                resistance_factor: draw.decades(0.1, 10.0),
                edge_shift_v: draw.between(-0.1, 0.1),
            })
        },
    },
    Class {
        sizes: "2 to 10 K off what the run sheet says",
        draw: |draw| Some(Fault::WrongTemperature { difference_k: draw.sign() * draw.between(2.0, 10.0) }),
    },
    Class {
        sizes: "chloride × 1.5 to 100: 10 to 117 mV",
        draw: |draw| Some(Fault::ChlorideShift { ratio: draw.decades(1.5, 100.0) }),
    },
    Class {
        sizes: "20 to 100 % dry at the start, wetting in 0.2 to 3 s",
        draw: |draw| {
            Some(Fault::DryStart {
                dry_share: draw.between(0.2, 1.0),
                wetting_s: draw.decades(0.2, 3.0),
                charging_a: -draw.decades(1e-6, 50e-6),
            })
        },
    },
];

/// Plants every class of fault, on one strip and on every strip, in `studies` studies each. The sizes are drawn evenly, or
/// evenly in the logarithm, from the ranges that stand beside each class; the truth takes turns between 0.6 and 1.3 times
/// `limit`. `progress` is called after each simulated batch: three a study.
///
/// # Units
/// `limit` in the method's reporting unit.
///
/// # Errors
/// What the twin refuses, or a method without levels.
pub fn fault_table(
    subject: &Subject<'_>,
    studies: u32,
    limit: f64,
    progress: impl Fn() + Sync,
) -> Result<Vec<FaultRow>, ForeseeError> {
    let planted = planted();
    let peak_a_per_unit = peak_a(subject, limit)? / limit;
    let found = (1..=studies)
        .into_par_iter()
        .map(|number| {
            let [low, high] = TRUTHS.map(|share| share * limit);
            let (truth, other) = if number % 2 == 0 { (low, high) } else { (high, low) };
            let peak_a = peak_a_per_unit * truth;
            let study = FaultStudy { subject, number: u64::from(number), truth, other, peak_a };
            study.scores(&planted, &progress)
        })
        .collect::<Result<Vec<Vec<Option<Scored>>>, ForeseeError>>()?;
    let rows = planted.iter().enumerate().map(|(index, planted)| {
        let samples: Vec<&Scored> = found.iter().filter_map(|study| study.get(index)).flatten().collect();
        row(planted, &samples)
    });
    Ok(rows.collect())
}

/// Largest forward current in the peak's window of a sound strip at this level, A.
fn peak_a(subject: &Subject<'_>, level: f64) -> Result<f64, ForeseeError> {
    let bench = Bench {
        cell: subject.cell,
        circuit: subject.circuit,
        technique: &subject.method.technique,
        seed: subject.seed,
    };
    let exposure = Exposure {
        analyte_mol_per_m3: amount_mol_per_m3(level, &subject.method.analyte.reported_as)?,
        temperature_c: None,
        lot: 0,
        electrode: 0,
        scan: 1,
        faults: Vec::new(),
    };
    let trace = bench
        .trace(&exposure)
        .map_err(|source| ForeseeError::Twin { what: "a strip at the limit".to_owned(), source })?;
    let [a, b] = subject.method.evaluation.peak.window_v;
    let window = a.min(b)..=a.max(b);
    let forward_a = trace.forward_a.as_ref().unwrap_or(&trace.current_a);
    let points = trace.potential_v.iter().zip(forward_a);
    let inside = points.filter(|(potential_v, _)| window.contains(potential_v));
    Ok(inside.map(|(_, current_a)| current_a.abs()).fold(0.0, f64::max))
}

/// One class on one scope.
struct Planted {
    class: usize,
    scope: Scope,
    /// As an example for name and identity.
    fault: Option<Fault>,
}

impl Planted {
    fn is_of_blank(&self) -> bool {
        self.fault.is_some_and(|fault| fault.is_of_blank())
    }
}

fn planted() -> Vec<Planted> {
    let mut planted = Vec::new();
    for (class, drawn) in CLASSES.iter().enumerate() {
        let fault = (drawn.draw)(&mut Draw { stream: RandomStream::new(1, 1), peak_a: 1e-5 });
        let is_of_all = fault.is_none_or(|fault| fault.is_of_blank());
        let scopes: &[Scope] =
            if is_of_all { &[Scope::EveryStrip] } else { &[Scope::OneStrip, Scope::EveryStrip] };
        planted.extend(scopes.iter().map(|scope| Planted { class, scope: *scope, fault }));
    }
    planted
}

struct FaultStudy<'a> {
    subject: &'a Subject<'a>,
    number: u64,
    truth: f64,
    /// Level of the sample whose channel may be exchanged with this one's.
    other: f64,
    peak_a: f64,
}

impl FaultStudy<'_> {
    /// One score for each planted fault; those of the sample share a batch, each of the blank has one of its own.
    fn scores(
        &self,
        planted: &[Planted],
        progress: &(impl Fn() + Sync),
    ) -> Result<Vec<Option<Scored>>, ForeseeError> {
        let names: Vec<String> = (0..planted.len()).map(|place| format!("F{place:02}")).collect();
        let of_sample = names.iter().zip(planted).filter(|(_, planted)| !planted.is_of_blank());
        let samples: Vec<Measurement> =
            of_sample.flat_map(|(name, planted)| self.sample(name, planted)).collect();
        let report = self.subject.report(self.subject.batch(self.number, samples)?)?;
        progress();
        let mut scores = Vec::new();
        for (name, planted) in names.iter().zip(planted) {
            let blank_report;
            let report = if planted.is_of_blank() {
                let batch = self.subject.batch(self.number, vec![self.sound(name, self.truth)])?;
                blank_report = self.subject.report(self.with_blank_fault(batch, planted))?;
                progress();
                &blank_report
            } else {
                &report
            };
            let found = determination(report, name);
            scores.push(found.map(|found| scored(self.subject.method, found, self.truth)));
        }
        Ok(scores)
    }

    fn fault(&self, class: usize) -> Option<Fault> {
        let stream = RandomStream::new(self.subject.seed ^ class as u64, self.number);
        CLASSES.get(class).and_then(|class| (class.draw)(&mut Draw { stream, peak_a: self.peak_a }))
    }

    fn sound(&self, name: &str, at_strip: f64) -> Measurement {
        Measurement::sample(name, at_strip, self.subject.method.sample.electrodes, SCANS_PER_STRIP)
    }

    /// The sample on its strips, the spoilt ones first.
    fn sample(&self, name: &str, planted: &Planted) -> Vec<Measurement> {
        let strips = self.subject.method.sample.electrodes;
        let spoilt = match planted.scope {
            Scope::OneStrip => 1.min(strips),
            Scope::EveryStrip => strips,
        };
        let fault = self.fault(planted.class);
        // An exchanged channel holds a sound scan of the other sample.
        let at_strip = if fault == Some(Fault::SwappedChannels) { self.other } else { self.truth };
        let faults = fault.map(|fault| (fault, spoilt));
        let first = Measurement {
            strips: spoilt,
            faults: faults.into_iter().collect(),
            ..self.sound(name, at_strip)
        };
        let rest = Measurement { strips: strips - spoilt, ..self.sound(name, self.truth) };
        [first, rest].into_iter().filter(|measurement| measurement.strips > 0).collect()
    }

    fn with_blank_fault(&self, mut batch: Batch, planted: &Planted) -> Batch {
        let fault = self.fault(planted.class);
        for measurement in batch.files.iter_mut().flat_map(|(_, measurements)| measurements) {
            if measurement.role == Role::Blank {
                measurement.faults.extend(fault.map(|fault| (fault, measurement.strips)));
            }
        }
        batch
    }
}

fn row(planted: &Planted, samples: &[&Scored]) -> FaultRow {
    let count = |came: Came| samples.iter().filter(|scored| scored.came == came).count();
    FaultRow {
        name: planted.fault.map_or("no fault", |fault| fault.name()),
        sizes: CLASSES.get(planted.class).map_or("", |class| class.sizes),
        scope: planted.scope,
        needs_identity: planted.fault.is_some_and(|fault| fault.needs_identity()),
        samples: samples.len(),
        refused: count(Came::Refused),
        flagged: count(Came::Flagged),
        right: count(Came::Right),
        wrong: count(Came::Wrong),
        falsely_below: samples.iter().filter(|scored| scored.is_falsely_below).count(),
    }
}
