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

pub(super) fn plan(
    components: &SpreadComponents,
    demands: &PlanDemands,
    floor_relative_u: f64,
) -> Result<Plan, PlanError> {
    let table = QuantileTable::new(demands);
    let mut cheapest: Option<PlannedDesign> = None;
    let mut best: Option<PlannedDesign> = None;
    for (layout, levels) in all_placements(demands) {
        let Some(quantiles) = table.of_strips(n_strips(&levels)) else { continue };
        for sample_electrodes in demands.least_sample_strips..=demands.most_sample_strips {
            for scans_per_electrode in 1..=demands.most_scans {
                let design =
                    Design { layout, levels: levels.clone(), sample_electrodes, scans_per_electrode };
                let found = planned(components, &design, demands, quantiles);
                if found.relative_u <= demands.target_relative_u
                    && cheapest.as_ref().is_none_or(|least| is_cheaper(&found, least))
                {
                    cheapest = Some(found.clone());
                }
                if best.as_ref().is_none_or(|least| found.relative_u < least.relative_u) {
                    best = Some(found);
                }
            }
        }
    }
    let Some(design) = cheapest else { return Err(not_within_most(demands, best.as_ref())) };
    let layouts = compared(components, demands, &design, &table);
    Ok(Plan { design, layouts, floor_relative_u })
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
