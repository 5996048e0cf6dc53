//! Frozen methods of the invented scenario and its variants, and scans for them: recorded, twin-made and spoilt.

use stillwell_evaluate::Point;
use stillwell_foresee::{Bench, CellModel, CircuitModel, Exposure, alder_vale};
use stillwell_house::ExampleFolder;
use stillwell_method::{Input, NamedText, RawFile, Report, determine};
use stillwell_scan::Scan;
use stillwell_stats::random::RandomStream;
use stillwell_transfer::{Frozen, LotTerms, TransferError};
use stillwell_twin::Fault;

/// 2026-01-01 and 2027-12-31 as days since 1970-01-01.
pub(crate) const FIRST_DAY: u32 = 20_454;
pub(crate) const LAST_DAY: u32 = 21_183;

/// Method text, run sheet and raw files.
pub(crate) struct Folder {
    pub(crate) method: String,
    pub(crate) sheet: String,
    pub(crate) files: Vec<RawFile>,
}

impl Folder {
    pub(crate) fn alder_vale() -> Self {
        let ExampleFolder { method, sheet, raw } = stillwell_house::example("alder-vale");
        let files = raw.into_iter().map(|(name, bytes)| RawFile { name, bytes }).collect();
        Self { method, sheet, files }
    }

    /// The same with lines of the method replaced.
    pub(crate) fn edited(mut self, edits: &[(&str, &str)]) -> Self {
        for (from, to) in edits {
            assert!(self.method.contains(from), "the method holds {from:?}");
            self.method = self.method.replace(from, to);
        }
        self
    }

    pub(crate) fn scene(&self) -> Scene {
        let input = Input::assemble(
            NamedText { name: "method.toml", text: &self.method },
            NamedText { name: "run-sheet.csv", text: &self.sheet },
            &self.files,
            |_| {},
        )
        .expect("the scenario holds together");
        let report = determine(&input);
        Scene { input, report }
    }
}

/// An input and what the chain made of it.
pub(crate) struct Scene {
    pub(crate) input: Input,
    pub(crate) report: Report,
}

impl Scene {
    pub(crate) fn frozen(&self, calibration: usize) -> Result<Frozen, TransferError> {
        let lot = self.report.calibrations[calibration].key.lot.clone();
        Frozen::of(
            &self.input,
            &self.report,
            calibration,
            LotTerms { lot, first_day: FIRST_DAY, last_day: LAST_DAY },
        )
    }

    /// The scan of a line of the run sheet.
    pub(crate) fn scan(&self, place: usize) -> &Scan {
        let row = &self.report.scans[place].row;
        &self.input.files[&row.file].scans[row.scan - 1]
    }
}

/// Points as a converter would deliver them.
pub(crate) fn points_of(scan: &Scan) -> Vec<Point> {
    let column = |column: &Option<Vec<f64>>, i: usize| column.as_ref().map_or(0.0, |values| values[i]);
    (0..scan.n_points())
        .map(|i| Point {
            current_a: scan.current_a[i],
            forward_a: column(&scan.forward_a, i),
            reverse_a: column(&scan.reverse_a, i),
            overload: scan.overload_points.contains(&i),
        })
        .collect()
}

/// The edits that make the variants of the method: every baseline, measure, curve and smoothing that a device knows.
pub(crate) const VARIANTS: &[(&str, &[(&str, &str)])] = &[
    ("as it stands", &[]),
    ("minima", &[("kind = \"line\", left_v = [-0.42, -0.38]", "kind = \"minima\", left_v = [-0.42, -0.30]")]),
    (
        "tangent, second order",
        &[
            (
                "{ kind = \"line\", left_v = [-0.42, -0.38], right_v = [-0.84, -0.80] }",
                "{ kind = \"tangent\", window_v = [-0.84, -0.38] }",
            ),
            ("model = \"line\"", "model = \"quadratic\""),
            ("detection = \"iso-11843-2\"", "detection = \"prediction-band\""),
        ],
    ),
    (
        "polynomial, area, no despiking",
        &[
            ("kind = \"line\"", "kind = \"polynomial\", degree = 2"),
            ("measure = \"height\"", "measure = \"area\""),
            ("despike = { limit = 8.0, least_ratio = 3.0, floor_a = 1e-9 }\n", ""),
        ],
    ),
    (
        "height at a potential, moving average, every check stated",
        &[
            ("measure = \"height\"", "measure = \"height-at\", at_v = -0.611"),
            ("kind = \"savitzky-golay\", window = 11, degree = 2", "kind = \"moving-average\", window = 7"),
            (
                "offset_a = 12.0e-6",
                "offset_a = 12.0e-6\ndrift_a = 30e-6\nmains_a = 0.5e-6\nmains_hz = 60.0\nrange_a = 60e-6\nhalf_width_v = 0.11",
            ),
        ],
    ),
    (
        "no blank, no smoothing, no baseline",
        &[
            ("blank = \"subtract\"", "blank = \"ignore\""),
            ("smooth = { kind = \"savitzky-golay\", window = 11, degree = 2 }\n", ""),
        ],
    ),
    (
        "a long window, noise and offset not stated",
        &[
            ("window = 11, degree = 2", "window = 31, degree = 4"),
            ("noise_a = 0.10e-6\noffset_a = 12.0e-6\n", ""),
        ],
    ),
];

/// A deterministic stream of numbers for one item.
pub(crate) struct Draw(RandomStream);

impl Draw {
    pub(crate) fn new(seed: u64, index: u64) -> Self {
        Self(RandomStream::new(seed, index))
    }

    pub(crate) fn uniform(&mut self) -> f64 {
        self.0.uniform()
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    pub(crate) fn below(&mut self, n: usize) -> usize {
        ((self.uniform() * n as f64) as usize).min(n - 1)
    }
}

/// The strip and the handheld of the scenario.
pub(crate) struct Twin {
    cell: CellModel,
    circuit: CircuitModel,
}

impl Twin {
    pub(crate) fn new() -> Self {
        Self {
            cell: CellModel::parse("cell", alder_vale::CELL_TEXT.text).expect("the strip"),
            circuit: CircuitModel::parse("circuit", alder_vale::CIRCUIT_TEXT.text).expect("the handheld"),
        }
    }

    /// A scan of a strip in a solution of random strength, one in three with a random fault of the twin.
    pub(crate) fn scan(&self, input: &Input, number: u64) -> Vec<Point> {
        let mut draw = Draw::new(77, number);
        let analyte_mol_per_m3 = if draw.below(8) == 0 { 0.0 } else { draw.between(0.0, 2.4) };
        let faults = if draw.below(3) == 0 { vec![fault(&mut draw)] } else { Vec::new() };
        let exposure = Exposure {
            analyte_mol_per_m3,
            temperature_c: None,
            lot: 21 + number % 3,
            electrode: number % 4000,
            scan: 1 + (number % 3) as u32,
            faults,
        };
        let bench =
            Bench { cell: &self.cell, circuit: &self.circuit, technique: &input.method.technique, seed: 5 };
        let trace = bench.trace(&exposure).expect("the twin simulates it");
        let scan = bench.read(&trace, &exposure, &self.circuit.circuit).expect("the circuit reads it");
        points_of(&scan)
    }
}

fn fault(draw: &mut Draw) -> Fault {
    match draw.below(7) {
        0 => Fault::Clipped { range_a: draw.between(2e-6, 20e-6) },
        1 => Fault::MainsPickup {
            amplitude_a: draw.between(0.1e-6, 8e-6),
            frequency_hz: draw.between(49.5, 50.5),
        },
        2 => Fault::SwappedReadings,
        3 => Fault::PartialCoverage { wetted_share: draw.between(0.2, 0.9) },
        4 => Fault::ChlorideShift { ratio: draw.between(0.3, 40.0) },
        5 => Fault::DryStart {
            dry_share: draw.between(0.2, 1.0),
            wetting_s: draw.between(0.2, 3.0),
            charging_a: -20e-6,
        },
        _ => Fault::DeadStrip,
    }
}

/// How many kinds of [`spoil`] there are; kind 0 leaves the scan alone.
pub(crate) const SPOILS: usize = 16;

/// Spoils the finished points, as converters and strangers do.
pub(crate) fn spoil(points: &mut [Point], kind: usize, draw: &mut Draw) {
    let n = points.len();
    let at = 3 + draw.below(n - 6);
    let set = |point: &mut Point, x: f64| {
        *point = Point { current_a: x, forward_a: 0.5 * x, reverse_a: -0.5 * x, overload: point.overload };
    };
    match kind {
        1 => points[at].overload = true,
        2 => points[at].current_a = f64::NAN,
        3 => points[at].reverse_a = f64::INFINITY,
        4 => points[at].current_a += draw.between(-40e-6, 40e-6),
        5 => (0..2).for_each(|k| points[at + k].current_a += 15e-6),
        6 => points.iter_mut().for_each(|point| set(point, -1.5e-6)),
        7 => points.iter_mut().for_each(|point| point.current_a -= 400e-6),
        8 => points.iter_mut().for_each(|point| point.current_a += draw.between(-1e-6, 1e-6)),
        9 => (0..4).for_each(|k| points[k].current_a += 30e-6 / (1.0 + k as f64)),
        10 => {
            let step = draw.between(1e-8, 2e-6);
            points.iter_mut().for_each(|point| point.current_a = step * libm::rint(point.current_a / step));
        }
        11 => (0..n).for_each(|i| points[i].forward_a += 3e-7 * i as f64),
        12 => {
            // Two in three at the fold of 60 Hz sampled at 25 Hz.
            let turn = if draw.below(3) == 0 { draw.between(0.1, 3.1) } else { 2.513_274_122_871_834_5 };
            (0..n).for_each(|i| points[i].current_a += 3e-6 * libm::cos(turn * i as f64));
        }
        13 => points.iter_mut().for_each(|point| point.current_a *= 1e300),
        14 => points.iter_mut().for_each(|point| point.current_a *= 1e-310),
        15 => {
            let centre = draw.between(30.0, 145.0);
            let height = draw.between(-30e-6, 30e-6);
            (0..n).for_each(|i| {
                let x = (i as f64 - centre) / 8.0;
                points[i].current_a += height / (1.0 + x * x);
            });
        }
        _ => {}
    }
}
