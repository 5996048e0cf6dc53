//! When a step was taken: by the device's steady clock, which only measures durations, and by the receipt, which knows the day.
//!
//! The device's calendar clock is shown and never believed. A steady clock may stand still while a phone sleeps, so that "too
//! early" is judged by it and "too late" by whichever of the two clocks says more.

use stillwell_study::StepTime;

use crate::refusal::Refusal;

/// How much more than the receipts' clock a steady clock may have run, ms: the slowest delivery over a weak link that is still
/// believed (common practice, no source).
const TOLERANCE_MS: i64 = 60_000;

/// A step's moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moment {
    boot: String,
    steady_ms: u64,
    receipt_ms: i64,
    waited_ms: i64,
    device_clock_ms: i64,
}

/// How long something took, between what the two clocks say, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Elapsed {
    /// By the steady clock.
    pub least_s: f64,
    /// By whichever clock says more.
    pub most_s: f64,
}

impl Moment {
    /// The moment of a step.
    ///
    /// # Errors
    /// A step that was handed in before it was taken.
    pub fn of(when: &StepTime) -> Result<Self, Refusal> {
        let age_ms = when.handed_in_steady_ms.checked_sub(when.steady_ms);
        let age_ms = age_ms.and_then(|age| i64::try_from(age).ok()).ok_or(Refusal::DeviceClock)?;
        let receipt_ms = when.received_ms.checked_sub(age_ms).ok_or(Refusal::DeviceClock)?;
        Ok(Self {
            boot: when.boot.clone(),
            steady_ms: when.steady_ms,
            receipt_ms,
            waited_ms: age_ms,
            device_clock_ms: when.device_clock_ms,
        })
    }

    /// How long after `earlier` this was.
    ///
    /// # Errors
    /// The device was restarted in between, so that its steady clock says nothing; or that clock went back, or ran away.
    pub fn since(&self, earlier: &Self) -> Result<Elapsed, Refusal> {
        if self.boot != earlier.boot {
            return Err(Refusal::DeviceRestarted);
        }
        let steady_ms = self.steady_ms.checked_sub(earlier.steady_ms).ok_or(Refusal::DeviceClock)?;
        let steady_ms = i64::try_from(steady_ms).map_err(|_too_long| Refusal::DeviceClock)?;
        let received_ms = self.receipt_ms.saturating_sub(earlier.receipt_ms);
        if steady_ms.saturating_sub(received_ms) > TOLERANCE_MS {
            return Err(Refusal::DeviceClock);
        }
        Ok(Elapsed { least_s: steady_ms as f64 / 1000.0, most_s: steady_ms.max(received_ms) as f64 / 1000.0 })
    }

    /// The same, between `least_s` and `most_s`.
    ///
    /// # Errors
    /// As [`Self::since`]; too early, too late.
    pub fn within(&self, earlier: &Self, least_s: f64, most_s: f64) -> Result<Elapsed, Refusal> {
        let elapsed = self.since(earlier)?;
        if elapsed.least_s < least_s {
            // Whole seconds, rounded up, so that who waits so long is never turned away again.
            return Err(Refusal::TooEarly { wait_s: whole_seconds_up(least_s - elapsed.least_s) });
        }
        if elapsed.most_s > most_s {
            return Err(Refusal::TooLate { after_s: elapsed.most_s, most_s });
        }
        Ok(elapsed)
    }

    /// By how much the calendar clock was set since `earlier`, s, where that is more than a minute.
    pub fn clock_set_since(&self, earlier: &Self) -> Option<f64> {
        if self.boot != earlier.boot {
            return None;
        }
        let steady_ms =
            i64::try_from(self.steady_ms).ok()?.saturating_sub(i64::try_from(earlier.steady_ms).ok()?);
        let calendar_ms = self.device_clock_ms.saturating_sub(earlier.device_clock_ms);
        let set_ms = calendar_ms.saturating_sub(steady_ms);
        (set_ms.saturating_abs() > TOLERANCE_MS).then_some(set_ms as f64 / 1000.0)
    }

    /// How long after `earlier` this was at the most, s: for what must not be too long ago. It needs no steady clock.
    pub fn most_since_s(&self, earlier: &Self) -> f64 {
        let received_ms = self.receipt_ms.saturating_sub(earlier.receipt_ms);
        let steady_ms = if self.boot == earlier.boot {
            i64::try_from(self.steady_ms.saturating_sub(earlier.steady_ms)).unwrap_or(i64::MAX)
        } else {
            0
        };
        received_ms.max(steady_ms) as f64 / 1000.0
    }

    /// How long the step waited on the device before it was handed in, s.
    pub fn waited_s(&self) -> f64 {
        self.waited_ms as f64 / 1000.0
    }

    /// By the receipt, ms since 1970.
    pub fn receipt_ms(&self) -> i64 {
        self.receipt_ms
    }

    /// The steady clock, ms: for a countdown on the device.
    pub fn steady_ms(&self) -> u64 {
        self.steady_ms
    }

    /// The day by the receipt, UTC, `2026-05-12`.
    pub fn day(&self) -> String {
        day_of_ms(self.receipt_ms)
    }
}

/// The day of a moment, UTC; empty where there is none.
pub(crate) fn day_of_ms(ms: i64) -> String {
    let stamp = jiff::Timestamp::from_millisecond(ms).map(|time| time.to_string()).unwrap_or_default();
    stamp.get(..10).unwrap_or_default().to_owned()
}

fn whole_seconds_up(seconds: f64) -> u64 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a positive number of seconds"
    )]
    let whole = seconds.max(0.0) as u64;
    whole + u64::from(seconds > whole as f64)
}
