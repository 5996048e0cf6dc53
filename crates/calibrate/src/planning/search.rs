//! All designs within the demands, and the one with the fewest strips.

use super::error::PlanError;
use super::layout::{Layout, LevelPlan, n_strips, placements, replicate_degrees_of_freedom};
use super::prediction::Quantiles;
use super::{Design, Plan, PlanDemands, PlannedDesign, SpreadComponents, planned};

/// Quantiles by number of strips of standards, made once.
struct QuantileTable(Vec<Quantiles>);

impl QuantileTable {
    fn new(demands: &PlanDemands) -> Self {
        Self((3..=demands.most_strips).map(|n| Quantiles::new(n - 2, demands.coverage)).collect())
    }

    fn of_strips(&self, n: u32) -> Option<Quantiles> {
        self.0.get(n.checked_sub(3)? as usize).copied()
    }
}

/// A neighbour must differ by a tenth to be worth a line: common practice, no source.
const WORTH_A_LINE: f64 = 0.9;

pub(super) fn plan(
    components: &SpreadComponents,
    demands: &PlanDemands,
    floor_relative_u: f64,
) -> Result<Plan, PlanError> {
    let table = QuantileTable::new(demands);
    let designs = all_designs(components, demands, &table);
    let within_target = |design: &PlannedDesign| design.relative_u <= demands.target_relative_u;
    let Some(design) = cheapest(&designs, within_target) else {
        let best = designs.iter().min_by(|a, b| a.relative_u.total_cmp(&b.relative_u));
        return Err(not_within_most(demands, best));
    };
    let fewer_strips = WORTH_A_LINE * f64::from(design.strips);
    let cheaper = designs.iter().filter(|other| f64::from(other.strips) <= fewer_strips);
    let cheaper = cheaper.min_by(|a, b| a.relative_u.total_cmp(&b.relative_u)).cloned();
    let better = cheapest(&designs, |other| other.relative_u <= WORTH_A_LINE * design.relative_u);
    let layouts = compared(components, demands, &design, &table);
    Ok(Plan { design, cheaper, better, layouts, floor_relative_u })
}

fn all_designs(
    components: &SpreadComponents,
    demands: &PlanDemands,
    table: &QuantileTable,
) -> Vec<PlannedDesign> {
    let mut designs = Vec::new();
    for (layout, levels) in all_placements(demands) {
        let Some(quantiles) = table.of_strips(n_strips(&levels)) else { continue };
        for sample_electrodes in demands.least_sample_strips..=demands.most_sample_strips {
            for scans_per_electrode in 1..=demands.most_scans {
                let design =
                    Design { layout, levels: levels.clone(), sample_electrodes, scans_per_electrode };
                designs.push(planned(components, &design, demands, quantiles));
            }
        }
    }
    designs
}

/// The first of equals.
fn cheapest(designs: &[PlannedDesign], is_wanted: impl Fn(&PlannedDesign) -> bool) -> Option<PlannedDesign> {
    let mut least: Option<&PlannedDesign> = None;
    for design in designs.iter().filter(|design| is_wanted(design)) {
        if least.is_none_or(|least| is_cheaper(design, least)) {
            least = Some(design);
        }
    }
    least.cloned()
}

fn all_placements(demands: &PlanDemands) -> impl Iterator<Item = (Layout, Vec<LevelPlan>)> {
    Layout::ALL.into_iter().flat_map(|layout| {
        let all = placements(layout, demands.range, demands.most_strips);
        all.into_iter()
            .filter(|levels| replicate_degrees_of_freedom(levels) >= demands.least_replicate_df)
            .map(move |levels| (layout, levels))
    })
}

fn is_cheaper(a: &PlannedDesign, b: &PlannedDesign) -> bool {
    let by_cost = a.strips.cmp(&b.strips).then(a.minutes.total_cmp(&b.minutes));
    by_cost.then(a.relative_u.total_cmp(&b.relative_u)).is_lt()
}

fn not_within_most(demands: &PlanDemands, best: Option<&PlannedDesign>) -> PlanError {
    let Some(best) = best else {
        return PlanError::NotUsable {
            what: "the most strips of standards",
            found: f64::from(demands.most_strips),
            accepted: "enough for 3 levels with the degrees of freedom asked for",
        };
    };
    PlanError::NotWithinMost {
        target_percent: 100.0 * demands.target_relative_u,
        best_percent: 100.0 * best.relative_u,
        most_strips: demands.most_strips + demands.samples_per_calibration * demands.most_sample_strips,
        cause: best.limiting(),
    }
}

/// For each layout the best placement with at most the chosen number of standards; none where it has none so small.
fn compared(
    components: &SpreadComponents,
    demands: &PlanDemands,
    chosen: &PlannedDesign,
    table: &QuantileTable,
) -> Vec<PlannedDesign> {
    let most = n_strips(&chosen.design.levels);
    let mut best: Vec<PlannedDesign> = Vec::new();
    for (layout, levels) in all_placements(demands).filter(|(_, levels)| n_strips(levels) <= most) {
        let Some(quantiles) = table.of_strips(n_strips(&levels)) else { continue };
        let design = Design { layout, levels, ..chosen.design.clone() };
        let found = planned(components, &design, demands, quantiles);
        match best.iter_mut().find(|other| other.design.layout == layout) {
            Some(other) if found.relative_u < other.relative_u => *other = found,
            Some(_) => {}
            None => best.push(found),
        }
    }
    best
}
