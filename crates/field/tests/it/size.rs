//! How long a step takes where many were handed in before.

use std::time::{Duration, Instant};

use stillwell_field::AbandonReason;

use crate::phone::{Own, Phone};
use crate::wells::Station;

/// Runs of four steps that end before the rinse, so that their strips stay free.
fn fill(at: &mut Station, from: usize, to: usize) {
    for n in from..to {
        let mut phone = Phone::new(&format!("f{n}"));
        let strip = 111 + u32::try_from(n % 45).unwrap();
        phone.at_well(at, ["AVW-11", "AVW-12", "AVW-13"][n % 3]);
        phone.goes_on(at, Own::Strip("K21A".into(), strip));
        phone.goes_on(at, Own::Temperature(21.0));
        phone.goes_on(at, Own::Abandon(AbandonReason::Other));
    }
}

fn middle(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}

#[test]
#[ignore = "a minute: times of a step in studies of many steps"]
fn a_step_among_thousands() {
    let mut at = Station::new();
    let mut n_runs = 0;
    for steps in [0, 2000, 10_000] {
        fill(&mut at, n_runs, steps / 4);
        n_runs = steps / 4;
        let (mut well, mut strip, mut others) = (Vec::new(), Vec::new(), Vec::new());
        for n in 0..15 {
            let mut phone = Phone::new(&format!("m{steps}-{n}"));
            // An hour later, as it is in the field: those of before are no longer at the well.
            phone.wait(7200);
            let started = Instant::now();
            phone.at_well(&mut at, "AVW-11");
            well.push(started.elapsed());
            let started = Instant::now();
            phone.goes_on(&mut at, Own::Strip("K21A".into(), 130));
            strip.push(started.elapsed());
            let started = Instant::now();
            at.field.others_at_well(&at.study, &phone.run, "AVW-11", phone.server_ms, 3600.0).unwrap();
            others.push(started.elapsed());
            phone.goes_on(&mut at, Own::Abandon(AbandonReason::Other));
        }
        let [well, strip, others] = [well, strip, others].map(middle);
        println!("{steps} steps before: well {well:?}, strip {strip:?}, who else is there {others:?}");
    }
}
