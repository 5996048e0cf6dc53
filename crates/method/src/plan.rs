//! The plan of a method: how many standards, strips and scans reach a target uncertainty, in sentences.

use stillwell_calibrate::{
    Design, Layout, LevelPlan, Limiting, LotUse, PartOfVariance, Plan, PlanDemands, PlanError, PlannedDesign,
    SpreadComponents, plan_design, promised_by,
};

use crate::file::{Method, WeightsPlan};
use crate::finding::three_digits;

/// A variance function is fitted to no fewer degrees of freedom between electrodes; the calibration refuses below.
const REPLICATE_DF_FOR_WEIGHTS: u32 = 8;

/// A strip alone cannot be held against another, and the chain draws no verdict from it.
const LEAST_SAMPLE_STRIPS: u32 = 2;

/// What is asked, and what it may cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanRequest {
    /// Expanded relative uncertainty, such as 0.10.
    pub target_relative_u: f64,
    /// At this level of the method's reporting unit.
    pub level: f64,
    /// Samples that one calibration serves.
    pub samples_per_calibration: u32,
    /// Most strips for the standards of one calibration.
    pub most_strips: u32,
    /// Most strips for one sample.
    pub most_sample_strips: u32,
    /// Most scans of one strip.
    pub most_scans: u32,
    /// Minutes that one strip takes beside its scans.
    pub minutes_per_strip: f64,
    /// Minutes that one scan takes.
    pub minutes_per_scan: f64,
}

/// A plan with its sentences.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanReport {
    /// The plan.
    pub plan: Plan,
    /// Unit and species of its levels.
    pub unit: String,
    /// What the method's own levels and strips would give, with the scans of the design found; none where that is no design.
    pub own: Option<PlannedDesign>,
    /// What limits it, and what would help.
    pub limits: String,
    /// Where the standards go and why, compared with the other layouts.
    pub placement: String,
    /// What else must be known: what replicates never reach, a single strip, what the cost leaves out.
    pub remarks: Vec<String>,
}

/// Why no plan was made, in the method's words.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{words}")]
pub struct PlanRefusal {
    /// In words.
    pub words: String,
    /// The reason with its numbers.
    pub error: PlanError,
}

/// The design with the fewest strips that reaches the target with this method.
///
/// Standards are put between the lowest and the highest level of the method; coverage and weights are the method's.
///
/// # Units
/// Levels and components in the method's reporting unit.
///
/// # Errors
/// [`PlanRefusal`] with the words for a target that no number of replicates reaches, one that needs more than is allowed, or
/// numbers that are not usable.
///
/// # Source
/// [`stillwell_calibrate::plan_design`].
pub fn plan(
    method: &Method,
    components: &SpreadComponents,
    request: &PlanRequest,
) -> Result<PlanReport, PlanRefusal> {
    let levels = &method.calibration.levels;
    let low = levels.iter().copied().fold(f64::INFINITY, f64::min);
    let high = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least_replicate_df = match method.calibration.weights {
        WeightsPlan::VarianceFunction => REPLICATE_DF_FOR_WEIGHTS,
        _ => 0,
    };
    let demands = PlanDemands {
        target_relative_u: request.target_relative_u,
        level: request.level,
        coverage: method.calibration.coverage,
        range: [low, high],
        samples_per_calibration: request.samples_per_calibration,
        most_strips: request.most_strips,
        least_sample_strips: LEAST_SAMPLE_STRIPS.min(request.most_sample_strips),
        most_sample_strips: request.most_sample_strips,
        most_scans: request.most_scans,
        least_replicate_df,
        minutes_per_strip: request.minutes_per_strip,
        minutes_per_scan: request.minutes_per_scan,
    };
    let unit = method.analyte.reported_as.to_string();
    match plan_design(components, &demands) {
        Ok(plan) => Ok(PlanReport {
            limits: limits(&plan.design),
            placement: placement(&plan, &demands),
            remarks: remarks(&plan, &demands, components),
            own: own(method, &plan, components, &demands),
            plan,
            unit,
        }),
        Err(error) => Err(PlanRefusal { words: refusal(&error, request), error }),
    }
}

fn own(
    method: &Method,
    plan: &Plan,
    components: &SpreadComponents,
    demands: &PlanDemands,
) -> Option<PlannedDesign> {
    let electrodes = method.calibration.electrodes;
    let levels = method.calibration.levels.iter().map(|level| LevelPlan { level: *level, electrodes });
    let design = Design {
        levels: levels.collect(),
        sample_electrodes: method.sample.electrodes,
        ..plan.design.design.clone()
    };
    promised_by(components, &design, demands).ok()
}

fn remarks(plan: &Plan, demands: &PlanDemands, components: &SpreadComponents) -> Vec<String> {
    let mut remarks = Vec::new();
    if plan.floor_relative_u > 0.0 {
        remarks.push(format!(
            "no number of replicates goes below {:.1} %: lots, standards and temperature are shared by all",
            100.0 * plan.floor_relative_u
        ));
    }
    if components.lot_use != LotUse::CalibratedEach {
        remarks.push(
            "one calibration serves all lots, so a lot counts once: more strips of one lot will not help a sample"
                .to_owned(),
        );
    }
    remarks.push(match plan.design.design.sample_electrodes {
        1 => "one strip a sample cannot be held against another: a faulty one is not noticed".to_owned(),
        _ => "a sample gets at least 2 strips: one alone cannot be held against another".to_owned(),
    });
    if plan.design.design.levels.len() == 3 {
        remarks.push(
            "three levels show a bend only at the middle one; the method's lack-of-fit test then has one degree of freedom"
                .to_owned(),
        );
    }
    if demands.least_replicate_df > 0 {
        remarks.push(format!(
            "weights are fitted to the strips' own spread, which takes {} degrees of freedom between strips of one level",
            demands.least_replicate_df
        ));
    }
    remarks.push(
        "a design other than the method's own belongs into a new revision; until then the chain warns of it"
            .to_owned(),
    );
    remarks
        .push("the detection limit is no part of this target; fewer or other standards move it".to_owned());
    remarks.push("strips for blanks, check standards and electrode controls come on top".to_owned());
    remarks
}

fn placement(plan: &Plan, demands: &PlanDemands) -> String {
    let mut layouts: Vec<&PlannedDesign> = plan.layouts.iter().collect();
    layouts.sort_by(|a, b| a.relative_u.total_cmp(&b.relative_u).then(a.design.layout.cmp(&b.design.layout)));
    let mut each: Vec<String> = layouts
        .iter()
        .map(|other| format!("{} {:.1} %", layout_words(other.design.layout), 100.0 * other.relative_u))
        .collect();
    let has = |layout: Layout| layouts.iter().any(|other| other.design.layout == layout);
    each.extend(
        Layout::ALL
            .into_iter()
            .filter(|layout| !has(*layout))
            .map(|layout| format!("{} would take more standards", layout_words(layout))),
    );
    let chosen = plan.design.design.layout;
    format!(
        "with no more standards, at {}: {}; taken: {}: {}",
        three_digits(demands.level),
        each.join(", "),
        layout_words(chosen),
        layout_reason(chosen)
    )
}

/// A layout in words.
pub fn layout_words(layout: Layout) -> &'static str {
    match layout {
        Layout::Equidistant => "equal steps",
        Layout::EndsAndMiddle => "both ends and the middle",
        Layout::MoreAtLowest => "equal steps with more at the lowest level",
    }
}

/// What a layout is good for.
fn layout_reason(layout: Layout) -> &'static str {
    match layout {
        Layout::Equidistant => "every part of the range is seen, and a bend shows anywhere",
        Layout::EndsAndMiddle => "the ends tell the slope best and the middle shows a bend",
        Layout::MoreAtLowest => {
            "strips spread least at the lowest level, and more of them there tie the curve down for low samples"
        }
    }
}

fn limits(chosen: &PlannedDesign) -> String {
    let share = chosen.shares.first().map_or(0.0, |(_, share)| 100.0 * share);
    format!("{} ({share:.0} % of the variance): {}", part_words(chosen.limiting()), advice(chosen.limiting()))
}

fn part_words(part: Limiting) -> &'static str {
    match part {
        PartOfVariance::Lots => "the spread between lots dominates",
        PartOfVariance::Standards => "the levels of the standards dominate",
        PartOfVariance::Further => "temperature dominates",
        PartOfVariance::SampleElectrodes => "the spread between the sample's strips dominates",
        PartOfVariance::SampleScans => "the spread between scans dominates",
        PartOfVariance::Curve => "the calibration curve dominates",
    }
}

fn advice(part: Limiting) -> &'static str {
    match part {
        PartOfVariance::Lots => "more strips of one lot will not help; calibrate each lot",
        PartOfVariance::Standards => "more strips will not help; prepare the standards better",
        PartOfVariance::Further => {
            "more strips will not help; measure nearer to the calibration's conditions"
        }
        PartOfVariance::SampleElectrodes => "more strips a sample help, more scans of one strip do not",
        PartOfVariance::SampleScans => "more scans of each strip help",
        PartOfVariance::Curve => "more standards help, more strips a sample do not",
    }
}

/// "no number of replicates reaches 1 %: between-lot spread alone gives 3.2 %".
fn refusal(error: &PlanError, request: &PlanRequest) -> String {
    let alone = |part: Limiting| match part {
        PartOfVariance::Lots => "between-lot spread",
        PartOfVariance::Standards => "the uncertainty of the standards",
        PartOfVariance::Further => "temperature",
        PartOfVariance::SampleElectrodes | PartOfVariance::SampleScans | PartOfVariance::Curve => {
            "what is shared"
        }
    };
    match error {
        PlanError::NoReplicatesReach { target_percent, floor_percent, cause, cause_percent } => {
            let together = if floor_percent > cause_percent {
                format!(", all that is shared {floor_percent:.1} %")
            } else {
                String::new()
            };
            format!(
                "no number of replicates reaches {target_percent} %: {} alone gives {cause_percent:.1} %{together}; {}",
                alone(*cause),
                advice(*cause)
            )
        }
        PlanError::NotWithinMost { target_percent, best_percent, cause, .. } => format!(
            "{} strips of standards, {} strips a sample and {} scans a strip do not reach {target_percent} % at {}: the best gives {best_percent:.1} %; {}: {}",
            request.most_strips,
            request.most_sample_strips,
            request.most_scans,
            three_digits(request.level),
            part_words(*cause),
            advice(*cause)
        ),
        other => other.to_string(),
    }
}
