//! Figures of sensors that stay in the water: exact signals, and carry-over as it was recorded.

use stillwell_assure::QualityError;
use stillwell_assure::sensor::{
    MemoryEffect, Step, TrialReading, day_to_day, drift, memory_effect, near_zero, response, sensor_trial,
};
use stillwell_stats::random::RandomStream;

use crate::published::{Case, ONLINE_SENSORS};
use crate::stations::shared_csv;

#[test]
fn a_step_of_first_order() {
    let case = Case::of(ONLINE_SENSORS, "first_order_step");
    let (dead, tau) = (case.input("t0_s"), case.input("tau_s"));
    let (from, to) = (case.input("from"), case.input("to"));
    // Read every 10 ms: lines between such readings are the curve itself to eight digits.
    let times: Vec<f64> = (0..30_000).map(|i| 0.01 * f64::from(i)).collect();
    let reading =
        |t: f64| if t > dead { from + (to - from) * (1.0 - libm::exp(-(t - dead) / tau)) } else { from };
    let readings: Vec<f64> = times.iter().map(|t| reading(*t)).collect();
    let found = response(&times, &readings, Step { at_s: 0.0, from, to }).unwrap();
    case.agree("delay_time_s", found.delay_s, 7.0);
    case.agree("response_time_s", found.response_s.unwrap(), 7.0);
    case.agree("rise_time_s", found.rise_or_fall_s.unwrap(), 7.0);
    // Downwards it is the same, as fall time.
    let fallen: Vec<f64> = readings.iter().map(|y| from + to - y).collect();
    let down = response(&times, &fallen, Step { at_s: 0.0, from: to, to: from }).unwrap();
    assert!((down.response_s.unwrap() - found.response_s.unwrap()).abs() < 1e-9);
}

#[test]
fn lines_between_readings() {
    let case = Case::of(ONLINE_SENSORS, "first_order_step_sampled");
    let step = Step { at_s: 0.0, from: 20.0, to: 80.0 };
    let found = response(&case.inputs("t_s"), &case.inputs("y"), step).unwrap();
    case.agree("delay_time_s", found.delay_s, 6.0);
    case.agree("response_time_s", found.response_s.unwrap(), 6.0);
}

#[test]
fn an_overshoot_counts_until_it_stays() {
    let case = Case::of(ONLINE_SENSORS, "overshoot");
    let (times, readings) = (case.inputs("t_s"), case.inputs("y"));
    let found = response(&times, &readings, Step { at_s: 0.0, from: 0.0, to: 1.0 }).unwrap();
    case.agree("max_overshoot", found.largest_share, 12.0);
    // The check value is the first reading that stays; ours lies on the line before it.
    let staying = found.response_s.unwrap();
    assert!(
        staying > case.value("last_outside_band_s") && staying <= case.value("response_time_s"),
        "{staying}"
    );
    let cut = response(&times[..40], &readings[..40], Step { at_s: 0.0, from: 0.0, to: 1.0 }).unwrap();
    insta::assert_snapshot!([found.words(), cut.words()].join("\n"));
}

#[test]
fn limits_drift_and_memory() {
    let case = Case::of(ONLINE_SENSORS, "lod_loq");
    let found = near_zero(&case.inputs("readings")).unwrap();
    case.agree("s", found.sd, 12.0);
    case.agree("LOD", found.detection, 12.0);
    case.agree("LOQ", found.quantification, 12.0);
    case.agree("LDC", found.detectable_change, 12.0);

    let case = Case::of(ONLINE_SENSORS, "short_term_drift");
    let drifting = drift(&case.inputs("t_h"), &case.inputs("y"), case.input("range")).unwrap();
    case.agree("drift_per_24h", drifting.per_24_h, 11.0);
    case.agree("drift_percent_of_range_per_24h", drifting.percent_of_range_per_24_h, 11.0);
    case.agree("se_slope", drifting.slope_standard_error_per_h, 9.0);
    case.agree("t_statistic", drifting.t_statistic, 9.0);
    case.agree("t_critical_95", drifting.t_critical, 9.0);

    let case = Case::of(ONLINE_SENSORS, "memory_effect");
    let memory = memory_effect(&case.inputs("after_low"), &case.inputs("after_high"), Some(80.0)).unwrap();
    case.agree("difference", memory.difference, 12.0);
    // The library takes low less high.
    case.agree("t", -memory.t_statistic, 9.0);
    case.agree("p", memory.p_value, 8.0);
    let still = drift(&[0.0, 1.0, 2.0, 3.0, 4.0, 5.0], &[50.1, 50.0, 50.2, 50.0, 50.1, 50.1], 100.0).unwrap();
    let none = memory_effect(&[50.1, 50.3, 50.2], &[50.2, 50.4, 50.1], None).unwrap();
    insta::assert_snapshot!(
        [drifting.words("mg/L"), still.words("mg/L"), memory.words("mg/L"), none.words("mg/L")].join("\n")
    );
}

#[test]
fn repeatability_from_day_to_day() {
    let days = [[50.0, 50.4, 50.2], [51.0, 51.2, 51.4], [50.2, 50.0, 50.4], [50.8, 51.0, 50.6]];
    let found = day_to_day(&days).unwrap();
    // Four days of three: within 0.2 by construction; MS between = 3 × variance of the means.
    assert!((found.within_day_sd - 0.2).abs() < 1e-12);
    let means = [50.2, 51.2, 50.2, 50.8];
    let of_means = stillwell_stats::standard_deviation(&means).unwrap();
    let between = (of_means * of_means - 0.04 / 3.0).sqrt();
    assert!((found.between_days_sd - between).abs() < 1e-12 && found.p_value < 0.01);
    assert!(matches!(day_to_day(&days[..2]), Err(QualityError::TooFew { found: 2, needed: 3, .. })));
}

#[test]
fn unusable_records_are_refused() {
    let step = Step { at_s: 0.0, from: 1.0, to: 1.0 };
    assert!(matches!(response(&[0.0, 1.0, 2.0], &[1.0; 3], step), Err(QualityError::Unusable { .. })));
    let step = Step { at_s: 0.0, from: 0.0, to: 1.0 };
    let doubled = response(&[0.0, 1.0, 1.0], &[0.0, 0.5, 1.0], step);
    assert_eq!(doubled, Err(QualityError::TimesNotRising { what: "readings after the change", place: 3 }));
    assert!(matches!(response(&[0.0, 1.0, 2.0], &[0.0; 3], step), Err(QualityError::Unusable { .. })));
}

/// Signals (µA) against minutes after an electrode was moved from a solution to clean medium, by the concentration before.
fn carry_over(added: &str, rows: &[Vec<String>]) -> (Vec<f64>, Vec<f64>) {
    let column = |name: &str| rows[0].iter().position(|cell| cell == name).unwrap();
    let (which, time, signal) = (column("PHZadded"), column("time"), column("signal"));
    let mut found: Vec<(f64, f64)> = rows[1..]
        .iter()
        .filter(|row| row[which] == added)
        .map(|row| (row[time].parse().unwrap(), 1e6 * row[signal].parse::<f64>().unwrap()))
        .collect();
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.into_iter().unzip()
}

#[test]
fn carry_over_as_it_was_recorded() {
    let Some(rows) = shared_csv("swv-pyocyanin-soak-transfer/author_transfer_time_signals.csv") else {
        return;
    };
    let (minutes, signals) = carry_over("100uM", &rows);
    assert_eq!(signals.len(), 50);
    assert!((signals[0] - 4.272).abs() < 0.001 && (signals[49] - 0.868).abs() < 0.001);
    let seconds: Vec<f64> = minutes.iter().map(|minute| 60.0 * minute).collect();
    // Before the transfer the signal was 12.105 µA; it settles at the mean of the last ten.
    let settled = signals[40..].iter().sum::<f64>() / 10.0;
    let found = response(&seconds, &signals, Step { at_s: 0.0, from: 12.105, to: settled }).unwrap();
    println!("settled {settled} µA; {}", found.words());
    // The first reading, after 6 s, has made 70 % of the way already: 90 % comes between the third and the fourth.
    let share = |at: usize| (12.105 - signals[at]) / (12.105 - settled);
    let third = (0..50).find(|at| share(*at) >= 0.9).unwrap();
    let response_s = found.response_s.unwrap();
    assert!(response_s > seconds[third - 1] && response_s <= seconds[third], "{response_s}");
    assert!((20.0..40.0).contains(&response_s), "{response_s}");

    // What is left in the last minutes, after the strongest and after the weakest solution: the electrode remembers.
    let (_, weak) = carry_over("10uM", &rows);
    let memory: MemoryEffect = memory_effect(&weak[10..], &signals[40..], Some(12.105 - 2.0)).unwrap();
    println!("{}", memory.words("µA"));
    assert!(memory.is_seen());
    assert!((memory.difference - 0.5).abs() < 0.06 && memory.percent_of_step.unwrap() > 4.0);
    // Within the record of the weakest solution nothing decays any more: it drifts by less than that.
    let (minutes, weak) = carry_over("10uM", &rows);
    let hours: Vec<f64> = minutes.iter().map(|minute| minute / 60.0).collect();
    let slow = drift(&hours, &weak, 12.105).unwrap();
    println!("{}", slow.words("µA"));
    assert!((slow.per_24_h / 24.0 * hours[19]).abs() < 0.1);
}

/// A trial of a sensor that follows with 30 s, remembers 1 % of the level before, drifts by 2 in 24 h and differs from day to day.
fn trial() -> Vec<TrialReading> {
    let mut random = RandomStream::new(901, 0);
    let mut lines = Vec::new();
    let mut reading = 0.0;
    let mut stand = |level: f64, n: usize, every_s: f64, aim: f64, at_s: &mut f64| {
        lines.push(TrialReading { at_s: *at_s, level, reading: None });
        for _ in 0..n {
            *at_s += every_s;
            reading += (aim - reading) * (1.0 - libm::exp(-every_s / 30.0));
            lines.push(TrialReading { at_s: *at_s, level, reading: Some(reading + 0.05 * random.normal()) });
        }
        *at_s += 5.0;
    };
    for (day, shift) in (0..).zip([0.0, 0.4, -0.3, 0.2]) {
        let mut at_s = 86_400.0 * f64::from(day);
        for (level, after) in [(0.0, 0.0), (20.0, 0.0), (50.0, 0.3), (80.0, 0.0), (50.0, 1.1)] {
            stand(level, 40, 10.0, level + shift + after, &mut at_s);
        }
    }
    // A day in one solution, read every ten minutes.
    for step in 0..144 {
        let at_s = 86_400.0 * 5.0 + 600.0 * f64::from(step);
        let drifted = 50.0 + 2.0 * f64::from(step) / 144.0;
        lines.push(TrialReading { at_s, level: 50.0, reading: Some(drifted + 0.05 * random.normal()) });
    }
    lines
}

fn is_at(level: f64, wanted: f64) -> bool {
    (level - wanted).abs() < 1e-9
}

#[test]
fn a_trial_gives_back_what_was_planted() {
    let found = sensor_trial(&trial(), None).unwrap();
    assert_eq!(found.steps.len(), 19);
    let up = found
        .steps
        .iter()
        .find(|tried| is_at(tried.levels[0], 20.0) && is_at(tried.levels[1], 50.0))
        .unwrap();
    let response = up.response.as_ref().unwrap();
    assert!(up.is_stated && (response.response_s.unwrap() - 69.1).abs() < 3.0, "{response:?}");
    let memory = found.memories.iter().find(|tried| is_at(tried.level, 50.0)).unwrap();
    assert!(is_at(memory.before[0], 20.0) && is_at(memory.before[1], 80.0));
    let effect = memory.memory.as_ref().unwrap();
    assert!(effect.is_seen() && (effect.difference - 0.8).abs() < 0.1, "{effect:?}");
    let [drifted] = found.drifts.as_slice() else { panic!("{:?}", found.drifts) };
    let drift = drifted.found.as_ref().unwrap();
    assert!(drift.is_seen() && (drift.per_24_h - 2.0).abs() < 0.15, "{drift:?}");
    assert!((drift.percent_of_range_per_24_h - 2.5).abs() < 0.2, "{drift:?}");
    let days = found.days.iter().find(|days| is_at(days.level, 20.0)).unwrap().found.as_ref().unwrap();
    assert!(days.n_days == 4 && (days.between_days_sd - 0.31).abs() < 0.03, "{days:?}");
    let zero = found.near_zero.unwrap();
    assert!(zero.unwrap().n >= 20);
}

#[test]
fn a_trial_says_what_it_lacks() {
    let line = |at_s: f64, level: f64, reading| TrialReading { at_s, level, reading };
    assert!(matches!(
        sensor_trial(&[line(0.0, 1.0, Some(1.0))], None),
        Err(QualityError::TooFew { found: 1, .. })
    ));
    let twice = [line(0.0, 1.0, Some(1.0)), line(0.0, 1.0, Some(1.1))];
    assert!(matches!(sensor_trial(&twice, None), Err(QualityError::TimesNotRising { place: 2, .. })));
    // Without the moment of the change no time comes out too short: it counts from the last reading before.
    let short = [
        line(0.0, 0.0, Some(0.0)),
        line(10.0, 5.0, Some(4.0)),
        line(20.0, 5.0, Some(5.0)),
        line(30.0, 5.0, Some(5.0)),
    ];
    let found = sensor_trial(&short, None).unwrap();
    assert!(!found.steps[0].is_stated && is_at(found.steps[0].step.at_s, 0.0));
    assert!(found.drifts.is_empty() && found.memories.is_empty() && found.days.is_empty());
    assert!(matches!(found.near_zero, Some(Err(QualityError::TooFew { found: 1, needed: 6, .. }))));
}
