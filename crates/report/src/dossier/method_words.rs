//! Every constant of a method in words, with its unit.

use stillwell_method::{
    BaselinePlan, BlankUse, CalibrationScope, DetectionWay, LimitPlan, MeasurePlan, Method, ModelPlan,
    PeakDirection, SmoothPlan, WeightsPlan,
};

use super::setting::{span, stated};
use crate::wording::given;

/// Constants that belong together.
pub(super) struct Part {
    pub(super) title: &'static str,
    /// What it is, and what is stated.
    pub(super) rows: Vec<(&'static str, String)>,
}

const NOT_STATED: &str = "not stated";

pub(super) fn parts(method: &Method) -> Vec<Part> {
    let part = |title, rows| Part { title, rows };
    vec![
        part("What is measured, and on what", subject(method)),
        part("Technique", technique(method)),
        part("Sample", sample(method)),
        part("From scan to signal", evaluation(method)),
        part("Peak", peak(method)),
        part("Calibration", calibration(method)),
        part("Acceptance of calibrations and batches", acceptance(method)),
        part("Limits of the checks of a raw scan", trust(method)),
        part("Limits to judge against", limits(method)),
    ]
}

fn or_not(value: Option<f64>, unit: &str) -> String {
    value.map_or_else(|| NOT_STATED.to_owned(), |value| stated(value, unit))
}

fn current(value: Option<f64>) -> String {
    value.map_or_else(|| format!("{NOT_STATED}: not testable"), |value| given(value, "A"))
}

fn yes(is: bool) -> String {
    if is { "yes" } else { "no" }.to_owned()
}

fn subject(method: &Method) -> Vec<(&'static str, String)> {
    let analyte = &method.analyte;
    vec![
        ("Analyte", analyte.name.clone()),
        ("Reported as", analyte.reported_as.to_string()),
        ("Signal includes nitrite", yes(analyte.includes_nitrite)),
        ("Electrode", method.electrode.material.clone()),
        ("Geometric area", or_not(method.electrode.area_mm2, "mm²")),
        ("Serves one solution and is thrown away", yes(method.electrode.single_use)),
        ("Conditioning", method.electrode.conditioning.clone().unwrap_or_else(|| NOT_STATED.to_owned())),
        ("Reference electrode", method.reference.kind.clone()),
        (
            "Largest shift of the peak that is still the same peak",
            stated(method.reference.shift_limit_v, "V"),
        ),
    ]
}

fn technique(method: &Method) -> Vec<(&'static str, String)> {
    let technique = &method.technique;
    let mut rows = vec![
        ("Technique", technique.kind.word().to_owned()),
        ("First potential", stated(technique.start_v, "V")),
        ("Last potential", stated(technique.end_v, "V")),
    ];
    let optional = [
        ("Step", technique.step_v, "V"),
        ("Turning potential", technique.vertex_v, "V"),
        ("Cycles", technique.cycles.map(f64::from), ""),
        ("Amplitude", technique.amplitude_v, "V"),
        ("Frequency", technique.frequency_hz, "Hz"),
        ("Scan rate", technique.scan_rate_v_per_s, "V/s"),
        ("Length of a pulse", technique.pulse_s, "s"),
        ("Time from pulse to pulse", technique.pulse_period_s, "s"),
        ("Deposition potential", technique.deposition_v, "V"),
        ("Length of the deposition", technique.deposition_s, "s"),
        ("Rest before the scan", technique.quiet_s, "s"),
        ("Length of a recording", technique.duration_s, "s"),
    ];
    rows.extend(optional.into_iter().filter_map(|(name, value, unit)| Some((name, stated(value?, unit)))));
    rows
}

fn sample(method: &Method) -> Vec<(&'static str, String)> {
    let sample = &method.sample;
    let mut rows = vec![
        ("Supporting electrolyte", sample.electrolyte.clone()),
        ("Accepted pH", sample.ph.map_or_else(|| NOT_STATED.to_owned(), |ph| span(ph, ""))),
        ("Wait between wetting and scan", or_not(sample.wait_s, "s")),
        ("Electrodes that one determination takes", sample.electrodes.to_string()),
        ("Most chloride", or_not(sample.chloride_mg_per_l_max, "mg/L")),
        ("Highest conductivity", or_not(sample.conductivity_us_per_cm_max, "µS/cm")),
    ];
    match &sample.temperature {
        None => rows.push(("Temperature", NOT_STATED.to_owned())),
        Some(rule) => {
            rows.push(("Accepted temperature", span(rule.span_c, "°C")));
            rows.push(("Difference that needs no correction", stated(rule.tolerance_k, "K")));
            rows.push((
                "Change of the signal with temperature",
                rule.coefficient_per_k.map_or_else(
                    || NOT_STATED.to_owned(),
                    |(value, u)| format!("{} per K, standard uncertainty {u} per K", stated(value, "")),
                ),
            ));
        }
    }
    rows
}

fn evaluation(method: &Method) -> Vec<(&'static str, String)> {
    let plan = &method.evaluation;
    let blank = match plan.blank {
        BlankUse::Subtract => "subtracted point by point",
        BlankUse::Align => "shifted by the estimated move of the reference, then subtracted",
        BlankUse::Ignore => "not used",
    };
    let despike = plan.despike.as_ref().map_or_else(
        || "none".to_owned(),
        |spikes| {
            format!(
                "a point further from its neighbours than {} robust standard deviations, {} times their range and {} is replaced by their median",
                spikes.limit, spikes.least_ratio, given(spikes.floor_a, "A")
            )
        },
    );
    let smooth = match plan.smooth {
        SmoothPlan::None => "none".to_owned(),
        SmoothPlan::SavitzkyGolay { window, degree } => {
            format!("local polynomial of degree {degree} over {window} points (Savitzky and Golay)")
        }
        SmoothPlan::MovingAverage { window } => format!("mean over {window} points"),
    };
    vec![
        ("Blank", blank.to_owned()),
        ("Isolated spikes", despike),
        ("Smoothing", smooth),
        ("Baseline", baseline(&plan.baseline)),
    ]
}

fn baseline(plan: &BaselinePlan) -> String {
    let two = |left: &[f64; 2], right: &[f64; 2]| format!("{} and {}", span(*left, "V"), span(*right, "V"));
    match plan {
        BaselinePlan::None => "none: from zero current".to_owned(),
        BaselinePlan::Line { left_v, right_v } => {
            format!("straight line through the means of two windows: {}", two(left_v, right_v))
        }
        BaselinePlan::Minima { left_v, right_v } => {
            format!("straight line through the lowest points of two windows: {}", two(left_v, right_v))
        }
        BaselinePlan::Tangent { window_v } => format!("common tangent within {}", span(*window_v, "V")),
        BaselinePlan::Polynomial { degree, left_v, right_v } => {
            format!("polynomial of degree {degree} fitted to two windows: {}", two(left_v, right_v))
        }
        BaselinePlan::AsymmetricLeastSquares { stiffness, asymmetry, iterations } => format!(
            "asymmetric least squares (Eilers): stiffness {stiffness}, weight of points above the curve {asymmetry}, at most {iterations} iterations"
        ),
    }
}

fn peak(method: &Method) -> Vec<(&'static str, String)> {
    let plan = &method.evaluation.peak;
    let measure = match plan.measure {
        MeasurePlan::Height => "height over the baseline at the vertex, in A".to_owned(),
        MeasurePlan::Area => "area over the baseline, in A·V".to_owned(),
        MeasurePlan::HeightAt(at_v) => format!("height over the baseline at {}, in A", stated(at_v, "V")),
    };
    let direction = match plan.direction {
        PeakDirection::Reduction => "reduction: negative current, as IUPAC has it",
        PeakDirection::Oxidation => "oxidation: positive current, as IUPAC has it",
    };
    vec![
        ("Where the peak is looked for", span(plan.window_v, "V")),
        ("Direction", direction.to_owned()),
        ("Signal", measure),
        ("Least signal over noise", plan.least_signal_to_noise.to_string()),
        ("A second maximum makes two peaks from", format!("{} of the first", plan.second_peak_fraction)),
        ("Width may differ from the calibration's by", format!("{} of it", plan.width_tolerance)),
    ]
}

fn calibration(method: &Method) -> Vec<(&'static str, String)> {
    let (plan, unit) = (&method.calibration, method.analyte.reported_as.to_string());
    let model = match plan.model {
        ModelPlan::Line => "straight line with intercept",
        ModelPlan::Quadratic => "curve of second degree",
        ModelPlan::LineThroughOrigin => "straight line through the origin",
    };
    let weights = match plan.weights {
        WeightsPlan::None => "none: the same spread at all levels",
        WeightsPlan::VarianceFunction => "by a variance function fitted to the electrodes' spread",
        WeightsPlan::InverseLevel => "one over the level",
        WeightsPlan::InverseLevelSquared => "one over the square of the level",
    };
    let scope = match plan.per {
        CalibrationScope::Lot => "each electrode lot by itself",
        CalibrationScope::AllLots => "all lots together",
    };
    let detection = match plan.detection {
        DetectionWay::Iso11843 => "ISO 11843-2, from the calibration",
        DetectionWay::Din32645Blank => "DIN 32645, from blank replicates",
        DetectionWay::Din32645Calibration => "DIN 32645, from a calibration at low levels",
        DetectionWay::Cfr136 => "40 CFR 136, Appendix B, revision 2",
        DetectionWay::Shorthand => "3.3 times standard deviation over slope",
        DetectionWay::PredictionBand => "from the prediction band",
    };
    let levels: Vec<String> = plan.levels.iter().map(f64::to_string).collect();
    vec![
        ("Curve", model.to_owned()),
        ("Weights", weights.to_owned()),
        ("Levels", format!("{} {unit}", levels.join(", "))),
        ("Electrodes on each level", plan.electrodes.to_string()),
        ("One calibration for", scope.to_owned()),
        ("Coverage of every interval", stated(100.0 * plan.coverage, "%, two-sided")),
        ("Detection limit by", detection.to_owned()),
        ("Risk of calling a blank detected", plan.alpha.to_string()),
        ("Risk of missing what stands at the detection limit", plan.beta.to_string()),
        (
            "Limit of quantification",
            format!("where the half width of the interval is the level over {}", plan.quantification_factor),
        ),
        ("Relative standard uncertainty that all standards share", plan.level_relative_u.to_string()),
    ]
}

fn acceptance(method: &Method) -> Vec<(&'static str, String)> {
    let plan = &method.calibration.acceptance;
    let demanded = |value: Option<f64>, words: &str| {
        value.map_or_else(|| "not demanded".to_owned(), |value| words.replace('#', &value.to_string()))
    };
    let p = "probability at least #";
    let charts = plan
        .chart_training_points
        .map_or_else(|| "not stated: charts withhold nothing".to_owned(), |n| format!("{n} points"));
    vec![
        ("Standards read back", demanded(plan.back_calculated_percent, "within # % of their level")),
        ("Lack of fit", demanded(plan.lack_of_fit_alpha, p)),
        ("Linearity (Mandel)", demanded(plan.linearity_alpha, p)),
        ("Equal spread", demanded(plan.homogeneity_alpha, p)),
        ("Trend of residuals with the scan's number", demanded(plan.trend_alpha, p)),
        ("Process standard deviation", demanded(plan.process_sd_percent, "at most # % of the mean level")),
        ("Check standard", format!("within {} % of its level", plan.check_standard_percent)),
        ("Check standard before and after the samples of a batch", yes(plan.bracketing)),
        ("Zero level of a batch", format!("at most {} of the limit of quantification", plan.blank_fraction)),
        ("Electrode control", format!("within {} % of its level", plan.control_percent)),
        ("Recovery of a spike", span(plan.spike_recovery_percent, "%")),
        ("Duplicates", format!("within {} % of their mean", plan.duplicate_percent)),
        ("Limits of a control chart are made from", charts),
    ]
}

fn trust(method: &Method) -> Vec<(&'static str, String)> {
    let plan = &method.trust;
    let points = |n: u32| format!("{n} points");
    vec![
        ("Clipped: equal extreme readings in a row", points(plan.clipping_run)),
        ("Range of the instrument, either side of zero", current(plan.range_a)),
        ("Points that may be missing", plan.missing_points.to_string()),
        ("Points that may be repeated", plan.repeated_points.to_string()),
        ("Largest deviation of a potential step", format!("{} of the step", plan.step_deviation)),
        (
            "Spike",
            format!(
                "{} robust standard deviations and {} times the range of its neighbours",
                plan.spike_units, plan.spike_ratio
            ),
        ),
        ("Smallest range of currents of a live scan", given(plan.least_range_a, "A")),
        (
            "Start-up transient",
            format!(
                "{} first points, {} robust standard deviations off the trend",
                plan.start_up_points, plan.start_up_units
            ),
        ),
        ("Points of each end for offset and drift", plan.end_points.to_string()),
        ("Largest current at the foot", current(plan.offset_a)),
        ("Largest standard deviation of the noise", current(plan.noise_a)),
        ("Largest drift between forward and reverse", current(plan.drift_a)),
        (
            "Fewest points of a scan",
            plan.least_points.map_or_else(
                || "nine tenths of what the technique yields, at least 20".to_owned(),
                |n| n.to_string(),
            ),
        ),
        ("Width of the peak at half height", or_not(plan.half_width_v, "V")),
        ("Fewest points within that width", plan.least_points_per_half_width.to_string()),
        ("Mains frequency", stated(plan.mains_hz, "Hz")),
        ("Largest amplitude at the mains frequency", current(plan.mains_a)),
    ]
}

fn limits(method: &Method) -> Vec<(&'static str, String)> {
    let words = |limit: &LimitPlan| match limit {
        LimitPlan::Single(limit) => {
            format!("{} ({}): {limit}; {}, {}", limit.name(), limit.id(), limit.document(), limit.clause())
        }
        LimitPlan::Sum(limit) => {
            format!("{} ({}); {}, {}", limit.name(), limit.id(), limit.document(), limit.clause())
        }
    };
    method.limits.iter().map(|limit| ("Limit", words(limit))).collect()
}
