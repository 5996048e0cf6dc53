//! Bringing a sample's signal to the temperature of its calibration.

use libm::sqrt;

/// How a method treats temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TemperatureRule {
    /// Lowest and highest temperature that it covers (°C).
    pub span_c: [f64; 2],
    /// Difference to the calibration that is left alone (K).
    pub tolerance_k: f64,
    /// Relative change of the signal per K and its standard uncertainty, if known.
    pub coefficient_per_k: Option<(f64, f64)>,
}

/// What brings a signal to the calibration's temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TemperatureCorrection {
    /// The signal times this.
    pub factor: f64,
    /// Relative standard uncertainty of it.
    pub relative_u: f64,
}

/// Why a sample's signal cannot be brought there: a cold well reads low.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TemperatureRefusal {
    /// The sample's temperature is not stated.
    SampleNotStated,
    /// It lies outside what the method covers.
    OutsideSpan,
    /// The standards' temperature is not stated.
    CalibrationNotStated,
    /// The two differ, and the method has no coefficient.
    NoCoefficient,
    /// The coefficient would leave no signal at all.
    NoSignalLeft,
}

impl TemperatureCorrection {
    /// Of a method that does not ask for the temperature.
    pub const NONE: Self = Self { factor: 1.0, relative_u: 0.0 };
}

impl TemperatureRule {
    /// The factor that brings a signal to the calibration's temperature.
    ///
    /// signal(T) = signal(T₀) (1 + a (T − T₀)). A difference within the tolerance is left alone; what it may do to the signal is
    /// carried as uncertainty where the coefficient is known.
    ///
    /// # Units
    /// °C.
    ///
    /// # Errors
    /// [`TemperatureRefusal`].
    ///
    /// # Source
    /// Linear coefficient: common practice, no source; within the tolerance rectangular: JCGM 100:2008, 4.3.7.
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::{TemperatureRefusal, TemperatureRule};
    /// let rule = TemperatureRule { span_c: [4.0, 30.0], tolerance_k: 1.0, coefficient_per_k: Some((0.02, 0.002)) };
    /// let cold = rule.correction(Some(10.0), Some(20.0))?;
    /// assert!((cold.factor - 1.25).abs() < 1e-15 && (cold.relative_u - 0.025).abs() < 1e-15);
    /// assert_eq!(rule.correction(None, Some(20.0)), Err(TemperatureRefusal::SampleNotStated));
    /// # Ok::<(), TemperatureRefusal>(())
    /// ```
    pub fn correction(
        &self,
        sample_c: Option<f64>,
        calibration_c: Option<f64>,
    ) -> Result<TemperatureCorrection, TemperatureRefusal> {
        let [low, high] = self.span_c;
        let stated = sample_c.filter(|at_c| at_c.is_finite());
        let sample_c = stated.ok_or(TemperatureRefusal::SampleNotStated)?;
        if sample_c < low || sample_c > high {
            return Err(TemperatureRefusal::OutsideSpan);
        }
        let difference_k = sample_c - calibration_c.ok_or(TemperatureRefusal::CalibrationNotStated)?;
        let is_near = difference_k.abs() <= self.tolerance_k;
        let Some((per_k, u_per_k)) = self.coefficient_per_k else {
            return if is_near {
                Ok(TemperatureCorrection::NONE)
            } else {
                Err(TemperatureRefusal::NoCoefficient)
            };
        };
        if is_near {
            let relative_u = (per_k * difference_k).abs() / sqrt(3.0);
            return Ok(TemperatureCorrection { factor: 1.0, relative_u });
        }
        let relative = 1.0 + per_k * difference_k;
        if relative > 0.0 {
            let relative_u = (u_per_k * difference_k / relative).abs();
            Ok(TemperatureCorrection { factor: 1.0 / relative, relative_u })
        } else {
            Err(TemperatureRefusal::NoSignalLeft)
        }
    }
}
