//! What a validation rests on, and what is asked.

/// How far signals keep to the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinearityEvidence {
    /// Largest distance of a level, read back off the curve, in % of it.
    pub largest_deviation_percent: f64,
    /// Probability of a lack of fit as large by chance; none where it cannot be tested.
    pub lack_of_fit_p: Option<f64>,
    /// Levels above zero behind it.
    pub n_levels: usize,
}

/// A reference with a known value, measured.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceCheck {
    /// What it is.
    pub name: String,
    /// Its value.
    pub reference: f64,
    /// Standard uncertainty of that value.
    pub reference_u: f64,
    /// What was found, independent determinations.
    pub found: Vec<f64>,
}

/// What another substance or condition changes.
#[derive(Debug, Clone, PartialEq)]
pub struct Interference {
    /// What was changed and to what: "chloride 250 mg/L".
    pub name: String,
    /// Level of the analyte at which it was tried.
    pub level: f64,
    /// Results without it.
    pub without: Vec<f64>,
    /// Results with it.
    pub with: Vec<f64>,
    /// Measured and refused, on either side: no result, and by itself a sign of what the substance does.
    pub n_refused: usize,
}

/// Everything known of a method. What is missing is not shown.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ValidationEvidence {
    /// Lowest and highest level that the calibration covers.
    pub calibrated_range: Option<[f64; 2]>,
    /// How far signals keep to the curve.
    pub linearity: Option<LinearityEvidence>,
    /// Detection limit.
    pub detection_limit: Option<f64>,
    /// Quantification limit.
    pub quantification_limit: Option<f64>,
    /// Determinations of one level, day by day, each on strips of its own.
    pub days: Vec<Vec<f64>>,
    /// References.
    pub references: Vec<ReferenceCheck>,
    /// Recoveries of additions, in %.
    pub recoveries_percent: Vec<f64>,
    /// Interferents tried.
    pub interferences: Vec<Interference>,
}

/// A number asked for, and who asks.
#[derive(Debug, Clone, PartialEq)]
pub struct Requirement<T> {
    /// What is asked.
    pub value: T,
    /// The method, a directive, a customer: document and place.
    pub source: String,
}

impl<T> Requirement<T> {
    /// A requirement with its source.
    pub fn new(value: T, source: impl Into<String>) -> Self {
        Self { value, source: source.into() }
    }
}

/// What is asked. Where nothing is asked, nothing can be met.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ValidationRequirements {
    /// Levels that must be covered, from and to.
    pub range: Option<Requirement<[f64; 2]>>,
    /// Largest distance from the curve, %.
    pub deviation_percent: Option<Requirement<f64>>,
    /// Highest detection limit.
    pub detection_limit: Option<Requirement<f64>>,
    /// Highest quantification limit.
    pub quantification_limit: Option<Requirement<f64>>,
    /// Largest relative standard deviation within a day, %.
    pub repeatability_percent: Option<Requirement<f64>>,
    /// Largest relative standard deviation from day to day, %.
    pub intermediate_percent: Option<Requirement<f64>>,
    /// Largest bias against references, %.
    pub bias_percent: Option<Requirement<f64>>,
    /// Recoveries between which the mean must lie, %.
    pub recovery_percent: Option<Requirement<[f64; 2]>>,
    /// Largest change by an interferent, %.
    pub interference_percent: Option<Requirement<f64>>,
}
