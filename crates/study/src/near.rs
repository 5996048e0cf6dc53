//! Names that nobody measured yet, and those that may have been meant.

use std::collections::BTreeSet;

use crate::error::StudyError;
use crate::study::Study;

impl Study {
    /// A sentence about a sample that no run sheet of the study names, with the one that may be meant.
    ///
    /// # Errors
    /// A run sheet that is damaged.
    pub fn unknown_sample(&self, sample: &str) -> Result<Option<String>, StudyError> {
        let all = self.named(|row| &row.sample)?;
        Ok(unknown("sample", sample, &all))
    }

    /// The same of a lot.
    ///
    /// # Errors
    /// A run sheet that is damaged.
    pub fn unknown_lot(&self, lot: &str) -> Result<Option<String>, StudyError> {
        let all = self.named(|row| &row.lot)?;
        Ok(unknown("lot", lot, &all))
    }

    fn named(
        &self,
        name: impl Fn(&stillwell_method::Row) -> &String,
    ) -> Result<BTreeSet<String>, StudyError> {
        let method = self.method()?.method;
        let mut all = BTreeSet::new();
        for one in self.series()? {
            all.extend(
                self.open_series(&one.record.hash, &method)?.sheet.rows.iter().map(|row| name(row).clone()),
            );
        }
        all.remove("");
        Ok(all)
    }
}

fn unknown(what: &str, name: &str, all: &BTreeSet<String>) -> Option<String> {
    let name = name.trim();
    if all.contains(name) {
        return None;
    }
    let meant = all.iter().find(|one| is_near(one, name));
    let meant = meant.map_or_else(String::new, |one| format!("; did you mean {one}?"));
    Some(format!("no {what} {name} in any run sheet of this study{meant}"))
}

/// Letters and digits alike, or all but one of them in their places.
fn is_near(one: &str, other: &str) -> bool {
    let plain =
        |text: &str| -> Vec<char> { text.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect() };
    let (one, other) = (plain(one), plain(other));
    one.len() == other.len() && one.iter().zip(&other).filter(|(a, b)| a != b).count() <= 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_nobody_measured_is_said_with_the_one_that_is_near() {
        let all: BTreeSet<String> = ["AV-01", "AV-02"].map(str::to_owned).into();
        assert_eq!(unknown("sample", "AV-01", &all), None);
        let said = unknown("sample", "av-01", &all).unwrap();
        assert!(said.contains("no sample av-01") && said.ends_with("did you mean AV-01?"), "{said}");
        assert!(!unknown("sample", "NOPE", &all).unwrap().contains("mean"));
    }
}
