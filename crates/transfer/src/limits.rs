//! The method's limits as a device judges against them: the way from the method's unit, and what can be shown.

use stillwell_assure::{DecisionCode, Estimate, NamedLimit, decide};
use stillwell_evaluate::{Conversion, FrozenLimit};
use stillwell_method::{LimitPlan, Method};
use stillwell_quantity::{Analyte, Concentration, ExpressedAs, QuantityKind, Species, Unit};

use crate::error::TransferError;

/// Limits of one method at most.
pub const MOST_LIMITS: usize = 4;

/// The limits in the method's order.
///
/// # Units
/// Each limit in its own unit.
///
/// # Errors
/// A sum of several analytes, too many limits, or one that cannot be compared.
pub fn frozen_limits(method: &Method) -> Result<Vec<FrozenLimit>, TransferError> {
    let found = method.limits.len();
    if found > MOST_LIMITS {
        return Err(TransferError::TooManyLimits { found, accepted: MOST_LIMITS });
    }
    method
        .limits
        .iter()
        .map(|plan| match plan {
            LimitPlan::Single(limit) => frozen_limit(&method.analyte.reported_as, limit),
            LimitPlan::Sum(limit) => Err(TransferError::LimitOnSum { limit: limit.id().to_owned() }),
        })
        .collect()
}

fn frozen_limit(reported: &QuantityKind, limit: &NamedLimit) -> Result<FrozenLimit, TransferError> {
    let not_comparable =
        |why: String| TransferError::LimitNotComparable { limit: limit.id().to_owned(), why };
    let kind = comparison_kind(reported, limit).map_err(not_comparable)?;
    let value = if limit.kind().species.expressed_as() == kind.species.expressed_as() {
        limit.value()
    } else {
        in_kind(limit, &kind).map_err(not_comparable)?
    };
    let steps = steps(reported, &kind).map_err(not_comparable)?;
    let frozen = FrozenLimit { limit: value, steps, can_show: [true; 3] };
    let can_show = can_show(reported, limit, value, &frozen).map_err(not_comparable)?;
    Ok(FrozenLimit { can_show, ..frozen })
}

/// As the decision compares: the limit's unit, with the analyte that was measured; as N where the ions differ.
fn comparison_kind(reported: &QuantityKind, limit: &NamedLimit) -> Result<QuantityKind, String> {
    let measured = reported.species.analyte();
    let about = &limit.kind().species;
    if let Analyte::Named(_) = measured {
        return Ok(limit.kind().clone());
    }
    let ions_differ = (*measured == Analyte::Nitrite) != (*about.analyte() == Analyte::Nitrite);
    let form = if ions_differ { ExpressedAs::Nitrogen } else { about.expressed_as() };
    let species = Species::new(measured.clone(), form).map_err(|error| error.to_string())?;
    Ok(QuantityKind { unit: limit.kind().unit, species })
}

fn in_kind(limit: &NamedLimit, kind: &QuantityKind) -> Result<f64, String> {
    let about = &limit.kind().species;
    let as_nitrogen = Species::new(about.analyte().clone(), ExpressedAs::Nitrogen);
    let found = as_nitrogen.and_then(|species| {
        Concentration::of_kind(limit.value(), limit.kind().clone())?.to(kind.unit, &species)
    });
    found.map(|found| found.value()).map_err(|error| error.to_string())
}

/// The operations of a conversion, in the quantity room's order; a test holds the two together bit for bit.
fn steps(from: &QuantityKind, to: &QuantityKind) -> Result<[Option<Conversion>; 3], String> {
    let prefix = prefix(from.unit, to.unit);
    let same_form = from.species.expressed_as() == to.species.expressed_as();
    let mass_of = |species: &Species| {
        species
            .molar_mass_g_per_mol()
            .ok_or_else(|| format!("the molar mass of {} is not known", species.analyte().name()))
    };
    Ok(match (from.unit.is_mass(), to.unit.is_mass()) {
        (true, true) if same_form => [prefix, None, None],
        (true, true) => [
            prefix,
            Some(Conversion::Times(mass_of(&to.species)?)),
            Some(Conversion::Over(mass_of(&from.species)?)),
        ],
        (false, false) => [prefix, None, None],
        (true, false) => [Some(Conversion::Over(mass_of(&from.species)?)), prefix, None],
        (false, true) => [Some(Conversion::Times(mass_of(&to.species)?)), prefix, None],
    })
}

fn prefix(from: Unit, to: Unit) -> Option<Conversion> {
    match thousandths(to) - thousandths(from) {
        3 => Some(Conversion::Times(1e9)),
        2 => Some(Conversion::Times(1e6)),
        1 => Some(Conversion::Times(1e3)),
        -1 => Some(Conversion::Over(1e3)),
        -2 => Some(Conversion::Over(1e6)),
        -3 => Some(Conversion::Over(1e9)),
        _ => None,
    }
}

fn thousandths(unit: Unit) -> i32 {
    match unit {
        Unit::GramPerLitre | Unit::MolePerLitre => 0,
        Unit::MilligramPerLitre | Unit::MillimolePerLitre => 1,
        Unit::MicrogramPerLitre | Unit::MicromolePerLitre => 2,
        Unit::NanomolePerLitre => 3,
    }
}

/// What the decision lets be said, asked of it with an interval below, above and around the limit.
fn can_show(
    reported: &QuantityKind,
    limit: &NamedLimit,
    value: f64,
    frozen: &FrozenLimit,
) -> Result<[bool; 3], String> {
    // Back into the method's unit, near enough for intervals this wide.
    let one = frozen.steps.iter().flatten().fold(1.0, |x, step| match *step {
        Conversion::Times(factor) => x * factor,
        Conversion::Over(divisor) => x / divisor,
    });
    let at = value / one;
    let says = |low: f64, high: f64, code: DecisionCode| {
        Estimate::interval(reported.clone(), low * at, 0.5 * (low + high) * at, high * at, 0.95)
            .and_then(|estimate| decide(&estimate, limit))
            .map(|decision| decision.code == code)
            .map_err(|error| error.to_string())
    };
    Ok([
        says(0.2, 0.4, DecisionCode::Below)?,
        says(2.0, 3.0, DecisionCode::Above)?,
        says(0.5, 1.5, DecisionCode::TooCloseToCall)?,
    ])
}
