//! The reference electrode: a fixed error, a drift, and the shift of a chloride-sensitive pseudo-reference.

use crate::temperature::thermal_voltage_v;

/// How the reference electrode stands to the one against which the formal potentials are stated, positive when its
/// potential is too high (peaks then appear at too low a programmed potential).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reference {
    /// Constant offset, V.
    pub offset_v: f64,
    /// Drift, V/s, from the start of the scan on.
    pub drift_v_per_s: f64,
    /// A bare silver/silver chloride strip: chloride in this sample over the chloride for which the formal potentials
    /// hold, as activities. `None` for a reference with its own filling.
    pub chloride_ratio: Option<f64>,
}

impl Reference {
    /// Constant part of the shift, V: offset − (RT/F) ln(chloride ratio), about −59 mV a decade at 25 °C.
    ///
    /// # Source
    /// Nernst equation of the silver chloride electrode; IUPAC Recommendations 2019 (PAC 92, 641).
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_twin::Reference;
    /// let saline = Reference { chloride_ratio: Some(10.0), ..Reference::default() };
    /// assert!((saline.shift_v(298.15) + 0.05916).abs() < 1e-5);
    /// ```
    pub fn shift_v(&self, temperature_k: f64) -> f64 {
        let chloride_v =
            self.chloride_ratio.map_or(0.0, |ratio| thermal_voltage_v(temperature_k) * libm::log(ratio));
        self.offset_v - chloride_v
    }
}
