//! Invented lots of electrodes with known components, and how often the intervals cover them.

use stillwell_stats::StatsError;
use stillwell_stats::components::{
    ComponentEstimate, ComponentSettings, VarianceInterval, nested_components,
};
use stillwell_stats::random::RandomStream;

/// How the scans are laid out, and the standard deviations that made them.
pub(crate) struct Layout {
    pub(crate) name: &'static str,
    /// `scans[lot][electrode]`.
    pub(crate) scans: Vec<Vec<usize>>,
    pub(crate) sd_lot: f64,
    pub(crate) sd_electrode: f64,
    pub(crate) sd_scan: f64,
}

/// What is counted, in this order.
pub(crate) const NAMES: [&str; 5] = ["lot", "electrode", "scan", "within a lot", "all together"];

/// Share of the intervals that covered the truth, one a name, and their median width over the truth.
pub(crate) struct Coverage {
    pub(crate) shares: [f64; 5],
    pub(crate) relative_high: [f64; 5],
}

/// The layouts that are tried: balanced and not, lots that differ much, little or not at all.
pub(crate) fn layouts() -> Vec<Layout> {
    let balanced = |lots: usize, electrodes: usize, scans: usize| vec![vec![scans; electrodes]; lots];
    let uneven = vec![
        vec![3, 3, 3, 3, 3, 3],
        vec![3, 3],
        vec![2, 3, 1, 3],
        vec![5, 5, 5],
        vec![1, 1, 4],
        vec![3, 2, 3, 2, 3],
    ];
    let lopsided = vec![
        vec![3; 12],
        vec![2, 2],
        vec![2, 2],
        vec![1, 3],
        vec![10, 2],
        vec![2; 3],
        vec![3, 3],
        vec![4, 1],
    ];
    let few = vec![vec![2, 2, 2], vec![2, 2], vec![2, 2], vec![2, 2], vec![2, 2], vec![2, 2]];
    let of =
        |name, scans, sd_lot, sd_electrode, sd_scan| Layout { name, scans, sd_lot, sd_electrode, sd_scan };
    vec![
        of("6 lots x 4 electrodes x 3 scans, lots as electrodes", balanced(6, 4, 3), 3.0, 3.0, 1.0),
        of("6 lots x 4 electrodes x 3 scans, lots much", balanced(6, 4, 3), 8.0, 3.0, 1.0),
        of("6 lots x 4 electrodes x 3 scans, lots little", balanced(6, 4, 3), 0.7, 3.0, 1.0),
        of("6 lots x 4 electrodes x 3 scans, no lots", balanced(6, 4, 3), 0.0, 3.0, 1.0),
        of("10 lots x 3 electrodes x 2 scans, scans most", balanced(10, 3, 2), 1.0, 1.0, 4.0),
        of("6 uneven lots, lots as electrodes", uneven.clone(), 3.0, 3.0, 1.0),
        of("6 uneven lots, lots much", uneven.clone(), 8.0, 3.0, 1.0),
        of("6 uneven lots, scans most", uneven, 1.0, 1.0, 4.0),
        of("8 lopsided lots, lots as electrodes", lopsided.clone(), 3.0, 3.0, 1.0),
        of("8 lopsided lots, scans most", lopsided, 1.0, 1.0, 4.0),
        of("6 lots of 2 electrodes x 2 scans", few, 2.0, 2.0, 2.0),
    ]
}

/// Simulates `n` studies of the layout and counts.
pub(crate) fn coverage(layout: &Layout, seed: u64, n: u64) -> Result<Coverage, StatsError> {
    let (lot, electrode, scan) = (
        layout.sd_lot * layout.sd_lot,
        layout.sd_electrode * layout.sd_electrode,
        layout.sd_scan * layout.sd_scan,
    );
    let truths = [lot, electrode, scan, electrode + scan, lot + electrode + scan];
    let mut counts = [0.0_f64; 5];
    let mut highs = [const { Vec::new() }; 5];
    for index in 0..n {
        let study = simulate(layout, &mut RandomStream::new(seed, index));
        let intervals = intervals(&study)?;
        for (at, interval) in intervals.iter().enumerate() {
            counts[at] += f64::from(u8::from(interval.low <= truths[at] && truths[at] <= interval.high));
            highs[at].push(interval.high);
        }
    }
    let median = |mut values: Vec<f64>| {
        values.sort_by(f64::total_cmp);
        values[values.len() / 2]
    };
    let mut relative_high = highs.map(median);
    for (high, truth) in relative_high.iter_mut().zip(truths) {
        *high = if truth > 0.0 { libm::sqrt(*high / truth) } else { f64::INFINITY };
    }
    Ok(Coverage { shares: counts.map(|count| count / n as f64), relative_high })
}

fn simulate(layout: &Layout, random: &mut RandomStream) -> Vec<Vec<Vec<f64>>> {
    let mut study = Vec::with_capacity(layout.scans.len());
    for electrodes in &layout.scans {
        let of_lot = 100.0 + layout.sd_lot * random.normal();
        let mut lot = Vec::with_capacity(electrodes.len());
        for scans in electrodes {
            let of_electrode = of_lot + layout.sd_electrode * random.normal();
            lot.push((0..*scans).map(|_| of_electrode + layout.sd_scan * random.normal()).collect());
        }
        study.push(lot);
    }
    study
}

fn intervals(study: &[Vec<Vec<f64>>]) -> Result<[VarianceInterval; 5], StatsError> {
    let found = nested_components(study, ComponentSettings { coverage: 0.95, least_members: 6 })?;
    let few = StatsError::TooFewValues { what: "the lots", found: study.len(), needed: 6 };
    let lot = found.between_classes.estimate().ok_or(few.clone())?;
    let total = found.total.estimate().ok_or(few)?;
    let all: [ComponentEstimate; 5] =
        [lot, found.between_groups, found.within_groups, found.within_classes, total];
    Ok(all.map(|estimate| estimate.interval))
}
