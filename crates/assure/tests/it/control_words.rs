//! What people read about a chart.

use stillwell_assure::control::{
    ChartPoint, ChartSettings, Charted, PointValue, Training, ageing, judge_chart,
};

const SOUND: [f64; 12] = [99.2, 101.0, 100.4, 98.8, 100.9, 99.6, 100.2, 99.9, 100.8, 99.1, 100.1, 99.7];

fn told(values: &[f64], after: &[PointValue]) -> String {
    let mut points: Vec<ChartPoint> = values
        .iter()
        .enumerate()
        .map(|(i, v)| ChartPoint::found(format!("batch {}", i + 1), Some(i32::try_from(i).unwrap() * 7), *v))
        .collect();
    for value in after {
        let n = points.len();
        points.push(ChartPoint {
            value: *value,
            ..ChartPoint::found(format!("batch {}", n + 1), Some(500), 0.0)
        });
    }
    let settings = ChartSettings::gating(2, Training::FirstPoints(10));
    let chart = judge_chart(Charted::CheckStandard, "%", points, &settings).unwrap();
    let mut lines = vec![chart.words()];
    lines.extend(chart.alarm_words().iter().map(|words| format!("alarm: {words}")));
    lines.extend(chart.warning_words().iter().map(|words| format!("warning: {words}")));
    lines.extend(chart.advice().iter().map(|words| format!("advice: {words}")));
    lines.join("\n")
}

#[test]
fn too_few_points() {
    insta::assert_snapshot!(told(&SOUND[..5], &[]));
}

#[test]
fn in_control() {
    insta::assert_snapshot!(told(&SOUND, &[]));
}

#[test]
fn a_warning() {
    let mut values = SOUND.to_vec();
    values.extend([101.2, 102.2]);
    insta::assert_snapshot!(told(&values, &[]));
}

#[test]
fn out_of_control() {
    let mut values = SOUND.to_vec();
    values.extend([100.2, 92.1]);
    insta::assert_snapshot!(told(&values, &[]));
}

#[test]
fn a_shift_and_points_that_cannot_be_judged() {
    let mut values = SOUND.to_vec();
    values.extend([98.1, 98.0, 97.9, 98.2, 98.0, 97.8]);
    insta::assert_snapshot!(told(&values, &[PointValue::LessThan(110.0), PointValue::Missing]));
}

#[test]
fn strips_that_age() {
    let days: Vec<f64> = (0..8).map(|i| 7.0 * f64::from(i)).collect();
    let wander = [0.4, -0.6, 0.3, 0.5, -0.4, -0.2, 0.6, -0.3];
    let potential = |per_day: f64| -> Vec<f64> {
        days.iter().zip(wander).map(|(day, noise)| -600.0 + per_day * day + noise).collect()
    };
    let words = [0.0, -0.3, -0.6].map(|per_day| {
        ageing(&days, &potential(per_day), [-630.0, -570.0]).unwrap().words("peak potential", "mV")
    });
    insta::assert_snapshot!(words.join("\n"));
}
