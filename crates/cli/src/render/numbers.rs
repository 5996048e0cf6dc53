//! Numbers for people.

use stillwell_method::{Outcome, si};
use stillwell_quantity::{round_down, round_to_uncertainty, round_up};
pub(crate) use stillwell_report::wording::counted;
pub(super) use stillwell_report::wording::given;

/// A result in the reporting unit: `17.6 ± 1.9`, `< 3.2`, `above 97`, `refused`.
pub(super) fn result(outcome: &Outcome) -> String {
    match outcome {
        Outcome::Quantified(estimate) => {
            let rounded = round_to_uncertainty(estimate.value.value(), estimate.expanded_u());
            format!("{} ± {}", rounded.value, rounded.expanded_u)
        }
        Outcome::AboveRange(above) => format!("above {}", round_down(above.at_least.value(), 2)),
        Outcome::BelowQuantification(less) => format!("detected, < {}", round_up(less.less_than.value(), 2)),
        Outcome::NotDetected(less) => format!("not detected, < {}", round_up(less.less_than.value(), 2)),
        Outcome::Refused => "refused".to_owned(),
    }
}

/// A current with a fitting prefix, or a dash.
pub(super) fn current(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), |value| si(value, "A"))
}

/// A potential in V with three decimals, or a dash.
pub(super) fn potential(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), |value| format!("{value:.3}"))
}

/// A probability: three decimals, and `< 0.001` below that.
pub(super) fn probability(p: f64) -> String {
    if p < 0.001 { "< 0.001".to_owned() } else { format!("{p:.3}") }
}

/// Two significant digits, to the nearest.
pub(crate) fn two_digits(value: f64) -> String {
    round_to_uncertainty(value, value.abs()).value
}

/// A share as a whole percentage.
pub(super) fn percent(share: f64) -> String {
    // Adding zero takes the sign from minus zero.
    format!("{:.0} %", (100.0 * share).round() + 0.0)
}
