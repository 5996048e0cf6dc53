//! Where standards may be put.

/// A way to spread standards over the range.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Layout {
    /// The same number of electrodes at equal steps.
    Equidistant,
    /// Most electrodes at both ends, some in the middle that show a bend.
    EndsAndMiddle,
    /// Equal steps, and more electrodes at the lowest level.
    MoreAtLowest,
}

impl Layout {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Equidistant, Self::EndsAndMiddle, Self::MoreAtLowest];
}

/// Electrodes at one level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelPlan {
    /// The level.
    pub level: f64,
    /// Electrodes measured there.
    pub electrodes: u32,
}

/// Levels from 3 to 8, at most this many electrodes at one.
const MOST_LEVELS: u32 = 8;
const MOST_AT_A_LEVEL: u32 = 12;

/// Every placement of one layout with at most `most_strips` electrodes.
pub(super) fn placements(layout: Layout, [low, high]: [f64; 2], most_strips: u32) -> Vec<Vec<LevelPlan>> {
    let mut found = Vec::new();
    match layout {
        Layout::Equidistant => {
            for n_levels in 3..=MOST_LEVELS {
                found.extend((1..=MOST_AT_A_LEVEL).map(|n| steps(low, high, n_levels, n, n)));
            }
        }
        Layout::MoreAtLowest => {
            for n_levels in 3..=MOST_LEVELS {
                for n in 1..=MOST_AT_A_LEVEL {
                    found.extend(
                        (n + 1..=(3 * n).min(MOST_AT_A_LEVEL)).map(|l| steps(low, high, n_levels, n, l)),
                    );
                }
            }
        }
        Layout::EndsAndMiddle => {
            for at_ends in 2..=MOST_AT_A_LEVEL {
                found.extend((1..at_ends).map(|in_middle| {
                    let plan = |level, electrodes| LevelPlan { level, electrodes };
                    vec![plan(low, at_ends), plan(0.5 * (low + high), in_middle), plan(high, at_ends)]
                }));
            }
        }
    }
    found.retain(|plan| n_strips(plan) <= most_strips);
    found
}

fn steps(low: f64, high: f64, n_levels: u32, electrodes: u32, at_lowest: u32) -> Vec<LevelPlan> {
    let step = (high - low) / f64::from(n_levels - 1);
    (0..n_levels)
        .map(|i| LevelPlan {
            level: if i + 1 == n_levels { high } else { low + step * f64::from(i) },
            electrodes: if i == 0 { at_lowest } else { electrodes },
        })
        .collect()
}

pub(super) fn n_strips(plan: &[LevelPlan]) -> u32 {
    plan.iter().map(|level| level.electrodes).sum()
}

/// Degrees of freedom between electrodes of one level, all levels together.
pub(super) fn replicate_degrees_of_freedom(plan: &[LevelPlan]) -> u32 {
    plan.iter().map(|level| level.electrodes.saturating_sub(1)).sum()
}
