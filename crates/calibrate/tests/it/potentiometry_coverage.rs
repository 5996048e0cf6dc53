//! How often the intervals of ion-selective electrodes hold the truth, on seeded records.

use crate::potentiometry::{mixtures, reading};
use stillwell_calibrate::{
    Interferent, IonReading, PlateauSettings, PlateauVerdict, intersection_limit, low_level_bend,
    nikolsky_eisenman, plateau,
};
use stillwell_stats::random::RandomStream;

const N_RECORDS: u64 = 400;

fn share(name: &str, hits: usize) -> f64 {
    let share = hits as f64 / N_RECORDS as f64;
    println!("{name:60} {:5.1} % of {N_RECORDS}", 100.0 * share);
    share
}

fn bent(stream: u64) -> Vec<IonReading> {
    let mut random = RandomStream::new(20_261_132, stream);
    (0..14)
        .map(|i| {
            let activity = libm::pow(10.0, -9.0 + 0.6 * f64::from(i));
            reading(activity, 0.2 - 0.058 * libm::log10(activity + 2e-6) + 5e-4 * random.normal())
        })
        .collect()
}

fn holds(low: f64, truth: f64, high: f64) -> bool {
    low <= truth && truth <= high
}

/// Four standard errors of the share itself lie within the limits.
#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    let (mut by_curve, mut by_segments, mut by_wide_segments, mut of_slope, mut of_chloride) =
        (0, 0, 0, 0, 0);
    let ions = ["chloride", "sulfate"].map(str::to_owned);
    let ions =
        [(&ions[0], -1), (&ions[1], -2)].map(|(name, charge)| Interferent { name: name.clone(), charge });
    for stream in 0..N_RECORDS {
        let bend = low_level_bend(&bent(stream), 0.95).unwrap();
        by_curve += usize::from(holds(bend.limit.low, 2e-6, bend.limit.high));
        let slope = bend.slope_v_per_decade;
        of_slope += usize::from(holds(slope.low, -0.058, slope.high));
        let segments = |from: f64, to: f64| {
            let found = intersection_limit(&bent(stream), from, to, 0.95).unwrap();
            usize::from(holds(found.low, 2e-6, found.high))
        };
        by_segments += segments(0.9e-3, 1e-8);
        by_wide_segments += segments(5e-5, 3e-8);
        let fit = nikolsky_eisenman(&mixtures(stream), -1, &ions, 0.95).unwrap();
        let k = fit.log10_coefficients[0];
        of_chloride += usize::from(holds(k.low, -2.3, k.high));
    }
    // Segments that reach into the bend: their interval knows nothing of it, and the documentation says so.
    assert!((0.8..0.94).contains(&share("limit, by segments that reach into the bend", by_wide_segments)));
    for (name, hits) in [
        ("limit, by the curve", by_curve),
        ("limit, by line and plateau", by_segments),
        ("slope with the bend", of_slope),
        ("log selectivity coefficient of chloride", of_chloride),
    ] {
        assert!((0.906..0.99).contains(&share(name, hits)), "{name}");
    }
}

/// Readings whose scatter depends on the reading before, with a drift of exactly the limit: "settled" would be wrong.
#[test]
fn a_drift_at_the_limit_is_rarely_called_settled() {
    let settings =
        PlateauSettings { window_s: 300.0, limit_v_per_min: 1e-4, resolution_v: 1e-7, coverage: 0.95 };
    for (memory, least_right, most_wrong) in [(0.0, 0.9, 0.05), (0.5, 0.9, 0.05), (0.8, 0.5, 0.05)] {
        let (mut wrong, mut right, mut refused) = (0, 0, 0);
        for stream in 0..N_RECORDS {
            let mut random = RandomStream::new(20_261_133, stream);
            let mut scatter = 0.0;
            let times: Vec<f64> = (0..100).map(|i| 3.0 * f64::from(i)).collect();
            let scatters: Vec<f64> = times
                .iter()
                .map(|_| {
                    scatter = memory * scatter + 3e-5 * random.normal();
                    scatter
                })
                .collect();
            let drifting = |drift: f64| -> Vec<f64> {
                times.iter().zip(&scatters).map(|(t, s)| 0.2 + drift * t / 60.0 + s).collect()
            };
            let verdict = |drift: f64| plateau(&times, &drifting(drift), &settings).map(|p| p.verdict);
            wrong += usize::from(verdict(1e-4) == Ok(PlateauVerdict::Settled));
            right += usize::from(verdict(0.0) == Ok(PlateauVerdict::Settled));
            refused += usize::from(verdict(0.0).is_err());
        }
        let wrong = share(&format!("called settled at the limit, memory {memory}"), wrong);
        let right = share(&format!("called settled without drift, memory {memory}"), right);
        share(&format!("refused without drift, memory {memory}"), refused);
        assert!(wrong <= most_wrong && right >= least_right);
    }
}
