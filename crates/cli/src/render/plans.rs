//! `plan` for people: the design found, its neighbours, where its levels go, what limits it, what it rests on.

use stillwell_calibrate::{Design, LotUse, PlannedDesign};
use stillwell_method::{PlanReport, three_digits};
use stillwell_report::json::plans::Asked;

use super::numbers::{percent, two_digits};
use super::table::table;
use super::wrapped;

/// `U ≤ 10 % at 50 mg/L as NO₃⁻`.
fn target(asked: &Asked<'_>) -> String {
    let request = asked.request;
    format!("U ≤ {} % at {} {}", plain(100.0 * request.target_relative_u), plain(request.level), asked.unit())
}

pub(crate) fn text(asked: &Asked<'_>, found: &PlanReport) -> String {
    let mut text = head(asked);
    text.push('\n');
    text.push_str(&design(asked, &found.plan.design));
    text.push_str(&trade(asked, found));
    line!(text, "\n{}", wrapped("levels   ", &found.placement));
    line!(text, "{}", wrapped("limit    ", &found.limits));
    for remark in &found.remarks {
        line!(text, "{}", wrapped("note     ", remark));
    }
    text.push_str(&rests_on(asked));
    text
}

pub(crate) fn refused(asked: &Asked<'_>, words: &str) -> String {
    let mut text = head(asked);
    line!(text, "\n{}", wrapped("No design: ", words));
    text.push_str(&rests_on(asked));
    text
}

fn head(asked: &Asked<'_>) -> String {
    let method = asked.method;
    let mut text = String::new();
    line!(text, "method   {}, revision {} ({})", method.name, method.revision, method.hash.short());
    line!(text, "target   {}, coverage {}", target(asked), percent(method.calibration.coverage));
    if let Some(remark) = &asked.remark {
        line!(text, "         {remark}");
    }
    line!(text, "{}", wrapped("strips   ", &format!("as they differ in {}", asked.source)));
    text
}

fn design(asked: &Asked<'_>, found: &PlannedDesign) -> String {
    let (unit, request) = (asked.unit(), asked.request);
    let levels = found.design.levels.iter().map(|plan| {
        vec![
            three_digits(plan.level),
            plan.electrodes.to_string(),
            found.design.scans_per_electrode.to_string(),
        ]
    });
    let rows: Vec<Vec<String>> = levels.collect();
    let mut text = table(&[&format!(">standard / {unit}"), ">strips", ">scans each"], &rows);
    line!(
        text,
        "each sample: {} strips, {} scan(s) each",
        found.design.sample_electrodes,
        found.design.scans_per_electrode
    );
    let predicted = format!(
        "U = {} {unit} ({} %) at {}: the median of what the chain would state",
        two_digits(found.relative_u * request.level),
        two_digits(100.0 * found.relative_u),
        plain(request.level)
    );
    line!(text, "{}", wrapped("predicted: ", &predicted));
    let cost = format!(
        "{} strips and {:.0} minutes for one calibration and {} sample(s): {} min handling and waiting for each strip, {} min for each scan",
        found.strips,
        found.minutes,
        request.samples_per_calibration,
        two_digits(request.minutes_per_strip),
        two_digits(request.minutes_per_scan)
    );
    line!(text, "{}", wrapped("cost: ", &cost));
    text
}

/// The design beside what a little less and a little more would buy.
fn trade(asked: &Asked<'_>, found: &PlanReport) -> String {
    let plan = &found.plan;
    let named = [
        ("next cheaper", plan.cheaper.as_ref()),
        ("this one", Some(&plan.design)),
        ("next better", plan.better.as_ref()),
        ("the method's", found.own.as_ref()),
    ];
    let rows: Vec<Vec<String>> =
        named.into_iter().filter_map(|(name, design)| design.map(|design| row(name, design))).collect();
    let header = ["", "standards", ">strips a sample", ">scans", ">U / %", ">strips", ">minutes"];
    let mut text = format!("\n{}", table(&header, &rows));
    if plan.cheaper.is_none() {
        line!(text, "No design with a tenth fewer strips is open to this method: see the notes.");
    }
    if plan.better.is_none() {
        line!(
            text,
            "Nothing within {} strips of standards, {} strips a sample and {} scans is better by a tenth.",
            asked.request.most_strips,
            asked.request.most_sample_strips,
            asked.request.most_scans
        );
    }
    text
}

fn row(name: &str, found: &PlannedDesign) -> Vec<String> {
    vec![
        name.to_owned(),
        placed(&found.design),
        found.design.sample_electrodes.to_string(),
        found.design.scans_per_electrode.to_string(),
        two_digits(100.0 * found.relative_u),
        found.strips.to_string(),
        format!("{:.0}", found.minutes),
    ]
}

/// `6 levels × 3, 0 to 100`; single levels where they differ.
fn placed(design: &Design) -> String {
    let levels = &design.levels;
    let (Some(first), Some(last)) = (levels.first(), levels.last()) else { return String::new() };
    let (low, high) = (plain(first.level), plain(last.level));
    let n = levels.len();
    let others = last.electrodes;
    if levels.iter().skip(1).any(|plan| plan.electrodes != others) {
        let each: Vec<String> =
            levels.iter().map(|plan| format!("{} × {}", plan.electrodes, plain(plan.level))).collect();
        each.join(", ")
    } else if first.electrodes == others {
        format!("{n} levels × {others}, {low} to {high}")
    } else {
        format!("{n} levels × {others}, {} at {low}, to {high}", first.electrodes)
    }
}

/// Three digits without zeros that say nothing.
fn plain(value: f64) -> String {
    let digits = three_digits(value);
    if digits.contains('.') && !digits.contains('e') {
        digits.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        digits
    }
}

/// What the answer stands on, and how firmly.
fn rests_on(asked: &Asked<'_>) -> String {
    let (basis, components) = (asked.basis, &asked.basis.components);
    let mut text = String::new();
    let known = format!(
        "{} lot(s), {} degrees of freedom between strips of one level: how strips differ, and with it the predicted U, is known to about {}",
        basis.lots,
        basis.electrode_degrees_of_freedom,
        percent(basis.spread_relative_u())
    );
    line!(text, "{}", wrapped("basis    ", &known));
    let lots = match (basis.lot_relative_sd, components.lot_use) {
        (Some(sd), LotUse::CalibratedEach) => format!(
            "sensitivities of lots differ by {} % (one standard deviation); each lot has its own calibration, which takes that out",
            two_digits(100.0 * sd)
        ),
        (Some(sd), LotUse::CalibratedOnce { .. }) => format!(
            "sensitivities of lots differ by {} % (one standard deviation), and one calibration serves all",
            two_digits(100.0 * sd)
        ),
        (None, _) => "how lots differ is not known from fewer than 3; each lot has its own calibration, which takes it out".to_owned(),
    };
    line!(text, "{}", wrapped("         ", &lots));
    let temperature = basis.temperature_allowed_k.map_or("none".to_owned(), |kelvin| {
        format!(
            "{} % for a sample {kelvin} K off, which the method leaves uncorrected",
            two_digits_or_zero(components.further_relative_u)
        )
    });
    let relative = format!(
        "standards {} % (the method's level_relative_u), temperature {temperature}; dilution and recovery are not counted",
        two_digits_or_zero(components.standards_relative_u)
    );
    line!(text, "{}", wrapped("         ", &relative));
    text
}

fn two_digits_or_zero(share: f64) -> String {
    if share > 0.0 { two_digits(100.0 * share) } else { "0".to_owned() }
}
