//! The placement that a form or the page's script asks for.

use std::collections::BTreeMap;

use axum::http::StatusCode;
use stillwell_method::{BlankUse, Method, Placement};

use crate::layout::Refusal;

/// A window that can be moved, as the figure's grips name it.
pub(super) struct Movable {
    /// `peak`, `baseline-1`, …
    pub(super) handle: String,
    /// For people.
    pub(super) words: String,
    /// Its ends, V.
    pub(super) window_v: [f64; 2],
}

/// The field of a stated potential of the height.
pub(super) const HEIGHT_AT: &str = "height_at";

/// The windows of a placement.
pub(super) fn movable(placement: &Placement) -> Vec<Movable> {
    let n_baseline = placement.baseline_v.len();
    let baseline = placement.baseline_v.iter().zip(1..).map(|(window_v, n)| Movable {
        handle: format!("baseline-{n}"),
        words: if n_baseline == 1 {
            "The baseline rests here".to_owned()
        } else {
            format!("The baseline rests here, {n} of {n_baseline}")
        },
        window_v: *window_v,
    });
    let peak = Movable {
        handle: "peak".to_owned(),
        words: "The peak is looked for here".to_owned(),
        window_v: placement.peak_v,
    };
    std::iter::once(peak).chain(baseline).collect()
}

/// The method's placement with what was asked for instead. What was not asked for stays.
pub(super) fn placement(method: &Method, asked: &BTreeMap<String, String>) -> Result<Placement, Refusal> {
    let mut placement = Placement::of(&method.evaluation);
    place(&mut placement.peak_v, "peak", asked)?;
    for (window_v, n) in placement.baseline_v.iter_mut().zip(1..) {
        place(window_v, &format!("baseline-{n}"), asked)?;
    }
    if let Some(at_v) = &mut placement.height_at_v {
        place_one(at_v, HEIGHT_AT, asked)?;
    }
    if let Some(word) = asked.get("blank").filter(|word| !word.is_empty()) {
        let known = BlankUse::WORDS.iter().find(|(known, _)| known == word);
        let accepted =
            || not_accepted(&format!("\"{word}\" is no use of the blank"), "subtract, align or ignore");
        placement.blank = known.ok_or_else(accepted)?.1;
    }
    Ok(placement)
}

fn place(window_v: &mut [f64; 2], handle: &str, asked: &BTreeMap<String, String>) -> Result<(), Refusal> {
    for (end_v, end) in window_v.iter_mut().zip(["from", "to"]) {
        place_one(end_v, &format!("{handle}_{end}"), asked)?;
    }
    // Either order names the same window.
    window_v.sort_by(f64::total_cmp);
    Ok(())
}

/// What was not asked for stays.
fn place_one(potential_v: &mut f64, name: &str, asked: &BTreeMap<String, String>) -> Result<(), Refusal> {
    let Some(text) = asked.get(name).map(|text| text.trim()).filter(|text| !text.is_empty()) else {
        return Ok(());
    };
    // A minus that is as wide as a plus is what our own pages show.
    let number = text.replace('−', "-").parse::<f64>().ok().filter(|number| number.is_finite());
    *potential_v = number.ok_or_else(|| {
        not_accepted(&format!("\"{text}\" is no potential"), "a number of volts with a point, such as -0.52")
    })?;
    Ok(())
}

fn not_accepted(found: &str, cure: &str) -> Refusal {
    Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, found, cure)
}
