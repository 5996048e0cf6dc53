//! `plan --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_calibrate::{PartOfVariance, PlanError, PlannedDesign};
use stillwell_method::{Method, PlanBasis, PlanRefusal, PlanReport, PlanRequest, layout_words};

use super::{MethodJson, in_unit};

/// What was asked, and what the answer rests on.
pub struct Asked<'a> {
    /// The method to plan for.
    pub method: &'a Method,
    /// What the spread is taken from.
    pub basis: &'a PlanBasis,
    /// What the user wants.
    pub request: &'a PlanRequest,
    /// Where the calibrations come from.
    pub source: &'a str,
    /// What was taken for granted when the level was read.
    pub remark: Option<String>,
}

impl Asked<'_> {
    /// The unit of every level.
    pub fn unit(&self) -> String {
        self.method.analyte.reported_as.to_string()
    }
}

/// A design, or why there is none.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    target_relative_u: f64,
    coverage: f64,
    #[serde(flatten)]
    at: Map<String, Value>,
    level_taken_as: Option<String>,
    samples_per_calibration: u32,
    minutes_per_strip: f64,
    minutes_per_scan: f64,
    basis: BasisJson,
    /// Null where there is none; then `refusal` says why.
    design: Option<DesignJson>,
    next_cheaper: Option<DesignJson>,
    next_better: Option<DesignJson>,
    /// The method's own levels and strips.
    as_in_the_method: Option<DesignJson>,
    layouts: Vec<DesignJson>,
    /// What replicates without end would leave.
    floor_relative_u: Option<f64>,
    limits: Option<String>,
    placement: Option<String>,
    remarks: Vec<String>,
    refusal: Option<String>,
}

/// Variances are polynomials of the level, `v0 + v1 x + v2 x²`, in the reporting unit squared.
#[derive(Serialize, JsonSchema)]
struct BasisJson {
    source: String,
    n_lots: usize,
    electrode_degrees_of_freedom: usize,
    spread_relative_u: f64,
    lot_relative_sd: Option<f64>,
    electrode_variance: [f64; 3],
    scan_variance: [f64; 3],
    standards_relative_u: f64,
    temperature_relative_u: f64,
}

#[derive(Serialize, JsonSchema)]
struct DesignJson {
    layout: Option<&'static str>,
    standards: Vec<StandardJson>,
    strips_per_sample: u32,
    scans_per_strip: u32,
    relative_u: f64,
    #[serde(flatten)]
    expanded_u: Map<String, Value>,
    n_strips: u32,
    duration_min: f64,
    variance_shares: Map<String, Value>,
}

#[derive(Serialize, JsonSchema)]
struct StandardJson {
    #[serde(flatten)]
    level: Map<String, Value>,
    strips: u32,
}

/// A design that meets the target.
pub fn of(asked: &Asked<'_>, found: &PlanReport) -> Document {
    let one = |planned: &PlannedDesign| design(asked, planned);
    let plan = &found.plan;
    Document {
        design: Some(one(&plan.design)),
        next_cheaper: plan.cheaper.as_ref().map(one),
        next_better: plan.better.as_ref().map(one),
        as_in_the_method: found.own.as_ref().map(|own| DesignJson { layout: None, ..one(own) }),
        layouts: plan.layouts.iter().map(one).collect(),
        floor_relative_u: Some(plan.floor_relative_u),
        limits: Some(found.limits.clone()),
        placement: Some(found.placement.clone()),
        remarks: found.remarks.clone(),
        ..without_design(asked)
    }
}

/// Why there is no design.
pub fn refused(asked: &Asked<'_>, refusal: &PlanRefusal) -> Document {
    let floor_relative_u = match &refusal.error {
        PlanError::NoReplicatesReach { floor_percent, .. } => Some(floor_percent / 100.0),
        _ => None,
    };
    Document { floor_relative_u, refusal: Some(refusal.words.clone()), ..without_design(asked) }
}

fn without_design(asked: &Asked<'_>) -> Document {
    let (basis, request) = (asked.basis, asked.request);
    let components = &basis.components;
    Document {
        method: MethodJson::from(asked.method),
        target_relative_u: request.target_relative_u,
        coverage: asked.method.calibration.coverage,
        at: in_unit(&suffix(asked), [("level", Some(request.level))]),
        level_taken_as: asked.remark.clone(),
        samples_per_calibration: request.samples_per_calibration,
        minutes_per_strip: request.minutes_per_strip,
        minutes_per_scan: request.minutes_per_scan,
        basis: BasisJson {
            source: asked.source.to_owned(),
            n_lots: basis.lots,
            electrode_degrees_of_freedom: basis.electrode_degrees_of_freedom,
            spread_relative_u: basis.spread_relative_u(),
            lot_relative_sd: basis.lot_relative_sd,
            electrode_variance: components.electrode_variance,
            scan_variance: components.scan_variance,
            standards_relative_u: components.standards_relative_u,
            temperature_relative_u: components.further_relative_u,
        },
        design: None,
        next_cheaper: None,
        next_better: None,
        as_in_the_method: None,
        layouts: Vec::new(),
        floor_relative_u: None,
        limits: None,
        placement: None,
        remarks: Vec::new(),
        refusal: None,
    }
}

fn suffix(asked: &Asked<'_>) -> String {
    asked.method.analyte.reported_as.suffix()
}

fn design(asked: &Asked<'_>, planned: &PlannedDesign) -> DesignJson {
    let unit = suffix(asked);
    let design = &planned.design;
    let standard = |strips, level| StandardJson { level: in_unit(&unit, [("level", Some(level))]), strips };
    DesignJson {
        layout: Some(layout_words(design.layout)),
        standards: design.levels.iter().map(|plan| standard(plan.electrodes, plan.level)).collect(),
        strips_per_sample: design.sample_electrodes,
        scans_per_strip: design.scans_per_electrode,
        relative_u: planned.relative_u,
        expanded_u: in_unit(&unit, [("expanded_u", Some(planned.relative_u * asked.request.level))]),
        n_strips: planned.strips,
        duration_min: planned.minutes,
        variance_shares: planned
            .shares
            .iter()
            .map(|(part, share)| (part_name(*part).to_owned(), (*share).into()))
            .collect(),
    }
}

fn part_name(part: PartOfVariance) -> &'static str {
    match part {
        PartOfVariance::Lots => "lots",
        PartOfVariance::Standards => "standards",
        PartOfVariance::Further => "temperature",
        PartOfVariance::SampleElectrodes => "sample_strips",
        PartOfVariance::SampleScans => "sample_scans",
        PartOfVariance::Curve => "curve",
    }
}
