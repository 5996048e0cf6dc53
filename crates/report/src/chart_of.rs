//! A control chart as the chain judged it, ready to be drawn.

use stillwell_assure::control::{ChartLimits, PointState, PointValue, Signal};
use stillwell_method::ControlChart as Judged;

use crate::axis::{AxisText, AxisUnit};
use crate::control_figure::{
    ChartLine, ChartPanel, ChartPoint, ChartSeries, ChartValue, ControlChart, LineCourse, LineRole,
};

/// The chart with its limits, and at each point the rules that it breaks.
pub fn chart_of(judged: &Judged) -> ControlChart {
    let chart = &judged.chart;
    let name = chart.charted.name();
    let at = |index: usize| index as f64 + 1.0;
    let value = AxisText::new(name, unit(&chart.unit));
    let points = chart.points.iter().enumerate().filter_map(|(index, point)| {
        let value = match point.value {
            PointValue::Found(value) => ChartValue::Known(value),
            PointValue::LessThan(bound) => ChartValue::Below(bound),
            PointValue::MoreThan(bound) => ChartValue::Above(bound),
            PointValue::Missing => return None,
        };
        let follows_gap = index > 0 && matches!(chart.points.get(index - 1)?.value, PointValue::Missing);
        Some(ChartPoint {
            at: at(index),
            name: point.label.clone(),
            value,
            follows_gap,
            breaks: breaks(judged, index),
        })
    });
    let n_training = chart.states.iter().filter(|state| **state == PointState::Training).count();
    let of_channel =
        if judged.channel.is_empty() { String::new() } else { format!(", channel {}", judged.channel) };
    ControlChart {
        title: format!("{name}{of_channel}"),
        remarks: vec![chart.words()],
        along: AxisText::new("point", AxisUnit::None),
        along_labels: Vec::new(),
        training: (n_training > 0).then(|| [at(0), at(n_training - 1)]),
        panels: vec![ChartPanel {
            value,
            series: vec![ChartSeries { name: name.to_owned(), points: points.collect() }],
            lines: chart.limits.as_ref().map(lines).unwrap_or_default(),
        }],
    }
}

fn unit(unit: &str) -> AxisUnit {
    if unit == "V" { AxisUnit::Prefixed(unit.to_owned()) } else { AxisUnit::Plain(unit.to_owned()) }
}

fn lines(limits: &ChartLimits) -> Vec<ChartLine> {
    let line = |role, label: &str, at: f64| ChartLine {
        role,
        label: label.to_owned(),
        course: LineCourse::Level(at),
    };
    let [warn_low, warn_high] = limits.warning();
    let [act_low, act_high] = limits.action();
    vec![
        line(LineRole::Centre, "centre", limits.centre),
        line(LineRole::Warning, "warning", warn_low),
        line(LineRole::Warning, "warning", warn_high),
        line(LineRole::Action, "action", act_low),
        line(LineRole::Action, "action", act_high),
    ]
}

/// The rules that a point is part of, alarms first.
fn breaks(judged: &Judged, index: usize) -> Vec<String> {
    let holds = |signal: &&Signal| (signal.fired_at()..=signal.until()).contains(&index);
    let mut words: Vec<String> = Vec::new();
    for signal in judged.chart.alarms.iter().chain(&judged.chart.warnings).filter(holds) {
        let word = match signal {
            Signal::Run(found) => found.rule.words().to_owned(),
            Signal::Average { .. } => "moving average beyond its limits".to_owned(),
            Signal::Bound { .. } => "a bound beyond the limits".to_owned(),
        };
        if !words.contains(&word) {
            words.push(word);
        }
    }
    words
}
