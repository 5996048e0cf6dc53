//! The state of the electrode's surface: activation in its first scans, passivation with use.

/// How an electrode changes from scan to scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surface {
    /// Which scan of this electrode, from 1.
    pub scan_number: u32,
    /// Change of the area at which the couples and edges react.
    pub area: Wear,
    /// Change of the rate constants of all couples.
    pub rate: Wear,
}

impl Default for Surface {
    /// First scan of an electrode that does not change.
    fn default() -> Self {
        Self { scan_number: 1, area: Wear::NONE, rate: Wear::NONE }
    }
}

/// A share that rises over the first scans and falls with use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wear {
    /// What is missing at the first scan, 0 ≤ deficit < 1.
    pub activation_deficit: f64,
    /// Scans in which that falls to 1/e, positive.
    pub activation_scans: f64,
    /// Loss from each scan to the next, 0 ≤ loss < 1.
    pub passivation_per_scan: f64,
}

impl Wear {
    /// No change from scan to scan.
    pub const NONE: Self = Self { activation_deficit: 0.0, activation_scans: 1.0, passivation_per_scan: 0.0 };

    /// Share left at a scan: (1 − deficit e^(−(n−1)/scans)) (1 − loss)^(n−1).
    ///
    /// # Source
    /// Common practice, no source: the simplest form that rises, then falls.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_twin::Wear;
    /// let wear = Wear { activation_deficit: 0.2, activation_scans: 2.0, passivation_per_scan: 0.01 };
    /// assert_eq!(wear.share(1), 0.8);
    /// assert!(wear.share(5) > wear.share(1) && wear.share(100) < wear.share(5));
    /// ```
    pub fn share(&self, scan_number: u32) -> f64 {
        let before = f64::from(scan_number.saturating_sub(1));
        let active = 1.0 - self.activation_deficit * libm::exp(-before / self.activation_scans);
        active * libm::pow(1.0 - self.passivation_per_scan, before)
    }
}
