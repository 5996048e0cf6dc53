//! The whole way from scan to signal against `NumPy` and `SciPy`.

use serde_json::{Value, json};
use stillwell_evaluate::{
    Baseline, Direction, Evaluator, IndexRange, Measure, PeakLimits, PeakSettings, Placement, Settings,
    Smoother, Workspace,
};
use stillwell_stats::random::RandomStream;

use crate::oracle::{Account, ask, number, numbers, settle};
use crate::spread::whole;

/// One invented scan: a bell on a bent background, some noise, on a grid that runs either way.
#[derive(Debug)]
pub(crate) struct Recorded {
    pub(crate) potential_v: Vec<f64>,
    pub(crate) current_a: Vec<f64>,
    blank_a: Vec<f64>,
    pub(crate) sign: f64,
}

impl Recorded {
    pub(crate) fn random(stream: u64) -> Self {
        let mut random = RandomStream::new(20_260_105, stream);
        let n_points = whole(&mut random, 80, 400);
        let sign = if random.uniform() < 0.5 { 1.0 } else { -1.0 };
        let span_v = if random.uniform() < 0.5 { 1.0 } else { -1.0 };
        let (centre, width) = (0.45 + 0.1 * random.uniform(), 0.05 + 0.05 * random.uniform());
        let (height_a, noise_a) = (2e-6 * (0.2 + random.uniform()), 1e-8 * random.uniform());
        let (slope_a, bend_a) = (1e-6 * random.normal(), 5e-7 * random.normal());
        let mut recorded = Self { potential_v: vec![], current_a: vec![], blank_a: vec![], sign };
        for i in 0..n_points {
            let x = i as f64 / (n_points - 1) as f64;
            let t = (x - centre) / width;
            let background_a = 3e-6 + slope_a * x + bend_a * x * x;
            let peak_a = height_a / (1.0 + t * t);
            recorded.potential_v.push(-0.2 + span_v * x);
            recorded.blank_a.push(sign * 0.6 * background_a);
            recorded.current_a.push(sign * (background_a + peak_a) + noise_a * random.normal());
        }
        recorded
    }
}

struct Question {
    recorded: Recorded,
    smooth: Option<(usize, usize)>,
    baseline: &'static str,
    degree: usize,
    with_blank: bool,
}

impl Question {
    fn random(stream: u64) -> Self {
        let mut random = RandomStream::new(20_260_106, stream);
        let smooth = [None, Some((5, 2)), Some((11, 2)), Some((15, 4))][whole(&mut random, 0, 3)];
        let baseline = ["none", "line", "minima", "tangent", "polynomial"][whole(&mut random, 0, 4)];
        let degree = whole(&mut random, 0, 4);
        Self {
            recorded: Recorded::random(stream),
            smooth,
            baseline,
            degree,
            with_blank: random.uniform() < 0.5,
        }
    }

    fn ranges(&self) -> [IndexRange; 2] {
        let n = self.recorded.current_a.len();
        [IndexRange { first: 1, last: n / 5 }, IndexRange { first: n - n / 5, last: n - 2 }]
    }

    fn window(&self) -> IndexRange {
        let n = self.recorded.current_a.len();
        IndexRange { first: n / 4, last: 3 * n / 4 }
    }

    fn case(&self) -> Value {
        let Recorded { potential_v, current_a, blank_a, sign } = &self.recorded;
        json!({
            "kind": "peak", "potential_v": potential_v, "current_a": current_a, "sign": sign,
            "blank_a": self.with_blank.then_some(blank_a), "smooth": self.smooth, "baseline": self.baseline,
            "degree": self.degree, "ranges": self.ranges().map(|r| [r.first, r.last]),
            "window": [self.window().first, self.window().last],
        })
    }

    fn settings<'a>(
        &self,
        smoother: Option<Smoother<'a>>,
        placement: Placement,
        measure: Measure,
    ) -> Settings<'a> {
        let [before, after] = self.ranges();
        let search = IndexRange { first: 0, last: self.recorded.current_a.len() - 1 };
        let baseline = match self.baseline {
            "none" => Baseline::None,
            "line" => Baseline::Line { before, after },
            "minima" => Baseline::Minima { before, after },
            "tangent" => Baseline::Tangent { search },
            _ => Baseline::Polynomial { degree: self.degree, before, after },
        };
        let direction = if self.recorded.sign > 0.0 { Direction::Oxidation } else { Direction::Reduction };
        let peak = PeakSettings { window: self.window(), direction, placement, measure };
        let noise = [Some(before), Some(after)];
        Settings { despike: None, smoother, baseline, peak, noise, limits: PeakLimits::NONE }
    }
}

#[test]
fn signals_agree_with_numpy_and_scipy() {
    let questions: Vec<Question> = (0..150).map(Question::random).collect();
    let Some(answers) = ask(&questions.iter().map(Question::case).collect::<Vec<_>>()) else { return };
    let mut smoothed = Account::new("smoothed curve");
    let mut baseline = Account::new("baseline");
    let names = ["height", "peak potential", "half width", "area over window", "mean over window", "noise"];
    let mut accounts = names.map(Account::new);
    for (question, answer) in questions.iter().zip(&answers) {
        let Recorded { potential_v, current_a, blank_a, .. } = &question.recorded;
        let blank_a = question.with_blank.then_some(blank_a.as_slice());
        let name =
            (question.baseline, question.smooth, question.degree, question.with_blank, current_a.len());
        let mut storage =
            question.smooth.map_or(vec![], |(window, _)| vec![0.0; Smoother::storage_len(window)]);
        let smoother = question.smooth.map(|(w, d)| Smoother::savitzky_golay(w, d, &mut storage).unwrap());
        let mut storage = vec![0.0; Workspace::storage_len(current_a.len())];
        let mut workspace = Workspace::new(&mut storage, current_a.len()).unwrap();
        let mut signal = |placement, measure| {
            let settings = question.settings(smoother, placement, measure);
            let evaluator = Evaluator::new(potential_v, settings).unwrap();
            let signal = evaluator.evaluate(current_a, blank_a, &mut workspace);
            let curves = (workspace.smoothed_a().to_vec(), workspace.baseline_a().to_vec());
            (signal.unwrap_or_else(|refusal| panic!("{name:?}: {refusal:?}")), curves)
        };
        let (area, _) = signal(Placement::Search, Measure::Area(stillwell_evaluate::AreaLimits::Window));
        let (fixed, _) = signal(Placement::FixedWindow, Measure::Height);
        let (found, (our_smoothed, our_baseline)) = signal(Placement::Search, Measure::Height);
        smoothed.compare_curve(&our_smoothed, &numbers(answer, "smoothed"), &name);
        let scale = numbers(answer, "smoothed").iter().fold(0.0_f64, |largest, a| largest.max(a.abs()));
        for (ours, theirs) in our_baseline.iter().zip(numbers(answer, "baseline")) {
            // A difference of currents: their scale.
            baseline.compare_on(scale, *ours, theirs, &name);
        }
        assert_eq!(found.peak_index, answer["index"].as_u64().map(|i| usize::try_from(i).unwrap()).unwrap());
        // `fixed` draws a tangent without looking for the peak: only then is its baseline another one.
        let mean =
            if question.baseline == "tangent" { number(answer, "mean_over_window") } else { fixed.signal_a };
        let ours = [
            found.signal_a,
            found.peak_potential_v.unwrap(),
            found.half_width_v.unwrap_or(-1.0),
            area.signal_a,
            mean,
            found.noise_a.unwrap(),
        ];
        let keys =
            ["height", "peak_potential", "half_width", "area_over_window", "mean_over_window", "noise"];
        for ((account, key), ours) in accounts.iter_mut().zip(keys).zip(ours) {
            account.compare(ours, number(answer, key), &name);
        }
    }
    settle(&[smoothed, baseline]);
    settle(&accounts);
}
