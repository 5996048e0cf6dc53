//! One chart judged: in control, warning, out of control, or too few points to say; which rule, and since when.

use stillwell_stats::censored::Observation;
use stillwell_stats::distributions::{normal_cdf, normal_density};

use super::ewma::{EwmaPoint, EwmaSettings, EwmaWidth, ewma};
use super::limits::{ChartLimits, FEWEST_TRAINING_POINTS, LimitBasis, RISK_OF_THREE_SIGMA, SpreadFrom};
use super::point::{ChartPoint, Charted, PointValue};
use super::run_rules::{RunFinding, RunRule, run_findings};
use super::wording;
use crate::QualityError;

/// Where the limits come from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Training {
    /// The first so many points that have a number and were not excluded, and the bounds among them.
    FirstPoints(usize),
    /// Stated centre and standard deviation.
    Stated {
        /// Centre line.
        centre: f64,
        /// Standard deviation of a single point.
        sigma: f64,
    },
}

/// How a chart is judged.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartSettings {
    /// Where the limits come from.
    pub training: Training,
    /// What the spread is taken from.
    pub spread: SpreadFrom,
    /// How far out the limits lie.
    pub basis: LimitBasis,
    /// Rules that mean out of control.
    pub alarms: Vec<RunRule>,
    /// Rules that mean a warning.
    pub warnings: Vec<RunRule>,
    /// The moving average; beyond its limits is out of control.
    pub ewma: Option<EwmaSettings>,
}

/// Risk of a false alarm in one run over all its charts, shared by the action limits: 5 in 1000.
const ACTION_RISK_PER_RUN: f64 = 0.005;

/// The same for the moving averages: 15 in 10 000.
const AVERAGE_RISK_PER_RUN: f64 = 0.0015;

/// Weight of the newest point in the moving average: finds shifts of about one σ (Lucas & Saccucci 1990).
const LAMBDA: f64 = 0.2;

impl ChartSettings {
    /// Settings for charts that gate the release of verdicts, `n_charts` of them in every run.
    ///
    /// A run may add a point to several charts, and each may alarm by chance. The action limits share 5 in 1000 of false alarms
    /// for each run, the moving averages 15 in 10 000, and no limit lies nearer than that of 3 σ. The run rules by themselves fire
    /// more often than that on sound points, so they warn and withhold nothing.
    ///
    /// # Source
    /// Division of a risk among charts: Bonferroni. Rates with estimated limits: measured by simulation in this room's tests.
    pub fn gating(n_charts: usize, training: Training) -> Self {
        let n = n_charts.max(1) as f64;
        Self {
            training,
            spread: SpreadFrom::StandardDeviation,
            basis: LimitBasis::KeepRisk(f64::min(RISK_OF_THREE_SIGMA, ACTION_RISK_PER_RUN / n)),
            alarms: vec![RunRule::BeyondAction],
            warnings: vec![
                RunRule::BeyondWarning,
                RunRule::TwoOfThreeBeyondWarning,
                RunRule::FourOfFiveBeyondOneThird,
                RunRule::NineOneSide,
                RunRule::SixSteady,
            ],
            ewma: Some(EwmaSettings {
                lambda: LAMBDA,
                width: EwmaWidth::KeepRisk(f64::min(0.001, AVERAGE_RISK_PER_RUN / n)),
            }),
        }
    }

    /// Limits at 2 σ and 3 σ as printed in the standard, with the given rules as alarms and no moving average.
    ///
    /// # Source
    /// ISO 7870-2:2013.
    pub fn as_published(training: Training, alarms: &[RunRule]) -> Self {
        Self {
            training,
            spread: SpreadFrom::MovingRange,
            basis: LimitBasis::ThreeSigma,
            alarms: alarms.to_vec(),
            warnings: vec![RunRule::BeyondWarning],
            ewma: None,
        }
    }
}

/// What one point says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PointState {
    /// It belongs to the training period and is not judged by limits made from it.
    Training,
    /// Within all limits, and part of no pattern.
    InControl,
    /// A warning rule fires here.
    Warning,
    /// An alarm fires here, or a pattern that raised one holds this point.
    OutOfControl,
    /// Left out, missing, or known only as a bound that does not settle it.
    NotJudged,
}

/// What raised an alarm or a warning.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Signal {
    /// A run rule.
    Run(RunFinding),
    /// The moving average lies beyond its limits.
    Average {
        /// First point of the excursion: the first since the average left the centre's side.
        since: usize,
        /// Where it was beyond first.
        fired_at: usize,
        /// The last point at which it is.
        until: usize,
        /// Whether it lies above.
        is_high: bool,
    },
    /// A bound that settles it: "less than" something below the limits, or "more than" something above.
    Bound {
        /// The point.
        at: usize,
        /// Whether it lies above.
        is_high: bool,
    },
}

impl Signal {
    /// First point of the pattern: since when.
    pub const fn since(&self) -> usize {
        match self {
            Self::Run(found) => found.since,
            Self::Average { since, .. } => *since,
            Self::Bound { at, .. } => *at,
        }
    }

    /// The point at which it fired first.
    pub const fn fired_at(&self) -> usize {
        match self {
            Self::Run(found) => found.fired_at,
            Self::Average { fired_at, .. } => *fired_at,
            Self::Bound { at, .. } => *at,
        }
    }

    /// The last point at which it fires.
    pub const fn until(&self) -> usize {
        match self {
            Self::Run(found) => found.until,
            Self::Average { until, .. } => *until,
            Self::Bound { at, .. } => *at,
        }
    }
}

/// What the newest points say of the chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChartState {
    /// The last judged point is in control.
    InControl,
    /// It warns.
    Warning,
    /// It is out of control.
    OutOfControl,
    /// Too few points for limits, or none beyond them.
    TooFewPoints {
        /// Usable points.
        found: usize,
        /// How many are needed before one can be judged.
        needed: usize,
    },
}

/// A chart, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// What is charted.
    pub charted: Charted,
    /// Unit of the points, as it is shown.
    pub unit: String,
    /// The points in order of time.
    pub points: Vec<ChartPoint>,
    /// The limits; none with too few points.
    pub limits: Option<ChartLimits>,
    /// One for each point.
    pub states: Vec<PointState>,
    /// The moving average at each point; empty where it is not used.
    pub averages: Vec<EwmaPoint>,
    /// What means out of control.
    pub alarms: Vec<Signal>,
    /// What means a warning.
    pub warnings: Vec<Signal>,
    /// The verdict on the newest points.
    pub state: ChartState,
    /// Points of the training period that lie beyond the limits made from it.
    pub training_beyond: Vec<usize>,
}

/// The training period of a chart. Its points made the limits; they are not judged and vouch for no verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trained<'a> {
    /// Its numbers.
    pub n_points: usize,
    /// Bounds such as "less than" beside them.
    pub n_bounds: usize,
    /// Its last point, as it is named to people.
    pub until: &'a str,
}

/// Judges a chart.
///
/// # Units
/// Values in `unit`; points in order of time, the oldest first.
///
/// # Errors
/// [`QualityError`] for settings that cannot be used or a training period without any spread. Too few points are no error: that is
/// [`ChartState::TooFewPoints`].
///
/// # Source
/// ISO 7870-2:2013 and ISO 7870-6:2016; what the settings name.
///
/// # Example
/// ```
/// use stillwell_assure::control::{ChartPoint, ChartSettings, ChartState, Charted, Training, judge_chart};
/// let found = [99.2, 101.0, 100.4, 98.8, 100.9, 99.6, 100.2, 99.9, 100.8, 99.1, 92.0];
/// let points = found.iter().enumerate().map(|(i, v)| ChartPoint::found(format!("batch {}", i + 1), None, *v)).collect();
/// let chart = judge_chart(Charted::CheckStandard, "%", points, &ChartSettings::gating(1, Training::FirstPoints(10)))?;
/// assert_eq!(chart.state, ChartState::OutOfControl);
/// assert_eq!(chart.alarms[0].since(), 10);
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn judge_chart(
    charted: Charted,
    unit: impl Into<String>,
    points: Vec<ChartPoint>,
    settings: &ChartSettings,
) -> Result<Chart, QualityError> {
    let n_usable = points.iter().filter(|point| usable(point).is_some()).count();
    let (limits, n_passed, needed) = limits_of(charted, &points, settings)?;
    let mut chart = Chart {
        charted,
        unit: unit.into(),
        states: vec![PointState::NotJudged; points.len()],
        points,
        limits,
        averages: Vec::new(),
        alarms: Vec::new(),
        warnings: Vec::new(),
        state: ChartState::TooFewPoints { found: n_usable, needed },
        training_beyond: Vec::new(),
    };
    let Some(limits) = chart.limits else { return Ok(chart) };
    chart.training_beyond = beyond(&chart.points[..n_passed], &limits);
    let judged: Vec<Option<f64>> = chart.points[n_passed..].iter().map(usable).collect();
    let shift = |finding: RunFinding| {
        Signal::Run(RunFinding {
            since: finding.since + n_passed,
            fired_at: finding.fired_at + n_passed,
            until: finding.until + n_passed,
            ..finding
        })
    };
    chart.alarms = run_findings(&judged, &limits, &settings.alarms).into_iter().map(shift).collect();
    chart.warnings = run_findings(&judged, &limits, &settings.warnings).into_iter().map(shift).collect();
    if let Some(average) = settings.ewma {
        // A single gross point is the action limits' affair: here it counts as far as they reach.
        let [low, high] = limits.action();
        let held: Vec<Option<f64>> = chart.points[n_passed..]
            .iter()
            .map(|point| known(point).map(|seen| expected(seen, &limits).clamp(low, high)))
            .collect();
        let averages = ewma(&held, &limits, average)?;
        chart.alarms.extend(excursions(&averages, &judged, &limits, n_passed));
        chart.averages = averages;
    }
    chart.alarms.extend(settling_bounds(&chart.points, n_passed, &limits));
    chart.alarms.sort_by_key(Signal::fired_at);
    set_states(&mut chart, n_passed, &judged);
    Ok(chart)
}

/// The number of a point that counts.
fn usable(point: &ChartPoint) -> Option<f64> {
    if point.excluded.is_some() { None } else { point.value.number() }
}

/// Limits, how many points belong to the training period (left-out ones among them), and how many must be there before one can
/// be judged.
fn limits_of(
    charted: Charted,
    points: &[ChartPoint],
    settings: &ChartSettings,
) -> Result<(Option<ChartLimits>, usize, usize), QualityError> {
    let n_training = match settings.training {
        Training::Stated { centre, sigma } => {
            return Ok((Some(ChartLimits::stated(centre, sigma)?), 0, 1));
        }
        Training::FirstPoints(n) => n.max(FEWEST_TRAINING_POINTS),
    };
    let numbers: Vec<(usize, f64)> =
        points.iter().enumerate().filter_map(|(at, point)| Some((at, usable(point)?))).collect();
    let (Some(last), true) = (numbers.get(n_training - 1), numbers.len() > n_training) else {
        return Ok((None, 0, n_training + 1));
    };
    let n_passed = last.0 + 1;
    let training: Vec<Observation> = points[..n_passed].iter().filter_map(known).collect();
    let training_numbers: Vec<f64> = numbers[..n_training].iter().map(|(_, value)| *value).collect();
    let limits = if charted == Charted::Duplicate {
        ChartLimits::about_zero(&training_numbers, settings.basis)?
    } else if training.len() > n_training {
        ChartLimits::from_censored_training(&training, settings.basis)?
    } else {
        ChartLimits::from_training(&training_numbers, settings.spread, settings.basis)?
    };
    Ok((Some(limits), n_passed, n_training + 1))
}

/// What is known of a point that counts: a number or a bound.
fn known(point: &ChartPoint) -> Option<Observation> {
    if point.excluded.is_some() {
        return None;
    }
    match point.value {
        PointValue::Found(value) => Some(Observation::Found(value)).filter(|_| value.is_finite()),
        PointValue::LessThan(bound) => Some(Observation::Below(bound)),
        PointValue::MoreThan(bound) => Some(Observation::Above(bound)),
        PointValue::Missing => None,
    }
}

/// What goes into the moving average: a number as it is; for a bound the mean of sound points beyond it. Without the bounds the average
/// of sound points would lie on the side of the numbers.
fn expected(seen: Observation, limits: &ChartLimits) -> f64 {
    let mean_beyond = |bound: f64, side: f64| {
        let z = side * (bound - limits.centre) / limits.sigma;
        let share = normal_cdf(z);
        // A sound point does not lie there at all: the bound speaks for itself.
        if share > 1e-9 { limits.centre - side * limits.sigma * normal_density(z) / share } else { bound }
    };
    match seen {
        Observation::Found(value) => value,
        Observation::Below(bound) => mean_beyond(bound, 1.0),
        Observation::Above(bound) => mean_beyond(bound, -1.0),
    }
}

fn beyond(points: &[ChartPoint], limits: &ChartLimits) -> Vec<usize> {
    let is_beyond =
        |value: f64| (value - limits.centre).abs() > f64::min(limits.action_half_width, 3.0 * limits.sigma);
    points
        .iter()
        .enumerate()
        .filter(|(_, point)| usable(point).is_some_and(is_beyond))
        .map(|(at, _)| at)
        .collect()
}

/// Stretches of the moving average beyond its limits. Each began where the average last left the centre.
fn excursions(
    averages: &[EwmaPoint],
    judged: &[Option<f64>],
    limits: &ChartLimits,
    n_passed: usize,
) -> Vec<Signal> {
    let mut found: Vec<Signal> = Vec::new();
    let mut left_centre = 0;
    let mut was_high = None;
    for (at, average) in averages.iter().enumerate() {
        let is_high = average.value > limits.centre;
        if was_high != Some(is_high) {
            left_centre = at;
        }
        was_high = Some(is_high);
        if !average.is_beyond() || judged[at].is_none() {
            continue;
        }
        match found.last_mut() {
            Some(Signal::Average { until, is_high: before, .. })
                if *before == is_high && left_centre + n_passed <= *until =>
            {
                *until = at + n_passed;
            }
            _ => found.push(Signal::Average {
                since: left_centre + n_passed,
                fired_at: at + n_passed,
                until: at + n_passed,
                is_high,
            }),
        }
    }
    found
}

fn set_states(chart: &mut Chart, n_passed: usize, judged: &[Option<f64>]) {
    for (at, state) in chart.states.iter_mut().enumerate() {
        let point = &chart.points[at];
        *state = match at.checked_sub(n_passed) {
            None if known(point).is_some() => PointState::Training,
            Some(at) if judged[at].is_some() => PointState::InControl,
            _ => PointState::NotJudged,
        };
    }
    // A point in the midst of an alarm that cannot be judged by itself stays so; a bound that settles it is judged.
    for signal in &chart.alarms {
        for (at, state) in chart.states.iter_mut().enumerate().take(signal.until() + 1).skip(signal.since()) {
            if *state != PointState::NotJudged
                || matches!(signal, Signal::Bound { at: own, .. } if *own == at)
            {
                *state = PointState::OutOfControl;
            }
        }
    }
    // A warning speaks of the moment, an alarm of all the points that it rests on.
    for signal in &chart.warnings {
        for state in &mut chart.states[signal.fired_at()..=signal.until()] {
            if *state == PointState::InControl {
                *state = PointState::Warning;
            }
        }
    }
    let last = chart.states.iter().rev().find(|state| **state != PointState::NotJudged);
    chart.state = match last {
        Some(PointState::OutOfControl) => ChartState::OutOfControl,
        Some(PointState::Warning) => ChartState::Warning,
        Some(PointState::InControl) => ChartState::InControl,
        _ => chart.state,
    };
}

/// Points known only as a bound that lies beyond the action limits all the same.
fn settling_bounds(points: &[ChartPoint], n_passed: usize, limits: &ChartLimits) -> Vec<Signal> {
    let [low, high] = limits.action();
    let judged = points.iter().enumerate().skip(n_passed).filter(|(_, point)| point.excluded.is_none());
    judged
        .filter_map(|(at, point)| match point.value {
            PointValue::LessThan(bound) if bound < low => Some(Signal::Bound { at, is_high: false }),
            PointValue::MoreThan(bound) if bound > high => Some(Signal::Bound { at, is_high: true }),
            _ => None,
        })
        .collect()
}

impl Chart {
    /// The verdict in a sentence or two: state, rule, since when, with its numbers.
    pub fn words(&self) -> String {
        wording::chart(self)
    }

    /// Each alarm in a sentence.
    pub fn alarm_words(&self) -> Vec<String> {
        self.alarms.iter().map(|signal| wording::signal(self, signal)).collect()
    }

    /// Each warning in a sentence.
    pub fn warning_words(&self) -> Vec<String> {
        self.warnings.iter().map(|signal| wording::signal(self, signal)).collect()
    }

    /// What trained the limits; none where they were stated or there are none.
    pub fn trained(&self) -> Option<Trained<'_>> {
        let limits = self.limits?;
        let last = self.states.iter().rposition(|state| *state == PointState::Training)?;
        Some(Trained {
            n_points: limits.n_training?,
            n_bounds: limits.n_training_bounds,
            until: self.points.get(last)?.label.as_str(),
        })
    }

    /// The same in words.
    pub fn training_words(&self) -> Option<String> {
        wording::training(self)
    }

    /// What else the reader should know: training points beyond their own limits, days without points, days with two, points that
    /// could not be judged, and what to do when out of control.
    pub fn advice(&self) -> Vec<String> {
        wording::advice(self)
    }
}
