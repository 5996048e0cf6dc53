//! The control charts of one series or of several, one after the other: every chart, what could not be charted, how strips age, and
//! which determinations a chart out of control withholds.

use std::collections::BTreeMap;

use stillwell_assure::control::{
    Ageing, ChartState, Charted, FEWEST_TRAINING_POINTS, PointValue, Withheld, ageing,
};

use crate::control::{
    ChartRefused, ControlChart, ControlPoint, GATING_CHARTS, Moment, control_charts, control_points, held,
    moments,
};
use crate::determination::Report;
use crate::file::Method;
use crate::run_sheet::Role;
use crate::walks::Walk;

/// All charts of a place.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartReview {
    /// Points that make the limits of each chart.
    pub n_training: usize,
    /// Whether the method states that number: only then do charts withhold.
    pub is_stated: bool,
    /// The reporting unit, as it is shown.
    pub unit: String,
    /// Charts, too few points among them; those that gate release first.
    pub charts: Vec<ControlChart>,
    /// Charts that could not be made.
    pub refused: Vec<ChartRefused>,
    /// Charts that gate release and have no point at all.
    pub absent: Vec<Charted>,
    /// How the peak's potential wanders with the days, lot by lot.
    pub ageing: Vec<AgeingFound>,
    /// Determinations that a chart withholds.
    pub held: Vec<ChartHeld>,
}

/// How the peak of known solutions wanders within one lot of strips.
#[derive(Debug, Clone, PartialEq)]
pub struct AgeingFound {
    /// The lot; empty where not stated.
    pub lot: String,
    /// Points of known day.
    pub n_points: usize,
    /// The line, its drift and when it leaves the peak's window, V and days since the first point.
    pub ageing: Ageing,
}

/// A determination that a chart withholds.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartHeld {
    /// Which of the walks.
    pub walk: usize,
    /// Place in [`crate::Report::determinations`] of that walk.
    pub determination: usize,
    /// The sample.
    pub sample: String,
    /// Whether it is a sample, a duplicate or a spike of one.
    pub role: Role,
    /// Its batch; empty where not stated.
    pub batch: String,
    /// Which chart.
    pub charted: Charted,
    /// Why.
    pub withheld: Withheld,
}

/// Reviews the charts of walks that stand in the order of time; within a walk the order is that of the run sheet.
///
/// # Units
/// As [`control_points`]. `n_training` is used where the method states none, and then nothing is withheld.
///
/// # Source
/// Charts: [`stillwell_assure::control::judge_chart`]; release: [`stillwell_assure::control::release`].
pub fn chart_review(method: &Method, walks: &[Walk<'_>], n_training: Option<u32>) -> ChartReview {
    let stated = method.calibration.acceptance.chart_training_points;
    let n_training = stated.or(n_training).map_or(FEWEST_TRAINING_POINTS, |n| n as usize);
    let unit = method.analyte.reported_as.to_string();
    let contributions: Vec<ChartContribution> =
        walks.iter().map(|walk| chart_contribution(method, walk.report)).collect();
    let gathered = Gathered::of(&contributions.iter().collect::<Vec<_>>());
    let mut review = ChartReview {
        n_training: n_training.max(FEWEST_TRAINING_POINTS),
        is_stated: stated.is_some(),
        unit,
        charts: Vec::new(),
        refused: Vec::new(),
        absent: absent(&gathered.points),
        ageing: lots_ageing(method, walks, &gathered),
        held: Vec::new(),
    };
    for made in control_charts(&gathered.points, &review.unit, review.n_training) {
        match made {
            Ok(chart) => review.charts.push(chart),
            Err(refused) => review.refused.push(refused),
        }
    }
    if review.is_stated {
        review.held = all_held(walks, &review.charts, &gathered);
    }
    review
}

impl ChartReview {
    /// The gating charts whose newest points are out of control.
    pub fn out_of_control(&self) -> impl Iterator<Item = &ControlChart> {
        self.charts.iter().filter(|made| is_gating(made) && made.chart.state == ChartState::OutOfControl)
    }

    /// Whether some gating chart has limits and points to judge.
    pub fn judges_something(&self) -> bool {
        self.charts.iter().any(|made| is_gating(made) && made.chart.limits.is_some())
    }

    /// Whether someone must look: a chart out of control, verdicts withheld, none that could be judged, one that could not be
    /// made, or strips whose peak left its window.
    pub fn needs_attention(&self) -> bool {
        self.out_of_control().next().is_some()
            || !self.held.is_empty()
            || !self.refused.is_empty()
            || !self.judges_something()
            || self.ageing.iter().any(|found| found.ageing.is_outside)
    }
}

fn is_gating(made: &ControlChart) -> bool {
    GATING_CHARTS.contains(&made.chart.charted)
}

/// What a walked series gives to the charts of a place: all that they need of it, and small enough to be kept.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ChartContribution {
    points: Vec<ControlPoint>,
    moments: Vec<Moment>,
    n_scans: usize,
}

/// What a report gives to the charts.
///
/// # Units
/// As [`control_points`].
pub fn chart_contribution(method: &Method, report: &Report) -> ChartContribution {
    ChartContribution {
        points: control_points(method, report),
        moments: moments(method, report),
        n_scans: report.scans.len(),
    }
}

/// A determination that a chart withholds, by its place.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldPlace {
    /// Which of the series.
    pub walk: usize,
    /// Place in [`Report::determinations`] of that series.
    pub determination: usize,
    /// Which chart.
    pub charted: Charted,
    /// Why.
    pub withheld: Withheld,
}

/// Which determinations the charts over several series withhold: [`chart_review`] without the rest. Nothing where the method states
/// no training period.
///
/// # Units
/// Contributions of the same method, in the order of time.
///
/// # Source
/// As [`chart_review`].
pub fn held_by_charts(method: &Method, contributions: &[&ChartContribution]) -> Vec<HeldPlace> {
    let Some(n_training) = method.calibration.acceptance.chart_training_points else { return Vec::new() };
    let gathered = Gathered::of(contributions);
    let unit = method.analyte.reported_as.to_string();
    let n_training = (n_training as usize).max(FEWEST_TRAINING_POINTS);
    let made = control_charts(&gathered.points, &unit, n_training);
    let charts: Vec<ControlChart> = made.into_iter().filter_map(Result::ok).collect();
    held_places(&charts, &gathered)
}

/// Points and determinations of all walks, counted through.
struct Gathered {
    points: Vec<ControlPoint>,
    /// Where a determination of that number stands: walk and place.
    numbered: Vec<(usize, usize)>,
    moments: Vec<Moment>,
    /// How many scans stand before each walk.
    before: Vec<usize>,
}

impl Gathered {
    fn of(contributions: &[&ChartContribution]) -> Self {
        let mut all =
            Self { points: Vec::new(), numbered: Vec::new(), moments: Vec::new(), before: Vec::new() };
        let mut scans_before = 0;
        for (walk, one) in contributions.iter().enumerate() {
            all.before.push(scans_before);
            all.points.extend(one.points.iter().cloned().map(|mut point| {
                point.place += scans_before;
                point
            }));
            for mut moment in one.moments.iter().cloned() {
                all.numbered.push((walk, moment.determination));
                moment.determination = all.numbered.len() - 1;
                moment.ends.iter_mut().for_each(|(place, _)| *place += scans_before);
                all.moments.push(moment);
            }
            scans_before += one.n_scans;
        }
        all
    }

    /// Walk and place of a scan that was counted through.
    fn scan(&self, place: usize) -> Option<(usize, usize)> {
        let walk = self.before.iter().rposition(|before| *before <= place)?;
        Some((walk, place - self.before.get(walk)?))
    }
}

fn absent(points: &[ControlPoint]) -> Vec<Charted> {
    let has_none = |charted: &Charted| !points.iter().any(|point| point.charted == *charted);
    GATING_CHARTS.into_iter().filter(has_none).collect()
}

fn all_held(walks: &[Walk<'_>], charts: &[ControlChart], gathered: &Gathered) -> Vec<ChartHeld> {
    let named = |one: HeldPlace| {
        let found = walks.get(one.walk)?.report.determinations.get(one.determination)?;
        Some(ChartHeld {
            walk: one.walk,
            determination: one.determination,
            sample: found.sample.clone(),
            role: found.role,
            batch: found.batch.clone(),
            charted: one.charted,
            withheld: one.withheld,
        })
    };
    held_places(charts, gathered).into_iter().filter_map(named).collect()
}

fn held_places(charts: &[ControlChart], gathered: &Gathered) -> Vec<HeldPlace> {
    let mut all: Vec<HeldPlace> = Vec::new();
    for made in charts.iter().filter(|made| is_gating(made)) {
        for (number, withheld) in held(made, &gathered.moments) {
            let Some((walk, determination)) = gathered.numbered.get(number).copied() else { continue };
            // Numbers go on from walk to walk; here each series counts its own.
            let one = HeldPlace {
                walk,
                determination,
                charted: made.chart.charted,
                withheld: Withheld { id: determination.to_string(), ..withheld },
            };
            // Both ends of a determination may say the same.
            if !all.contains(&one) {
                all.push(one);
            }
        }
    }
    all.sort_by_key(|one| (one.walk, one.determination));
    all
}

/// The drift of the peak of known solutions, for each lot with enough points of known day.
fn lots_ageing(method: &Method, walks: &[Walk<'_>], gathered: &Gathered) -> Vec<AgeingFound> {
    let mut lots: BTreeMap<&str, Vec<(f64, f64)>> = BTreeMap::new();
    for point in gathered.points.iter().filter(|point| point.charted == Charted::PeakPotential) {
        let (Some(day), PointValue::Found(potential_v)) = (point.point.day, point.point.value) else {
            continue;
        };
        let link =
            gathered.scan(point.place).and_then(|(walk, scan)| walks.get(walk)?.report.scans.get(scan));
        let Some(link) = link else { continue };
        lots.entry(&link.row.lot).or_default().push((f64::from(day), potential_v));
    }
    let [a, b] = method.evaluation.peak.window_v;
    let window = [f64::min(a, b), f64::max(a, b)];
    let of_lot = |(lot, points): (&str, Vec<(f64, f64)>)| {
        let first = points.iter().map(|(day, _)| *day).fold(f64::INFINITY, f64::min);
        let days: Vec<f64> = points.iter().map(|(day, _)| day - first).collect();
        let potentials: Vec<f64> = points.iter().map(|(_, potential_v)| *potential_v).collect();
        // Fewer than six points, or all of one day, tell nothing of age: no finding rather than a guess.
        let ageing = ageing(&days, &potentials, window).ok()?;
        Some(AgeingFound { lot: lot.to_owned(), n_points: points.len(), ageing })
    };
    lots.into_iter().filter_map(of_lot).collect()
}
