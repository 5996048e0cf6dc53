//! From a level in the measured solution to an interval for the sample: what the calibration does not hold, and the dilution.

use libm::sqrt;

/// Relative standard uncertainties that the calibration's interval does not hold.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RelativeUncertainty {
    /// Of the standards' levels, which all share.
    pub levels: f64,
    /// Of bringing the signal to the calibration's temperature.
    pub temperature: f64,
    /// Of the dilution factor.
    pub dilution: f64,
}

/// An interval for the sample and the half widths that it is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Widened {
    /// Value, low, high.
    pub interval: [f64; 3],
    /// Below and above the value: calibration and electrodes, levels, temperature, dilution.
    pub half_widths: [[f64; 2]; 4],
}

impl RelativeUncertainty {
    /// Widens value, low and high by the relative parts and scales them by the dilution.
    ///
    /// Half widths are added in quadrature: low' = x − √((x − low)² + (t x u)²), likewise above. The calibration's own
    /// interval is exact under its assumptions; with further parts the coverage is approximate. All relative parts use the
    /// calibration's t, which is wider than a normal quantile.
    ///
    /// # Units
    /// Levels; `t_quantile` and `dilution` have none.
    ///
    /// # Source
    /// JCGM 100:2008, 5.1.2.
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::RelativeUncertainty;
    /// let relative = RelativeUncertainty { levels: 0.02, ..RelativeUncertainty::default() };
    /// assert_eq!(relative.widened(2.0, [100.0, 97.0, 103.0], 2.0).interval, [200.0, 190.0, 210.0]);
    /// ```
    pub fn widened(self, t_quantile: f64, [value, low, high]: [f64; 3], dilution: f64) -> Widened {
        let relative =
            [self.levels, self.temperature, self.dilution].map(|part| t_quantile * part * value.abs());
        let in_quadrature = |own: f64| sqrt(relative.iter().fold(own * own, |sum, part| sum + part * part));
        let (below, above) = (in_quadrature(value - low), in_quadrature(high - value));
        let [levels, temperature, diluted] = relative.map(|part| [part * dilution; 2]);
        Widened {
            interval: [value * dilution, (value - below) * dilution, (value + above) * dilution],
            half_widths: [
                [(value - low) * dilution, (high - value) * dilution],
                levels,
                temperature,
                diluted,
            ],
        }
    }

    /// A lower bound of a level for the sample, with the relative parts taken off.
    ///
    /// # Units
    /// Levels; `t_quantile` and `dilution` have none.
    ///
    /// # Source
    /// JCGM 100:2008, 5.1.2.
    pub fn lowered(self, t_quantile: f64, low: f64, dilution: f64) -> f64 {
        let Self { levels, temperature, dilution: diluted } = self;
        let sum = levels * levels + temperature * temperature + diluted * diluted;
        let left = 1.0 - t_quantile * sqrt(sum);
        low * if left > 0.0 { left } else { 0.0 } * dilution
    }
}
