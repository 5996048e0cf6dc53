//! Every sentence of the validation table, side by side. Rules as in the room's `wording.rs`.

use super::table::{Criterion, RowVerdict, ValidationRow};

/// Said where a lack of fit could not be tested.
pub(super) const LACK_OF_FIT_UNTESTED: &str =
    "A lack of fit could not be tested: it takes replicates at each level.";

/// What a row lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Lacking {
    /// Nothing was measured.
    Evidence,
    /// Nobody said what is asked.
    Requirement,
    /// The interval holds the requirement.
    Determinations,
    /// Too few days.
    Days {
        /// Days found.
        found: usize,
        /// Days needed.
        needed: usize,
    },
}

impl Criterion {
    /// All criteria in their order.
    pub const ALL: [Self; 9] = [
        Self::WorkingRange,
        Self::Linearity,
        Self::DetectionLimit,
        Self::QuantificationLimit,
        Self::Repeatability,
        Self::IntermediatePrecision,
        Self::Trueness,
        Self::Recovery,
        Self::Selectivity,
    ];

    /// Its name in the table.
    pub const fn name(self) -> &'static str {
        match self {
            Self::WorkingRange => "working range",
            Self::Linearity => "linearity",
            Self::DetectionLimit => "detection limit",
            Self::QuantificationLimit => "quantification limit",
            Self::Repeatability => "repeatability",
            Self::IntermediatePrecision => "intermediate precision",
            Self::Trueness => "trueness",
            Self::Recovery => "recovery",
            Self::Selectivity => "selectivity",
        }
    }
}

/// What would show it.
pub(super) fn would_show(criterion: Criterion, lacking: Lacking) -> String {
    match lacking {
        Lacking::Requirement => {
            "state what is asked, and who asks; a number without a requirement is neither met nor not met".to_owned()
        }
        Lacking::Days { found, needed } => {
            format!("{needed} days with determinations of one level; {found} are there")
        }
        Lacking::Determinations => match criterion {
            Criterion::Repeatability | Criterion::IntermediatePrecision => {
                "more days with two or more determinations each: the interval still reaches over the requirement".to_owned()
            }
            Criterion::Trueness => {
                "more determinations of the reference, or a reference of smaller uncertainty: the interval still reaches over the requirement".to_owned()
            }
            Criterion::Selectivity => {
                "more strips at one level of the analyte, three or more with the substance and three or more without it: there are fewer, or the interval still reaches over the requirement".to_owned()
            }
            _ => "more determinations: the interval still reaches over the requirement, or there are fewer than two".to_owned(),
        },
        Lacking::Evidence => match criterion {
            Criterion::WorkingRange | Criterion::Linearity => {
                "an accepted calibration with five levels or more, three strips each".to_owned()
            }
            Criterion::DetectionLimit | Criterion::QuantificationLimit => {
                "an accepted calibration that has a zero and low levels, so that the limit can be computed".to_owned()
            }
            Criterion::Repeatability | Criterion::IntermediatePrecision => {
                "one level determined twice or more on each of six days or more".to_owned()
            }
            Criterion::Trueness => {
                "a reference of known value and uncertainty, determined on several days".to_owned()
            }
            Criterion::Recovery => {
                "known additions to real waters, several waters and two additions or more".to_owned()
            }
            Criterion::Selectivity => {
                "one level of the analyte with and without each substance that real waters hold, at the highest level that the method allows, on three strips or more each (role interference on the run sheet)".to_owned()
            }
        },
    }
}

fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    if text == "-0.00" { "0.00".to_owned() } else { text }
}

/// What was found.
pub(super) fn evidence(row: &ValidationRow) -> String {
    let unit = &row.unit;
    let behind = match row.criterion {
        Criterion::WorkingRange | Criterion::DetectionLimit | Criterion::QuantificationLimit => String::new(),
        Criterion::Linearity => format!(" from {} levels", row.n),
        Criterion::IntermediatePrecision => format!(" from {} days", row.n),
        _ => format!(" from {} determinations", row.n),
    };
    let subject = if row.subject.is_empty() { String::new() } else { format!("{}: ", row.subject) };
    match (row.found, row.interval) {
        (None, Some([low, high])) => format!("{subject}{} to {} {unit}{behind}", number(low), number(high)),
        (Some(found), None) => format!("{subject}{} {unit}{behind}", number(found)),
        (Some(found), Some([low, high])) => {
            format!("{subject}{} {unit} (95 %: {} to {}){behind}", number(found), number(low), number(high))
        }
        (None, None) if row.n > 0 => format!("{subject}nothing that can be judged{behind}"),
        (None, None) => format!("{subject}nothing"),
    }
}

/// What is asked.
pub(super) fn requirement(row: &ValidationRow) -> String {
    let unit = &row.unit;
    row.requirement.as_ref().map_or_else(
        || "nothing stated".to_owned(),
        |([low, high], source)| match row.criterion {
            Criterion::WorkingRange | Criterion::Recovery => {
                format!("{} to {} {unit} ({source})", number(*low), number(*high))
            }
            Criterion::Trueness | Criterion::Selectivity => format!("±{} {unit} ({source})", number(*high)),
            _ => format!("at most {} {unit} ({source})", number(*high)),
        },
    )
}

/// The verdict.
pub(super) fn verdict(row: &ValidationRow) -> String {
    match &row.verdict {
        RowVerdict::Met => "met".to_owned(),
        RowVerdict::NotMet => "not met".to_owned(),
        RowVerdict::NotShown { would_show } => format!("not shown; it would take: {would_show}"),
    }
}

/// A lack of fit that chance does not give.
pub(super) fn lack_of_fit(p: f64) -> String {
    format!(
        "The levels do not lie on the curve as well as their replicates agree (p = {p:.4}): a small deviation may still be allowed; look at the residuals."
    )
}

/// Refused results beside an interferent.
pub(super) fn refused_beside(n: usize) -> String {
    let results = if n == 1 { "1 result was" } else { &format!("{n} results were") };
    format!(
        "{results} refused and not counted; where that happens with the substance only, it shifts or covers the peak, and the change stated here is too small."
    )
}

/// A day that scatters more.
pub(super) fn odd_spread(day: usize, p: f64) -> String {
    format!(
        "Day {day} scatters more than the others (Cochran, p at most {p:.4}). It counts; find out what happened."
    )
}

/// A day whose mean lies apart.
pub(super) fn odd_mean(day: usize, mean: f64) -> String {
    format!(
        "The mean of day {day}, {mean:.2}, lies apart from the others (Grubbs, 1 %). It counts; find out what happened."
    )
}
