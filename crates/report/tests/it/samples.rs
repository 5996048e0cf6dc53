//! Invented charts, lots and pairs to be drawn, and scans of a given length.

use stillwell_method::{EvaluatedCurves, ScanCurves, StationAsked, StationFile, station_review};
use stillwell_report::{Agreement, AxisText, AxisUnit, ComparedLine, ComparedPair, MethodComparison};
use stillwell_report::{ChartLine, ChartPanel, ChartPoint, ChartSeries, ChartValue, ControlChart};
use stillwell_report::{ComparedLot, LineCourse, LineRole, LotComparison, LotJudgement};
use stillwell_report::{Figure, station_figures};
use stillwell_scan::{Technique, TechniqueKind};

/// The figures of a part of an example's readings: a series with a gap, a stuck stretch, bounds and an odd day; a change of a trial.
pub(crate) fn stations() -> [Figure; 2] {
    const BROOK: &str = include_str!("../../../../examples/stations/brook.csv");
    const TRIAL: &str = include_str!("../../../../examples/stations/trial.csv");
    let part = |text: &str, from: usize, n: usize| {
        let mut lines = text.lines();
        let header = lines.next().unwrap();
        let lines: Vec<&str> = std::iter::once(header).chain(lines.skip(from).take(n)).collect();
        let file = StationFile::parse("readings.csv", &lines.join("\n")).unwrap();
        let review = station_review(&file.stations[0], &StationAsked::default()).unwrap();
        station_figures(&review).swap_remove(0).1
    };
    [part(BROOK, 90, 165), part(TRIAL, 31, 62)]
}

fn axis(quantity: &str, unit: &str) -> AxisText {
    AxisText { quantity: quantity.to_owned(), unit: AxisUnit::Plain(unit.to_owned()) }
}

/// Numbers between -1 and 1 that look scattered and are the same each time.
pub(crate) fn scattered(index: usize) -> f64 {
    let hash = (index as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    f64::from((hash >> 40) as u32) / f64::from(1_u32 << 23) - 1.0
}

fn point(index: usize, value: ChartValue, breaks: &[&str]) -> ChartPoint {
    ChartPoint {
        at: index as f64,
        name: format!("batch {index}"),
        value,
        follows_gap: index == 17,
        breaks: breaks.iter().map(|rule| (*rule).to_owned()).collect(),
    }
}

fn line(role: LineRole, label: &str, at: f64) -> ChartLine {
    ChartLine { role, label: label.to_owned(), course: LineCourse::Level(at) }
}

fn lines(centre: f64, sd: f64) -> Vec<ChartLine> {
    vec![
        line(LineRole::Centre, &format!("centre {centre}"), centre),
        line(LineRole::Warning, &format!("warning {}", centre + 2.0 * sd), centre + 2.0 * sd),
        line(LineRole::Warning, &format!("warning {}", centre - 2.0 * sd), centre - 2.0 * sd),
        line(LineRole::Action, &format!("action {}", centre + 3.0 * sd), centre + 3.0 * sd),
        line(LineRole::Action, &format!("action {}", centre - 3.0 * sd), centre - 3.0 * sd),
    ]
}

fn check_standard() -> ChartPanel {
    let value = |index: usize| match index {
        23 => ChartValue::Known(28.6),
        26 => ChartValue::Below(22.5),
        29 => ChartValue::Above(27.5),
        _ => ChartValue::Known(25.0 + 1.4 * scattered(index)),
    };
    let breaks = |index: usize| match index {
        23 => vec!["one value beyond an action limit"],
        30 | 31 => vec!["two of three beyond the same warning limit"],
        32 => vec!["two of three beyond the same warning limit", "nine in a row on one side of the centre"],
        _ => Vec::new(),
    };
    let late = |index: usize| match index {
        30 => ChartValue::Known(27.3),
        31 => ChartValue::Known(27.1),
        32 => ChartValue::Known(27.4),
        _ => value(index),
    };
    let points = (1..=32).filter(|index| *index != 16).map(|index| point(index, late(index), &breaks(index)));
    ChartPanel {
        value: axis("check standard, found", "mg/L as NO₃⁻"),
        series: vec![ChartSeries { name: "check standard".to_owned(), points: points.collect() }],
        lines: lines(25.0, 1.0),
    }
}

pub(crate) fn control_chart() -> ControlChart {
    ControlChart {
        title: "Control chart of the check standard 25 mg/L".to_owned(),
        remarks: vec!["Out of control since batch 23; verdicts are withheld back to batch 22.".to_owned()],
        along: AxisText { quantity: "date of 2026".to_owned(), unit: AxisUnit::None },
        along_labels: [
            (1.0, "3 March"),
            (8.0, "10 March"),
            (15.0, "17 March"),
            (22.0, "24 March"),
            (29.0, "31 March"),
        ]
        .map(|(at, label)| (at, label.to_owned()))
        .to_vec(),
        training: Some([0.5, 12.5]),
        panels: vec![check_standard()],
    }
}

pub(crate) fn weighted_mean() -> ControlChart {
    let limit = |index: usize| 0.9 * (1.0 - libm::exp(-0.35 * index as f64));
    let places = |side: f64| (1..=32).map(|index| (index as f64, 25.0 + side * limit(index))).collect();
    let weighted = |index: usize| {
        25.0 + 0.5 * scattered(index) + if index > 24 { 0.12 * (index - 24) as f64 } else { 0.0 }
    };
    let points = (1..=32).map(|index| {
        let breaks: &[&str] =
            if weighted(index) - 25.0 > limit(index) { &["weighted mean beyond its limit"] } else { &[] };
        point(index, ChartValue::Known(weighted(index)), breaks)
    });
    let course = |side| ChartLine {
        role: LineRole::Action,
        label: "action".to_owned(),
        course: LineCourse::Places(places(side)),
    };
    let panel = ChartPanel {
        value: axis("weighted mean, λ = 0.2", "mg/L as NO₃⁻"),
        series: vec![ChartSeries { name: "weighted mean".to_owned(), points: points.collect() }],
        lines: vec![line(LineRole::Centre, "centre 25", 25.0), course(1.0), course(-1.0)],
    };
    ControlChart {
        title: "Weighted mean of the check standard".to_owned(),
        remarks: Vec::new(),
        along: AxisText { quantity: "batch".to_owned(), unit: AxisUnit::None },
        along_labels: Vec::new(),
        training: None,
        panels: vec![check_standard(), panel],
    }
}

pub(crate) fn sums() -> ControlChart {
    let sum = |sign: f64| {
        let values = (1..=32_usize).scan(0.0_f64, move |sum, index| {
            let drift = if index > 18 { 0.9 } else { 0.0 };
            *sum = (*sum + sign * (scattered(index) + drift) - 0.5).max(0.0);
            Some((index, *sum))
        });
        let breaks = |sum: f64| if sum > 4.0 { &["sum beyond its limit"][..] } else { &[] };
        let points = values.map(|(index, sum)| point(index, ChartValue::Known(sign * sum), breaks(sum)));
        points.collect()
    };
    let series = vec![
        ChartSeries { name: "upper sum".to_owned(), points: sum(1.0) },
        ChartSeries { name: "lower sum".to_owned(), points: sum(-1.0) },
    ];
    let panel = ChartPanel {
        value: AxisText {
            quantity: "cumulative sum, in standard deviations".to_owned(),
            unit: AxisUnit::None,
        },
        series,
        lines: vec![
            line(LineRole::Action, "h 4", 4.0),
            line(LineRole::Action, "h −4", -4.0),
            line(LineRole::Centre, "", 0.0),
        ],
    };
    ControlChart { title: "Cumulative sums of the blank".to_owned(), panels: vec![panel], ..weighted_mean() }
}

pub(crate) fn comparison() -> MethodComparison {
    let pair = |index: usize| {
        let reference = 5.0 + 4.0 * index as f64;
        let is_apart = index == 9;
        let candidate = reference * 1.02 + 1.6 * scattered(index) + if is_apart { 9.0 } else { 0.0 };
        ComparedPair {
            name: format!("W{index}"),
            reference,
            candidate,
            at: f64::midpoint(reference, candidate),
            difference: candidate - reference,
            is_apart,
        }
    };
    MethodComparison {
        title: "Strips against an accredited laboratory".to_owned(),
        remarks: vec![
            "Mean difference 0.8 mg/L, 95 % interval 0.1 to 1.5 mg/L. Invented numbers.".to_owned(),
        ],
        candidate: "strips".to_owned(),
        reference: "laboratory".to_owned(),
        unit: AxisUnit::Plain("mg/L as NO₃⁻".to_owned()),
        pairs: (0..20).map(pair).collect(),
        line: Some(ComparedLine { label: "Deming".to_owned(), ends: [(5.0, 5.1), (81.0, 83.0)] }),
        difference: axis("strips less laboratory", "mg/L as NO₃⁻"),
        agreement: Some(Agreement {
            bias: [0.1, 0.8, 1.5],
            lower: [-2.6, -1.9, -1.2],
            upper: [2.8, 3.5, 4.2],
        }),
        margin: Some([-5.0, 5.0]),
    }
}

pub(crate) fn lots() -> LotComparison {
    let lot = |index: usize, name: &str, mean: f64, half: f64, judged| ComparedLot {
        name: name.to_owned(),
        values: (0..6).map(|n| mean + 2.5 * scattered(10 * index + n)).collect(),
        mean,
        interval: Some([mean - half, mean + half]),
        judged: Some(judged),
    };
    LotComparison {
        each: "lot",
        title: "Sensitivity of the lots against the approved calibration".to_owned(),
        remarks: vec!["90 % intervals of the electrodes' mean. Invented numbers.".to_owned()],
        value: axis("sensitivity, of the approved one", "%"),
        lots: vec![
            lot(0, "L21", 100.3, 1.6, LotJudgement::Equivalent),
            lot(1, "L22", 103.6, 2.4, LotJudgement::NotShown),
            lot(2, "L23, opened in June and kept warm", 91.8, 1.9, LotJudgement::Different),
            lot(3, "L24", 98.9, 1.4, LotJudgement::Equivalent),
        ],
        target: Some(("approved".to_owned(), 100.0)),
        margin: Some([95.0, 105.0]),
    }
}

pub(crate) fn techniques() -> Vec<Technique> {
    let of = |kind, start_v, end_v| Technique {
        step_v: Some(0.004),
        amplitude_v: Some(0.025),
        frequency_hz: Some(25.0),
        ..Technique::new(kind, start_v, end_v)
    };
    let pulses = |technique: Technique| Technique {
        pulse_s: Some(0.05),
        pulse_period_s: Some(0.2),
        amplitude_v: Some(0.05),
        frequency_hz: None,
        ..technique
    };
    let sweep = |technique: Technique| Technique {
        scan_rate_v_per_s: Some(0.1),
        step_v: None,
        amplitude_v: None,
        frequency_hz: None,
        ..technique
    };
    vec![
        of(TechniqueKind::SquareWave, -0.2, -0.9),
        pulses(of(TechniqueKind::DifferentialPulse, -0.2, -0.9)),
        pulses(Technique { step_v: Some(0.05), ..of(TechniqueKind::NormalPulse, -0.2, -0.9) }),
        sweep(of(TechniqueKind::LinearSweep, -0.2, -0.9)),
        Technique { vertex_v: Some(0.6), cycles: Some(3), ..sweep(of(TechniqueKind::Cyclic, -0.2, -0.2)) },
        Technique {
            deposition_v: Some(-1.2),
            deposition_s: Some(60.0),
            quiet_s: Some(5.0),
            ..of(TechniqueKind::StrippingSquareWave, -1.0, 0.1)
        },
        Technique { duration_s: Some(30.0), ..sweep(of(TechniqueKind::Chronoamperometry, -0.6, -0.6)) },
        Technique::new(TechniqueKind::SquareWave, -0.2, -0.9),
        Technique::new(TechniqueKind::Potentiometry, 0.0, 0.0),
    ]
}

/// Potentials of a scan of so many points.
pub(crate) fn potentials(n_points: usize) -> Vec<f64> {
    (0..n_points).map(|index| -0.3 - 0.6 * index as f64 / n_points as f64).collect()
}

/// A scan of other points with all its curves: a peak on a sloping background with noise.
pub(crate) fn replaced<'a>(
    of: &ScanCurves<'a>,
    potential_v: &'a [f64],
    current_a: &'a [f64],
    seed: usize,
) -> ScanCurves<'a> {
    let n_points = potential_v.len();
    let peak =
        |at_v: f64| -3e-6 * (1.0 + 0.2 * scattered(seed)) * libm::exp(-libm::pow((at_v + 0.6) / 0.06, 2.0));
    let noise = |index: usize| 3e-8 * scattered(index + 977 * seed);
    let baseline_a: Vec<f64> = potential_v.iter().map(|at_v| 1e-6 * at_v).collect();
    let smoothed_a: Vec<f64> =
        potential_v.iter().zip(&baseline_a).map(|(at_v, base)| base + peak(*at_v)).collect();
    let evaluated = EvaluatedCurves {
        subtracted_a: smoothed_a.iter().enumerate().map(|(index, a)| a + noise(index)).collect(),
        smoothed_a,
        baseline_a,
        baseline_points: Some([n_points / 8, n_points - n_points / 8]),
        signal: None,
    };
    ScanCurves {
        potential_v,
        current_a,
        blank_a: Some((0..n_points).map(|index| -1e-6 + noise(index + 31)).collect()),
        evaluated: Some(evaluated),
        ..of.clone()
    }
}
