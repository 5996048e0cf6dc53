//! The campaign: the wells, the strips, the limits and the times that an approver has released. All words of an operator are
//! matched against it.

use crate::refusal::Refusal;

/// A campaign that holds together with its study's method.
#[derive(Debug, Clone, PartialEq)]
pub struct Campaign {
    /// Name.
    pub name: String,
    /// Last day of use.
    pub last_day: String,
    /// The limit that results are judged against, by its identity in the method.
    pub limit: String,
    /// The limit's value in the method's reporting unit.
    pub limit_value: f64,
    /// The method's reporting unit and species, `mg/L as NO3-`.
    pub unit: String,
    /// Whom to call.
    pub whom: Whom,
    /// Level of the control solution, in the reporting unit.
    pub control_level: f64,
    /// When a second strip is asked for, and how far two may differ.
    pub second: SecondStrip,
    /// Lowest and highest temperature of what is measured, °C.
    pub temperature_c: [f64; 2],
    /// The times.
    pub timers: Timers,
    /// Scans on each strip.
    pub scans_per_strip: usize,
    /// Strips that may fail in a row before the run is closed.
    pub strips_most: u32,
    /// The wells.
    pub wells: Vec<Well>,
    /// The lots of strips.
    pub lots: Vec<Lot>,
}

/// Whom to call.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Whom {
    /// Who answers.
    pub name: String,
    /// The number.
    pub number: String,
}

/// The second strip.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondStrip {
    /// Results in this band are measured again, in the reporting unit.
    pub band: [f64; 2],
    /// Two strips may differ by so much of their mean, %.
    pub largest_difference_percent: f64,
}

/// Least and most of each wait, s.
#[derive(Debug, Clone, PartialEq)]
pub struct Timers {
    /// From the temperature to the rinse, at most.
    pub temperature_most_s: f64,
    /// From the rinse to the drop, at least.
    pub rinse_least_s: f64,
    /// From the rinse to the drop, at most.
    pub rinse_most_s: f64,
    /// From the drop to the scan, at least.
    pub wait_least_s: f64,
    /// From the drop to the scan, at most.
    pub wait_most_s: f64,
    /// From the start of the scan to its file, at least: how long a scan takes.
    pub scan_least_s: f64,
    /// From the start of the scan to its file, at most.
    pub file_most_s: f64,
    /// From the control's file to the start of a sample's scan, at most.
    pub control_most_s: f64,
    /// From the first strip's file to the choice of the second, at most.
    pub second_most_s: f64,
    /// The whole run, at most.
    pub run_most_s: f64,
    /// From a step to its receipt, at most.
    pub hand_in_most_s: f64,
}

/// A well.
#[derive(Debug, Clone, PartialEq)]
pub struct Well {
    /// Its code: on a plate at the well.
    pub code: String,
    /// Its name on run sheets.
    pub name: String,
    /// Where it is, in words.
    pub place: String,
    /// What is known of its water.
    pub water: Water,
}

/// What is known of a well's water, for the checks of the matrix.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Water {
    /// pH of the prepared sample.
    pub ph: Option<f64>,
    /// Chloride, mg/L.
    pub chloride_mg_per_l: Option<f64>,
    /// Conductivity, µS/cm.
    pub conductivity_us_per_cm: Option<f64>,
}

/// A lot of strips.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lot {
    /// Its code: on the box.
    pub code: String,
    /// Its name on run sheets.
    pub lot: String,
    /// The calibration that serves it, as the study numbers it.
    pub calibration: String,
    /// First and last number of the strips that were issued.
    pub numbers: [u32; 2],
    /// Numbers that were called back.
    pub recalled: Vec<u32>,
    /// Last day of use.
    pub last_day: String,
}

/// A strip of a lot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Strip {
    /// Its lot.
    pub lot: Lot,
    /// Its number.
    pub number: u32,
}

impl Strip {
    /// `K21-103`: as it stands on the strip.
    pub fn code(&self) -> String {
        format!("{}-{}", self.lot.code, self.number)
    }

    /// `L21-103`: the electrode on the run sheet.
    pub fn electrode(&self) -> String {
        format!("{}-{}", self.lot.lot, self.number)
    }
}

/// Something that the campaign knows. Nothing else makes one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Known<T>(T);

impl<T> Known<T> {
    /// What it is.
    pub fn get(&self) -> &T {
        &self.0
    }
}

impl Campaign {
    /// The well of this code.
    ///
    /// # Errors
    /// There is none.
    pub fn well(&self, code: &str) -> Result<Known<Well>, Refusal> {
        let found = self.wells.iter().find(|well| same(&well.code, code));
        found.cloned().map(Known).ok_or_else(|| Refusal::WellUnknown { code: shown(code) })
    }

    /// The strip of this lot and number, if it may be used on a day.
    ///
    /// # Errors
    /// No such lot or strip; past its day; called back.
    pub fn strip(&self, lot: &str, number: u32, day: &str) -> Result<Known<Strip>, Refusal> {
        let Some(known) = self.lots.iter().find(|known| same(&known.code, lot)) else {
            return Err(Refusal::LotUnknown { code: shown(lot) });
        };
        let strip = Strip { lot: known.clone(), number };
        let [first, last] = known.numbers;
        if !(first..=last).contains(&number) {
            return Err(Refusal::StripUnknown { strip: strip.code() });
        }
        if known.recalled.contains(&number) {
            return Err(Refusal::StripRecalled { strip: strip.code() });
        }
        if day > known.last_day.as_str() {
            return Err(Refusal::StripExpired { strip: strip.code(), last_day: known.last_day.clone() });
        }
        Ok(Known(strip))
    }

    /// Lot and number of a code such as `K21-103`, as it is scanned from a strip: the lot's code may hold hyphens itself.
    ///
    /// # Example
    /// ```
    /// assert_eq!(stillwell_field::Campaign::lot_and_number("K-21-103"), Some(("K-21", 103)));
    /// assert_eq!(stillwell_field::Campaign::lot_and_number("K21"), None);
    /// ```
    pub fn lot_and_number(code: &str) -> Option<(&str, u32)> {
        let (lot, number) = code.trim().rsplit_once('-')?;
        Some((lot, number.parse().ok().filter(|_| number.bytes().all(|byte| byte.is_ascii_digit()))?))
    }
}

/// Codes are capitals, digits and hyphens: whoever scans small letters means the same.
fn same(known: &str, given: &str) -> bool {
    known.eq_ignore_ascii_case(given.trim())
}

/// A code as it may be shown: what a stranger typed is no text of ours.
fn shown(code: &str) -> String {
    code.trim().chars().filter(|c| !c.is_control()).take(40).collect()
}
