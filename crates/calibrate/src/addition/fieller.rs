//! Fieller's interval for the ratio of two estimates with a common spread.

/// Two estimates and the covariance of their errors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ratio {
    pub(crate) numerator: f64,
    pub(crate) denominator: f64,
    pub(crate) numerator_variance: f64,
    pub(crate) denominator_variance: f64,
    pub(crate) covariance: f64,
}

impl Ratio {
    pub(crate) fn value(&self) -> f64 {
        self.numerator / self.denominator
    }

    /// All ratios `C` for which `(a − C b)² ≤ t² var(a − C b)`; `None` where they reach to infinity.
    ///
    /// The discriminant is written without the difference of two large squares.
    ///
    /// # Source
    /// Fieller 1954, J. R. Statist. Soc. B 16, 175.
    pub(crate) fn interval(&self, t: f64) -> Option<[f64; 2]> {
        let Self { numerator: a, denominator: b, .. } = *self;
        let (va, vb, cab) = (self.numerator_variance, self.denominator_variance, self.covariance);
        let leading = b * b - t * t * vb;
        if leading.is_nan() || leading <= 0.0 {
            return None;
        }
        let middle = a * b - t * t * cab;
        let spread = a * a * vb + b * b * va - 2.0 * a * b * cab - t * t * (va * vb - cab * cab);
        let root = t * libm::sqrt(spread.max(0.0));
        Some([(middle - root) / leading, (middle + root) / leading])
    }

    /// First-order standard uncertainty of the ratio.
    pub(crate) fn standard_uncertainty(&self) -> f64 {
        let c = self.value();
        let variance =
            self.numerator_variance - 2.0 * c * self.covariance + c * c * self.denominator_variance;
        libm::sqrt(variance.max(0.0)) / self.denominator.abs()
    }

    /// `t²` times the relative variance of the denominator: above 0.1 the interval is plainly lopsided, at 1 unbounded.
    pub(crate) fn g(&self, t: f64) -> f64 {
        t * t * self.denominator_variance / (self.denominator * self.denominator)
    }
}
