//! One strip on its way through a measurement. Each state can only be made from the one before, and only in its time: what is
//! measured was chosen from the campaign, taken at a known temperature, rinsed, covered, left to wait and scanned, in that order.

use stillwell_study::StepFile;

use crate::campaign::{Campaign, Known, Strip, Timers};
use crate::clocks::Moment;
use crate::refusal::Refusal;

/// What a thermometer at a well can show, °C (common practice, no source).
const THERMOMETER_C: std::ops::RangeInclusive<f64> = -20.0..=60.0;

/// What a strip is measured for, with what that rests on.
#[expect(
    clippy::large_enum_variant,
    reason = "one run is looked at at a time, and plain variants read better"
)]
#[derive(Debug, Clone, PartialEq)]
pub enum Purpose {
    /// A solution of known level, to show that strips of the lot are alive.
    Control,
    /// The water.
    Sample(Living),
    /// The water again, because the first strip came near the limit or found nothing.
    Second(Living, Measured),
}

/// A strip out of the box.
#[derive(Debug, Clone, PartialEq)]
pub struct Chosen {
    strip: Known<Strip>,
    at: Moment,
}

/// … for a liquid of known temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct Tempered {
    chosen: Chosen,
    temperature_c: f64,
    at: Moment,
}

/// … being rinsed.
#[derive(Debug, Clone, PartialEq)]
pub struct Rinsed {
    tempered: Tempered,
    at: Moment,
}

/// … under its drop.
#[derive(Debug, Clone, PartialEq)]
pub struct Applied {
    rinsed: Rinsed,
    at: Moment,
}

/// … being scanned.
#[derive(Debug, Clone, PartialEq)]
pub struct Started {
    applied: Applied,
    at: Moment,
}

/// … with its file.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    started: Started,
    file: StepFile,
    at: Moment,
}

/// A control strip that reads what it should.
#[derive(Debug, Clone, PartialEq)]
pub struct Living {
    control: Measured,
}

impl Chosen {
    pub(crate) fn of(strip: Known<Strip>, at: Moment) -> Self {
        Self { strip, at }
    }

    /// The strip.
    pub fn strip(&self) -> &Known<Strip> {
        &self.strip
    }

    /// When it was chosen.
    pub fn at(&self) -> &Moment {
        &self.at
    }

    /// The temperature was measured.
    ///
    /// # Errors
    /// No temperature of water, or one outside what the campaign takes.
    pub fn temper(&self, campaign: &Campaign, temperature_c: f64, at: Moment) -> Result<Tempered, Refusal> {
        let [least_c, most_c] = campaign.temperature_c;
        if !THERMOMETER_C.contains(&temperature_c) {
            return Err(Refusal::TemperatureNotANumber);
        }
        if temperature_c < least_c {
            return Err(Refusal::TooCold { found_c: temperature_c, least_c });
        }
        if temperature_c > most_c {
            return Err(Refusal::TooWarm { found_c: temperature_c, most_c });
        }
        Ok(Tempered { chosen: self.clone(), temperature_c, at })
    }
}

impl Tempered {
    /// The strip before, for another temperature.
    pub(crate) fn chosen(&self) -> &Chosen {
        &self.chosen
    }

    /// When the temperature was measured.
    pub fn at(&self) -> &Moment {
        &self.at
    }

    /// Rinsing was begun.
    ///
    /// # Errors
    /// The temperature is too long ago.
    pub fn rinse(&self, timers: &Timers, at: Moment) -> Result<Rinsed, Refusal> {
        at.within(&self.at, 0.0, timers.temperature_most_s)?;
        Ok(Rinsed { tempered: self.clone(), at })
    }
}

impl Rinsed {
    /// The drop was applied.
    ///
    /// # Errors
    /// Rinsed for too short or too long a time.
    pub fn apply(&self, timers: &Timers, at: Moment) -> Result<Applied, Refusal> {
        at.within(&self.at, timers.rinse_least_s, timers.rinse_most_s)?;
        Ok(Applied { rinsed: self.clone(), at })
    }

    /// When rinsing was begun.
    pub fn at(&self) -> &Moment {
        &self.at
    }
}

impl Applied {
    /// The scan was started.
    ///
    /// # Errors
    /// Before the wait is over, or long after it.
    pub fn start(&self, timers: &Timers, at: Moment) -> Result<Started, Refusal> {
        at.within(&self.at, timers.wait_least_s, timers.wait_most_s)?;
        Ok(Started { applied: self.clone(), at })
    }

    /// When the drop was applied.
    pub fn at(&self) -> &Moment {
        &self.at
    }
}

impl Started {
    /// The file of the scan was handed in.
    ///
    /// # Errors
    /// Sooner than the scan can have been over, or far too late.
    pub fn measure(&self, timers: &Timers, file: StepFile, at: Moment) -> Result<Measured, Refusal> {
        at.within(&self.at, timers.scan_least_s, timers.file_most_s)?;
        Ok(Measured { started: self.clone(), file, at })
    }

    /// When the scan was started.
    pub fn at(&self) -> &Moment {
        &self.at
    }
}

impl Measured {
    /// The strip.
    pub fn strip(&self) -> &Strip {
        self.started.applied.rinsed.tempered.chosen.strip.get()
    }

    /// Temperature of what was measured, °C.
    pub fn temperature_c(&self) -> f64 {
        self.started.applied.rinsed.tempered.temperature_c
    }

    /// The file.
    pub fn file(&self) -> &StepFile {
        &self.file
    }

    /// When the scan was started.
    pub fn scanned_at(&self) -> &Moment {
        &self.started.at
    }

    /// When the file was handed in.
    pub fn at(&self) -> &Moment {
        &self.at
    }
}

impl Living {
    /// The control strip, once the laboratory has said that it reads what it should.
    pub(crate) fn shown_by(control: Measured) -> Self {
        Self { control }
    }

    /// The control strip.
    pub fn control(&self) -> &Measured {
        &self.control
    }
}

impl Purpose {
    /// The word in the keys of texts.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Control => "control",
            Self::Sample(_) => "sample",
            Self::Second(..) => "second",
        }
    }

    /// The control that it rests on.
    pub fn living(&self) -> Option<&Living> {
        match self {
            Self::Control => None,
            Self::Sample(living) | Self::Second(living, _) => Some(living),
        }
    }

    /// Whether a strip is of the control's box, where there was a control.
    ///
    /// # Errors
    /// It is of another one.
    pub(crate) fn same_box(&self, strip: &Strip) -> Result<(), Refusal> {
        match self.living().map(|living| &living.control().strip().lot.code) {
            Some(control) if *control != strip.lot.code => {
                Err(Refusal::StripOfOtherLot { strip: strip.code(), control_lot: control.clone() })
            }
            _ => Ok(()),
        }
    }
}
