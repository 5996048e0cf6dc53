//! `[trust]`: the limits of every automatic check of a raw scan.

use super::section::{Bounds, Reader, Section};

/// Limits of the checks of a raw scan. What is not stated keeps the default named beside each key; a check whose limit
/// has no default and is not stated is "not testable", never "passed".
///
/// The defaults are common practice, no source; the kernel's `TrustCheck` says what each check looks at.
#[derive(Debug, Clone, PartialEq)]
pub struct TrustPlan {
    /// Identical extreme readings in a row that make a clipped scan (4).
    pub clipping_run: u32,
    /// End of the instrument's current range on either side of zero, A, where it is known.
    pub range_a: Option<f64>,
    /// Points that may be missing (0).
    pub missing_points: u32,
    /// Points that may be repeated (0).
    pub repeated_points: u32,
    /// Largest deviation of a potential step, as a fraction of the step (0.25: potentials are printed coarsely).
    pub step_deviation: f64,
    /// Height of a spike in robust standard deviations (8).
    pub spike_units: f64,
    /// Height of a spike over the range of its neighbours (3).
    pub spike_ratio: f64,
    /// Smallest range of currents of a live scan, A (1 nA).
    pub least_range_a: f64,
    /// First points that are judged as possible start-up transient (5).
    pub start_up_points: u32,
    /// Deviation of these from the trend, in robust standard deviations (6).
    pub start_up_units: f64,
    /// Points of each end region for offset and drift (10).
    pub end_points: u32,
    /// Largest current at the foot of the scan, A.
    pub offset_a: Option<f64>,
    /// Largest standard deviation of the noise, A.
    pub noise_a: Option<f64>,
    /// Largest change of the gap between forward and reverse current, A.
    pub drift_a: Option<f64>,
    /// Fewest points of a scan (nine tenths of what the technique yields, at least 20).
    pub least_points: Option<u32>,
    /// Width of the peak at half height, V, where it is known.
    pub half_width_v: Option<f64>,
    /// Fewest points within that width (8).
    pub least_points_per_half_width: f64,
    /// Mains frequency, Hz (50).
    pub mains_hz: f64,
    /// Largest amplitude at the mains frequency, A.
    pub mains_a: Option<f64>,
    /// Current outside the peak over that of the standards, between which the drop counts as covering the electrode.
    pub coverage: Option<[f64; 2]>,
}

pub(super) fn trust(reader: &mut Reader<'_>, root: &mut Section<'_>) -> TrustPlan {
    let mut section = root.section(reader, "trust");
    let positive = Bounds::POSITIVE;
    let plan = TrustPlan {
        clipping_run: section.count(reader, "clipping_run", 2, 1000).unwrap_or(4),
        range_a: section.number(reader, "range_a", positive),
        missing_points: section.count(reader, "missing_points", 0, 1000).unwrap_or(0),
        repeated_points: section.count(reader, "repeated_points", 0, 1000).unwrap_or(0),
        step_deviation: section.number(reader, "step_deviation", Bounds::FRACTION).unwrap_or(0.25),
        spike_units: section.number(reader, "spike_units", positive).unwrap_or(8.0),
        spike_ratio: section.number(reader, "spike_ratio", positive).unwrap_or(3.0),
        least_range_a: section.number(reader, "least_range_a", positive).unwrap_or(1e-9),
        start_up_points: section.count(reader, "start_up_points", 1, 1000).unwrap_or(5),
        start_up_units: section.number(reader, "start_up_units", positive).unwrap_or(6.0),
        end_points: section.count(reader, "end_points", 3, 1000).unwrap_or(10),
        offset_a: section.number(reader, "offset_a", positive),
        noise_a: section.number(reader, "noise_a", Bounds::NOISE_A),
        drift_a: section.number(reader, "drift_a", positive),
        least_points: section.count(reader, "least_points", 5, 1_000_000),
        half_width_v: section.number(reader, "half_width_v", positive),
        least_points_per_half_width: section
            .number(reader, "least_points_per_half_width", positive)
            .unwrap_or(8.0),
        mains_hz: section.number(reader, "mains_hz", positive).unwrap_or(50.0),
        mains_a: section.number(reader, "mains_a", positive),
        coverage: coverage(reader, &mut section),
    };
    section.finish(reader);
    plan
}

/// The limits must lie on both sides of 1, or every sound scan would be refused.
fn coverage(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<[f64; 2]> {
    let [low, high] = section.span_of(reader, "coverage")?;
    if 0.0 < low && low < 1.0 && 1.0 < high {
        return Some([low, high]);
    }
    let item = section.raw("coverage")?;
    section.wrong(reader, "coverage", item, "two numbers on both sides of 1 such as [0.75, 1.35]")
}
