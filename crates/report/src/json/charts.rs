//! `control --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use stillwell_assure::control::{AgeingState, ChartState, PointState, PointValue};
use stillwell_method::{ChartReview, ControlChart, Method};

use super::MethodJson;

/// All charts of a place.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    training_points: usize,
    /// Whether the method states the training period: only then is anything withheld.
    gates: bool,
    charts: Vec<ChartJson>,
    not_charted: Vec<NotChartedJson>,
    ageing: Vec<AgeingJson>,
    withheld: Vec<HeldJson>,
}

#[derive(Serialize, JsonSchema)]
struct ChartJson {
    chart: &'static str,
    channel: String,
    unit: String,
    state: &'static str,
    words: String,
    centre: Option<f64>,
    sigma: Option<f64>,
    warning_limits: Option<[f64; 2]>,
    action_limits: Option<[f64; 2]>,
    trained_points: Option<usize>,
    trained_bounds: Option<usize>,
    trained_until: Option<String>,
    alarms: Vec<String>,
    warnings: Vec<String>,
    advice: Vec<String>,
    points: Vec<PointJson>,
}

#[derive(Serialize, JsonSchema)]
struct PointJson {
    label: String,
    value: Option<f64>,
    less_than: Option<f64>,
    more_than: Option<f64>,
    state: &'static str,
}

#[derive(Serialize, JsonSchema)]
struct NotChartedJson {
    chart: &'static str,
    channel: String,
    why: String,
}

#[derive(Serialize, JsonSchema)]
struct AgeingJson {
    lot: String,
    state: &'static str,
    points: usize,
    change_per_30_days_v: f64,
    change_half_width_v: f64,
    p: f64,
    leaves_window_at_days: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
struct HeldJson {
    series: String,
    sample: String,
    batch: String,
    chart: &'static str,
    why: String,
}

/// `control --format json`.
pub fn of(method: &Method, review: &ChartReview, series: &[String]) -> Document {
    let refused = review.refused.iter().map(|refused| NotChartedJson {
        chart: refused.charted.name(),
        channel: refused.channel.clone(),
        why: refused.error.to_string(),
    });
    let absent = review.absent.iter().map(|charted| NotChartedJson {
        chart: charted.name(),
        channel: String::new(),
        why: "no point".to_owned(),
    });
    let held = review.held.iter().map(|one| HeldJson {
        series: series.get(one.walk).cloned().unwrap_or_default(),
        sample: one.sample.clone(),
        batch: one.batch.clone(),
        chart: one.charted.name(),
        why: one.withheld.words(),
    });
    Document {
        method: MethodJson::from(method),
        training_points: review.n_training,
        gates: review.is_stated,
        charts: review.charts.iter().map(chart).collect(),
        not_charted: refused.chain(absent).collect(),
        ageing: review.ageing.iter().map(ageing).collect(),
        withheld: held.collect(),
    }
}

fn chart(made: &ControlChart) -> ChartJson {
    let chart = &made.chart;
    let points = chart.points.iter().zip(&chart.states).map(|(point, state)| PointJson {
        label: point.label.clone(),
        value: point.value.number(),
        less_than: if let PointValue::LessThan(bound) = point.value { Some(bound) } else { None },
        more_than: if let PointValue::MoreThan(bound) = point.value { Some(bound) } else { None },
        state: match state {
            PointState::Training => "training",
            PointState::InControl => "in-control",
            PointState::Warning => "warning",
            PointState::OutOfControl => "out-of-control",
            PointState::NotJudged => "not-judged",
        },
    });
    ChartJson {
        chart: chart.charted.name(),
        channel: made.channel.clone(),
        unit: chart.unit.clone(),
        state: match chart.state {
            ChartState::InControl => "in-control",
            ChartState::Warning => "warning",
            ChartState::OutOfControl => "out-of-control",
            ChartState::TooFewPoints { .. } => "too-few-points",
        },
        words: chart.words(),
        centre: chart.limits.map(|limits| limits.centre),
        sigma: chart.limits.map(|limits| limits.sigma),
        warning_limits: chart.limits.map(|limits| limits.warning()),
        action_limits: chart.limits.map(|limits| limits.action()),
        trained_points: chart.trained().map(|trained| trained.n_points),
        trained_bounds: chart.trained().map(|trained| trained.n_bounds),
        trained_until: chart.trained().map(|trained| trained.until.to_owned()),
        alarms: chart.alarm_words(),
        warnings: chart.warning_words(),
        advice: chart.advice(),
        points: points.collect(),
    }
}

fn ageing(found: &stillwell_method::AgeingFound) -> AgeingJson {
    let line = &found.ageing;
    AgeingJson {
        lot: found.lot.clone(),
        state: match line.state() {
            AgeingState::Steady => "steady",
            AgeingState::Drifts => "drifts",
            AgeingState::Outside => "outside",
        },
        points: found.n_points,
        change_per_30_days_v: line.change_per_30_days,
        change_half_width_v: line.change_half_width,
        p: line.p_value,
        leaves_window_at_days: line.leaves_window_at_days,
    }
}
