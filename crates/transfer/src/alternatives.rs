//! What a device can do in the place of a step that it cannot, and what that costs in error on results that are there.

use stillwell_method::{BaselinePlan, BlankUse, Method};
use toml_edit::{DocumentMut, InlineTable, Value, value};

/// The method with another step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alternative {
    /// The step as the method file writes it.
    pub step: String,
    /// The whole method file with it.
    pub method_text: String,
}

/// Shares of the peak window's width: between them, beside the window, the flanks of an alternative baseline lie.
const FLANK: [f64; 2] = [0.35, 0.55];

/// Every step that a device takes in the place of the method's; none where the method has no such step.
///
/// The flanks of a baseline lie beside the peak's window, 0.35 to 0.55 of its width away, as far as the potentials go.
///
/// # Source
/// Common practice, no source: a beginning, to be adjusted to the scans.
pub fn alternatives(method: &Method, text: &str) -> Vec<Alternative> {
    let mut found = Vec::new();
    if let BaselinePlan::AsymmetricLeastSquares { .. } = method.evaluation.baseline {
        for kind in ["line", "minima", "polynomial", "tangent"] {
            found.extend(with_step(text, "baseline", Value::InlineTable(baseline(kind, method))));
        }
    }
    if method.evaluation.blank == BlankUse::Align {
        for use_of in ["subtract", "ignore"] {
            found.extend(with_step(text, "blank", Value::from(use_of)));
        }
    }
    found
}

fn with_step(text: &str, key: &str, step: Value) -> Option<Alternative> {
    let mut document: DocumentMut = text.parse().ok()?;
    let words = format!("{key} = {}", step.to_string().trim());
    *document.get_mut("evaluation")?.as_table_like_mut()?.get_mut(key)? = value(step);
    Some(Alternative { step: words, method_text: document.to_string() })
}

fn baseline(kind: &str, method: &Method) -> InlineTable {
    let [one, other] = method.evaluation.peak.window_v;
    let (low, high) = (one.min(other), one.max(other));
    let width = high - low;
    let [near, far] = FLANK;
    let (above, below) = ([high + near * width, high + far * width], [low - far * width, low - near * width]);
    let mut table = InlineTable::new();
    table.insert("kind", kind.into());
    if kind == "tangent" {
        table.insert("window_v", volts([below[0], above[1]]));
        return table;
    }
    if kind == "polynomial" {
        table.insert("degree", 2.into());
    }
    table.insert("left_v", volts(above));
    table.insert("right_v", volts(below));
    table
}

/// To the millivolt.
fn volts(pair: [f64; 2]) -> Value {
    Value::from_iter(pair.map(|x| libm::round(x * 1e3) / 1e3))
}

/// What another step does to results that are there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cost {
    /// Results that are numbers with both steps.
    pub n: usize,
    /// Mean of new less old.
    pub bias: f64,
    /// Standard deviation of new less old; none for fewer than two.
    pub spread: Option<f64>,
    /// Largest difference, with its sign.
    pub largest: f64,
    /// Results that were numbers and no longer are.
    pub n_lost: usize,
    /// Results that were none and now are numbers.
    pub n_won: usize,
}

impl Cost {
    /// Of pairs, old and new; none where it is no number.
    ///
    /// # Units
    /// Those of the results.
    ///
    /// # Example
    /// ```
    /// use stillwell_transfer::Cost;
    /// let cost = Cost::of(&[(Some(10.0), Some(11.0)), (Some(20.0), Some(23.0)), (Some(5.0), None)]);
    /// assert_eq!((cost.n, cost.bias, cost.largest, cost.n_lost), (2, 2.0, 3.0, 1));
    /// ```
    pub fn of(pairs: &[(Option<f64>, Option<f64>)]) -> Self {
        let differences: Vec<f64> = pairs.iter().filter_map(|(old, new)| Some((*new)? - (*old)?)).collect();
        let n = differences.len();
        let bias = if n > 0 { differences.iter().sum::<f64>() / n as f64 } else { 0.0 };
        let squares: f64 = differences.iter().map(|d| (d - bias) * (d - bias)).sum();
        let largest = differences.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs()));
        Self {
            n,
            bias,
            spread: (n > 1).then(|| libm::sqrt(squares / (n - 1) as f64)),
            largest: largest.unwrap_or(0.0),
            n_lost: pairs.iter().filter(|(old, new)| old.is_some() && new.is_none()).count(),
            n_won: pairs.iter().filter(|(old, new)| old.is_none() && new.is_some()).count(),
        }
    }
}
