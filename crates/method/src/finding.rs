//! What a check found: its effect, its numbers in words, and the remedy.

use std::fmt;

use crate::check::Check;

/// What follows from a check that did not pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effect {
    /// Good to know; changes nothing.
    Noted,
    /// The number stands, with this to be borne in mind.
    Warned,
    /// The number is shown, but no verdict is drawn from it.
    Withheld,
    /// No number is issued.
    Refused,
}

impl Effect {
    /// The word for a table.
    pub fn word(self) -> &'static str {
        match self {
            Self::Noted => "note",
            Self::Warned => "warning",
            Self::Withheld => "withheld",
            Self::Refused => "refused",
        }
    }
}

/// A check that did not pass, or could not be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Which check.
    pub check: Check,
    /// What follows.
    pub effect: Effect,
    /// What it is about: a scan, a lot, a batch, a sample.
    pub subject: String,
    /// What was found, with its numbers and the limit.
    pub found: String,
    /// Why the analyst uses it all the same, if so.
    pub overridden: Option<String>,
}

impl Finding {
    pub(crate) fn new(
        check: Check,
        effect: Effect,
        subject: impl Into<String>,
        found: impl Into<String>,
    ) -> Self {
        Self { check, effect, subject: subject.into(), found: found.into(), overridden: None }
    }

    /// What to do about it.
    pub fn remedy(&self) -> &'static str {
        self.check.text().remedy
    }

    /// Whether the effect is in force, that is, not overridden.
    pub fn is_in_force(&self, effect: Effect) -> bool {
        self.effect == effect && self.overridden.is_none()
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} [{}] {}: {}", self.effect.word(), self.check.id(), self.subject, self.found)?;
        if let Some(reason) = &self.overridden {
            write!(f, " (overridden: {reason})")?;
        }
        Ok(())
    }
}

/// Whether any finding in force refuses.
pub(crate) fn refuses(findings: &[Finding]) -> bool {
    findings.iter().any(|finding| finding.is_in_force(Effect::Refused))
}

/// Writes a quantity in SI with the prefix that a person would use.
///
/// # Example
/// ```
/// assert_eq!(stillwell_method::si(1.2345e-6, "A"), "1.23 µA");
/// ```
pub fn si(value: f64, unit: &str) -> String {
    let size = value.abs();
    let (scale, prefix) = match size {
        _ if size == 0.0 => (1.0, ""),
        _ if size >= 1.0 => (1.0, ""),
        _ if size >= 1e-3 => (1e3, "m"),
        _ if size >= 1e-6 => (1e6, "µ"),
        _ if size >= 1e-9 => (1e9, "n"),
        _ => (1e12, "p"),
    };
    format!("{} {prefix}{unit}", three_digits(value * scale))
}

/// About three significant digits without an exponent.
pub fn three_digits(value: f64) -> String {
    let size = value.abs();
    let decimals = match size {
        _ if size >= 100.0 => 0,
        _ if size >= 10.0 => 1,
        _ if size >= 1.0 => 2,
        _ => 3,
    };
    format!("{value:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn currents_are_written_with_the_prefix_a_person_would_use() {
        assert_eq!(si(1.2345e-6, "A"), "1.23 µA");
        assert_eq!(si(-0.61, "V"), "-610 mV");
        assert_eq!(si(0.0, "A"), "0.000 A");
        assert_eq!(si(45.6e-9, "A"), "45.6 nA");
    }
}
