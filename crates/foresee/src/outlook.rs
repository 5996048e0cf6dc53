//! What a method would give with a cell and a circuit: detection limit, bias, precision, coverage, refusals.

use rayon::prelude::*;
use stillwell_method::{Check, Effect, Finding, Method, NamedText, Report, Role, determine};
use stillwell_stats::{mean, standard_deviation};

use crate::bench::Bench;
use crate::error::ForeseeError;
use crate::model::{CellModel, CircuitModel};
use crate::plan::{Batch, Measurement};
use crate::record::{Traces, simulate_plan};
use crate::scored::{Came, Scored, limits, scored};
use crate::trial::{SCANS_PER_STRIP, text_form, trial};

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The method.
    pub method: &'a Method,
    /// Its text, as it goes into each simulated folder.
    pub method_text: NamedText<'a>,
    /// The kind of electrode in its electrolyte.
    pub cell: &'a CellModel,
    /// Trials: each a lot of its own with its own calibration.
    pub trials: u32,
    /// Another seed is another world.
    pub seed: u64,
}

/// What comes of one circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Trials that were made.
    pub trials: u32,
    /// Trials whose calibration was accepted, with a detection limit.
    pub calibrated: u32,
    /// Detection limit in the method's reporting unit, over the calibrated trials.
    pub detection_limit: Option<Spread>,
    /// Quantification limit.
    pub quantification_limit: Option<Spread>,
    /// Median detection limit over all trials whose calibration states one, accepted or not. No result would be released
    /// by the others; what a part costs is told by them all the same.
    pub stated_detection_limit: Option<f64>,
    /// Median noise of the scans' baselines, A.
    pub noise_a: Option<f64>,
    /// Scans of standards and samples that were made, and refused.
    pub scans: (usize, usize),
    /// The check that refused most of the refused ones, and how many it refused.
    pub scan_obstacle: Option<(Check, usize)>,
    /// Why most of the other trials were not calibrated.
    pub obstacle: Option<Obstacle>,
    /// What became of the samples, level by level.
    pub levels: Vec<LevelOutlook>,
}

impl Outlook {
    /// The middle one of the levels that were tried.
    pub fn middle_level(&self) -> Option<&LevelOutlook> {
        self.levels.get(self.levels.len() / 2)
    }
}

/// Median with the lowest and the highest over the trials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Median.
    pub median: f64,
    /// Lowest.
    pub low: f64,
    /// Highest.
    pub high: f64,
}

/// What becomes of samples at one level.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelOutlook {
    /// True level in the method's reporting unit.
    pub truth: f64,
    /// Samples that gave a number.
    pub quantified: usize,
    /// Samples that gave a bound: less than, or above.
    pub bounded: usize,
    /// Samples refused.
    pub refused: usize,
    /// Numbers and bounds that hold the truth.
    pub held: usize,
    /// Mean of the numbers less the truth; from two numbers on.
    pub bias: Option<f64>,
    /// Standard deviation of the numbers between trials; from two numbers on.
    pub standard_deviation: Option<f64>,
    /// Median of the expanded uncertainties that the chain states.
    pub expanded_u: Option<f64>,
    /// Truth above a limit, said to be below it.
    pub falsely_below: usize,
}

/// Why trials gave no calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct Obstacle {
    /// What the chain found, in the first of the trials that it kept from a calibration.
    pub finding: Finding,
    /// Trials that it kept from one.
    pub trials: u32,
}

/// One circuit's part of one trial.
struct Found {
    limits: Option<(f64, f64)>,
    stated_limit: Option<f64>,
    noise_a: Vec<f64>,
    scans: (usize, usize),
    scan_refusals: Vec<Check>,
    /// What kept it from a calibration, where it has none.
    obstacle: Option<Finding>,
    samples: Vec<Scored>,
}

/// True levels at which samples are tried: the lowest and the middle standard, and the lowest limit within the standards.
pub fn tried_levels(method: &Method) -> Vec<f64> {
    let mut levels: Vec<f64> =
        method.calibration.levels.iter().copied().filter(|level| *level > 0.0).collect();
    levels.sort_by(f64::total_cmp);
    let (Some(low), Some(middle), Some(high)) =
        (levels.first().copied(), levels.get(levels.len() / 2).copied(), levels.last().copied())
    else {
        return Vec::new();
    };
    let limit = limits(method).into_iter().map(|(_, value)| value).filter(|value| *value < high);
    let mut tried = vec![low, middle];
    tried.extend(limit.min_by(f64::total_cmp));
    tried.sort_by(f64::total_cmp);
    tried.dedup_by(|a, b| (*a - *b).abs() < 0.02 * high);
    tried
}

impl Question<'_> {
    /// What each circuit would give, on the same strips. A trial is simulated once for all circuits that apply the same
    /// potentials; `progress` is called after each trial with each circuit.
    ///
    /// # Units
    /// The method's reporting unit; A.
    ///
    /// # Errors
    /// What the twin refuses; a method without levels; no trials.
    pub fn outlooks(
        &self,
        circuits: &[CircuitModel],
        progress: impl Fn() + Sync,
    ) -> Result<Vec<Outlook>, ForeseeError> {
        if self.trials == 0 {
            let accepted = "1 or more";
            return Err(ForeseeError::OutOfRange { what: "the number of trials", found: 0.0, accepted });
        }
        let tried = tried_levels(self.method);
        let trials = (1..=self.trials)
            .into_par_iter()
            .map(|number| self.trial(u64::from(number), circuits, &tried, &progress))
            .collect::<Result<Vec<Vec<Found>>, ForeseeError>>()?;
        let of_circuit = |index: usize| {
            let found: Vec<&Found> = trials.iter().filter_map(|trial| trial.get(index)).collect();
            outlook(&found, &tried)
        };
        Ok((0..circuits.len()).map(of_circuit).collect())
    }

    /// How often `progress` of [`Question::outlooks`] will be called.
    pub fn n_steps(&self, n_circuits: usize) -> u64 {
        u64::from(self.trials) * n_circuits as u64
    }

    fn trial(
        &self,
        number: u64,
        circuits: &[CircuitModel],
        tried: &[f64],
        progress: &(impl Fn() + Sync),
    ) -> Result<Vec<Found>, ForeseeError> {
        let strips = self.method.sample.electrodes;
        let samples = |tried: &[f64]| -> Vec<Measurement> {
            let of = |(index, truth): (usize, &f64)| {
                Measurement::sample(&format!("S{index}"), *truth, strips, SCANS_PER_STRIP)
            };
            tried.iter().enumerate().map(of).collect()
        };
        let replicates = self.method.calibration.electrodes;
        // Each circuit writes in a form of its own, below: what it gives must not depend on the others.
        let Some(form) = circuits.first().map(|model| text_form(&model.circuit)) else {
            return Ok(Vec::new());
        };
        let batches = [trial(self.method, number, replicates, &form, samples(tried))?];
        let mut simulated: Vec<(&CircuitModel, Traces<'_>)> = Vec::new();
        let mut found = Vec::new();
        for model in circuits {
            let known = simulated.iter().position(|(before, _)| applies_the_same(before, model));
            let place = known.unwrap_or(simulated.len());
            if known.is_none() {
                simulated.push((model, self.traces(model, &batches)?));
            }
            if let Some((_, traces)) = simulated.get(place) {
                found.push(self.found(traces, model, tried)?);
            }
            progress();
        }
        Ok(found)
    }

    fn traces<'b>(
        &'b self,
        model: &'b CircuitModel,
        batches: &'b [Batch],
    ) -> Result<Traces<'b>, ForeseeError> {
        let bench =
            Bench { cell: self.cell, circuit: model, technique: &self.method.technique, seed: self.seed };
        simulate_plan(bench, batches, &self.method.analyte.reported_as, || {})
    }

    fn found(&self, traces: &Traces<'_>, model: &CircuitModel, tried: &[f64]) -> Result<Found, ForeseeError> {
        let form = text_form(&model.circuit);
        let input = traces.recorded_as(&model.circuit, Some(&form))?.input(self.method_text)?;
        let report = determine(&input);
        let calibration = report.calibrations.iter().find(|link| link.is_accepted());
        let claim = calibration.and_then(|link| link.detection.as_ref());
        let stated = report.calibrations.iter().find_map(|link| link.detection.as_ref());
        Ok(Found {
            stated_limit: stated.map(|claim| claim.detection_limit.value()),
            limits: claim.map(|c| (c.detection_limit.value(), c.quantification_limit.value())),
            noise_a: noise_a(&report),
            scans: scans(&report),
            scan_refusals: scan_refusals(&report),
            obstacle: if claim.is_none() { obstacle(&report) } else { None },
            samples: tried
                .iter()
                .zip(&report.determinations)
                .map(|(truth, determination)| scored(self.method, determination, *truth))
                .collect(),
        })
    }
}

/// Whether the two circuits make the same potentials and sample over the same time: then one simulation serves both.
fn applies_the_same(a: &CircuitModel, b: &CircuitModel) -> bool {
    let same = |a: f64, b: f64| a.total_cmp(&b).is_eq();
    same(a.circuit.potential_step_v, b.circuit.potential_step_v)
        && same(a.sampling_window_s, b.sampling_window_s)
}

fn noise_a(report: &Report) -> Vec<f64> {
    let signals = report.scans.iter().filter_map(|link| link.signal.as_ref());
    signals.filter_map(|signal| signal.noise_a).collect()
}

/// Scans made and refused, without the blanks.
fn scans(report: &Report) -> (usize, usize) {
    let of_a_solution = report.scans.iter().filter(|link| link.row.role != Role::Blank);
    let refused = of_a_solution.clone().filter(|link| link.is_refused()).count();
    (of_a_solution.count(), refused)
}

/// For each refused scan the first check that refused it.
fn scan_refusals(report: &Report) -> Vec<Check> {
    let of_a_solution = report.scans.iter().filter(|link| link.row.role != Role::Blank);
    let first = of_a_solution.filter_map(|link| link.findings.iter().find(|finding| is_refusal(finding)));
    first.map(|finding| finding.check).collect()
}

/// The first finding that refuses a calibration; else the first that refuses a scan.
fn obstacle(report: &Report) -> Option<Finding> {
    let of_calibrations = report.calibrations.iter().flat_map(|link| &link.findings);
    let of_scans = report.scans.iter().flat_map(|link| &link.findings);
    of_calibrations.chain(of_scans).find(|finding| is_refusal(finding)).cloned()
}

fn is_refusal(finding: &Finding) -> bool {
    finding.is_in_force(Effect::Refused)
}

/// The check that stands most often, the earliest of equals, and how often it stands.
fn most_frequent(checks: &[Check]) -> Option<(Check, usize)> {
    let mut counts: Vec<(Check, usize)> = Vec::new();
    for check in checks {
        match counts.iter_mut().find(|(known, _)| known == check) {
            Some((_, count)) => *count += 1,
            None => counts.push((*check, 1)),
        }
    }
    counts.into_iter().rev().max_by_key(|(_, count)| *count)
}

fn most_frequent_obstacle(found: &[&Found]) -> Option<Obstacle> {
    let all: Vec<&Finding> = found.iter().filter_map(|found| found.obstacle.as_ref()).collect();
    let checks: Vec<Check> = all.iter().map(|finding| finding.check).collect();
    let (check, trials) = most_frequent(&checks)?;
    let finding = (*all.iter().find(|finding| finding.check == check)?).clone();
    Some(Obstacle { finding, trials: u32::try_from(trials).unwrap_or(u32::MAX) })
}

fn outlook(found: &[&Found], tried: &[f64]) -> Outlook {
    let limits: Vec<(f64, f64)> = found.iter().filter_map(|found| found.limits).collect();
    let refusals: Vec<Check> = found.iter().flat_map(|found| found.scan_refusals.iter().copied()).collect();
    let noise: Vec<f64> = found.iter().flat_map(|found| found.noise_a.iter().copied()).collect();
    let count = |of: fn(&Found) -> usize| found.iter().map(|found| of(found)).sum();
    let level = |(index, truth): (usize, &f64)| {
        let samples: Vec<&Scored> = found.iter().filter_map(|found| found.samples.get(index)).collect();
        level_outlook(*truth, &samples)
    };
    Outlook {
        trials: u32::try_from(found.len()).unwrap_or(u32::MAX),
        calibrated: u32::try_from(limits.len()).unwrap_or(u32::MAX),
        detection_limit: spread(limits.iter().map(|(detection, _)| *detection).collect()),
        quantification_limit: spread(limits.iter().map(|(_, quantification)| *quantification).collect()),
        stated_detection_limit: spread(found.iter().filter_map(|found| found.stated_limit).collect())
            .map(|spread| spread.median),
        noise_a: spread(noise).map(|spread| spread.median),
        scans: (count(|found| found.scans.0), count(|found| found.scans.1)),
        scan_obstacle: most_frequent(&refusals),
        obstacle: most_frequent_obstacle(found),
        levels: tried.iter().enumerate().map(level).collect(),
    }
}

fn level_outlook(truth: f64, samples: &[&Scored]) -> LevelOutlook {
    let numbers: Vec<f64> =
        samples.iter().filter_map(|scored| scored.estimate).map(|(value, _)| value).collect();
    let expanded: Vec<f64> = samples.iter().filter_map(|scored| scored.estimate).map(|(_, u)| u).collect();
    let refused = samples.iter().filter(|scored| scored.came == Came::Refused).count();
    LevelOutlook {
        truth,
        quantified: numbers.len(),
        bounded: samples.len() - refused - numbers.len(),
        refused,
        held: samples.iter().filter(|scored| scored.holds == Some(true)).count(),
        bias: (numbers.len() > 1).then(|| mean(&numbers).ok()).flatten().map(|mean| mean - truth),
        standard_deviation: (numbers.len() > 1).then(|| standard_deviation(&numbers).ok()).flatten(),
        expanded_u: spread(expanded).map(|spread| spread.median),
        falsely_below: samples.iter().filter(|scored| scored.is_falsely_below).count(),
    }
}

/// Median (of an even number the mean of the middle two), lowest, highest.
fn spread(mut values: Vec<f64>) -> Option<Spread> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    let upper = *values.get(middle)?;
    let median = if values.len() % 2 == 1 { upper } else { f64::midpoint(*values.get(middle - 1)?, upper) };
    Some(Spread { median, low: *values.first()?, high: *values.last()? })
}
