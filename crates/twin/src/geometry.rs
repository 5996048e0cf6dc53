//! The electrode's shape, and the expanding grid on which concentrations live.

/// Shape of the electrode. Diffusion is perpendicular to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Geometry {
    /// A plane of this area, m²: for strips and films whose shape does not matter.
    Plane {
        /// Area, m².
        area_m2: f64,
    },
    /// A disc large against the diffusion layer: a plane of π r².
    Disc {
        /// Radius, m.
        radius_m: f64,
    },
    /// A whole sphere.
    Sphere {
        /// Radius, m.
        radius_m: f64,
    },
    /// Half a sphere on an insulating plane.
    Hemisphere {
        /// Radius, m.
        radius_m: f64,
    },
}

impl Geometry {
    /// Area of the surface, m².
    ///
    /// # Example
    ///
    /// ```
    /// let disc = stillwell_twin::Geometry::Disc { radius_m: 1.5e-3 };
    /// assert!((disc.area_m2() - 7.0686e-6).abs() < 1e-10);
    /// ```
    pub fn area_m2(self) -> f64 {
        use core::f64::consts::PI;
        match self {
            Self::Plane { area_m2 } => area_m2,
            Self::Disc { radius_m } => PI * radius_m * radius_m,
            Self::Sphere { radius_m } => 4.0 * PI * radius_m * radius_m,
            Self::Hemisphere { radius_m } => 2.0 * PI * radius_m * radius_m,
        }
    }

    /// Radius of curvature, m; `None` for a plane.
    pub(crate) fn curvature_radius_m(self) -> Option<f64> {
        match self {
            Self::Plane { .. } | Self::Disc { .. } => None,
            Self::Sphere { radius_m } | Self::Hemisphere { radius_m } => Some(radius_m),
        }
    }

    /// The stated size, for messages.
    pub(crate) fn size(self) -> f64 {
        match self {
            Self::Plane { area_m2 } => area_m2,
            Self::Disc { radius_m } | Self::Sphere { radius_m } | Self::Hemisphere { radius_m } => radius_m,
        }
    }
}

/// Nodes at x(y) = first (gʸ − 1)/(g − 1), y = 0, 1, 2 …, the first on the surface, the last at the far end; control
/// volumes end half-way between nodes in y, so that fluxes are second order in the spacing of y.
#[derive(Debug, Clone, PartialEq)]
#[expect(clippy::struct_field_names, reason = "the unit belongs to the name")]
pub(crate) struct Grid {
    pub(crate) position_m: Vec<f64>,
    /// Volume of each node per area of the electrode, m.
    pub(crate) volume_m: Vec<f64>,
    /// From each node to the next: conductance per diffusion coefficient and area of the electrode, 1/m.
    pub(crate) conductance_per_m: Vec<f64>,
}

impl Grid {
    /// A grid whose first step is `first_m` or a little less, growing by `growth`, ending exactly at `length_m`.
    pub(crate) fn new(first_m: f64, growth: f64, length_m: f64, radius_m: Option<f64>) -> Self {
        let ln_growth = libm::log(growth);
        let n_steps = libm::log(1.0 + length_m / first_m * (growth - 1.0)) / ln_growth;
        let n_steps = libm::ceil(n_steps.clamp(3.0, 1e5));
        let scale = length_m / (libm::exp(n_steps * ln_growth) - 1.0);
        let at = |y: f64| scale * (libm::exp(y * ln_growth) - 1.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped above")]
        let n_nodes = n_steps as usize + 1;
        let position_m: Vec<f64> = (0..n_nodes).map(|i| at(i as f64)).collect();
        let face = |i: usize| match i {
            0 => 0.0,
            i if i == n_nodes => length_m,
            i => at(i as f64 - 0.5),
        };
        let volume_m = (0..n_nodes).map(|i| shell(face(i), face(i + 1), radius_m)).collect();
        let conductance_per_m =
            position_m.windows(2).map(|pair| conductance(pair[0], pair[1], radius_m)).collect();
        Self { position_m, volume_m, conductance_per_m }
    }
}

/// Volume between two distances from the surface per area of the electrode.
fn shell(from_m: f64, to_m: f64, radius_m: Option<f64>) -> f64 {
    let thickness_m = to_m - from_m;
    let Some(r) = radius_m else { return thickness_m };
    let (a, b) = (from_m / r, to_m / r);
    thickness_m * (1.0 + a + b + (a * a + a * b + b * b) / 3.0)
}

/// Exact steady conductance of a shell: D/Δx for a plane, times (1 + x₁/r)(1 + x₂/r) for a sphere.
pub(crate) fn conductance(from_m: f64, to_m: f64, radius_m: Option<f64>) -> f64 {
    let plane = 1.0 / (to_m - from_m);
    radius_m.map_or(plane, |r| plane * (1.0 + from_m / r) * (1.0 + to_m / r))
}
