//! Named limits: those shipped as data, and a user's own.

use std::borrow::Cow;

use stillwell_quantity::{QuantityKind, Species, Unit};

use crate::AssureError;

/// An upper limit with the document it stands in. A concentration equal to the limit meets it.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedLimit {
    id: Cow<'static, str>,
    name: Cow<'static, str>,
    value: f64,
    kind: QuantityKind,
    document: Cow<'static, str>,
    clause: Cow<'static, str>,
}

impl NamedLimit {
    /// A user's own limit.
    ///
    /// # Units
    /// `value` in `kind`.
    ///
    /// # Errors
    /// An id that is unusable or shipped, a value that is not above zero, or an empty name or document.
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::NamedLimit;
    /// use stillwell_quantity::{QuantityKind, Species, Unit};
    /// let kind = QuantityKind { unit: Unit::MilligramPerLitre, species: Species::nitrate() };
    /// let limit = NamedLimit::new("county-nitrate", "county alert level", 25.0, kind, "county water order", "section 3")?;
    /// assert_eq!(limit.to_string(), "25 mg/L as NO₃⁻");
    /// # Ok::<(), stillwell_assure::AssureError>(())
    /// ```
    pub fn new(
        id: &str,
        name: &str,
        value: f64,
        kind: QuantityKind,
        document: &str,
        clause: &str,
    ) -> Result<Self, AssureError> {
        let usable = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        if id.is_empty() || id.len() > 64 || !id.chars().all(usable) {
            return Err(AssureError::IdUnusable { id: id.to_owned() });
        }
        if SHIPPED.iter().any(|row| row.id == id) || SUMS.iter().any(|sum| sum.id == id) {
            return Err(AssureError::IdTaken { id: id.to_owned() });
        }
        if !(value.is_finite() && value > 0.0) {
            return Err(AssureError::LimitNotPositive { id: id.to_owned(), value });
        }
        for (field, text) in [("name", name), ("document", document)] {
            if text.trim().is_empty() {
                return Err(AssureError::LimitTextMissing { id: id.to_owned(), field });
            }
        }
        let own = |text: &str| Cow::Owned(text.trim().to_owned());
        Ok(Self { id: own(id), name: own(name), value, kind, document: own(document), clause: own(clause) })
    }

    /// The id by which a method names it, such as `who-nitrate`.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// Its name in running text.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The limit in its own unit and species.
    pub const fn value(&self) -> f64 {
        self.value
    }

    /// Unit and species.
    pub const fn kind(&self) -> &QuantityKind {
        &self.kind
    }

    /// The document it stands in.
    pub fn document(&self) -> &str {
        &self.document
    }

    /// The place in the document.
    pub fn clause(&self) -> &str {
        &self.clause
    }
}

/// Value, unit and form: `50 mg/L as NO₃⁻`.
impl std::fmt::Display for NamedLimit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.value, self.kind)
    }
}

/// A limit on nitrate and nitrite together: the sum of their ratios to what each may reach alone is not to exceed 1; a
/// sum of 1 meets it.
#[derive(Debug, Clone, PartialEq)]
pub struct SumLimit {
    id: &'static str,
    name: &'static str,
    formula: &'static str,
    nitrate_mg_per_l: f64,
    nitrate: Species,
    nitrite_mg_per_l: f64,
    nitrite: Species,
    document: &'static str,
    clause: &'static str,
}

impl SumLimit {
    /// The id by which a method names it, such as `who-sum`.
    pub const fn id(&self) -> &'static str {
        self.id
    }

    /// Its name in running text.
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// The formula as printed.
    pub const fn formula(&self) -> &'static str {
        self.formula
    }

    /// Nitrate that alone reaches the limit, mg/L in the form [`Self::nitrate`].
    pub const fn nitrate_mg_per_l(&self) -> f64 {
        self.nitrate_mg_per_l
    }

    /// The form of nitrate.
    pub const fn nitrate(&self) -> &Species {
        &self.nitrate
    }

    /// Nitrite that alone reaches the limit, mg/L in the form [`Self::nitrite`].
    pub const fn nitrite_mg_per_l(&self) -> f64 {
        self.nitrite_mg_per_l
    }

    /// The form of nitrite.
    pub const fn nitrite(&self) -> &Species {
        &self.nitrite
    }

    /// The document it stands in.
    pub const fn document(&self) -> &'static str {
        self.document
    }

    /// The place in the document.
    pub const fn clause(&self) -> &'static str {
        self.clause
    }
}

struct Shipped {
    id: &'static str,
    name: &'static str,
    mg_per_l: f64,
    species: Species,
    document: &'static str,
    clause: &'static str,
}

const WHO: &str =
    "WHO Guidelines for drinking-water quality, 4th edition with the first and second addenda (2022)";
const WHO_CLAUSE: &str = "chapter 12, nitrate and nitrite";
const EU: &str = "Directive (EU) 2020/2184";
const EU_CLAUSE: &str = "Annex I, Part B";
const US: &str = "40 CFR 141.62";
const US_CLAUSE: &str = "(b)";

/// The values stand beside their sources in `checks/water_limits.toml`; a test compares them one by one.
const SHIPPED: [Shipped; 8] = [
    Shipped {
        id: "who-nitrate",
        name: "WHO guideline value for nitrate",
        mg_per_l: 50.0,
        species: Species::nitrate(),
        document: WHO,
        clause: WHO_CLAUSE,
    },
    Shipped {
        id: "who-nitrite",
        name: "WHO guideline value for nitrite",
        mg_per_l: 3.0,
        species: Species::nitrite(),
        document: WHO,
        clause: WHO_CLAUSE,
    },
    Shipped {
        id: "eu-nitrate",
        name: "EU parametric value for nitrate",
        mg_per_l: 50.0,
        species: Species::nitrate(),
        document: EU,
        clause: EU_CLAUSE,
    },
    Shipped {
        id: "eu-nitrite",
        name: "EU parametric value for nitrite",
        mg_per_l: 0.5,
        species: Species::nitrite(),
        document: EU,
        clause: EU_CLAUSE,
    },
    Shipped {
        id: "eu-nitrite-ex-works",
        name: "EU value for nitrite in water leaving the treatment works",
        mg_per_l: 0.1,
        species: Species::nitrite(),
        document: EU,
        clause: "Annex I, Part B, note to nitrate and nitrite",
    },
    Shipped {
        id: "us-nitrate",
        name: "US maximum contaminant level for nitrate",
        mg_per_l: 10.0,
        species: Species::nitrate_as_n(),
        document: US,
        clause: US_CLAUSE,
    },
    Shipped {
        id: "us-nitrite",
        name: "US maximum contaminant level for nitrite",
        mg_per_l: 1.0,
        species: Species::nitrite_as_n(),
        document: US,
        clause: US_CLAUSE,
    },
    Shipped {
        id: "us-total",
        name: "US maximum contaminant level for nitrate and nitrite together",
        mg_per_l: 10.0,
        species: Species::nitrate_plus_nitrite_as_n(),
        document: US,
        clause: US_CLAUSE,
    },
];

const ION_SUM: &str = "[NO₃⁻]/50 + [NO₂⁻]/3 ≤ 1, in mg/L as the ions";

const SUMS: [SumLimit; 3] = [
    SumLimit {
        id: "who-sum",
        name: "WHO sum rule for nitrate and nitrite",
        formula: ION_SUM,
        nitrate_mg_per_l: 50.0,
        nitrate: Species::nitrate(),
        nitrite_mg_per_l: 3.0,
        nitrite: Species::nitrite(),
        document: WHO,
        clause: WHO_CLAUSE,
    },
    SumLimit {
        id: "eu-sum",
        name: "EU sum rule for nitrate and nitrite",
        formula: ION_SUM,
        nitrate_mg_per_l: 50.0,
        nitrate: Species::nitrate(),
        nitrite_mg_per_l: 3.0,
        nitrite: Species::nitrite(),
        document: EU,
        clause: EU_CLAUSE,
    },
    // The same limit as `us-total`, for nitrate and nitrite determined apart.
    SumLimit {
        id: "us-sum",
        name: "US maximum contaminant level for nitrate and nitrite together",
        formula: "[nitrate]/10 + [nitrite]/10 ≤ 1, in mg/L as N",
        nitrate_mg_per_l: 10.0,
        nitrate: Species::nitrate_as_n(),
        nitrite_mg_per_l: 10.0,
        nitrite: Species::nitrite_as_n(),
        document: US,
        clause: US_CLAUSE,
    },
];

/// The limits that come with the program, each with document and clause. Legal texts change: check the text in force.
pub fn shipped_limits() -> Vec<NamedLimit> {
    let limit = |row: &Shipped| NamedLimit {
        id: row.id.into(),
        name: row.name.into(),
        value: row.mg_per_l,
        kind: QuantityKind { unit: Unit::MilligramPerLitre, species: row.species.clone() },
        document: row.document.into(),
        clause: row.clause.into(),
    };
    SHIPPED.iter().map(limit).collect()
}

/// The sum rules that come with the program.
pub fn shipped_sums() -> Vec<SumLimit> {
    SUMS.to_vec()
}

/// The shipped limit of this id.
///
/// # Errors
/// [`AssureError::UnknownLimit`] lists the ids.
pub fn find_limit(id: &str) -> Result<NamedLimit, AssureError> {
    shipped_limits().into_iter().find(|limit| limit.id() == id).ok_or_else(|| unknown(id))
}

/// The shipped sum rule of this id.
///
/// # Errors
/// [`AssureError::UnknownLimit`] lists the ids.
pub fn find_sum(id: &str) -> Result<SumLimit, AssureError> {
    shipped_sums().into_iter().find(|sum| sum.id == id).ok_or_else(|| unknown(id))
}

fn unknown(id: &str) -> AssureError {
    let known: Vec<&str> = SHIPPED.iter().map(|row| row.id).chain(SUMS.iter().map(|sum| sum.id)).collect();
    AssureError::UnknownLimit { id: id.to_owned(), known: known.join(", ") }
}
