//! Every combination of what a trade study varies, and how they compare.

use crate::error::ForeseeError;
use crate::limiting::LIMITS_FROM;
use crate::model::CircuitModel;
use crate::outlook::Outlook;
use crate::vary::Varied;

/// Circuits that one study compares at most.
const MOST_CIRCUITS: usize = 64;

/// A circuit with the values that make it, in the order of the varied keys.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// One value for each varied key, in its unit.
    pub values: Vec<f64>,
    /// The circuit.
    pub model: CircuitModel,
}

/// Every combination of the varied values in this circuit; the last key varies fastest.
///
/// # Errors
/// More than 64 combinations, a key that is varied twice, or a value that does not go with this circuit.
///
/// # Example
/// ```
/// use stillwell_foresee::{CircuitModel, Varied, grid};
/// let model = CircuitModel::parse("circuit.toml", "[circuit]\nrange_a = 1e-4\nadc_bits = 16")?;
/// let choices = grid(&model, &[Varied::parse("range_a=1e-5,1e-4")?, Varied::parse("adc_bits=12,16")?])?;
/// assert_eq!(choices.len(), 4);
/// assert_eq!(choices[1].values, [1e-5, 16.0]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn grid(model: &CircuitModel, varied: &[Varied]) -> Result<Vec<Choice>, ForeseeError> {
    for (index, one) in varied.iter().enumerate() {
        if varied.iter().take(index).any(|before| before.key == one.key) {
            return Err(ForeseeError::VariedTwice { key: one.key.name() });
        }
    }
    let found = varied.iter().fold(1_usize, |product, one| product.saturating_mul(one.values.len()));
    if found > MOST_CIRCUITS {
        return Err(ForeseeError::GridTooLarge { found, at_most: MOST_CIRCUITS });
    }
    let mut choices = vec![Choice { values: Vec::new(), model: model.clone() }];
    for one in varied {
        let mut wider = Vec::new();
        for choice in &choices {
            for value in &one.values {
                let mut next = choice.clone();
                one.key.set(&mut next.model, *value)?;
                next.values.push(*value);
                wider.push(next);
            }
        }
        choices = wider;
    }
    Ok(choices)
}

/// How circuits compare by their median detection limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Place of the circuit with the lowest among those that calibrate most often, the earliest of equals: a circuit that loses
    /// trials shows only its luckier ones. `None` where no circuit gave a calibration.
    pub best: Option<usize>,
    /// Place of the circuit with the highest; the earliest of equals.
    pub worst: Option<usize>,
    /// Each limit as a multiple of the best circuit's.
    pub times_best: Vec<Option<f64>>,
    /// Whether the limits differ by less than what a part must cost to limit ([`crate::LIMITS_FROM`]).
    pub is_alike: bool,
}

/// Compares what circuits give.
///
/// # Source
/// Definition.
///
/// # Example
/// ```
/// assert_eq!(stillwell_foresee::compared(&[]).best, None);
/// ```
pub fn compared(outlooks: &[Outlook]) -> Comparison {
    let limits: Vec<Option<f64>> =
        outlooks.iter().map(|outlook| outlook.detection_limit.map(|spread| spread.median)).collect();
    let most = outlooks.iter().map(|outlook| outlook.calibrated).max().unwrap_or(0);
    let known = limits.iter().zip(outlooks).enumerate();
    let known = known.filter_map(|(place, (limit, outlook))| Some((place, (*limit)?, outlook.calibrated)));
    let steady = known.clone().filter(|(_, _, calibrated)| *calibrated == most);
    let best = steady.min_by(|a, b| a.1.total_cmp(&b.1));
    let worst = known.rev().max_by(|a, b| a.1.total_cmp(&b.1));
    let times = |limit: &Option<f64>| limit.zip(best).map(|(limit, (_, lowest, _))| limit / lowest);
    let spread = best.zip(worst).map(|((_, lowest, _), (_, highest, _))| 1.0 - lowest / highest);
    Comparison {
        best: best.map(|(place, _, _)| place),
        worst: worst.map(|(place, _, _)| place),
        times_best: limits.iter().map(times).collect(),
        is_alike: spread.is_some_and(|spread| spread < LIMITS_FROM),
    }
}
