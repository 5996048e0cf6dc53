//! Asking the oracle, and the account of how far its answers lie from ours.

use std::io::Write as _;
use std::process::Stdio;

use serde_json::Value;
use stillwell_house::{python, repository};

/// Relative distance that needs no reason.
pub(crate) const LIMIT: f64 = 1e-9;

/// One answer a case, in their order; `None` after announcing the skip where there is no Python.
pub(crate) fn ask(cases: &[Value]) -> Option<Vec<Value>> {
    let mut command = python()?;
    command.arg(repository().join("peers/oracle.py")).stdin(Stdio::piped()).stdout(Stdio::piped());
    // Two cores, several tests at once: one thread each.
    for library in ["OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"] {
        command.env(library, "1");
    }
    let mut child = command.spawn().unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let question = serde_json::to_vec(cases).unwrap();
    // The oracle reads all before it writes, so neither side waits for the other.
    stdin.write_all(&question).unwrap();
    drop(stdin);
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "the oracle failed; its words stand above");
    let answers: Vec<Value> = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(answers.len(), cases.len());
    Some(answers)
}

/// The number that the answer gives under `key`.
pub(crate) fn number(answer: &Value, key: &str) -> f64 {
    answer[key].as_f64().unwrap_or_else(|| panic!("no number {key} in {answer}"))
}

/// The numbers that the answer gives under `key`.
pub(crate) fn numbers(answer: &Value, key: &str) -> Vec<f64> {
    let list = answer[key].as_array().unwrap_or_else(|| panic!("no list {key} in {answer}"));
    list.iter().map(|value| value.as_f64().unwrap()).collect()
}

/// The worst distance seen under one name.
#[derive(Clone)]
pub(crate) struct Account {
    name: &'static str,
    limit: f64,
    n_compared: usize,
    worst: f64,
    worst_case: String,
}

impl Account {
    pub(crate) fn new(name: &'static str) -> Self {
        Self::with_limit(name, LIMIT, "")
    }

    /// Another limit, for a reason that is printed with it.
    pub(crate) fn with_limit(name: &'static str, limit: f64, reason: &str) -> Self {
        assert!(limit <= LIMIT || reason.len() > 20, "{name}: a limit above {LIMIT:e} needs a reason");
        Self { name, limit, n_compared: 0, worst: 0.0, worst_case: String::new() }
    }

    /// Distance relative to the oracle's number.
    pub(crate) fn compare(&mut self, ours: f64, theirs: f64, case: &dyn std::fmt::Debug) {
        self.compare_on(theirs.abs(), ours, theirs, case);
    }

    /// Distance relative to `scale`: where the number itself may be near zero by cancellation.
    pub(crate) fn compare_on(&mut self, scale: f64, ours: f64, theirs: f64, case: &dyn std::fmt::Debug) {
        self.n_compared += 1;
        let apart = (ours - theirs).abs() / scale.max(f64::MIN_POSITIVE);
        // A NaN on either side is as far apart as can be.
        if apart > self.worst || apart.is_nan() {
            self.worst = if apart.is_nan() { f64::INFINITY } else { apart };
            self.worst_case = format!("ours {ours:e}, oracle {theirs:e}: {case:?}");
        }
    }

    /// Each pair relative to the largest number of the oracle's list: a curve has one scale.
    pub(crate) fn compare_curve(&mut self, ours: &[f64], theirs: &[f64], case: &dyn std::fmt::Debug) {
        assert_eq!(ours.len(), theirs.len(), "{}: {case:?}", self.name);
        let scale = theirs.iter().fold(0.0_f64, |largest, value| largest.max(value.abs()));
        for (ours, theirs) in ours.iter().zip(theirs) {
            self.compare_on(scale, *ours, *theirs, case);
        }
    }

    /// Prints the account, and tells whether it stays below its limit.
    fn close(&self) -> bool {
        let Self { name, limit, n_compared, worst, worst_case } = self;
        println!("{name:<34} {n_compared:>6} compared, at worst {worst:.1e} apart (limit {limit:.0e})");
        let is_good = *n_compared > 0 && worst <= limit;
        if !is_good {
            println!("    worst: {worst_case}");
        }
        is_good
    }
}

/// Prints all accounts and fails if one is overdrawn.
#[track_caller]
pub(crate) fn settle(accounts: &[Account]) {
    let n_bad = accounts.iter().filter(|account| !account.close()).count();
    assert_eq!(n_bad, 0, "{n_bad} account(s) above their limit");
}

#[test]
fn accounts_notice_what_is_apart() {
    let mut account = Account::new("planted");
    assert!(!account.close(), "nothing compared is nothing proven");
    account.compare(1.0 + 1e-10, 1.0, &"near");
    account.compare(0.0, -0.0, &"zeros");
    assert!(account.close());
    account.compare(1.0 + 1e-8, 1.0, &"far");
    assert!(!account.close());
    let mut account = Account::new("planted");
    account.compare(f64::NAN, 1.0, &"not a number");
    assert!(!account.close());
    let mut account = Account::new("planted");
    account.compare_curve(&[100.0, 1e-8], &[100.0, 0.0], &"a curve");
    assert!(account.close());
}
