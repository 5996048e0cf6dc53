//! What a build for one method may leave out.

use stillwell_evaluate::{Baseline, Measure};

use crate::error::TransferError;
use crate::frozen::Frozen;

impl Frozen {
    /// The `STW_WITHOUT_…` switches of `kernel.h` that fit this method: steps that it does not use. Constants that need
    /// a step that was left out are refused on the device.
    ///
    /// # Errors
    /// [`TransferError::SettingsNotUsable`].
    pub fn left_out(&self) -> Result<Vec<&'static str>, TransferError> {
        let settings = self.settings()?;
        let baseline = settings.baseline;
        let switches = [
            ("STW_WITHOUT_MINIMA", !matches!(baseline, Baseline::Minima { .. })),
            ("STW_WITHOUT_TANGENT", !matches!(baseline, Baseline::Tangent { .. })),
            ("STW_WITHOUT_POLYNOMIAL", !matches!(baseline, Baseline::Polynomial { .. })),
            ("STW_WITHOUT_AREA", !matches!(settings.peak.measure, Measure::Area(_))),
            ("STW_WITHOUT_SECOND_ORDER", self.calibration.curve.n_coefficients < 3),
        ];
        Ok(switches.into_iter().filter(|(_, is_unused)| *is_unused).map(|(name, _)| name).collect())
    }
}
