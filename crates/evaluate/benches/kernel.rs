//! Speed of the kernel on 600-point scans: whole pipeline in and out of cache, against copying, and baselines in lanes.
//!
//! `cargo bench -p stillwell-evaluate`. The example `bench_kernel` prints the same jobs for the peers.

use std::hint::black_box;
use std::time::Duration;

use criterion::{
    BenchmarkGroup, Criterion, Throughput, criterion_group, criterion_main, measurement::WallTime,
};
use stillwell_evaluate::{
    AsymmetricLeastSquares, Baseline, Blanks, Direction, Evaluator, IndexRange, Measure, PeakLimits,
    PeakSettings, Placement, Refusal, Settings, Signal, Smoother, Workspace,
};

const POINTS: usize = 600;
/// 96 MB: far beyond any cache.
const MANY: usize = 20_000;
const IN_CACHE: usize = 8;

fn grid() -> Vec<f64> {
    (0..POINTS).map(|i| -0.2 - i as f64 / (POINTS - 1) as f64).collect()
}

fn blank(i: usize) -> f64 {
    let x = i as f64 / (POINTS - 1) as f64;
    -1e-6 * (1.0 + 2.0 * x + x * x)
}

/// Reduction peaks of 1 to 2 µA with a ripple that no two scans share.
fn scans(n_scans: usize) -> Vec<f64> {
    let point = |s: usize, i: usize| {
        let t = (i as f64 - 300.0) / 48.0;
        let ripple = ((s * 7919 + i * 104_729) % 1013) as f64 / 1013.0 - 0.5;
        blank(i) - 2e-7 - 1e-6 * (1.0 + (s % 97) as f64 / 97.0) / (1.0 + t * t) + 2e-8 * ripple
    };
    (0..n_scans).flat_map(|s| (0..POINTS).map(move |i| point(s, i))).collect()
}

fn settings(smoother: Smoother<'_>, baseline: Baseline) -> Settings<'_> {
    Settings {
        despike: None,
        smoother: Some(smoother),
        baseline,
        peak: PeakSettings {
            window: IndexRange { first: 150, last: 449 },
            direction: Direction::Reduction,
            placement: Placement::Search,
            measure: Measure::Height,
        },
        noise: [None, None],
        limits: PeakLimits::NONE,
    }
}

fn one_by_one(evaluator: &Evaluator<'_>, scans: &[f64], blank_a: &[f64], storage: &mut [f64]) -> usize {
    let Ok(mut workspace) = Workspace::new(storage, POINTS) else { return 0 };
    let evaluated =
        scans.chunks_exact(POINTS).map(|scan| evaluator.evaluate(scan, Some(blank_a), &mut workspace));
    evaluated.flatten().count()
}

fn shapes(
    group: &mut BenchmarkGroup<'_, WallTime>,
    evaluator: &Evaluator<'_>,
    scans: &[f64],
    blank_a: &[f64],
) {
    let mut storage = vec![0.0; evaluator.batch_storage_len()];
    let mut outcomes: Vec<Result<Signal, Refusal>> =
        vec![Err(Refusal::OutOfNumberRange); scans.len() / POINTS];
    let blanks = Blanks::Shared(blank_a);
    group.throughput(Throughput::Bytes(8 * scans.len() as u64));
    group.bench_function("batch", |b| {
        b.iter(|| evaluator.batch(black_box(scans), blanks, &mut storage, &mut outcomes).is_ok());
    });
    group.bench_function("batch, plain build", |b| {
        b.iter(|| evaluator.batch_plain(black_box(scans), blanks, &mut storage, &mut outcomes).is_ok());
    });
    group.bench_function("one by one", |b| {
        b.iter(|| one_by_one(evaluator, black_box(scans), blank_a, &mut storage));
    });
}

fn kernel(criterion: &mut Criterion) {
    let potential_v = grid();
    let blank_a: Vec<f64> = (0..POINTS).map(blank).collect();
    let many = scans(MANY);
    let mut weights = vec![0.0; Smoother::storage_len(11)];
    let Ok(smoother) = Smoother::savitzky_golay(11, 2, &mut weights) else { return };
    let line = Baseline::Line {
        before: IndexRange { first: 0, last: 59 },
        after: IndexRange { first: 540, last: 599 },
    };
    let rule = AsymmetricLeastSquares { stiffness: 1e5, asymmetry: 0.01, max_iterations: 50 };
    let asymmetric = Baseline::AsymmetricLeastSquares(rule);
    let jobs = [
        ("pipeline, 20000 scans", line, MANY),
        ("pipeline, in cache", line, IN_CACHE),
        ("asymmetric least squares, 400 scans", asymmetric, 400),
    ];
    for (name, baseline, n_scans) in jobs {
        let Ok(evaluator) = Evaluator::new(&potential_v, settings(smoother, baseline)) else { return };
        let mut group = criterion.benchmark_group(name);
        group.sample_size(20).warm_up_time(Duration::from_secs(1)).measurement_time(Duration::from_secs(3));
        shapes(&mut group, &evaluator, &many[..n_scans * POINTS], &blank_a);
        if n_scans == MANY {
            let mut copy = vec![0.0; many.len()];
            group.bench_function("copying the scans", |b| {
                b.iter(|| black_box(&mut copy).copy_from_slice(black_box(&many)));
            });
        }
        group.finish();
    }
}

criterion_group!(benches, kernel);
criterion_main!(benches);
