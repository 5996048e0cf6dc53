//! Whatever a chart, a comparison or a technique holds: a sound drawing, no number that is none, no name that breaks out.

use proptest::prelude::*;
use stillwell_report::{
    ChartValue, LineCourse, comparison_figure, control_figure, lot_figure, technique_figure,
};
use stillwell_scan::{Technique, TechniqueKind};

use crate::hostile::{assert_harmless, hostile_names};
use crate::samples::{comparison, control_chart, lots, sums, techniques, weighted_mean};

/// Numbers of every size, and those that are none.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => any::<f64>(),
        4 => -1e3..1e3_f64,
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, 5e-324, f64::MAX]),
    ]
}

/// A number and its likes: often the same again, so that ranges are empty.
fn numbers() -> impl Strategy<Value = [f64; 4]> {
    prop_oneof![[number(), number(), number(), number()], number().prop_map(|same| [same; 4])]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn charts_of_any_numbers_are_sound([a, b, c, d] in numbers(), names in prop::sample::select(hostile_names().to_vec())) {
        for mut chart in [control_chart(), weighted_mean(), sums()] {
            chart.training = Some([a, b]);
            chart.along_labels.push((c, names.clone()));
            for panel in &mut chart.panels {
                for (point, value) in panel.series.iter_mut().flat_map(|series| &mut series.points).zip([a, b, c, d].into_iter().cycle()) {
                    point.value = match point.value {
                        ChartValue::Known(_) => ChartValue::Known(value),
                        ChartValue::Below(_) => ChartValue::Below(value),
                        ChartValue::Above(_) => ChartValue::Above(value),
                    };
                    point.at = if point.at > 20.0 { d } else { point.at };
                    point.breaks.push(names.clone());
                }
                panel.lines.iter_mut().for_each(|line| line.course = LineCourse::Places(vec![(a, b), (c, d)]));
            }
            assert_harmless(&control_figure(&chart));
        }
    }

    #[test]
    fn comparisons_and_lots_of_any_numbers_are_sound([a, b, c, d] in numbers()) {
        let mut methods = comparison();
        for pair in &mut methods.pairs {
            (pair.reference, pair.candidate, pair.at, pair.difference) = (a, b, c, d);
        }
        methods.margin = Some([c, d]);
        methods.agreement.iter_mut().for_each(|agreement| agreement.bias = [d, a, b]);
        methods.line.iter_mut().for_each(|line| line.ends = [(a, b), (d, c)]);
        assert_harmless(&comparison_figure(&methods));
        let mut rows = lots();
        for lot in &mut rows.lots {
            (lot.mean, lot.interval, lot.values) = (a, Some([b, c]), vec![a, d, d]);
        }
        rows.margin = Some([d, a]);
        rows.target = Some(("approved".to_owned(), b));
        assert_harmless(&lot_figure(&rows));
    }

    #[test]
    fn techniques_of_any_numbers_are_sound([a, b, c, d] in numbers(), which in 0..7_usize) {
        let mut technique = techniques()[which].clone();
        (technique.start_v, technique.end_v, technique.vertex_v) = (a.clamp(-10.0, 10.0), b.clamp(-10.0, 10.0), Some(c));
        // As small a step as asks for a hundred million points is drawn, too.
        technique.step_v = Some(d.abs().max(1e-7));
        (technique.amplitude_v, technique.pulse_s, technique.deposition_s) = (Some(d), Some(b), Some(c));
        assert_harmless(&technique_figure(&technique));
    }

    #[test]
    fn hostile_names_in_charts_are_escaped_and_cut(name in prop::sample::select(hostile_names().to_vec())) {
        let mut chart = weighted_mean();
        (chart.title, chart.remarks, chart.along.quantity) = (name.clone(), vec![name.clone()], name.clone());
        for panel in &mut chart.panels {
            panel.value.quantity.clone_from(&name);
            panel.lines.iter_mut().for_each(|line| line.label.clone_from(&name));
            for point in panel.series.iter_mut().flat_map(|series| &mut series.points) {
                point.name.clone_from(&name);
            }
        }
        let figure = control_figure(&chart);
        assert_harmless(&figure);
        // A long quantity must not push its unit off the drawing.
        prop_assert!(figure.standalone().contains(" (mg/L as NO₃⁻)<"));
        let mut methods = comparison();
        (methods.title, methods.candidate, methods.reference) = (name.clone(), name.clone(), name.clone());
        methods.pairs.iter_mut().for_each(|pair| pair.name.clone_from(&name));
        methods.line.iter_mut().for_each(|line| line.label.clone_from(&name));
        assert_harmless(&comparison_figure(&methods));
        let mut rows = lots();
        rows.title.clone_from(&name);
        rows.lots.iter_mut().for_each(|lot| lot.name.clone_from(&name));
        rows.target = Some((name.clone(), 100.0));
        assert_harmless(&lot_figure(&rows));
    }
}

#[test]
fn nothing_in_a_chart_says_so() {
    let mut chart = control_chart();
    chart.panels.iter_mut().for_each(|panel| panel.series.clear());
    chart.panels.iter_mut().for_each(|panel| panel.lines.clear());
    let mut methods = comparison();
    (methods.pairs, methods.line) = (Vec::new(), None);
    let mut rows = lots();
    (rows.lots, rows.target, rows.margin) = (Vec::new(), None, None);
    for figure in [control_figure(&chart), comparison_figure(&methods), lot_figure(&rows)] {
        assert_harmless(&figure);
        assert!(figure.standalone().contains("no data"));
    }
    let unknown = Technique::new(TechniqueKind::Cyclic, f64::NAN, f64::INFINITY);
    assert_harmless(&technique_figure(&unknown));
}

#[test]
fn a_chart_of_a_thousand_values_stays_small() {
    let mut chart = control_chart();
    let points = chart.panels[0].series[0].points.clone();
    let many = points.iter().cycle().take(1000).cloned().enumerate().map(|(index, mut point)| {
        point.at = index as f64;
        point
    });
    chart.panels[0].series[0].points = many.collect();
    let size = control_figure(&chart).inline("chart").len();
    println!("1000 values: {size} B");
    assert!(size < 100_000, "{size}");
}
