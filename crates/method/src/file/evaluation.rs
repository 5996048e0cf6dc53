//! `[evaluation]`: from a raw scan to its signal.

use toml_edit::Item;

use super::section::{Bounds, Reader, Section};

/// How a scan becomes a signal.
#[derive(Debug, Clone, PartialEq)]
pub struct EvaluationPlan {
    /// What is done with the blank.
    pub blank: BlankUse,
    /// Removal of isolated spikes, counted and reported.
    pub despike: Option<DespikePlan>,
    /// Smoothing of the current.
    pub smooth: SmoothPlan,
    /// The line or curve under the peak.
    pub baseline: BaselinePlan,
    /// Where the peak is looked for and what of it is measured.
    pub peak: PeakPlan,
}

/// What is done with the blank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BlankUse {
    /// Subtracted point by point; a blank on another grid is refused.
    Subtract,
    /// Shifted by the estimated move of the reference first, within the reference's limit.
    Align,
    /// Not used.
    Ignore,
}

/// A single point further from its neighbours than all three limits is replaced by their median.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DespikePlan {
    /// Distance in robust standard deviations of the scan.
    pub limit: f64,
    /// Distance over the range of the four neighbours; 3 or more, so that no peak is touched.
    pub least_ratio: f64,
    /// Least distance, A.
    pub floor_a: f64,
}

/// Smoothing of the current.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SmoothPlan {
    /// As measured.
    None,
    /// Savitzky & Golay's local polynomial.
    SavitzkyGolay {
        /// Points, odd.
        window: u32,
        /// Degree of the polynomial.
        degree: u32,
    },
    /// Mean over a window.
    MovingAverage {
        /// Points, odd.
        window: u32,
    },
}

/// The line or curve under the peak.
#[derive(Debug, Clone, PartialEq)]
pub enum BaselinePlan {
    /// Zero current.
    None,
    /// A straight line through the means of two fixed windows.
    Line {
        /// Window on the less negative side, V.
        left_v: [f64; 2],
        /// Window on the more negative side, V.
        right_v: [f64; 2],
    },
    /// A straight line through the lowest point of each of two windows either side of the peak.
    Minima {
        /// Window on the less negative side, V.
        left_v: [f64; 2],
        /// Window on the more negative side, V.
        right_v: [f64; 2],
    },
    /// The common tangent under the peak.
    Tangent {
        /// Where the tangent may touch, V.
        window_v: [f64; 2],
    },
    /// A polynomial fitted to two windows either side of the peak.
    Polynomial {
        /// Degree.
        degree: u32,
        /// Window on the less negative side, V.
        left_v: [f64; 2],
        /// Window on the more negative side, V.
        right_v: [f64; 2],
    },
    /// Asymmetric least squares (Eilers 2003).
    AsymmetricLeastSquares {
        /// Stiffness λ.
        stiffness: f64,
        /// Weight of points above the curve.
        asymmetry: f64,
        /// Iterations before it is called not converged.
        iterations: u32,
    },
}

impl BaselinePlan {
    /// Its windows as the method states them, V.
    pub(crate) fn windows_v(&self) -> Vec<[f64; 2]> {
        match *self {
            Self::None | Self::AsymmetricLeastSquares { .. } => Vec::new(),
            Self::Tangent { window_v } => vec![window_v],
            Self::Line { left_v, right_v }
            | Self::Minima { left_v, right_v }
            | Self::Polynomial { left_v, right_v, .. } => vec![left_v, right_v],
        }
    }
}

/// Where the peak is looked for and what of it is measured.
#[derive(Debug, Clone, PartialEq)]
pub struct PeakPlan {
    /// The window, V, sorted.
    pub window_v: [f64; 2],
    /// The direction of the peak.
    pub direction: PeakDirection,
    /// What is measured.
    pub measure: MeasurePlan,
    /// A peak lower than this many times the noise is no peak.
    pub least_signal_to_noise: f64,
    /// A second maximum higher than this fraction of the first makes two peaks.
    pub second_peak_fraction: f64,
    /// The width at half height may differ from the calibration's by this fraction.
    pub width_tolerance: f64,
}

/// Direction of the current in a peak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PeakDirection {
    /// Negative current (IUPAC).
    Reduction,
    /// Positive current (IUPAC).
    Oxidation,
}

/// What of the peak is the signal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MeasurePlan {
    /// Height over the baseline at the vertex, A.
    Height,
    /// Area over the baseline, A·V.
    Area,
    /// Height over the baseline at this potential, V.
    HeightAt(f64),
}

pub(super) fn evaluation(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<EvaluationPlan> {
    let mut section = root.section(reader, "evaluation");
    let blank = section.choice(
        reader,
        "blank",
        &[("subtract", BlankUse::Subtract), ("align", BlankUse::Align), ("ignore", BlankUse::Ignore)],
    );
    if blank.is_none() && section.is_present() {
        section.missing(reader, "blank", "\"subtract\", \"align\" or \"ignore\"");
    }
    let despike = despike(reader, &mut section);
    let smooth = smooth(reader, &mut section);
    let baseline = baseline(reader, &mut section);
    let peak = peak(reader, &mut section);
    section.finish(reader);
    Some(EvaluationPlan { blank: blank?, despike, smooth: smooth?, baseline: baseline?, peak: peak? })
}

fn despike(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<DespikePlan> {
    let mut inner = section.section(reader, "despike");
    if !inner.is_present() {
        return None;
    }
    let plan = DespikePlan {
        limit: inner.number(reader, "limit", Bounds::POSITIVE).unwrap_or(8.0),
        least_ratio: inner.number(reader, "least_ratio", Bounds::THREE_OR_MORE).unwrap_or(3.0),
        floor_a: inner.number(reader, "floor_a", Bounds::NOT_NEGATIVE).unwrap_or(1e-9),
    };
    inner.finish(reader);
    Some(plan)
}

fn smooth(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<SmoothPlan> {
    let mut inner = section.section(reader, "smooth");
    if !inner.is_present() {
        return Some(SmoothPlan::None);
    }
    let kind = kind(reader, &mut inner, &["none", "savitzky-golay", "moving-average"])?;
    let plan = match kind {
        0 => Some(SmoothPlan::None),
        1 => {
            let window = odd(reader, &mut inner, "window", 3, 101);
            let degree = inner.count(reader, "degree", 1, 5).unwrap_or(2);
            window.map(|window| SmoothPlan::SavitzkyGolay { window, degree })
        }
        _ => odd(reader, &mut inner, "window", 3, 101).map(|window| SmoothPlan::MovingAverage { window }),
    };
    if let Some(SmoothPlan::SavitzkyGolay { window, degree }) = plan
        && degree >= window
    {
        reader.complain(inner.span(), "a degree not below the window fits every point", "widen the window");
    }
    inner.finish(reader);
    plan
}

fn baseline(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<BaselinePlan> {
    let mut inner = section.section(reader, "baseline");
    if !inner.is_present() {
        section.missing(reader, "baseline", "{ kind = \"line\", left_v = […], right_v = […] }");
        return None;
    }
    let kinds = ["none", "line", "minima", "tangent", "polynomial", "asymmetric-least-squares"];
    let plan = match kind(reader, &mut inner, &kinds)? {
        0 => Some(BaselinePlan::None),
        1 => sides(reader, &mut inner).map(|[left_v, right_v]| BaselinePlan::Line { left_v, right_v }),
        2 => sides(reader, &mut inner).map(|[left_v, right_v]| BaselinePlan::Minima { left_v, right_v }),
        3 => window(reader, &mut inner, "window_v").map(|window_v| BaselinePlan::Tangent { window_v }),
        4 => {
            let degree = inner.count(reader, "degree", 0, 4).unwrap_or(2);
            sides(reader, &mut inner).map(|[left_v, right_v]| BaselinePlan::Polynomial {
                degree,
                left_v,
                right_v,
            })
        }
        _ => Some(BaselinePlan::AsymmetricLeastSquares {
            stiffness: inner.number(reader, "stiffness", Bounds::POSITIVE).unwrap_or(1e5),
            asymmetry: inner.number(reader, "asymmetry", Bounds::FRACTION).unwrap_or(0.001),
            iterations: inner.count(reader, "iterations", 1, 500).unwrap_or(50),
        }),
    };
    inner.finish(reader);
    plan
}

fn peak(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<PeakPlan> {
    let mut inner = section.section(reader, "peak");
    if !inner.is_present() {
        section.missing(
            reader,
            "peak",
            "{ window_v = […], direction = \"reduction\", measure = \"height\" }",
        );
        return None;
    }
    let window_v = window(reader, &mut inner, "window_v");
    let direction = inner.choice(
        reader,
        "direction",
        &[("reduction", PeakDirection::Reduction), ("oxidation", PeakDirection::Oxidation)],
    );
    if direction.is_none() {
        inner.missing(reader, "direction", "\"reduction\" or \"oxidation\"");
    }
    let measure = measure(reader, &mut inner);
    let least_signal_to_noise =
        inner.number(reader, "least_signal_to_noise", Bounds::POSITIVE).unwrap_or(3.0);
    let second_peak_fraction = inner.number(reader, "second_peak_fraction", Bounds::FRACTION).unwrap_or(0.5);
    let width_tolerance = inner.number(reader, "width_tolerance", Bounds::FRACTION).unwrap_or(0.08);
    inner.finish(reader);
    Some(PeakPlan {
        window_v: window_v?,
        direction: direction?,
        measure: measure?,
        least_signal_to_noise,
        second_peak_fraction,
        width_tolerance,
    })
}

fn measure(reader: &mut Reader<'_>, inner: &mut Section<'_>) -> Option<MeasurePlan> {
    let at_v = inner.number(reader, "at_v", Bounds::POTENTIAL_V);
    let kinds = [("height", 0), ("area", 1), ("height-at", 2)];
    match (inner.choice(reader, "measure", &kinds).unwrap_or(0), at_v) {
        (0, None) => Some(MeasurePlan::Height),
        (1, None) => Some(MeasurePlan::Area),
        (2, Some(at_v)) => Some(MeasurePlan::HeightAt(at_v)),
        (2, None) => {
            inner.missing(reader, "at_v", "the potential in V");
            None
        }
        _ => {
            reader.complain(inner.span(), "`at_v` goes with measure = \"height-at\" only", "remove it");
            None
        }
    }
}

fn sides(reader: &mut Reader<'_>, inner: &mut Section<'_>) -> Option<[[f64; 2]; 2]> {
    let left_v = window(reader, inner, "left_v");
    let right_v = window(reader, inner, "right_v");
    Some([left_v?, right_v?])
}

fn kind(reader: &mut Reader<'_>, inner: &mut Section<'_>, words: &[&'static str]) -> Option<usize> {
    let choices: Vec<(&'static str, usize)> = words.iter().copied().zip(0..).collect();
    let there = inner.raw("kind").is_some();
    if !there {
        inner.missing(reader, "kind", &words.join(" | "));
    }
    inner.choice(reader, "kind", &choices)
}

fn window(reader: &mut Reader<'_>, inner: &mut Section<'_>, key: &'static str) -> Option<[f64; 2]> {
    let there: Option<&Item> = inner.raw(key);
    if there.is_none() {
        inner.missing(reader, key, "[from, to] in V");
        return None;
    }
    inner.span_of(reader, key)
}

fn odd(
    reader: &mut Reader<'_>,
    inner: &mut Section<'_>,
    key: &'static str,
    low: u32,
    high: u32,
) -> Option<u32> {
    let Some(item) = inner.raw(key) else {
        inner.missing(reader, key, "an odd number of points");
        return None;
    };
    let value = inner.count(reader, key, low, high)?;
    if value % 2 == 0 {
        return inner.wrong(reader, key, item, "an odd number of points, so that the window has a middle");
    }
    Some(value)
}
