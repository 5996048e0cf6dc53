//! What temperature changes: the Nernst slope, and rates by Arrhenius' law.

/// Faraday constant, C/mol.
///
/// # Source
/// CODATA 2022, exact: e × Avogadro constant.
pub const FARADAY_C_PER_MOL: f64 = 96485.33212331001;

/// Molar gas constant, J/(mol K).
///
/// # Source
/// CODATA 2022, exact: Boltzmann constant × Avogadro constant.
pub const GAS_CONSTANT_J_PER_MOL_K: f64 = 8.31446261815324;

/// The temperature at which diffusion coefficients and rate constants of a cell are stated: 25 °C.
pub const REFERENCE_TEMPERATURE_K: f64 = 298.15;

/// RT/F, V: 25.69 mV at 25 °C; times ln 10 the Nernst slope of a one-electron couple, 59.16 mV a decade.
///
/// # Source
/// IUPAC Recommendations 2019 (PAC 92, 641), Nernst equation.
///
/// # Example
///
/// ```
/// let slope_v = stillwell_twin::thermal_voltage_v(298.15) * core::f64::consts::LN_10;
/// assert!((slope_v - 0.05916).abs() < 1e-5);
/// ```
pub fn thermal_voltage_v(temperature_k: f64) -> f64 {
    GAS_CONSTANT_J_PER_MOL_K * temperature_k / FARADAY_C_PER_MOL
}

/// exp(−(Eₐ/R)(1/T − 1/298.15 K)): the factor on a rate constant or diffusion coefficient stated at 25 °C.
///
/// # Source
/// Arrhenius' law; IUPAC Gold Book, "Arrhenius equation".
///
/// # Example
///
/// ```
/// // 17 kJ/mol, usual for ions in water: about 2.3 % a kelvin.
/// let factor = stillwell_twin::arrhenius_factor(17e3, 299.15);
/// assert!((factor - 1.023).abs() < 1e-3);
/// ```
pub fn arrhenius_factor(activation_j_per_mol: f64, temperature_k: f64) -> f64 {
    let reciprocal = 1.0 / temperature_k - 1.0 / REFERENCE_TEMPERATURE_K;
    libm::exp(-activation_j_per_mol / GAS_CONSTANT_J_PER_MOL_K * reciprocal)
}
