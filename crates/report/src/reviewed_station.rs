//! From what the review of a station found to what its figures draw.

use stillwell_assure::control::{PointValue, date_of};
use stillwell_assure::sensor::{SeriesFinding, StandsAlone, TriedStep};
use stillwell_method::{SeriesReview, StationFound, StationReview};

use crate::axis::{AxisText, AxisUnit};
use crate::control_figure::ChartValue;
use crate::figure::Figure;
use crate::station_figure::{FollowedStep, StationSeries, station_figure, step_figure};

/// A series of so many days is labelled by years, of so few by days.
const LONG_DAYS: i32 = 800;
const SHORT_DAYS: i32 = 60;

/// The figures of a station, each with a name: one of a series, one for each change of a trial.
pub fn station_figures(review: &StationReview) -> Vec<(String, Figure)> {
    match &review.found {
        StationFound::Series(series) => {
            vec![(review.name.clone(), station_figure(&drawn_series(review, series)))]
        }
        StationFound::Trial(Err(_)) => Vec::new(),
        StationFound::Trial(Ok(trial)) => trial
            .steps
            .iter()
            .enumerate()
            .map(|(at, tried)| {
                let name = format!("{} step {}", review.name, at + 1).trim().to_owned();
                (name, step_figure(&drawn_step(review, tried)))
            })
            .collect(),
    }
}

fn title(review: &StationReview) -> String {
    if review.name.is_empty() { "Station".to_owned() } else { format!("Station {}", review.name) }
}

fn reading(review: &StationReview) -> AxisText {
    AxisText::new(&review.quantity, AxisUnit::Plain(review.unit.clone()))
}

fn drawn_series(review: &StationReview, series: &SeriesReview) -> StationSeries {
    let value = |value: PointValue| match value {
        PointValue::Found(value) => Some(ChartValue::Known(value)),
        PointValue::LessThan(bound) => Some(ChartValue::Below(bound)),
        PointValue::MoreThan(bound) => Some(ChartValue::Above(bound)),
        PointValue::Missing => None,
    };
    let day = f64::from;
    let (mut gaps, mut stuck, mut odd) = (Vec::new(), Vec::new(), Vec::new());
    for finding in series.findings.iter().flatten() {
        match finding {
            SeriesFinding::Gap { from, to } => gaps.push([day(*from), day(*to)]),
            SeriesFinding::Stuck { from, to, .. } => stuck.push([day(*from), day(*to)]),
            SeriesFinding::StandsAlone(StandsAlone { day: at, value, .. })
            | SeriesFinding::NotPositive { day: at, value } => odd.push((day(*at), *value)),
            SeriesFinding::FarFromRest { from, extreme, .. } => odd.push((day(*from), *extreme)),
        }
    }
    let lowest = series.exceedances.iter().map(|(_, found)| found);
    let lowest = lowest.min_by(|a, b| a.limit_in_series.total_cmp(&b.limit_in_series));
    let above = lowest.map_or(&[][..], |found| found.days_above.as_slice());
    let readings = &series.readings;
    StationSeries {
        title: title(review),
        remarks: vec![series.summary.count_words(&review.unit)],
        value: reading(review),
        along_labels: series.summary.first_and_last.map_or_else(Vec::new, labels),
        points: readings
            .iter()
            .filter_map(|one| Some((day(one.day), date_of(one.day), value(one.value)?)))
            .collect(),
        gaps,
        stuck,
        odd,
        limits: series.exceedances.iter().map(|(id, found)| (id.clone(), found.limit_in_series)).collect(),
        above: readings
            .iter()
            .filter(|one| above.binary_search(&one.day).is_ok())
            .filter_map(|one| Some((day(one.day), one.value.number()?)))
            .collect(),
    }
}

/// First days of years or months, or every day; labels that would touch are left out where they are drawn.
fn labels([first, last]: [i32; 2]) -> Vec<(f64, String)> {
    let ending = match last - first {
        n if n > LONG_DAYS => "-01-01",
        n if n > SHORT_DAYS => "-01",
        _ => "",
    };
    let dates = (first..=last).map(|day| (f64::from(day), date_of(day)));
    dates.filter(|(_, date)| date.ends_with(ending)).collect()
}

fn drawn_step(review: &StationReview, tried: &TriedStep) -> FollowedStep {
    let [from, to] = tried.levels;
    let found = tried.response.as_ref();
    let at = |share: f64| tried.step.from + share * (tried.step.to - tried.step.from);
    FollowedStep {
        title: format!("{}: {from} to {to} {}", title(review), review.level_unit),
        remarks: vec![found.map_or_else(ToString::to_string, stillwell_assure::sensor::Response::words)],
        value: reading(review),
        points: tried.followed.clone(),
        ends: [tried.step.from, tried.step.to],
        band: [at(0.9), at(1.1)],
        delay_s: found.ok().map(|found| found.delay_s),
        response_s: found.ok().and_then(|found| found.response_s),
    }
}
