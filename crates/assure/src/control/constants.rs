//! Constants of control charts for normal values: what a range or a standard deviation of `n` values says of σ.

use stillwell_stats::distributions::ln_gamma;

use crate::QualityError;

/// Mean and standard deviation of the range of n = 2 to 25 standard normal values, integrated numerically from the
/// distribution of the range.
const RANGES: [(f64, f64); 24] = [
    (core::f64::consts::FRAC_2_SQRT_PI, 0.8525024664274),
    (1.692568750643, 0.8883680040451),
    (2.058750746008, 0.8798082028249),
    (2.325928947281, 0.8640819410994),
    (2.534412721223, 0.8480396861174),
    (2.704356751214, 0.8332053356221),
    (2.847200612091, 0.8198314897918),
    (2.970026324419, 0.8078342745531),
    (3.07750546167, 0.7970506735192),
    (3.172872703816, 0.7873146205501),
    (3.258455279744, 0.7784783412031),
    (3.335980354098, 0.7704162020635),
    (3.4067631082, 0.7630230956245),
    (3.471826889882, 0.7562114297277),
    (3.53198278611, 0.7499080894096),
    (3.587883961765, 0.7440517839604),
    (3.640063757938, 0.7385908533779),
    (3.688963023208, 0.7334814955186),
    (3.734950119597, 0.728686345707),
    (3.778335829843, 0.7241733407172),
    (3.819384643363, 0.7199148084339),
    (3.858323423285, 0.7158867354915),
    (3.895348148451, 0.7120681751476),
    (3.930629219507, 0.7084407658883),
];

/// The constants for subgroups of one size, in the letters of the standard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChartConstants {
    /// Values in a subgroup.
    pub n: usize,
    /// Mean of the range over σ.
    pub d2: f64,
    /// Standard deviation of the range over σ.
    pub d3: f64,
    /// Mean of the standard deviation over σ.
    pub c4: f64,
}

impl ChartConstants {
    /// Limits of means from the mean range: `3 / (d₂ √n)`.
    pub fn a2(&self) -> f64 {
        3.0 / (self.d2 * libm::sqrt(self.n as f64))
    }

    /// Limits of means from the mean standard deviation: `3 / (c₄ √n)`.
    pub fn a3(&self) -> f64 {
        3.0 / (self.c4 * libm::sqrt(self.n as f64))
    }

    /// Lower and upper limit of a standard deviation over the mean one, B₃ and B₄: `1 ∓ 3 √(1 − c₄²) / c₄`, not below 0.
    pub fn b3_b4(&self) -> [f64; 2] {
        let width = 3.0 * libm::sqrt(1.0 - self.c4 * self.c4) / self.c4;
        [f64::max(0.0, 1.0 - width), 1.0 + width]
    }

    /// Lower and upper limit of a range over the mean range, D₃ and D₄: `1 ∓ 3 d₃ / d₂`, not below 0.
    pub fn d3_d4(&self) -> [f64; 2] {
        let width = 3.0 * self.d3 / self.d2;
        [f64::max(0.0, 1.0 - width), 1.0 + width]
    }

    /// Limits of single values from the mean range: `3 / d₂`.
    pub fn e2(&self) -> f64 {
        3.0 / self.d2
    }
}

/// The constants for subgroups of `n` values.
///
/// # Errors
/// [`QualityError::Unusable`] below 2 and above 25.
///
/// # Source
/// ISO 7870-2:2013, table of coefficients; d₂ and d₃ integrated from the distribution of the range, c₄ from gamma functions.
///
/// # Example
/// ```
/// let five = stillwell_assure::control::chart_constants(5)?;
/// assert!((five.a2() - 0.577).abs() < 5e-4 && (five.d3_d4()[1] - 2.114).abs() < 1e-3);
/// # Ok::<(), stillwell_assure::QualityError>(())
/// ```
pub fn chart_constants(n: usize) -> Result<ChartConstants, QualityError> {
    let (d2, d3) = n.checked_sub(2).and_then(|at| RANGES.get(at)).copied().ok_or(QualityError::Unusable {
        what: "the size of a subgroup",
        found: n as f64,
        accepted: "2 to 25",
    })?;
    Ok(ChartConstants { n, d2, d3, c4: c4(n as f64) })
}

/// `c₄ = √(2/(n−1)) Γ(n/2) / Γ((n−1)/2)`, for any n above 1.
pub(crate) fn c4(n: f64) -> f64 {
    libm::sqrt(2.0 / (n - 1.0)) * libm::exp(ln_gamma(0.5 * n) - ln_gamma(0.5 * (n - 1.0)))
}
