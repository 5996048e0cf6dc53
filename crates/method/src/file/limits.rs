//! `[[limits]]`: the named limits that a result is judged against.

use stillwell_assure::{
    Estimate, NamedLimit, SumLimit, decide, decide_sum, find_limit, find_sum, shipped_limits, shipped_sums,
};
use stillwell_quantity::QuantityKind;

use super::AnalytePlan;
use super::section::{Bounds, Reader, Section};
use crate::problem::nearest;

/// A limit to judge against.
#[derive(Debug, Clone, PartialEq)]
pub enum LimitPlan {
    /// On one analyte.
    Single(NamedLimit),
    /// On nitrate and nitrite together.
    Sum(SumLimit),
}

pub(super) fn limits(
    reader: &mut Reader<'_>,
    root: &mut Section<'_>,
    analyte: Option<&AnalytePlan>,
) -> Vec<LimitPlan> {
    let mut entries = root.entries(reader, "limits");
    entries.iter_mut().filter_map(|entry| limit(reader, entry, analyte)).collect()
}

fn limit(
    reader: &mut Reader<'_>,
    entry: &mut Section<'_>,
    analyte: Option<&AnalytePlan>,
) -> Option<LimitPlan> {
    let plan = if entry.raw("use").is_some() { shipped(reader, entry) } else { own(reader, entry, analyte) };
    if let (Some(plan), Some(analyte)) = (&plan, analyte) {
        refuse_another_analyte(reader, entry, plan, analyte);
    }
    entry.finish(reader);
    plan
}

/// A limit that the method cannot be judged against would never show a verdict, and nobody would miss it.
fn refuse_another_analyte(
    reader: &mut Reader<'_>,
    entry: &Section<'_>,
    plan: &LimitPlan,
    analyte: &AnalytePlan,
) {
    let any = Estimate::refused(analyte.reported_as.clone());
    let judged = match plan {
        LimitPlan::Single(limit) => decide(&any, limit),
        LimitPlan::Sum(limit) => decide_sum(&[any], limit),
    };
    if let Err(error) = judged {
        let cure = format!("a limit on {}", analyte.name);
        reader.complain(entry.span(), error.to_string(), cure);
    }
}

fn shipped(reader: &mut Reader<'_>, entry: &mut Section<'_>) -> Option<LimitPlan> {
    let id = entry.required_text(reader, "use")?;
    if let Ok(limit) = find_limit(&id) {
        return Some(LimitPlan::Single(limit));
    }
    if let Ok(limit) = find_sum(&id) {
        return Some(LimitPlan::Sum(limit));
    }
    let limits = shipped_limits();
    let sums = shipped_sums();
    let mut known: Vec<&str> = Vec::new();
    known.extend(limits.iter().map(NamedLimit::id));
    for sum in &sums {
        known.push(sum.id());
    }
    let mut accepted = format!("one of {}", known.join(", "));
    if let Some(hint) = nearest(&id, &known) {
        accepted = format!("{accepted}; did you mean \"{hint}\"?");
    }
    let item = entry.raw("use")?;
    entry.wrong(reader, "use", item, &accepted)
}

fn own(reader: &mut Reader<'_>, entry: &mut Section<'_>, analyte: Option<&AnalytePlan>) -> Option<LimitPlan> {
    let id = entry.required_text(reader, "id");
    let name = entry.required_text(reader, "name");
    let value = entry.required_number(reader, "value", Bounds::POSITIVE);
    let unit = entry.required_text(reader, "unit");
    let document = entry.required_text(reader, "document");
    let clause = entry.text(reader, "clause").unwrap_or_default();
    let (id, name, value, unit, document) = (id?, name?, value?, unit?, document?);
    let made = QuantityKind::parse(&unit, Some(analyte?.reported_as.species.analyte()))
        .map_err(|error| error.to_string())
        .and_then(|kind| {
            NamedLimit::new(&id, &name, value, kind.value, &document, &clause)
                .map_err(|error| error.to_string())
        });
    match made {
        Ok(limit) => Some(LimitPlan::Single(limit)),
        Err(words) => {
            reader.complain(entry.span(), words, "correct this entry");
            None
        }
    }
}
