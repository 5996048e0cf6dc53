//! Analysis of variance against its definition in `NumPy`'s extended precision, and against `SciPy`.

use serde_json::{Value, json};
use stillwell_stats::random::RandomStream;
use stillwell_stats::{analysis_of_variance, levene_test, nested_analysis_of_variance};

use crate::oracle::{Account, ask, number, settle};

const N_CASES: u64 = 60;

/// A whole number from `low` to `high`.
pub(crate) fn whole(random: &mut RandomStream, low: usize, high: usize) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small positive number")]
    let above = (random.uniform() * (high - low + 1) as f64) as usize;
    low + above
}

/// Unbalanced: 2 to 5 electrodes a level, 1 to 6 scans each, the first with 2 at least.
fn nested(stream: u64) -> Vec<Vec<Vec<f64>>> {
    let mut random = RandomStream::new(20_260_102, stream);
    let n_levels = whole(&mut random, 2, 6);
    let mut levels = Vec::new();
    for level in 0..n_levels {
        let n_electrodes = whole(&mut random, 2, 5);
        let mut electrodes = Vec::new();
        for electrode in 0..n_electrodes {
            let n_scans = whole(&mut random, if electrode == 0 { 2 } else { 1 }, 6);
            let offset = 10.0 * level as f64 + 3.0 * random.normal();
            electrodes.push((0..n_scans).map(|_| offset + 0.9 * random.normal()).collect());
        }
        levels.push(electrodes);
    }
    levels
}

#[test]
fn nested_analysis_of_variance_agrees_with_its_definition() {
    let layouts: Vec<_> = (0..N_CASES).map(nested).collect();
    let cases: Vec<Value> = layouts.iter().map(|l| json!({"kind": "nested_anova", "classes": l})).collect();
    let Some(answers) = ask(&cases) else { return };
    let keys = ["ss_between", "ss_within", "n0", "within", "between", "f", "p"];
    let mut accounts = keys.map(Account::new);
    for (layout, answer) in layouts.iter().zip(&answers) {
        let found = nested_analysis_of_variance(layout).unwrap();
        let ours = [
            found.ss_between,
            found.ss_within,
            found.effective_replicates,
            found.within_variance,
            found.between_variance,
            found.f_statistic,
            found.p_value,
        ];
        for ((account, key), ours) in accounts.iter_mut().zip(keys).zip(ours) {
            account.compare(ours, number(answer, key), layout);
        }
    }
    settle(&accounts);
}

#[test]
fn one_way_and_levene_tests_agree_with_scipy() {
    let groups: Vec<Vec<Vec<f64>>> = (0..N_CASES).map(|stream| nested(stream + 1_000).concat()).collect();
    let with_spread =
        |groups: &[Vec<f64>]| groups.iter().filter(|g| g.len() > 2).cloned().collect::<Vec<_>>();
    let spread: Vec<Vec<Vec<f64>>> = groups.iter().map(|g| with_spread(g)).filter(|g| g.len() > 1).collect();
    let one_way = groups.iter().map(|g| json!({"kind": "one_way_anova", "groups": g}));
    let levene = spread.iter().map(|g| json!({"kind": "levene", "groups": g}));
    let Some(answers) = ask(&one_way.chain(levene).collect::<Vec<_>>()) else { return };
    let mut accounts = ["one-way F", "one-way p", "Levene F", "Levene p"].map(Account::new);
    let found = groups.iter().map(|g| (0, analysis_of_variance(g).unwrap()));
    let found = found.chain(spread.iter().map(|g| (2, levene_test(g).unwrap())));
    for ((at, found), answer) in found.zip(&answers) {
        accounts[at].compare(found.f_statistic, number(answer, "f"), &found);
        accounts[at + 1].compare(found.p_value, number(answer, "p"), &found);
    }
    settle(&accounts);
}
