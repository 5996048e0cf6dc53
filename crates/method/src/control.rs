//! Control charts of a folder or of several: which points its scans give, and which verdicts a chart out of control withholds.
//!
//! Order is that of the run sheet, as for bracketing. Charts are of one channel and go on from lot to lot and batch to batch:
//! what they follow is compared with its own level or its own calibration.

use std::collections::BTreeMap;

use stillwell_assure::QualityError;
use stillwell_assure::control::{
    Chart, ChartPoint, ChartSettings, ChartState, Charted, PointValue, QualityEvent, Training, Withheld,
    day_of, judge_chart, recovery_percent, relative_difference_percent, release,
};

use crate::batch::{runs, zero_reading};
use crate::check::Check;
use crate::check_history::{checked_levels, recovered_spikes};
use crate::determination::{Determination, Outcome, Report};
use crate::file::Method;
use crate::finding::{Effect, Finding};
use crate::group::group_of;
use crate::link::{GroupKey, ScanLink};
use crate::run_sheet::Role;

/// The charts that may withhold a verdict. Peaks are watched as an early warning and withhold nothing.
pub const GATING_CHARTS: [Charted; 4] =
    [Charted::Blank, Charted::CheckStandard, Charted::Duplicate, Charted::Spike];

/// One point for a chart, and where it was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlPoint {
    /// Which chart it belongs to.
    pub charted: Charted,
    /// Channel of the instrument; empty where not stated.
    pub channel: String,
    /// Place of its first scan in the report.
    pub place: usize,
    /// The point.
    pub point: ChartPoint,
}

/// The chart of one quantity and channel.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlChart {
    /// Channel; empty where not stated.
    pub channel: String,
    /// The chart.
    pub chart: Chart,
    /// Where each point was measured: places in the report.
    pub places: Vec<usize>,
}

/// A chart that could not be made.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartRefused {
    /// What it would have followed.
    pub charted: Charted,
    /// Channel; empty where not stated.
    pub channel: String,
    /// Why.
    pub error: QualityError,
}

/// Every point that a report gives, in the order of the run sheet.
///
/// # Units
/// Recoveries and differences in %, blanks in the method's reporting unit, peaks in V.
pub fn control_points(method: &Method, report: &Report) -> Vec<ControlPoint> {
    let mut points = Vec::new();
    let mut add = |charted, place: usize, value: f64| {
        points.extend(report.scans.get(place).map(|link| ControlPoint {
            charted,
            channel: group_of(method, &link.row).channel,
            place,
            point: ChartPoint {
                label: label(link),
                day: day_of(&link.row.date),
                value: PointValue::Found(value),
                excluded: None,
            },
        }));
    };
    for check in checked_levels(method, report) {
        if let Some(recovery) = recovery_percent(check.found, check.level) {
            add(Charted::CheckStandard, check.first_scan, recovery);
        }
    }
    for spike in recovered_spikes(method, report) {
        add(Charted::Spike, spike.first_scan, spike.recovery_percent);
    }
    for (place, value) in zeros(method, report) {
        add(Charted::Blank, place, value);
    }
    for (place, value) in duplicates(report) {
        add(Charted::Duplicate, place, value);
    }
    for (charted, place, value) in peaks(method, &report.scans) {
        add(charted, place, value);
    }
    points.sort_by_key(|point| (point.place, point.charted));
    points
}

fn label(link: &ScanLink) -> String {
    match (link.row.batch.is_empty(), link.row.date.is_empty()) {
        (false, false) => format!("batch {} of {}", link.row.batch, link.row.date),
        (false, true) => format!("batch {}", link.row.batch),
        (true, false) => link.row.date.clone(),
        (true, true) => link.raw.label(),
    }
}

/// Runs of one role within each batch and calibration.
fn runs_of<'a>(
    method: &Method,
    scans: &'a [ScanLink],
    role: Role,
) -> Vec<(GroupKey, Vec<(usize, &'a ScanLink)>)> {
    let mut batches: BTreeMap<(String, GroupKey), Vec<(usize, &ScanLink)>> = BTreeMap::new();
    for (place, link) in scans.iter().enumerate().filter(|(_, link)| link.counts()) {
        let key = (link.row.batch.clone(), group_of(method, &link.row));
        batches.entry(key).or_default().push((place, link));
    }
    let of_batch = |((_, key), links): (&(String, GroupKey), &Vec<(usize, &'a ScanLink)>)| {
        runs(links, role).into_iter().map(|run| (key.clone(), run)).collect::<Vec<_>>()
    };
    batches.iter().flat_map(of_batch).collect()
}

/// Zeros measured as check standards. Those of the calibration read zero by construction.
fn zeros(method: &Method, report: &Report) -> Vec<(usize, f64)> {
    runs_of(method, &report.scans, Role::CheckStandard)
        .iter()
        .filter_map(|(key, run)| {
            let calibration =
                report.calibrations.iter().find(|link| link.key == *key && link.is_accepted())?;
            Some((run.first()?.0, zero_reading(method, calibration, run)?))
        })
        .collect()
}

fn value_of(determination: &Determination) -> Option<f64> {
    match &determination.outcome {
        Outcome::Quantified(estimate) => Some(estimate.value.value()),
        // Two readings that are too low to be quantified differ by any number of per cent.
        _ => None,
    }
}

/// Sample less duplicate, in % of their mean.
fn duplicates(report: &Report) -> Vec<(usize, f64)> {
    let of_role = |role: Role| report.determinations.iter().filter(move |found| found.role == role);
    of_role(Role::Duplicate)
        .filter_map(|second| {
            let first = of_role(Role::Sample)
                .find(|first| first.sample == second.sample && first.batch == second.batch)?;
            let difference = relative_difference_percent(value_of(first)?, value_of(second)?)?;
            Some((*second.scans.first()?, difference))
        })
        .collect()
}

/// Potential and width of the peak of known solutions, each the mean of one moment.
fn peaks(method: &Method, scans: &[ScanLink]) -> Vec<(Charted, usize, f64)> {
    let known = [Role::CheckStandard, Role::ElectrodeControl];
    let mut found = Vec::new();
    for (_, run) in known.into_iter().flat_map(|role| runs_of(method, scans, role)) {
        let Some((place, first)) = run.first() else { continue };
        if first.row.level.as_ref().is_none_or(|level| level.value() <= 0.0) {
            continue;
        }
        let signals: Vec<_> = run.iter().filter_map(|(_, link)| link.signal.as_ref()).collect();
        let mean = |values: Vec<f64>| {
            let n = values.len() as f64;
            (n > 0.0).then(|| values.iter().sum::<f64>() / n)
        };
        let potential = mean(signals.iter().filter_map(|signal| signal.peak_potential_v).collect());
        let width = mean(signals.iter().filter_map(|signal| signal.half_width_v).collect());
        found.extend(potential.map(|value| (Charted::PeakPotential, *place, value)));
        found.extend(width.map(|value| (Charted::PeakWidth, *place, value)));
    }
    found
}

/// Judges the charts of all points, each quantity and channel by itself. Points of several series may stand one after the other.
///
/// # Units
/// As [`control_points`]; `reporting_unit` as it is shown, `n_training` points make the limits of each chart.
pub fn control_charts(
    points: &[ControlPoint],
    reporting_unit: &str,
    n_training: usize,
) -> Vec<Result<ControlChart, ChartRefused>> {
    let mut charts: BTreeMap<(Charted, &str), Vec<&ControlPoint>> = BTreeMap::new();
    for point in points {
        charts.entry((point.charted, &point.channel)).or_default().push(point);
    }
    let settings = ChartSettings::gating(GATING_CHARTS.len(), Training::FirstPoints(n_training));
    charts
        .into_iter()
        .map(|((charted, channel), points)| {
            let unit = match charted {
                Charted::Blank => reporting_unit,
                Charted::CheckStandard | Charted::Duplicate | Charted::Spike => "%",
                Charted::PeakPotential | Charted::PeakWidth => "V",
            };
            let of_chart = points.iter().map(|point| point.point.clone()).collect();
            match judge_chart(charted, unit, of_chart, &settings) {
                Ok(chart) => Ok(ControlChart {
                    channel: channel.to_owned(),
                    chart,
                    places: points.iter().map(|point| point.place).collect(),
                }),
                Err(error) => Err(ChartRefused { charted, channel: channel.to_owned(), error }),
            }
        })
        .collect()
}

/// Withholds verdicts back to the last point in control, where the method states a training period.
pub(crate) fn withhold_where_charts_are_out(method: &Method, report: &mut Report) {
    let Some(n_training) = method.calibration.acceptance.chart_training_points else { return };
    let points = control_points(method, report);
    let gating: Vec<ControlPoint> =
        points.into_iter().filter(|point| GATING_CHARTS.contains(&point.charted)).collect();
    let unit = method.analyte.reported_as.to_string();
    for made in control_charts(&gating, &unit, n_training as usize) {
        match made {
            Ok(made) => withhold(method, report, &made),
            Err(refused) => {
                let found = format!("no limits from its training period: {}", refused.error);
                let subject = subject(refused.charted, &refused.channel);
                report.batch_findings.push(Finding::new(Check::ControlChart, Effect::Warned, subject, found));
            }
        }
    }
}

fn subject(charted: Charted, channel: &str) -> String {
    let name = charted.name();
    if channel.is_empty() { format!("{name} chart") } else { format!("{name} chart, channel {channel}") }
}

fn withhold(method: &Method, report: &mut Report, made: &ControlChart) {
    if made.chart.state == ChartState::OutOfControl {
        let (subject, found) = (subject(made.chart.charted, &made.channel), made.chart.words());
        report.batch_findings.push(Finding::new(Check::ControlChart, Effect::Withheld, subject, found));
    }
    for (at, withheld) in held(made, &moments(method, report)) {
        let Some(determination) = report.determinations.get_mut(at) else { continue };
        let sample = determination.sample.clone();
        let finding = Finding::new(Check::ControlChart, Effect::Withheld, sample, withheld.words());
        if !determination.findings.contains(&finding) {
            determination.findings.push(finding);
        }
    }
}

/// When a determination was made: its scans may stand on both sides of a point.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Moment {
    /// Its number.
    pub(crate) determination: usize,
    /// Place and channel of its first and its last scan.
    pub(crate) ends: Vec<(usize, String)>,
}

/// The moments of a report's determinations.
pub(crate) fn moments(method: &Method, report: &Report) -> Vec<Moment> {
    let end = |place: &usize| {
        let link = report.scans.get(*place)?;
        Some((*place, group_of(method, &link.row).channel))
    };
    let ends =
        |scans: &[usize]| [scans.first(), scans.last()].into_iter().flatten().filter_map(end).collect();
    let numbered = report.determinations.iter().enumerate();
    numbered.map(|(determination, found)| Moment { determination, ends: ends(&found.scans) }).collect()
}

/// Determinations that a chart withholds, by their numbers, each with its reason.
pub(crate) fn held(made: &ControlChart, moments: &[Moment]) -> Vec<(usize, Withheld)> {
    let kind = format!("{} chart", made.chart.charted.name());
    let checks = made.places.iter().zip(&made.chart.points).zip(made.chart.outcomes()).map(
        |((place, point), outcome)| {
            (*place, QualityEvent::Check { kind: kind.clone(), id: point.label.clone(), outcome })
        },
    );
    let mut events: Vec<(usize, QualityEvent)> = checks.collect();
    for moment in moments {
        let of_channel = moment.ends.iter().filter(|(_, channel)| *channel == made.channel);
        events.extend(of_channel.map(|(place, _)| {
            (*place, QualityEvent::Determination { id: moment.determination.to_string() })
        }));
    }
    // The duplicate that is a point comes before it: its own chart judges it.
    let is_check = |event: &QualityEvent| matches!(event, QualityEvent::Check { .. });
    events.sort_by_key(|(place, event)| (*place, is_check(event)));
    let events: Vec<QualityEvent> = events.into_iter().map(|(_, event)| event).collect();
    let numbered = release(&events, &[]).into_iter();
    numbered.filter_map(|withheld| Some((withheld.id.parse().ok()?, withheld))).collect()
}
