//! Every way to an interval from the same simulated laboratory, and what each one claims to hold.

use stillwell_assure::{
    BiasEvidence, BiasFinding, Component, DegreesOfFreedom, Distribution, InputQuantity, LineChain,
    MeasurementModel, MonteCarloPlan, RelativeUncertainty, Trials, top_down, within_laboratory,
};
use stillwell_calibrate::{
    Acceptance, AdditionSettings, AdditionWeights, Calibration, CalibrationSettings, ConcentrationEstimate,
    ElectrodeSignals, LevelDeviation, Model, StandardSignal, Weights, calibrate, concentration,
    standard_addition,
};
use stillwell_stats::distributions::student_t_quantile;

use crate::laboratory::{
    DILUTION, DILUTION_U, RECOVERIES, REFERENCE_U, STOCK_U, STRATA, Sample, Study, TRUTHS, standard_levels,
    strip_sd,
};

pub(crate) const COVERAGE: f64 = 0.95;
const TRIALS: u32 = 10_000;

/// An interval and what it claims to hold.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Interval {
    pub(crate) value: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) truth: f64,
}

impl Interval {
    pub(crate) fn holds(&self) -> bool {
        (self.low..=self.high).contains(&self.truth)
    }

    fn about(value: f64, half: f64, truth: f64) -> Self {
        Self { value, low: value - half, high: value + half, truth }
    }

    /// Relative parts that the interval does not hold, in quadrature: as the chain does it.
    fn widened(self, t: f64, relative_u: f64, truth: f64) -> Self {
        let part = t * relative_u * self.value;
        let half = |own: f64| (own * own + part * part).sqrt();
        let (low, high) =
            (self.value - half(self.value - self.low), self.value + half(self.high - self.value));
        Self { low, high, truth, ..self }
    }

    fn times(self, factor: f64) -> Self {
        let Self { value, low, high, truth } = self;
        Self { value: value * factor, low: low * factor, high: high * factor, truth: truth * factor }
    }
}

/// A way to an interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    Fieller,
    FiellerShapeKnown,
    Chain,
    ChainAcrossLots,
    Budget,
    MonteCarlo,
    Addition,
    AdditionTruth,
    TopDownReference,
    TopDownAtReference,
    TopDownRecoveries,
    TopDownElsewhere,
}

pub(crate) const WAYS: [Way; 12] = [
    Way::Fieller,
    Way::FiellerShapeKnown,
    Way::Chain,
    Way::ChainAcrossLots,
    Way::Budget,
    Way::MonteCarlo,
    Way::Addition,
    Way::AdditionTruth,
    Way::TopDownReference,
    Way::TopDownAtReference,
    Way::TopDownRecoveries,
    Way::TopDownElsewhere,
];

/// What a study says at one level, by every way in the order of [`WAYS`].
pub(crate) type Answers = [Interval; 12];

impl Way {
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Fieller => "Fieller alone",
            Self::FiellerShapeKnown => "  shape of the spread known",
            Self::Chain => "chain",
            Self::ChainAcrossLots => "  one calibration, four lots",
            Self::Budget => "GUM budget",
            Self::MonteCarlo => "Monte Carlo",
            Self::Addition => "standard addition alone",
            Self::AdditionTruth => "  with stated parts",
            Self::TopDownReference => "top-down, one reference",
            Self::TopDownAtReference => "  in % of the reference",
            Self::TopDownRecoveries => "top-down, six recoveries",
            Self::TopDownElsewhere => "  reference at 25 only",
        }
    }

    /// What its interval claims to hold, and why it does so more or less often than it says.
    pub(crate) const fn claim(self) -> &'static str {
        match self {
            Self::Fieller => {
                "level on the standards' own scale; too often, since samples get the cautious end of a variance function fitted to 12 degrees of freedom"
            }
            Self::FiellerShapeKnown => {
                "the same with the shape of the spread as simulated: 95 %, so the fitted shape is the cause; also what the third number is where 95 % hold"
            }
            Self::Chain => "true level; as above",
            Self::ChainAcrossLots => {
                "true level, sample on a fifth lot; too seldom: strips of one lot are off together, yet four lots count as 72 strips with 70 degrees of freedom (at 50: 3 lots 85.0 %, 12 lots 95.0 %); at 2 too often, since the strips of a sample count as one"
            }
            Self::Budget => "true level; the spread is that of the chain",
            Self::MonteCarlo => {
                "true level; 10,000 trials place each end within 2.7 % of u (one standard deviation), its coverage within 0.2 %"
            }
            Self::Addition => "level if all signal were analyte",
            Self::AdditionTruth => {
                "true level; too seldom near the detection limit: the blank's error is in all scans of the series and counts as analyte"
            }
            Self::TopDownReference => {
                "true level in any batch; too often, since the bias seen holds chance and the reference's error, and both are added again; near the detection limit too seldom: a result that is low by chance claims less, in %"
            }
            Self::TopDownAtReference => "the same uncertainty in mg/L at the reference's level",
            Self::TopDownRecoveries => {
                "true level in any batch; much too often: single recoveries bring the repeatability a second time"
            }
            Self::TopDownElsewhere => {
                "true level; near the detection limit too seldom: % at 25 say nothing about 2"
            }
        }
    }

    /// Levels at which at least 93 % are asked for; at the others it is known to hold less.
    pub(crate) const fn is_defended(self) -> [bool; STRATA] {
        match self {
            Self::ChainAcrossLots => [true, false, false],
            Self::AdditionTruth | Self::TopDownReference | Self::TopDownElsewhere => [false, true, true],
            _ => [true; STRATA],
        }
    }
}

/// Every way at every level.
pub(crate) fn answers(study: &Study) -> [Answers; STRATA] {
    let calibration = calibrated(&study.standards, Weights::VarianceFunction);
    let deviation = |level: f64| LevelDeviation { level, standard_deviation_a: strip_sd(level) };
    let known = Weights::StandardDeviations(standard_levels().map(deviation).to_vec());
    let shape_known = calibrated(&study.standards, known);
    let across_lots = calibrated(&study.across_lots.standards, Weights::VarianceFunction);
    let history = History::of(study);
    let at = |stratum: usize, sample: &Sample| -> Answers {
        let read = concentration(&calibration, &sample.strips).unwrap();
        let fieller = fieller(&read, sample);
        let chain = chain(fieller, &calibration, sample.truth);
        let lot = ElectrodeSignals {
            electrode: "fifth lot".to_owned(),
            signals_a: study.across_lots.samples[stratum].clone(),
        };
        let on_lot = self::fieller(&concentration(&across_lots, &[lot]).unwrap(), sample);
        let [budget, drawn] =
            modelled(&calibration, &read, sample.truth, study.index * STRATA as u64 + stratum as u64);
        let addition = added(&calibration, sample);
        let seen = |half_percent: f64| {
            Interval::about(chain.value, half_percent / 100.0 * chain.value.abs(), sample.truth)
        };
        [
            fieller,
            self::fieller(&concentration(&shape_known, &sample.strips).unwrap(), sample),
            chain,
            self::chain(on_lot, &across_lots, sample.truth),
            budget,
            drawn,
            addition.0,
            addition.1,
            seen(history.by_reference(stratum)),
            Interval::about(
                chain.value,
                history.by_reference(stratum) / 100.0 * TRUTHS[stratum],
                sample.truth,
            ),
            seen(history.by_recoveries(stratum)),
            seen(history.by_reference(1)),
        ]
    };
    let [low, mid, limit] = &study.samples;
    [at(0, low), at(1, mid), at(2, limit)]
}

pub(crate) fn calibrated(standards: &[StandardSignal], weights: Weights) -> Calibration {
    let settings = CalibrationSettings {
        model: Model::Line,
        weights,
        coverage: COVERAGE,
        max_excluded_fraction: 0.1,
        acceptance: Acceptance::default(),
    };
    calibrate(standards, &settings).unwrap()
}

fn fieller(read: &ConcentrationEstimate, sample: &Sample) -> Interval {
    let truth = sample.on_standards_scale;
    Interval { value: read.value().unwrap(), low: read.low(), high: read.high(), truth }
}

/// Relative standard uncertainty of stock and dilution, which the laboratory knows.
fn stated_u() -> f64 {
    libm::hypot(STOCK_U, DILUTION_U)
}

fn chain(read: Interval, calibration: &Calibration, truth: f64) -> Interval {
    read.times(DILUTION).widened(calibration.curve.t_quantile, stated_u(), truth)
}

/// Budget and Monte Carlo of the whole line, every trial of which fits it anew.
fn modelled(calibration: &Calibration, read: &ConcentrationEstimate, truth: f64, seed: u64) -> [Interval; 2] {
    let points = &calibration.points;
    let levels: Vec<f64> = calibration.levels.iter().map(|level| level.level).collect();
    let place = |level: f64| levels.iter().position(|known| known.total_cmp(&level).is_eq()).unwrap();
    let level_of_standard: Vec<usize> = points.iter().map(|point| place(point.level)).collect();
    let weight_of = |level: &f64| points.iter().find(|p| p.level.total_cmp(level).is_eq()).unwrap().weight;
    let weights: Vec<f64> = levels.iter().map(weight_of).collect();
    let chain = LineChain::new(&levels, &weights, &level_of_standard).unwrap();
    let model = MeasurementModel::new(inputs(calibration, read, levels.len()), &chain).unwrap();
    let budget = model.propagate().unwrap();
    let half = budget.expanded(COVERAGE).unwrap().half_width;
    let plan = MonteCarloPlan { seed, coverage: COVERAGE, trials: Trials::Fixed(TRIALS) };
    let drawn = model.monte_carlo(&plan).unwrap();
    let [low, high] = drawn.intervals.symmetric;
    [Interval::about(budget.value, half, truth), Interval { value: drawn.mean, low, high, truth }]
}

/// Inputs of [`LineChain`]; what this laboratory has no error in keeps its place with a spread too small to matter.
fn inputs(calibration: &Calibration, read: &ConcentrationEstimate, n_levels: usize) -> Vec<InputQuantity> {
    const NOTHING: f64 = 1e-9;
    let make = |name: String, component, mean: f64, standard_uncertainty: f64| {
        let known = Distribution::Normal { mean, standard_uncertainty };
        InputQuantity::new(&name, component, known, "simulated").unwrap()
    };
    let curve = &calibration.curve;
    let spread = || DegreesOfFreedom::Pooled {
        spread: "scatter about the line".into(),
        degrees_of_freedom: f64::from(curve.degrees_of_freedom),
    };
    let standards = calibration.points.iter().enumerate().map(|(k, point)| {
        let u = curve.residual_sd / point.weight.sqrt();
        let input = make(format!("standard {k}"), Component::Calibration, point.mean_signal_a, u);
        input.observed(spread()).unwrap()
    });
    let mut inputs: Vec<InputQuantity> = standards.collect();
    inputs.push(make("stock".into(), Component::StandardsPreparation, 1.0, STOCK_U));
    let own = |k: usize| make(format!("level {k}"), Component::StandardsPreparation, 1.0, NOTHING);
    inputs.extend((0..n_levels).map(own));
    let parts = read.uncertainty.unwrap();
    let of_sample =
        libm::hypot(libm::hypot(parts.of_electrodes, parts.of_fewer_scans), parts.of_disagreement);
    let u = of_sample * curve.coefficients[1].abs();
    let sample = make("sample".into(), Component::BetweenElectrodes, read.mean_signal_a, u);
    inputs.push(sample.observed(spread()).unwrap());
    // The blank's error is in standards and sample alike and goes into the line's height.
    inputs.push(make("blank".into(), Component::Blank, 0.0, NOTHING * curve.residual_sd));
    inputs.push(make("temperature".into(), Component::Temperature, 1.0, NOTHING));
    inputs.push(make("dilution".into(), Component::Dilution, DILUTION, DILUTION * DILUTION_U));
    inputs
}

/// Standard addition weighted by the calibration's variance function: its own claim, and with the stated parts.
fn added(calibration: &Calibration, sample: &Sample) -> (Interval, Interval) {
    let settings = |weights| AdditionSettings { weights, coverage: COVERAGE, max_excluded_fraction: 0.1 };
    let first = standard_addition(&sample.additions, &settings(AdditionWeights::None)).unwrap();
    let curve = &calibration.curve;
    let [v0, v1, v2] = curve.relative_variance;
    let fraction = sample.additions[0].sample_fraction;
    let deviation = |added: &f64| {
        let x = (first.value * fraction + added).clamp(curve.level_min, curve.level_max);
        LevelDeviation { level: *added, standard_deviation_a: (v0 + x * (v1 + x * v2)).sqrt() }
    };
    let weights = AdditionWeights::StandardDeviations(first.additions.iter().map(deviation).collect());
    let found = standard_addition(&sample.additions, &settings(weights)).unwrap();
    let t = student_t_quantile(0.5 + 0.5 * COVERAGE, found.degrees_of_freedom as f64);
    let own = sample.all_signal_is_analyte;
    let alone = Interval { value: found.value, low: found.low, high: found.high, truth: own };
    (alone, alone.widened(t, stated_u(), sample.truth))
}

/// Check standards and recoveries of the past, read off their own calibrations.
struct History {
    checks: [Vec<f64>; STRATA],
    recoveries: [Vec<f64>; STRATA],
}

impl History {
    fn of(study: &Study) -> Self {
        let mut history = Self { checks: Default::default(), recoveries: Default::default() };
        for (at, past) in study.past.iter().enumerate() {
            let calibration = calibrated(&past.standards, Weights::VarianceFunction);
            let read = |strips: &[ElectrodeSignals]| {
                concentration(&calibration, strips).unwrap().value().unwrap() * DILUTION
            };
            for (into, strips) in history.checks.iter_mut().zip(&past.checks) {
                into.push(read(strips));
            }
            for (into, strips) in
                history.recoveries.iter_mut().zip(&past.recoveries).filter(|_| at < RECOVERIES)
            {
                into.push(read(strips));
            }
        }
        history
    }

    /// Expanded uncertainty in %: reproducibility over the batches, and the bias that their mean shows.
    fn by_reference(&self, stratum: usize) -> f64 {
        let (results, level) = (&self.checks[stratum], TRUTHS[stratum]);
        let mean = stillwell_stats::mean(results).unwrap();
        let sd = stillwell_stats::standard_deviation(results).unwrap();
        let evidence = BiasEvidence::OneReference {
            finding: finding(mean, level),
            sd_percent: 100.0 * sd / level,
            n: u32::try_from(results.len()).unwrap(),
        };
        expanded_percent(within_laboratory(results).unwrap(), &evidence)
    }

    /// The same with the bias from single recoveries.
    fn by_recoveries(&self, stratum: usize) -> f64 {
        let findings = self.recoveries[stratum].iter().map(|found| finding(*found, TRUTHS[stratum]));
        let within = within_laboratory(&self.checks[stratum]).unwrap();
        expanded_percent(within, &BiasEvidence::Several(findings.collect()))
    }
}

fn finding(found: f64, level: f64) -> BiasFinding {
    BiasFinding { bias_percent: 100.0 * (found / level - 1.0), reference_u_percent: 100.0 * REFERENCE_U }
}

fn expanded_percent(within: RelativeUncertainty, evidence: &BiasEvidence) -> f64 {
    top_down(within, evidence).unwrap().combined.expanded(COVERAGE).unwrap().half_width
}
