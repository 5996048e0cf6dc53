//! `prepare --format json`. Concentrations are mg/L in the form that `counted_as` names.

use schemars::JsonSchema;
use serde::Serialize;
use stillwell_calibrate::{Solution, Step, Tool};
use stillwell_method::{BenchPlan, Method, Preparation};

use super::MethodJson;

/// What was prepared, for which method, on which bench.
pub struct Sheet<'a> {
    /// The method.
    pub method: &'a Method,
    /// The bench and what it can measure.
    pub plan: &'a BenchPlan,
    /// The steps found.
    pub preparation: &'a Preparation,
    /// The bench file's name.
    pub bench_name: &'a str,
}

/// A bench sheet.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    counted_as: String,
    bench: String,
    volume_ml: f64,
    steps: Vec<String>,
    solutions: Vec<SolutionJson>,
    /// Of the levels above zero, in their order.
    covariance_mg2_per_l2: Vec<Vec<f64>>,
    has_zero_level: bool,
    largest_relative_u: f64,
    level_relative_u_of_the_method: f64,
    meets_the_method: bool,
    correlation: String,
    cautions: Vec<&'static str>,
}

#[derive(Serialize, JsonSchema)]
struct SolutionJson {
    made_by: &'static str,
    mass_mg: Option<f64>,
    from_solution: Option<usize>,
    pipette_ml: Option<f64>,
    delivery_ml: Option<f64>,
    n_deliveries: Option<u32>,
    flask_ml: Option<f64>,
    level_wanted_mg_per_l: Option<f64>,
    concentration_mg_per_l: f64,
    relative_u: f64,
}

/// `prepare --format json`.
pub fn of(sheet: &Sheet<'_>) -> Document {
    let made = sheet.preparation;
    Document {
        method: MethodJson::from(sheet.method),
        counted_as: made.unit.clone(),
        bench: sheet.bench_name.to_owned(),
        volume_ml: sheet.plan.volume_ml,
        steps: made.steps.clone(),
        solutions: made.sheet.solutions.iter().map(|found| solution(sheet, found)).collect(),
        covariance_mg2_per_l2: made.sheet.covariance.clone(),
        has_zero_level: made.sheet.has_zero_level,
        largest_relative_u: made.largest_relative_u,
        level_relative_u_of_the_method: made.stated_relative_u,
        meets_the_method: made.meets_the_method(),
        correlation: made.correlation.clone(),
        cautions: made.cautions.to_vec(),
    }
}

fn solution(sheet: &Sheet<'_>, found: &Solution) -> SolutionJson {
    let bench = &sheet.preparation.bench;
    let draw = match found.step {
        Step::Dilute { from, draw } => Some((from, draw)),
        Step::Weigh { .. } | Step::Bought => None,
    };
    let pipette_ml = draw.and_then(|(_, draw)| match draw.tool {
        Tool::Pipette(place) => bench.pipettes.get(place).map(|pipette| pipette.volume_ml),
        Tool::PistonPipette(place) => bench.piston_pipettes.get(place).map(|pipette| pipette.to_ml),
    });
    SolutionJson {
        made_by: match found.step {
            Step::Weigh { .. } => "weighing",
            Step::Bought => "bought",
            Step::Dilute { .. } => "dilution",
        },
        mass_mg: match found.step {
            Step::Weigh { mass_mg } => Some(mass_mg),
            _ => None,
        },
        from_solution: draw.map(|(from, _)| from),
        pipette_ml,
        delivery_ml: draw.map(|(_, draw)| draw.volume_ml),
        n_deliveries: draw.map(|(_, draw)| draw.aliquots),
        flask_ml: found.flask.and_then(|place| bench.flasks.get(place)).map(|flask| flask.volume_ml),
        level_wanted_mg_per_l: found.level_mg_per_l,
        concentration_mg_per_l: found.concentration_mg_per_l,
        relative_u: found.relative_u,
    }
}
