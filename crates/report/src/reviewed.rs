//! From what the reviews of quality over time found to what the figures draw; nothing is computed here.

use stillwell_assure::compare::{Reported, Scale, ScoreGrade};
use stillwell_assure::control::{Chart, PointValue, Signal};
use stillwell_assure::lots::PartVerdict;
use stillwell_method::{ComparisonReview, ControlChart as Made, LotReview, ValidationReview};

use crate::axis::{AxisText, AxisUnit};
use crate::comparison_figure::{Agreement, ComparedLine, ComparedPair, MethodComparison};
use crate::control_figure::{
    ChartLine, ChartPanel, ChartPoint, ChartSeries, ChartValue, ControlChart, LineCourse, LineRole,
};
use crate::lot_figure::{ComparedLot, LotComparison, LotJudgement};

fn plain(quantity: &str, unit: &str) -> AxisText {
    AxisText::new(quantity, AxisUnit::Plain(unit.to_owned()))
}

/// A chart as it is drawn: points in their order above, their moving average below.
pub fn reviewed_chart(made: &Made) -> ControlChart {
    let chart = &made.chart;
    let channel = if made.channel.is_empty() { String::new() } else { format!(", channel {}", made.channel) };
    let mut panels = vec![points(chart)];
    panels.extend(averages(chart));
    ControlChart {
        title: format!("{}{channel}", chart.charted.name()),
        remarks: vec![chart.words()],
        along: AxisText::new("point", AxisUnit::None),
        along_labels: Vec::new(),
        training: chart.limits.and_then(|_| Some([0.5, n_passed(chart)? as f64 + 0.5])),
        panels,
    }
}

/// Points up to the end of the training period.
fn n_passed(chart: &Chart) -> Option<usize> {
    let n_judged = chart.averages.len();
    (n_judged > 0).then(|| chart.points.len().saturating_sub(n_judged))
}

fn points(chart: &Chart) -> ChartPanel {
    let value = |value: PointValue| match value {
        PointValue::Found(found) => ChartValue::Known(found),
        PointValue::LessThan(bound) => ChartValue::Below(bound),
        PointValue::MoreThan(bound) => ChartValue::Above(bound),
        PointValue::Missing => ChartValue::Known(f64::NAN),
    };
    let drawn = chart.points.iter().enumerate().map(|(at, point)| ChartPoint {
        at: (at + 1) as f64,
        name: point.label.clone(),
        value: value(point.value),
        follows_gap: at.checked_sub(1).and_then(|before| chart.points.get(before)).is_some_and(is_missing),
        breaks: breaks(chart, at),
    });
    ChartPanel {
        value: plain(chart.charted.name(), &chart.unit),
        series: vec![ChartSeries { name: chart.charted.name().to_owned(), points: drawn.collect() }],
        lines: lines(chart),
    }
}

fn is_missing(point: &stillwell_assure::control::ChartPoint) -> bool {
    matches!(point.value, PointValue::Missing)
}

/// Rules that a point takes part in; the moving average has a plot of its own.
fn breaks(chart: &Chart, at: usize) -> Vec<String> {
    let of = |lead: &str, signals: &[Signal]| -> Vec<String> {
        let here = signals.iter().filter(|signal| (signal.since()..=signal.until()).contains(&at));
        here.filter_map(|signal| match signal {
            Signal::Run(found) => Some(format!("{lead}: {}", found.rule.words())),
            Signal::Bound { .. } => Some(format!("{lead}: a bound beyond the action limits")),
            Signal::Average { .. } => None,
        })
        .collect()
    };
    let mut all = of("alarm", &chart.alarms);
    if all.is_empty() {
        all = of("warning", &chart.warnings);
    }
    all.dedup();
    all
}

fn lines(chart: &Chart) -> Vec<ChartLine> {
    let Some(limits) = &chart.limits else { return Vec::new() };
    let level = |role, label: &str, at: f64| ChartLine {
        role,
        label: label.to_owned(),
        course: LineCourse::Level(at),
    };
    let [low, high] = limits.action();
    let [warn_low, warn_high] = limits.warning();
    vec![
        level(LineRole::Centre, "centre", limits.centre),
        level(LineRole::Warning, "warning", warn_low),
        level(LineRole::Warning, "warning", warn_high),
        level(LineRole::Action, "action", low),
        level(LineRole::Action, "action", high),
    ]
}

fn averages(chart: &Chart) -> Option<ChartPanel> {
    let passed = n_passed(chart)?;
    let place = |at: usize| (passed + at + 1) as f64;
    let numbered = || chart.averages.iter().enumerate();
    let points = numbered().map(|(at, average)| ChartPoint {
        at: place(at),
        name: chart.points.get(passed + at).map_or_else(String::new, |point| point.label.clone()),
        value: ChartValue::Known(average.value),
        follows_gap: false,
        breaks: if average.is_beyond() {
            vec!["alarm: moving average beyond its limits".to_owned()]
        } else {
            Vec::new()
        },
    });
    let course = |of: fn(&stillwell_assure::control::EwmaPoint) -> f64| {
        LineCourse::Places(numbered().map(|(at, average)| (place(at), of(average))).collect())
    };
    let line = |course| ChartLine { role: LineRole::Action, label: "limit".to_owned(), course };
    Some(ChartPanel {
        value: plain("moving average", &chart.unit),
        series: vec![ChartSeries { name: "moving average".to_owned(), points: points.collect() }],
        lines: vec![line(course(|average| average.low)), line(course(|average| average.high))],
    })
}

/// The same with its newest points only, and said so: a page shows what can still be told apart. All of them where there are no more.
pub fn newest_points(chart: ControlChart, most: usize) -> ControlChart {
    let n =
        chart.panels.iter().flat_map(|panel| &panel.series).map(|one| one.points.len()).max().unwrap_or(0);
    let Some(n_left_out) = n.checked_sub(most).filter(|n| *n > 0) else { return chart };
    let first = (n_left_out + 1) as f64;
    let mut shown = chart;
    shown.remarks.push(format!("The newest {most} of {n} points."));
    shown.training =
        shown.training.filter(|[_, to]| *to > first).map(|[from, to]| [from.max(first - 0.5), to]);
    for panel in &mut shown.panels {
        panel.series.iter_mut().for_each(|one| one.points.retain(|point| point.at >= first));
        for line in &mut panel.lines {
            if let LineCourse::Places(places) = &mut line.course {
                places.retain(|(at, _)| *at >= first);
            }
        }
    }
    shown
}

/// Lots beside the approved calibration, as differences of sensitivity.
pub fn reviewed_lots(review: &LotReview) -> LotComparison {
    let lots = review.lots.iter().filter_map(|found| {
        let (Some(read), Some(Ok(verdict))) = (&found.reading, &found.verdict) else { return None };
        let strips = read.strips.iter().filter(|strip| strip.level > 0.0);
        Some(ComparedLot {
            name: found.lot.clone(),
            values: strips.map(|strip| 100.0 * (strip.found / strip.level - 1.0)).collect(),
            mean: verdict.sensitivity.difference,
            interval: Some(verdict.sensitivity.interval),
            judged: Some(match verdict.sensitivity.verdict {
                PartVerdict::Equivalent => LotJudgement::Equivalent,
                PartVerdict::NotEquivalent => LotJudgement::Different,
                PartVerdict::CannotSay(_) => LotJudgement::NotShown,
            }),
        })
    });
    let margin = review.rule.margin_percent;
    LotComparison {
        each: "lot",
        title: format!("Lots on the calibration of {}", review.approved.label()),
        remarks: vec!["Sensitivity only; zeros are judged apart.".to_owned()],
        value: plain("difference of sensitivity", "%"),
        lots: lots.collect(),
        target: Some(("approved".to_owned(), 0.0)),
        margin: Some([-margin, margin]),
    }
}

/// Check standards day by day; none without any.
pub fn reviewed_days(review: &ValidationReview) -> Option<LotComparison> {
    let reference = review.evidence.references.first()?;
    let days = review.evidence.days.iter().zip(&reference.found).enumerate();
    Some(LotComparison {
        each: "day",
        title: format!("{}, day by day", reference.name),
        remarks: Vec::new(),
        value: plain("found", &review.unit),
        lots: days
            .map(|(at, (values, mean))| ComparedLot {
                name: format!("day {}", at + 1),
                values: values.clone(),
                mean: *mean,
                interval: None,
                judged: None,
            })
            .collect(),
        target: Some(("level".to_owned(), reference.reference)),
        margin: None,
    })
}

/// Pairs with a laboratory and their differences; bounds stand in no plot of numbers.
pub fn reviewed_comparison(review: &ComparisonReview) -> MethodComparison {
    let found = review.comparison.as_ref().ok();
    let agreement = found.and_then(|found| found.agreement);
    let is_percent = agreement.is_some_and(|found| found.scale == Scale::Percent);
    let pairs: Vec<ComparedPair> = review.pairs.iter().filter_map(|pair| drawn(pair, is_percent)).collect();
    let ends = || {
        let lowest = pairs.iter().map(|pair| pair.reference).reduce(f64::min)?;
        let highest = pairs.iter().map(|pair| pair.reference).reduce(f64::max)?;
        let line = found?.line?;
        let at = |x: f64| (x, line.intercept + line.slope * x);
        Some(ComparedLine { label: "errors in both".to_owned(), ends: [at(lowest), at(highest)] })
    };
    let margin = if is_percent { review.rule.largest_bias_percent } else { review.rule.largest_bias };
    let n_bounds = review.pairs.len() - pairs.len();
    let bounds = format!("{n_bounds} pair(s) with a bound are not drawn: a bound is no number.");
    let unit = if is_percent { "%" } else { review.unit.as_str() };
    MethodComparison {
        title: "Beside an accredited laboratory".to_owned(),
        remarks: if n_bounds > 0 { vec![bounds] } else { Vec::new() },
        candidate: "ours".to_owned(),
        reference: "laboratory".to_owned(),
        unit: AxisUnit::Plain(review.unit.clone()),
        line: ends(),
        pairs,
        difference: plain("ours less laboratory", unit),
        agreement: agreement.map(|found| Agreement {
            bias: [found.bias_interval[0], found.bias, found.bias_interval[1]],
            lower: [found.limit_intervals[0][0], found.limits[0], found.limit_intervals[0][1]],
            upper: [found.limit_intervals[1][0], found.limits[1], found.limit_intervals[1][1]],
        }),
        margin: Some([-margin, margin]),
    }
}

fn drawn(pair: &stillwell_assure::compare::PairedResult, is_percent: bool) -> Option<ComparedPair> {
    let (Reported::Found { value: ours, .. }, Reported::Found { value: reference, .. }) =
        (pair.ours, pair.reference)
    else {
        return None;
    };
    let score = pair.score()?;
    let difference = if is_percent { 100.0 * score.difference / reference } else { score.difference };
    Some(ComparedPair {
        name: pair.sample.clone(),
        reference,
        candidate: ours,
        at: 0.5 * (ours + reference),
        difference,
        is_apart: score.grade == ScoreGrade::Unsatisfactory,
    })
}
