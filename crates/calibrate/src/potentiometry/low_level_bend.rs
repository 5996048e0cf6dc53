//! The bend at low levels as a curve: where the membrane's own ions take over.

use super::response::Response;
use super::{
    IntervalEstimate, IonReading, PotentiometryError, require_coverage, require_different_activities,
    require_usable,
};

/// `E = E° + S log₁₀(a + L)` of one electrode.
#[derive(Debug, Clone, PartialEq)]
pub struct LowLevelBend {
    /// `E°`, V.
    pub standard_potential_v: IntervalEstimate,
    /// `S`, V a decade.
    pub slope_v_per_decade: IntervalEstimate,
    /// log₁₀ of `L`, mol/L.
    pub log10_limit: IntervalEstimate,
    /// `L` itself, mol/L: where the line and the curve's own plateau meet, which is the detection limit.
    pub limit: IntervalEstimate,
    /// Standard deviation of a potential about the curve, V.
    pub residual_sd_v: f64,
    /// Readings minus three.
    pub degrees_of_freedom: usize,
}

/// Different activities that the bend needs: two for the line, one for the bend, one for the scatter.
const ACTIVITIES_NEEDED: usize = 4;

/// Fits line and bend together.
///
/// `L` is what the solution seems to hold of the ion when nothing was added: from the membrane, from the reagents, or another ion
/// in constant amount. All readings count, so no one has to say where the line ends and the plateau begins; as
/// [`super::intersection_limit`] has to, whose plateau is rarely flat.
///
/// # Units
/// Activities in mol/L, potentials in V. The interval of `L` is that of its logarithm, carried over.
///
/// # Errors
/// [`PotentiometryError`] for unusable readings, fewer than four activities, or readings that do not reach the bend.
///
/// # Source
/// IUPAC 1976 (Pure Appl. Chem. 48, 127), detection limit as the meeting point of the extrapolated segments, which for this
/// curve is `a = L` exactly; the curve: Nikolsky–Eisenman with a constant second term.
///
/// # Example
/// ```
/// use stillwell_calibrate::{IonReading, low_level_bend};
/// let readings: Vec<IonReading> = [(1e-7, 0.5294), (1e-6, 0.5202), (1e-5, 0.4855), (1e-4, 0.4315), (1e-3, 0.3739), (1e-2, 0.3160)]
///     .iter().map(|&(activity, potential_v)| IonReading { label: format!("{activity}"), activity, interferents: vec![], potential_v })
///     .collect();
/// let bend = low_level_bend(&readings, 0.95)?;
/// assert!(bend.limit.low < 2e-6 && 2e-6 < bend.limit.high);
/// # Ok::<(), stillwell_calibrate::PotentiometryError>(())
/// ```
pub fn low_level_bend(readings: &[IonReading], coverage: f64) -> Result<LowLevelBend, PotentiometryError> {
    require_coverage(coverage)?;
    require_usable(readings, 0)?;
    require_different_activities(readings, ACTIVITIES_NEEDED)?;
    let response = Response {
        activities: readings.iter().map(|r| r.activity).collect(),
        terms: vec![vec![1.0]; readings.len()],
        potentials_v: readings.iter().map(|r| r.potential_v).collect(),
    };
    let fit = response.fit(coverage, &["the level of the bend".to_owned()])?;
    let [log] = fit.logs[..] else {
        return Err(PotentiometryError::Fit(stillwell_stats::StatsError::NoColumns));
    };
    let plain = |v: f64| libm::pow(10.0, v);
    let limit = plain(log.value);
    Ok(LowLevelBend {
        standard_potential_v: fit.standard_potential_v,
        slope_v_per_decade: fit.slope_v_per_decade,
        log10_limit: log,
        limit: IntervalEstimate {
            value: limit,
            standard_error: limit * core::f64::consts::LN_10 * log.standard_error,
            low: plain(log.low),
            high: plain(log.high),
        },
        residual_sd_v: fit.residual_sd_v,
        degrees_of_freedom: fit.degrees_of_freedom,
    })
}
