//! Prints one JSON line: nanoseconds per scan for each job of the kernel, for the peers to compare with.
//!
//! ```text
//! bench_kernel --scans N --points 600 --repeat R
//! ```
//!
//! Data, the same in every language. u(n) is the 32-bit Weyl-type hash
//! ```text
//! h = (n × 2654435761) mod 2³²; h = h xor (h >> 15); h = (h × 2246822519) mod 2³²; h = h xor (h >> 13)
//! ```
//! as h / 4294967296 − 0.5. With points P, scan s (from 0), point i (from 0), x = i / (P − 1), t = (x − 0.5) / 0.08:
//! ```text
//! potential_v = −0.2 − 1.0 x                      (falling)
//! blank       = −1e-6 × (1 + 2 x + x²)
//! height      = 1e-6 × (1 + (s mod 97) / 97)
//! scan        = blank − 2e-7 × (1 + x) − height × (1 / (1 + t²)) + 2e-8 × u(s P + i)
//! ```
//! Only + − × ÷ in the order written, so the numbers agree to the bit.
//!
//! Jobs: `pipeline` = blank + Savitzky–Golay (11, 2) + line through the mean points of the first and the last tenth + height of
//! the reduction peak (vertex by parabola) in points P/4 … 3P/4 − 1; `pipeline_with_noise` adds noise from the two
//! tenths; `asls` = asymmetric least squares baseline (λ = 1e5, p = 0.01, at most 50 solutions) in place of the line, after
//! the same smoothing. `checksum` is Σ `signal_a` over the scans in order, `refused` counts scans without a signal.
//! `copy_ns` is the time per scan of merely copying the scans. `in_cache_ns` repeats 8 scans.

use std::hint::black_box;
use std::io::Write as _;
use std::time::Instant;

use stillwell_evaluate::{
    AsymmetricLeastSquares, Baseline, Blanks, Direction, Evaluator, IndexRange, Measure, PeakLimits,
    PeakSettings, Placement, Refusal, Settings, Signal, Smoother, Workspace,
};

type Failure = Box<dyn std::error::Error>;

fn main() -> Result<(), Failure> {
    let (n_scans, n_points, repeat) =
        (option("--scans", 20_000)?, option("--points", 600)?, option("--repeat", 5)?);
    let data = Data::synthetic(n_scans, n_points);
    let mut storage = vec![0.0; Smoother::storage_len(11)];
    let smoother = Smoother::savitzky_golay(11, 2, &mut storage).map_err(shown)?;
    let tenths = [
        IndexRange { first: 0, last: n_points / 10 - 1 },
        IndexRange { first: n_points - n_points / 10, last: n_points - 1 },
    ];
    let line = Baseline::Line { before: tenths[0], after: tenths[1] };
    let rule = AsymmetricLeastSquares { stiffness: 1e5, asymmetry: 0.01, max_iterations: 50 };
    let asls = Baseline::AsymmetricLeastSquares(rule);
    let settings = |baseline, noise| Settings {
        despike: None,
        smoother: Some(smoother),
        baseline,
        peak: PeakSettings {
            window: IndexRange { first: n_points / 4, last: 3 * n_points / 4 - 1 },
            direction: Direction::Reduction,
            placement: Placement::Search,
            measure: Measure::Height,
        },
        noise,
        limits: PeakLimits::NONE,
    };
    let jobs = [
        ("pipeline", settings(line, [None, None])),
        ("pipeline_with_noise", settings(line, tenths.map(Some))),
        ("asls", settings(asls, [None, None])),
    ];
    let mut fields = vec![format!("\"scans\":{n_scans},\"points\":{n_points},\"repeat\":{repeat}")];
    for (name, settings) in jobs {
        let scans = if name == "asls" { n_scans.min(2_000) } else { n_scans };
        let evaluator = Evaluator::new(&data.potential_v, settings).map_err(shown)?;
        fields.push(format!("\"{name}\":{}", data.job(&evaluator, scans, repeat)?));
    }
    let mut copy = vec![0.0; data.current_a.len()];
    let copy_ns = best_of(repeat, || black_box(&mut copy).copy_from_slice(black_box(&data.current_a)));
    fields.push(format!("\"copy_ns\":{}", copy_ns / n_scans as f64));
    writeln!(std::io::stdout(), "{{{}}}", fields.join(","))?;
    Ok(())
}

fn option(name: &str, default: usize) -> Result<usize, Failure> {
    let arguments: Vec<String> = std::env::args().collect();
    match arguments.iter().position(|a| a == name) {
        Some(at) => Ok(arguments.get(at + 1).ok_or("a value is missing")?.parse()?),
        None => Ok(default),
    }
}

fn shown(refusal: Refusal) -> Failure {
    format!("{refusal:?}").into()
}

/// Shortest time of `repeat` runs, ns.
fn best_of(repeat: usize, mut run: impl FnMut()) -> f64 {
    let mut best = f64::INFINITY;
    for _ in 0..repeat.max(1) {
        let start = Instant::now();
        run();
        best = best.min(start.elapsed().as_secs_f64() * 1e9);
    }
    best
}

struct Data {
    potential_v: Vec<f64>,
    blank_a: Vec<f64>,
    current_a: Vec<f64>,
}

impl Data {
    fn synthetic(n_scans: usize, n_points: usize) -> Self {
        let x = |i: usize| i as f64 / (n_points - 1) as f64;
        let blank = |i: usize| -1e-6 * (1.0 + 2.0 * x(i) + x(i) * x(i));
        let scan = |s: usize, i: usize| {
            let height = 1e-6 * (1.0 + (s % 97) as f64 / 97.0);
            let t = (x(i) - 0.5) / 0.08;
            blank(i) - 2e-7 * (1.0 + x(i)) - height * (1.0 / (1.0 + t * t)) + 2e-8 * uniform(s * n_points + i)
        };
        Self {
            potential_v: (0..n_points).map(|i| -0.2 - 1.0 * x(i)).collect(),
            blank_a: (0..n_points).map(blank).collect(),
            current_a: (0..n_scans)
                .flat_map(|s| (0..n_points).map(move |i| (s, i)))
                .map(|(s, i)| scan(s, i))
                .collect(),
        }
    }

    fn job(&self, evaluator: &Evaluator<'_>, n_scans: usize, repeat: usize) -> Result<String, Failure> {
        let n = self.potential_v.len();
        let scans = &self.current_a[..n_scans * n];
        let blanks = Blanks::Shared(&self.blank_a);
        let mut storage = vec![0.0; evaluator.batch_storage_len()];
        let mut outcomes: Vec<Result<Signal, Refusal>> = vec![Err(Refusal::OutOfNumberRange); n_scans];
        let batch_ns = best_of(repeat, || {
            black_box(evaluator.batch(black_box(scans), blanks, &mut storage, &mut outcomes)).unwrap_or(());
        });
        let checksum: f64 = outcomes.iter().flatten().map(|signal| signal.signal_a).sum();
        let refused = outcomes.iter().filter(|outcome| outcome.is_err()).count();
        let plain_ns = best_of(repeat, || {
            black_box(evaluator.batch_plain(black_box(scans), blanks, &mut storage, &mut outcomes))
                .unwrap_or(());
        });
        let plain_checksum: f64 = outcomes.iter().flatten().map(|signal| signal.signal_a).sum();
        let few = &scans[..8.min(n_scans) * n];
        let rounds = n_scans.div_ceil(8);
        let in_cache_ns = best_of(repeat, || {
            for _ in 0..rounds {
                let outcomes = &mut outcomes[..few.len() / n];
                black_box(evaluator.batch(black_box(few), blanks, &mut storage, outcomes)).unwrap_or(());
            }
        });
        let mut single_storage = vec![0.0; Workspace::storage_len(n)];
        let mut workspace = Workspace::new(&mut single_storage, n).map_err(shown)?;
        let single_ns = best_of(repeat, || {
            for scan in scans.chunks_exact(n) {
                black_box(evaluator.evaluate(black_box(scan), Some(&self.blank_a), &mut workspace).is_ok());
            }
        });
        let each = |total: f64| total / n_scans as f64;
        let same = checksum.to_bits() == plain_checksum.to_bits();
        Ok(format!(
            "{{\"scans\":{n_scans},\"batch_ns\":{},\"plain_ns\":{},\"single_ns\":{},\"in_cache_ns\":{},\
             \"checksum\":{checksum:e},\"checksum_bits\":\"{:016x}\",\"plain_same\":{same},\"refused\":{refused}}}",
            each(batch_ns),
            each(plain_ns),
            each(single_ns),
            in_cache_ns / (rounds * few.len() / n) as f64,
            checksum.to_bits(),
        ))
    }
}

/// Uniform between −0.5 and 0.5.
fn uniform(n: usize) -> f64 {
    let mut h = u32::try_from(n & 0xffff_ffff).unwrap_or(0).wrapping_mul(2_654_435_761);
    h ^= h >> 15;
    h = h.wrapping_mul(2_246_822_519);
    h ^= h >> 13;
    f64::from(h) / 4_294_967_296.0 - 0.5
}
