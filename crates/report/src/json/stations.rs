//! `station --format json`. Readings and what is computed from them are in the station's `unit`, levels in its `level_unit`.

use serde::Serialize;
use stillwell_assure::QualityError;
use stillwell_assure::control::{PointValue, date_of};
use stillwell_assure::sensor::{
    AtLevel, DayToDay, Drift, Exceedances, NearZero, SensorTrial, SeriesFinding, SeriesMean, StandsAlone,
    TriedMemory, TriedStep,
};
use stillwell_method::{SeriesReview, StationFound, StationReview};

use super::CONTRACT;

/// All stations of a file.
#[derive(Serialize)]
pub struct Document {
    contract: u32,
    stations: Vec<StationJson>,
}

#[derive(Serialize)]
struct StationJson {
    station: String,
    quantity: String,
    unit: String,
    series: Option<SeriesJson>,
    trial: Option<TrialJson>,
    /// Why a trial gives nothing at all.
    refused: Option<String>,
}

#[derive(Serialize)]
struct SeriesJson {
    from: Option<String>,
    to: Option<String>,
    days: usize,
    numbers: usize,
    bounds: usize,
    largest: Option<f64>,
    median: Option<f64>,
    median_less_than: Option<f64>,
    mean: Option<f64>,
    mean_at_least: Option<f64>,
    mean_at_most: Option<f64>,
    mean_by_regression: Option<f64>,
    mean_refused: Option<String>,
    findings: Vec<FindingJson>,
    not_looked_over: Option<String>,
    exceedances: Vec<ExceedancesJson>,
}

#[derive(Serialize)]
struct FindingJson {
    kind: &'static str,
    from: String,
    to: String,
    value: Option<f64>,
    words: String,
}

#[derive(Serialize)]
struct ExceedancesJson {
    limit: String,
    limit_in_series: f64,
    days_above: usize,
    days_decided: usize,
    days_undecided: usize,
    longest_run_days: usize,
    first: Option<String>,
    last: Option<String>,
}

#[derive(Serialize)]
struct TrialJson {
    level_unit: String,
    working_range: Option<[f64; 2]>,
    steps: Vec<StepJson>,
    memory: Vec<MemoryJson>,
    drift: Vec<DriftJson>,
    day_to_day: Vec<DayToDayJson>,
    near_zero: Option<NearZeroJson>,
}

#[derive(Serialize)]
struct StepJson {
    from_level: f64,
    to_level: f64,
    moment_is_stated: bool,
    delay_s: Option<f64>,
    delay_is_bound: Option<bool>,
    response_s: Option<f64>,
    rise_or_fall_s: Option<f64>,
    watched_s: Option<f64>,
    words: String,
}

#[derive(Serialize)]
struct MemoryJson {
    level: f64,
    levels_before: [f64; 2],
    difference: Option<f64>,
    half_width: Option<f64>,
    percent_of_step: Option<f64>,
    p: Option<f64>,
    words: String,
}

#[derive(Serialize)]
struct DriftJson {
    level: f64,
    per_24_h: Option<f64>,
    half_width: Option<f64>,
    percent_of_range_per_24_h: Option<f64>,
    watched_h: Option<f64>,
    words: String,
}

#[derive(Serialize)]
struct DayToDayJson {
    level: f64,
    days: Option<usize>,
    within_day_sd: Option<f64>,
    between_days_sd: Option<f64>,
    day_to_day_sd: Option<f64>,
    words: String,
}

#[derive(Serialize)]
struct NearZeroJson {
    sd: Option<f64>,
    readings: Option<usize>,
    detection_limit: Option<f64>,
    quantification_limit: Option<f64>,
    words: String,
}

/// `station --format json`.
pub fn of(reviews: &[StationReview]) -> Document {
    Document { contract: CONTRACT, stations: reviews.iter().map(station).collect() }
}

fn station(review: &StationReview) -> StationJson {
    let (mut series_json, mut trial_json, mut refused) = (None, None, None);
    match &review.found {
        StationFound::Series(found) => series_json = Some(series(found, &review.unit)),
        StationFound::Trial(Ok(found)) => trial_json = Some(trial(found, review)),
        StationFound::Trial(Err(error)) => refused = Some(error.to_string()),
    }
    StationJson {
        station: review.name.clone(),
        quantity: review.quantity.clone(),
        unit: review.unit.clone(),
        series: series_json,
        trial: trial_json,
        refused,
    }
}

fn series(review: &SeriesReview, unit: &str) -> SeriesJson {
    let found = &review.summary;
    let [from, to] = found.first_and_last.map_or([None, None], |ends| ends.map(|day| Some(date_of(day))));
    let (mean, at_least, at_most, line, refused) = match &found.mean {
        SeriesMean::Plain(mean) => (Some(*mean), None, None, None, None),
        SeriesMean::Censored { at_least, at_most, by_regression } => {
            (None, Some(*at_least), Some(*at_most), *by_regression, None)
        }
        SeriesMean::NotStated(error) => (None, None, None, None, Some(error.to_string())),
    };
    SeriesJson {
        from,
        to,
        days: found.n_span,
        numbers: found.n_numbers,
        bounds: found.n_bounds,
        largest: found.largest,
        median: found.median.and_then(PointValue::number),
        median_less_than: match found.median {
            Some(PointValue::LessThan(bound)) => Some(bound),
            _ => None,
        },
        mean,
        mean_at_least: at_least,
        mean_at_most: at_most,
        mean_by_regression: line,
        mean_refused: refused,
        findings: review.findings.iter().flatten().map(|found| finding(found, unit)).collect(),
        not_looked_over: review.findings.as_ref().err().map(ToString::to_string),
        exceedances: review.exceedances.iter().map(|(id, found)| exceeded(id, found)).collect(),
    }
}

fn finding(found: &SeriesFinding, unit: &str) -> FindingJson {
    let (kind, from, to, value) = match found {
        SeriesFinding::Gap { from, to } => ("gap", *from, *to, None),
        SeriesFinding::Stuck { from, to, value, .. } => ("stuck", *from, *to, Some(*value)),
        SeriesFinding::StandsAlone(StandsAlone { day, value, .. }) => {
            ("stands-alone", *day, *day, Some(*value))
        }
        SeriesFinding::FarFromRest { from, to, extreme, .. } => ("far-from-rest", *from, *to, Some(*extreme)),
        SeriesFinding::NotPositive { day, value } => ("not-positive", *day, *day, Some(*value)),
    };
    FindingJson { kind, from: date_of(from), to: date_of(to), value, words: found.words(unit, date_of) }
}

fn exceeded(id: &str, found: &Exceedances) -> ExceedancesJson {
    ExceedancesJson {
        limit: id.to_owned(),
        limit_in_series: found.limit_in_series,
        days_above: found.n_above,
        days_decided: found.n_days,
        days_undecided: found.n_undecided,
        longest_run_days: found.longest_run,
        first: found.days_above.first().map(|day| date_of(*day)),
        last: found.days_above.last().map(|day| date_of(*day)),
    }
}

/// A figure's sentence, or why there is none.
fn said<T>(found: &Result<T, QualityError>, words: impl Fn(&T) -> String) -> String {
    found.as_ref().map_or_else(ToString::to_string, words)
}

fn trial(found: &SensorTrial, review: &StationReview) -> TrialJson {
    let unit = &review.unit;
    TrialJson {
        level_unit: review.level_unit.clone(),
        working_range: found.working_range,
        steps: found.steps.iter().map(step).collect(),
        memory: found.memories.iter().map(|tried| memory(tried, unit)).collect(),
        drift: found.drifts.iter().map(|one| drift(one, unit)).collect(),
        day_to_day: found.days.iter().map(|one| days(one, unit)).collect(),
        near_zero: found.near_zero.as_ref().map(|found| near_zero(found, unit)),
    }
}

fn step(tried: &TriedStep) -> StepJson {
    let found = tried.response.as_ref().ok();
    let [from_level, to_level] = tried.levels;
    StepJson {
        from_level,
        to_level,
        moment_is_stated: tried.is_stated,
        delay_s: found.map(|found| found.delay_s),
        delay_is_bound: found.map(|found| found.delay_is_bound),
        response_s: found.and_then(|found| found.response_s),
        rise_or_fall_s: found.and_then(|found| found.rise_or_fall_s),
        watched_s: found.map(|found| found.watched_s),
        words: said(&tried.response, stillwell_assure::sensor::Response::words),
    }
}

fn memory(tried: &TriedMemory, unit: &str) -> MemoryJson {
    let found = tried.memory.as_ref().ok();
    MemoryJson {
        level: tried.level,
        levels_before: tried.before,
        difference: found.map(|found| found.difference),
        half_width: found.map(|found| found.half_width),
        percent_of_step: found.and_then(|found| found.percent_of_step),
        p: found.map(|found| found.p_value),
        words: said(&tried.memory, |found| found.words(unit)),
    }
}

fn drift(one: &AtLevel<Drift>, unit: &str) -> DriftJson {
    let found = one.found.as_ref().ok();
    DriftJson {
        level: one.level,
        per_24_h: found.map(|found| found.per_24_h),
        half_width: found.map(|found| found.half_width),
        percent_of_range_per_24_h: found.map(|found| found.percent_of_range_per_24_h),
        watched_h: found.map(|found| found.watched_h),
        words: said(&one.found, |found| found.words(unit)),
    }
}

fn days(one: &AtLevel<DayToDay>, unit: &str) -> DayToDayJson {
    let found = one.found.as_ref().ok();
    DayToDayJson {
        level: one.level,
        days: found.map(|found| found.n_days),
        within_day_sd: found.map(|found| found.within_day_sd),
        between_days_sd: found.map(|found| found.between_days_sd),
        day_to_day_sd: found.map(|found| found.day_to_day_sd),
        words: said(&one.found, |found| found.words(unit)),
    }
}

fn near_zero(found: &Result<NearZero, QualityError>, unit: &str) -> NearZeroJson {
    let numbers = found.as_ref().ok();
    NearZeroJson {
        sd: numbers.map(|found| found.sd),
        readings: numbers.map(|found| found.n),
        detection_limit: numbers.map(|found| found.detection),
        quantification_limit: numbers.map(|found| found.quantification),
        words: said(found, |found| found.words(unit)),
    }
}
