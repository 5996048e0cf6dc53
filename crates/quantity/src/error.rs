//! Every refusal of this room and its wording.

use thiserror::Error;

/// What can be wrong with a unit, a species, a number or a conversion.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// A value is not a number, or infinite, or too large after conversion.
    #[error("{value} is not a usable concentration; a finite number is needed")]
    NotFinite {
        /// The value found.
        value: f64,
    },
    /// Two different analytes cannot be turned into each other.
    #[error(
        "{from} cannot be expressed as {to}: they are different analytes; no factor turns one into the other"
    )]
    DifferentAnalyte {
        /// The analyte of the value.
        from: String,
        /// The analyte asked for.
        to: String,
    },
    /// Mass and amount can be exchanged only through a molar mass.
    #[error(
        "the molar mass of {analyte} is not known, so {from} cannot be turned into {to}; state molar_mass_g_per_mol"
    )]
    MolarMassMissing {
        /// The analyte without a molar mass.
        analyte: String,
        /// The unit of the value.
        from: &'static str,
        /// The unit asked for.
        to: &'static str,
    },
    /// A molar mass is not a positive finite number.
    #[error(
        "molar mass {molar_mass_g_per_mol} g/mol of {analyte} is not usable; a positive number in g/mol is needed"
    )]
    MolarMassInvalid {
        /// The analyte.
        analyte: String,
        /// The value found.
        molar_mass_g_per_mol: f64,
    },
    /// One named analyte was given two molar masses.
    #[error("{analyte} is given two molar masses, {first_g_per_mol} and {second_g_per_mol} g/mol; state one")]
    MolarMassesDiffer {
        /// The analyte.
        analyte: String,
        /// The molar mass of the value, g/mol.
        first_g_per_mol: f64,
        /// The molar mass asked for, g/mol.
        second_g_per_mol: f64,
    },
    /// A molar mass was given for an analyte that has one in the table.
    #[error(
        "the molar mass of {analyte} comes from the table ({table_g_per_mol} g/mol); remove the given {given_g_per_mol} g/mol"
    )]
    MolarMassFixed {
        /// The analyte.
        analyte: &'static str,
        /// The table's value, g/mol.
        table_g_per_mol: f64,
        /// The given value, g/mol.
        given_g_per_mol: f64,
    },
    /// A mass concentration does not say in which form the analyte is counted.
    #[error(
        "\"{text}\" does not say whether {analyte} is counted as {ion} or as N; the two numbers differ {factor:.2}-fold. Write \"{unit} as {ion_ascii}\" or \"{unit} as N\""
    )]
    FormMissing {
        /// The text as found.
        text: String,
        /// The analyte.
        analyte: &'static str,
        /// The ion, as printed.
        ion: &'static str,
        /// The ion, as typed.
        ion_ascii: &'static str,
        /// The unit that was understood.
        unit: &'static str,
        /// Ratio of the two possible numbers.
        factor: f64,
    },
    /// The text names a form or an analyte that the expected analyte does not have.
    #[error("\"{text}\" counts \"{found}\", but {analyte} is expected; accepted: {accepted}")]
    FormOfAnotherAnalyte {
        /// The text as found.
        text: String,
        /// What the text counts.
        found: String,
        /// The analyte expected.
        analyte: String,
        /// The forms that would be accepted.
        accepted: String,
    },
    /// The text does not say which analyte is counted.
    #[error(
        "\"{text}\" does not say what is counted; name the analyte, as in \"mg/L as NO3-\" or \"mg/L NO3-N\""
    )]
    AnalyteMissing {
        /// The text as found.
        text: String,
    },
    /// The form behind the unit was not understood.
    #[error(
        "\"{text}\": \"{found}\" is not a known form; accepted: NO3-, NO3-N, NO2-, NO2-N, NH4+, NH4-N, N, or the analyte's own name"
    )]
    UnknownForm {
        /// The text as found.
        text: String,
        /// The part not understood.
        found: String,
    },
    /// The unit was not understood.
    #[error(
        "\"{text}\" does not begin with a known unit; accepted: g/L, mg/L, µg/L (ug/L), mol/L, mmol/L, µmol/L, nmol/L, M, mM, µM (uM), nM, ppm, ppb"
    )]
    UnknownUnit {
        /// The text as found.
        text: String,
    },
    /// A concentration does not begin with a number.
    #[error(
        "\"{text}\" does not begin with a number; write a plain number with a decimal point, such as \"48.2 mg/L as NO3-\""
    )]
    NumberMissing {
        /// The text as found.
        text: String,
    },
    /// An analyte's name cannot be used.
    #[error("\"{name}\" cannot name an analyte: 1 to 64 printable characters are needed")]
    NameUnusable {
        /// The name as found.
        name: String,
    },
    /// A user-named analyte carries the name of a known one.
    #[error("\"{name}\" is known as {known}; use that, so that its forms and molar mass come from the table")]
    NameTaken {
        /// The name as found.
        name: String,
        /// The known analyte.
        known: &'static str,
    },
    /// A form was given where an analyte's name is needed.
    #[error(
        "\"{name}\" is a form, not an analyte; name the analyte (such as nitrate) and report it \"as N\""
    )]
    NameIsForm {
        /// The name as found.
        name: String,
    },
    /// An analyte has no nitrogen form.
    #[error("{analyte} has no form \"as N\"; it is counted as itself")]
    NoNitrogenForm {
        /// The analyte.
        analyte: String,
    },
    /// A chemical formula was not understood.
    #[error(
        "formula \"{formula}\": \"{found}\" at character {position} is not understood; write it as KNO3, K3Fe(CN)6 or K4Fe(CN)6.3H2O"
    )]
    FormulaNotUnderstood {
        /// The formula as found.
        formula: String,
        /// The text where reading stopped.
        found: String,
        /// 1-based place in characters.
        position: usize,
    },
    /// The formula holds an element that the table lacks.
    #[error(
        "formula \"{formula}\": element {element} is not in the table of atomic weights ({known}); state molar_mass_g_per_mol instead"
    )]
    ElementNotInTable {
        /// The formula as found.
        formula: String,
        /// The element.
        element: String,
        /// The elements of the table.
        known: String,
    },
}
