//! Ion-selective electrodes against `SciPy`'s search: selectivity coefficients and the bend at low levels.

use serde_json::{Value, json};
use stillwell_calibrate::{Interferent, IntervalEstimate, IonReading, low_level_bend, nikolsky_eisenman};
use stillwell_stats::distributions::student_t_quantile;
use stillwell_stats::random::RandomStream;

use crate::oracle::{Account, ask, numbers, settle};

const N_CASES: u64 = 80;

/// An anion's electrode in mixtures with a singly and a doubly charged ion, or alone down to its bend.
#[derive(Debug)]
struct Electrode {
    readings: Vec<IonReading>,
    terms: Vec<Vec<f64>>,
    truth: Vec<f64>,
}

impl Electrode {
    fn random(stream: u64) -> Self {
        let mut random = RandomStream::new(20_261_134, stream);
        let is_mixed = stream.is_multiple_of(2);
        let mut between = |low: f64, high: f64| low + (high - low) * random.uniform();
        let (constant, slope) = (between(0.1, 0.4), between(-0.060, -0.050));
        let logs =
            if is_mixed { vec![between(-3.0, -1.5), between(-3.5, -2.5)] } else { vec![between(-6.5, -5.0)] };
        let others = if is_mixed {
            vec![vec![0.0, 0.0], vec![between(0.01, 0.1), 0.0], vec![0.0, between(0.01, 0.1)]]
        } else {
            vec![vec![]]
        };
        let (lowest, n_levels) = if is_mixed { (-5.0, 6) } else { (-8.0, 15) };
        let (mut readings, mut terms) = (Vec::new(), Vec::new());
        for interferents in others {
            for level in 0..n_levels {
                let activity = libm::pow(10.0, lowest + 0.5 * f64::from(level));
                let term = match interferents[..] {
                    [single, double] => vec![single, libm::sqrt(double)],
                    _ => vec![1.0],
                };
                let more: f64 = term.iter().zip(&logs).map(|(t, k)| t * libm::pow(10.0, *k)).sum();
                let potential_v = constant + slope * libm::log10(activity + more) + 3e-4 * random.normal();
                let label = format!("{activity:e}");
                readings.push(IonReading {
                    label,
                    activity,
                    interferents: interferents.clone(),
                    potential_v,
                });
                terms.push(term);
            }
        }
        let truth = [constant, slope].into_iter().chain(logs).collect();
        Self { readings, terms, truth }
    }

    fn case(&self) -> Value {
        let Self { readings, terms, truth } = self;
        let activities: Vec<f64> = readings.iter().map(|r| r.activity).collect();
        let potentials: Vec<f64> = readings.iter().map(|r| r.potential_v).collect();
        let t = student_t_quantile(0.975, (readings.len() - truth.len()) as f64);
        json!({"kind": "electrode", "activities": activities, "terms": terms, "potentials": potentials,
            "t": t, "start": truth})
    }

    fn fit(&self) -> Vec<IntervalEstimate> {
        if self.truth.len() == 3 {
            let bend = low_level_bend(&self.readings, 0.95).unwrap();
            return vec![bend.standard_potential_v, bend.slope_v_per_decade, bend.log10_limit];
        }
        let ion = |name: &str, charge| Interferent { name: name.to_owned(), charge };
        let ions = [ion("chloride", -1), ion("sulfate", -2)];
        let fit = nikolsky_eisenman(&self.readings, -1, &ions, 0.95).unwrap();
        [fit.standard_potential_v, fit.slope_v_per_decade].into_iter().chain(fit.log10_coefficients).collect()
    }
}

#[test]
fn electrodes_agree_with_scipy() {
    let electrodes: Vec<Electrode> = (0..N_CASES).map(Electrode::random).collect();
    let Some(answers) = ask(&electrodes.iter().map(Electrode::case).collect::<Vec<_>>()) else { return };
    let keys = ["parameters", "standard_errors", "low", "high"];
    let mut accounts = keys.map(Account::new);
    for (electrode, answer) in electrodes.iter().zip(&answers) {
        let fit = electrode.fit();
        for (account, key) in accounts.iter_mut().zip(keys) {
            let theirs = numbers(answer, key);
            assert_eq!(theirs.len(), fit.len());
            for (ours, theirs) in fit.iter().zip(theirs) {
                let ours = match key {
                    "parameters" => ours.value,
                    "standard_errors" => ours.standard_error,
                    "low" => ours.low,
                    _ => ours.high,
                };
                account.compare(ours, theirs, electrode);
            }
        }
    }
    settle(&accounts);
}
