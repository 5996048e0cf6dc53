//! A scan in words: what it is of, how it was found, what its checks say.

use maud::{Markup, html};
use stillwell_method::{Effect, Found, ScanLink, si, three_digits};

use crate::layout::LinkState;

/// `A17`, or a dash.
pub(crate) fn electrode(scan: &ScanLink) -> String {
    if scan.row.electrode.is_empty() { "–".to_owned() } else { scan.row.electrode.clone() }
}

/// With the sign that is as wide as a plus.
fn minus(number: &str) -> String {
    number.replace('-', "−")
}

/// The sample, or the level of a standard.
pub(crate) fn what_of(scan: &ScanLink) -> String {
    match (&scan.row.level, scan.row.sample.is_empty()) {
        (_, false) => scan.row.sample.clone(),
        (Some(level), true) => level.to_string(),
        (None, true) => String::new(),
    }
}

/// What checks say of a scan.
pub(crate) fn state_of_scan(scan: &ScanLink) -> (LinkState, String) {
    if let Some(reason) = &scan.row.exclude {
        return (LinkState::Open, format!("left out: {reason}"));
    }
    let in_force = |effect: Effect| scan.findings.iter().filter(move |finding| finding.is_in_force(effect));
    let refused: Vec<&str> = in_force(Effect::Refused).map(|finding| finding.check.id()).collect();
    if !refused.is_empty() {
        return (LinkState::Stops, format!("refused: {}", refused.join(", ")));
    }
    let n_overridden = scan.findings.iter().filter(|finding| finding.overridden.is_some()).count();
    match (in_force(Effect::Warned).count(), n_overridden) {
        (0, 0) => (LinkState::Holds, format!("{} passed", scan.checks_passed)),
        (0, n) => (LinkState::Attention, format!("used in spite of {n}")),
        (n, _) => (LinkState::Attention, format!("{} passed, {n} warned", scan.checks_passed)),
    }
}

/// The cells of a signal: height, place, width, noise, ratio.
pub(crate) fn peak_words(scan: &ScanLink) -> Markup {
    let signal = scan.signal.as_ref();
    let dash = || "–".to_owned();
    let by_search = signal.filter(|signal| signal.found == Found::ByPeak);
    html! {
        td class="num" {
            (signal.map_or_else(dash, |signal| minus(&si(signal.signal, "A"))))
            @if signal.is_some_and(|signal| signal.found == Found::AtFixedPotential) { " *" }
        }
        td class="num" { (signal.and_then(|signal| signal.peak_potential_v).map_or_else(dash, |v| minus(&format!("{v:.3}")))) }
        td class="num" { (signal.and_then(|signal| signal.half_width_v).map_or_else(dash, |v| format!("{:.0}", 1e3 * v))) }
        td class="num" { (signal.and_then(|signal| signal.noise_a).map_or_else(dash, |a| si(a, "A"))) }
        td class="num" { (by_search.and_then(|signal| signal.signal_to_noise).map_or_else(dash, three_digits)) }
    }
}
