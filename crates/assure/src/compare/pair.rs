//! One water measured by both: its scores, or what a bound says.

/// What one side reported.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reported {
    /// A value with its standard uncertainty.
    Found {
        /// The value.
        value: f64,
        /// Its standard uncertainty, above zero.
        standard_u: f64,
    },
    /// Less than this.
    LessThan(f64),
    /// More than this.
    MoreThan(f64),
}

/// One water, measured by both.
#[derive(Debug, Clone, PartialEq)]
pub struct PairedResult {
    /// Identity of the sample.
    pub sample: String,
    /// By the method under test.
    pub ours: Reported,
    /// By the laboratory.
    pub reference: Reported,
}

/// How a score is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ScoreGrade {
    /// |ζ| up to 2.
    Satisfactory,
    /// |ζ| above 2, up to 3.
    Questionable,
    /// |ζ| above 3.
    Unsatisfactory,
}

/// Scores of one pair of numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct PairScore {
    /// Identity of the sample.
    pub sample: String,
    /// Ours less the laboratory's.
    pub difference: f64,
    /// Difference over the combined standard uncertainty.
    pub zeta: f64,
    /// Difference over the combined expanded uncertainty with k = 2: above 1 the stated uncertainties do not cover it.
    pub en: f64,
    /// How ζ is read.
    pub grade: ScoreGrade,
}

/// What a pair says of which one side at least is a bound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoundVerdict {
    /// Both can be true.
    Consistent,
    /// They cannot both be true, with uncertainties taken twofold.
    Contradicts,
    /// Two bounds that meet no value.
    SaysNothing,
}

/// A pair with a bound.
#[derive(Debug, Clone, PartialEq)]
pub struct BoundFinding {
    /// Identity of the sample.
    pub sample: String,
    /// What it says.
    pub verdict: BoundVerdict,
}

impl PairedResult {
    /// How the two sides stand to each other, in a few words.
    pub fn word(&self) -> &'static str {
        super::wording::pair(self.score().map(|score| score.grade), self.bound().map(|bound| bound.verdict))
    }

    /// The pair as numbers: ours, the laboratory's, and their standard uncertainties; none where one side is a bound.
    pub fn numbers(&self) -> Option<[f64; 4]> {
        match (self.ours, self.reference) {
            (
                Reported::Found { value: x, standard_u: u },
                Reported::Found { value: reference, standard_u: u_reference },
            ) => Some([x, reference, u, u_reference]),
            _ => None,
        }
    }

    /// ζ and Eₙ of a pair of numbers.
    ///
    /// # Source
    /// ISO 13528:2022, 9.6 (ζ, read at 2 and 3) and 9.7 (Eₙ, here with U = 2 u on both sides); clause numbers from memory.
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::compare::{PairedResult, Reported, ScoreGrade};
    /// let found = |value, standard_u| Reported::Found { value, standard_u };
    /// let pair = PairedResult { sample: "W1".into(), ours: found(46.0, 1.2), reference: found(50.0, 0.9) };
    /// let score = pair.score().unwrap();
    /// assert!((score.zeta + 8.0 / 3.0).abs() < 1e-12 && score.grade == ScoreGrade::Questionable);
    /// assert!((score.en - 0.5 * score.zeta).abs() < 1e-12);
    /// ```
    pub fn score(&self) -> Option<PairScore> {
        let [ours, reference, u, u_reference] = self.numbers()?;
        let difference = ours - reference;
        let zeta = difference / libm::sqrt(u * u + u_reference * u_reference);
        let grade = match zeta.abs() {
            z if z <= 2.0 => ScoreGrade::Satisfactory,
            z if z <= 3.0 => ScoreGrade::Questionable,
            _ => ScoreGrade::Unsatisfactory,
        };
        Some(PairScore { sample: self.sample.clone(), difference, zeta, en: 0.5 * zeta, grade })
    }

    /// What a pair with a bound says; none for two numbers.
    pub fn bound(&self) -> Option<BoundFinding> {
        if self.numbers().is_some() {
            return None;
        }
        let ([low_a, high_a], [low_b, high_b]) = (self.ours.span(), self.reference.span());
        let is_any_number =
            [self.ours, self.reference].iter().any(|side| matches!(side, Reported::Found { .. }));
        let overlap = low_a <= high_b && low_b <= high_a;
        let verdict = match (overlap, is_any_number) {
            (false, _) => BoundVerdict::Contradicts,
            (true, true) => BoundVerdict::Consistent,
            (true, false) => BoundVerdict::SaysNothing,
        };
        Some(BoundFinding { sample: self.sample.clone(), verdict })
    }
}

impl Reported {
    /// Where the truth may lie, with the uncertainty taken twofold.
    fn span(self) -> [f64; 2] {
        match self {
            Self::Found { value, standard_u } => [value - 2.0 * standard_u, value + 2.0 * standard_u],
            Self::LessThan(bound) => [f64::NEG_INFINITY, bound],
            Self::MoreThan(bound) => [bound, f64::INFINITY],
        }
    }

    pub(super) fn is_usable(self) -> bool {
        match self {
            Self::Found { value, standard_u } => {
                value.is_finite() && standard_u.is_finite() && standard_u > 0.0
            }
            Self::LessThan(bound) | Self::MoreThan(bound) => bound.is_finite(),
        }
    }
}
