//! Has the potential settled? Drift at the end of a record, with an interval, against a stated limit.

use super::{IntervalEstimate, PotentiometryError, require_coverage, two_sided_t};
use stillwell_stats::{Fit, lag_1_autocorrelation, mean, polynomial_least_squares};

/// What is looked at, and what counts as settled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlateauSettings {
    /// The last seconds of the record that are judged, s.
    pub window_s: f64,
    /// Largest drift of a settled potential, V a minute, without sign. 0.0001 V a minute (0.1 mV) is common practice, no source.
    pub limit_v_per_min: f64,
    /// Smallest step of the meter, V: readings that all agree may still hide a drift of one step over the window.
    pub resolution_v: f64,
    /// Two-sided coverage of the drift's interval.
    pub coverage: f64,
}

/// Whether a potential has settled; decided by the whole interval of the drift, not by the estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlateauVerdict {
    /// The whole interval lies within the limit.
    Settled,
    /// The whole interval lies beyond the limit.
    Drifting,
    /// The interval reaches over the limit, so neither is shown.
    NotShown,
}

impl PlateauVerdict {
    /// What the verdict means, and what to do.
    pub fn words(self) -> &'static str {
        match self {
            Self::Settled => "The potential has settled: its drift is below the limit.",
            Self::Drifting => {
                "The potential still drifts by more than the limit: wait, stir evenly, or look at the electrode."
            }
            Self::NotShown => {
                "Whether the drift is below the limit cannot be told from these readings: they scatter too much or still bend, or the window is too short for the meter's steps. Wait longer."
            }
        }
    }
}

/// The end of a record.
#[derive(Debug, Clone, PartialEq)]
pub struct Plateau {
    /// Mean of the window, V; the reading, once settled.
    pub mean_v: f64,
    /// Readings in the window.
    pub n_readings: usize,
    /// Drift, V a minute. Where the record bends over the window its interval takes in the drift at either end of it.
    pub drift_v_per_min: IntervalEstimate,
    /// Whether the record bends over the window.
    pub is_bent: bool,
    /// Autocorrelation of the residuals from one reading to the next, 0 where none or negative.
    pub autocorrelation: f64,
    /// As how many independent readings they count.
    pub effective_readings: f64,
    /// What that says.
    pub verdict: PlateauVerdict,
}

/// Readings in the window that are needed: common practice, no source.
const READINGS_NEEDED: usize = 8;
/// Independent readings beyond the coefficients: at least one to show the scatter.
const INDEPENDENT_BEYOND: usize = 1;

/// Judges the last `window_s` of a record of potentials.
///
/// A line, and where its curvature is significant a parabola, is fitted to the window. Readings close in time depend on each
/// other: their number is reduced to `n (1 − r)/(1 + r)`, where `r` is the autocorrelation of the residuals, and the interval widened
/// accordingly; one step of the meter over the window is added to it.
///
/// # Units
/// Times in s, rising and about evenly spaced; potentials in V.
///
/// # Errors
/// [`PotentiometryError`] for unusable settings or numbers, times that do not rise, fewer than eight readings in the window, or
/// readings that depend on each other too much.
///
/// # Source
/// Reduced number of readings: Santer et al. 2000, J. Geophys. Res. 105 (D6), 7337; the meter's step: bound of the drift that
/// constant readings can hide; interval against a limit: Schuirmann 1987.
///
/// # Example
/// ```
/// use stillwell_calibrate::{PlateauSettings, PlateauVerdict, plateau};
/// let times_s: Vec<f64> = (0..60).map(|i| 5.0 * f64::from(i)).collect();
/// let settling_v: Vec<f64> = times_s.iter().map(|t| 0.21 + 0.01 * libm::exp(-t / 30.0) + 2e-5 * libm::sin(1.7 * t)).collect();
/// let settings = PlateauSettings { window_s: 120.0, limit_v_per_min: 1e-4, resolution_v: 1e-5, coverage: 0.95 };
/// assert_eq!(plateau(&times_s, &settling_v, &settings)?.verdict, PlateauVerdict::Settled);
/// assert_ne!(plateau(&times_s[..30], &settling_v[..30], &settings)?.verdict, PlateauVerdict::Settled);
/// # Ok::<(), stillwell_calibrate::PotentiometryError>(())
/// ```
pub fn plateau(
    times_s: &[f64],
    potentials_v: &[f64],
    settings: &PlateauSettings,
) -> Result<Plateau, PotentiometryError> {
    settings.require_usable()?;
    let (minutes, potentials) = window(times_s, potentials_v, settings.window_s)?;
    let (Some(first), Some(last)) = (minutes.first(), minutes.last()) else {
        return Err(too_few(0));
    };
    let (minutes_long, ends) = (last - first, [*first, *last]);
    let parabola = polynomial_least_squares(&minutes, &potentials, &[0, 1, 2], None)?;
    let counted = Counted::of(&parabola)?;
    let bend = counted.estimate(parabola.coefficients[2], parabola.standard_errors[2], settings.coverage);
    let is_bent = bend.low > 0.0 || bend.high < 0.0;
    let line = polynomial_least_squares(&minutes, &potentials, &[0, 1], None)?;
    let (counted, drift) = if is_bent {
        (counted, drift_at_ends(&parabola, ends, |v, s| counted.estimate(v, s, settings.coverage)))
    } else {
        let counted = Counted::of(&line)?;
        (counted, counted.estimate(line.coefficients[1], line.standard_errors[1], settings.coverage))
    };
    let hidden = settings.resolution_v / minutes_long;
    let drift = IntervalEstimate { low: drift.low - hidden, high: drift.high + hidden, ..drift };
    Ok(Plateau {
        mean_v: mean(&potentials)?,
        n_readings: potentials.len(),
        drift_v_per_min: drift,
        is_bent,
        autocorrelation: counted.autocorrelation,
        effective_readings: counted.effective,
        verdict: verdict(&drift, settings.limit_v_per_min),
    })
}

impl PlateauSettings {
    fn require_usable(&self) -> Result<(), PotentiometryError> {
        require_coverage(self.coverage)?;
        for (setting, found) in [
            ("the window", self.window_s),
            ("the limit of the drift", self.limit_v_per_min),
            ("the resolution", self.resolution_v),
        ] {
            if !(found > 0.0 && found.is_finite()) {
                let accepted = "a number above 0";
                return Err(PotentiometryError::SettingNotUsable { setting, found, accepted });
            }
        }
        Ok(())
    }
}

/// The window's times in minutes before its end, and its potentials.
fn window(
    times_s: &[f64],
    potentials_v: &[f64],
    window_s: f64,
) -> Result<(Vec<f64>, Vec<f64>), PotentiometryError> {
    if times_s.len() != potentials_v.len() {
        let (found, expected) = (potentials_v.len(), times_s.len());
        let what = "the record of potentials";
        return Err(stillwell_stats::StatsError::LengthMismatch { what, found, expected }.into());
    }
    for (row, (&time, &potential)) in times_s.iter().zip(potentials_v).enumerate() {
        for (what, found) in [("time", time), ("potential", potential)] {
            if !found.is_finite() {
                let (label, accepted) = (format!("reading {}", row + 1), "a finite number");
                return Err(PotentiometryError::NotUsable { label, what, found, accepted });
            }
        }
    }
    for (row, pair) in times_s.windows(2).enumerate() {
        if let [before_s, found_s] = *pair
            && found_s <= before_s
        {
            return Err(PotentiometryError::TimesNotRising { index: row + 2, found_s, before_s });
        }
    }
    let end = times_s.last().copied().unwrap_or_default();
    // A reading at the window's very edge belongs to it, however its time was rounded.
    let longest = window_s * (1.0 + 1e-9);
    let inside = times_s.iter().zip(potentials_v).filter(|(t, _)| end - **t <= longest);
    let (minutes, potentials): (Vec<f64>, Vec<f64>) = inside.map(|(t, v)| ((t - end) / 60.0, *v)).unzip();
    if minutes.len() < READINGS_NEEDED {
        return Err(too_few(minutes.len()));
    }
    Ok((minutes, potentials))
}

fn too_few(found: usize) -> PotentiometryError {
    let what = "readings in the window";
    PotentiometryError::TooFewReadings { what, found, needed: READINGS_NEEDED }
}

/// As how many independent readings those of a fit count.
#[derive(Clone, Copy)]
struct Counted {
    autocorrelation: f64,
    effective: f64,
    /// Coefficients of the fit.
    n_coefficients: f64,
    degrees_of_freedom: f64,
}

impl Counted {
    fn of(fit: &Fit) -> Result<Self, PotentiometryError> {
        let n = fit.residuals.len();
        // Residuals that do not vary depend on nothing.
        let autocorrelation = lag_1_autocorrelation(&fit.residuals).unwrap_or(0.0).max(0.0);
        let effective = n as f64 * (1.0 - autocorrelation) / (1.0 + autocorrelation);
        let needed = fit.coefficients.len() + INDEPENDENT_BEYOND;
        if effective < needed as f64 {
            return Err(PotentiometryError::TooFewIndependent {
                found: n,
                autocorrelation,
                effective,
                needed,
            });
        }
        let (n_coefficients, degrees_of_freedom) =
            (fit.coefficients.len() as f64, fit.degrees_of_freedom as f64);
        Ok(Self { autocorrelation, effective, n_coefficients, degrees_of_freedom })
    }

    fn estimate(&self, value: f64, standard_error: f64, coverage: f64) -> IntervalEstimate {
        let left = self.effective - self.n_coefficients;
        let widened = standard_error * libm::sqrt(self.degrees_of_freedom / left);
        IntervalEstimate::of(value, widened, two_sided_t(coverage, left))
    }
}

/// The parabola's drift at the window's end, with an interval that holds those of both ends.
fn drift_at_ends(
    parabola: &Fit,
    ends: [f64; 2],
    estimate: impl Fn(f64, f64) -> IntervalEstimate,
) -> IntervalEstimate {
    let c = &parabola.unscaled_covariance;
    let at = |minutes: f64| {
        let slope = parabola.coefficients[1] + 2.0 * minutes * parabola.coefficients[2];
        let variance = c[1][1] + 4.0 * minutes * (c[1][2] + minutes * c[2][2]);
        estimate(slope, parabola.residual_sd * libm::sqrt(variance.max(0.0)))
    };
    let [first, last] = ends.map(at);
    IntervalEstimate { low: last.low.min(first.low), high: last.high.max(first.high), ..last }
}

fn verdict(drift: &IntervalEstimate, limit: f64) -> PlateauVerdict {
    if drift.low >= -limit && drift.high <= limit {
        PlateauVerdict::Settled
    } else if drift.low > limit || drift.high < -limit {
        PlateauVerdict::Drifting
    } else {
        PlateauVerdict::NotShown
    }
}
