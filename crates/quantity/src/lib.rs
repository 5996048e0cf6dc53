//! Units, species, molar masses, concentrations and rounding to uncertainty.
//!
//! In: a number or a text such as `11.3 mg/L as N`. Out: a [`Concentration`] that knows its unit and what is
//! counted, other forms of the same amount, and text rounded to its uncertainty.
//!
//! Start at [`Concentration`]; [`QuantityKind::parse`] reads a unit as people write it, [`round_to_uncertainty`]
//! writes a result as people read it.
//!
//! This room never guesses the form ("as N" or "as NO₃⁻" differ 4.43-fold), never turns one analyte into another,
//! and reads no files.

mod concentration;
mod error;
mod molar_mass;
mod parse;
mod rounding;
mod species;
mod unit;

pub use concentration::{Concentration, QuantityKind};
pub use error::QuantityError;
pub use molar_mass::{ATOMIC_WEIGHTS, ATOMIC_WEIGHTS_SOURCE, formula_molar_mass};
pub use parse::{Parsed, ReadingNote};
pub use rounding::{NOT_AVAILABLE, Rounded, round_down, round_to_uncertainty, round_up};
pub use species::{Analyte, ExpressedAs, NamedAnalyte, Species};
pub use unit::Unit;
