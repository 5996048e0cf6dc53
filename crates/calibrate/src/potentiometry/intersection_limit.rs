//! The detection limit as drawn with a ruler: where the line and the plateau, both extrapolated, meet.

use super::log_line::{LogLine, log_line};
use super::{IonReading, PotentiometryError, require_usable};
use stillwell_stats::{mean, polynomial_least_squares};

/// Line, plateau and where they meet.
#[derive(Debug, Clone, PartialEq)]
pub struct IntersectionLimit {
    /// Where they meet, mol/L.
    pub limit: f64,
    /// Lower end of its interval, as though the plateau were flat.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// The line above the bend.
    pub line: LogLine,
    /// Mean potential of the plateau, V.
    pub plateau_v: f64,
    /// Readings of the plateau.
    pub n_plateau: usize,
    /// The plateau's own slope as a share of the line's; `None` for one activity. Where it is not near 0 the plateau was not
    /// reached, and the limit is too high by about this share.
    pub plateau_slope_share: Option<f64>,
}

impl IntersectionLimit {
    /// Share above which the plateau is called not flat: common practice, no source.
    pub const LARGEST_SLOPE_SHARE: f64 = 0.02;

    /// Whether the plateau shows itself flat; one activity shows nothing.
    pub fn has_flat_plateau(&self) -> bool {
        self.plateau_slope_share.is_some_and(|share| share.abs() <= Self::LARGEST_SLOPE_SHARE)
    }
}

/// Draws the line through the readings from `line_from` upwards and the plateau through those up to `plateau_to`.
///
/// The interval is Fieller's, with the line's scatter for the plateau's mean too. It knows nothing of segments that reach into the
/// bend: for that choose them narrow, or take [`super::low_level_bend`].
///
/// # Units
/// Activities in mol/L, potentials in V.
///
/// # Errors
/// [`PotentiometryError`] as [`super::log_line`], for overlapping segments, an empty plateau, or segments that meet within the line.
///
/// # Source
/// IUPAC 1976 (Pure Appl. Chem. 48, 127) and 1994 (Pure Appl. Chem. 66, 2527), detection limit; bias of a plateau not yet
/// flat: recomputed, see `checks/potentiometry.toml`.
///
/// # Example
/// ```
/// use stillwell_calibrate::{IonReading, intersection_limit};
/// let readings: Vec<IonReading> = [(1e-8, 0.5305), (1e-7, 0.5294), (1e-5, 0.4855), (1e-4, 0.4315), (1e-3, 0.3739), (1e-2, 0.3160)]
///     .iter().map(|&(activity, potential_v)| IonReading { label: format!("{activity}"), activity, interferents: vec![], potential_v })
///     .collect();
/// let found = intersection_limit(&readings, 1e-4, 1e-7, 0.95)?;
/// assert!((found.limit - 2e-6).abs() < 2e-7 && found.has_flat_plateau());
/// # Ok::<(), stillwell_calibrate::PotentiometryError>(())
/// ```
pub fn intersection_limit(
    readings: &[IonReading],
    line_from: f64,
    plateau_to: f64,
    coverage: f64,
) -> Result<IntersectionLimit, PotentiometryError> {
    require_usable(readings, 0)?;
    if plateau_to.is_nan() || line_from.is_nan() || plateau_to >= line_from {
        return Err(PotentiometryError::SegmentsOverlap { plateau_to, line_from });
    }
    let above: Vec<IonReading> = readings.iter().filter(|r| r.activity >= line_from).cloned().collect();
    let below: Vec<&IonReading> = readings.iter().filter(|r| r.activity <= plateau_to).collect();
    if below.is_empty() {
        let what = "readings of the plateau";
        return Err(PotentiometryError::TooFewReadings { what, found: 0, needed: 1 });
    }
    let line = log_line(&above, coverage)?;
    let potentials: Vec<f64> = below.iter().map(|r| r.potential_v).collect();
    let plateau_v = mean(&potentials)?;
    let n_readings = u32::try_from(below.len()).unwrap_or(u32::MAX);
    let [limit, low, high] = line.extrapolated_log(plateau_v, n_readings)?.map(|log| libm::pow(10.0, log));
    if limit >= line_from {
        return Err(PotentiometryError::NoBend { limit, line_from });
    }
    let logs: Vec<f64> = below.iter().map(|r| libm::log10(r.activity)).collect();
    let slope = slope_of(&logs, &potentials);
    Ok(IntersectionLimit {
        limit,
        low,
        high,
        plateau_v,
        n_plateau: below.len(),
        plateau_slope_share: slope.map(|slope| slope / line.slope_v_per_decade.value),
        line,
    })
}

/// Least-squares slope; `None` where all `x` are the same.
fn slope_of(x: &[f64], y: &[f64]) -> Option<f64> {
    if let ([x1, x2], [y1, y2]) = (x, y) {
        let slope = (y2 - y1) / (x2 - x1);
        return slope.is_finite().then_some(slope);
    }
    polynomial_least_squares(x, y, &[0, 1], None).ok().map(|fit| fit.coefficients[1])
}
