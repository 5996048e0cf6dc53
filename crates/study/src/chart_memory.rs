//! What charts were found to withhold, and what each series gives to them, kept as long as the program runs.
//!
//! Both are found again by what they rest on: the heads of all ledgers of a file, or everything that a series' walk takes in. A change
//! of either has another key, so nothing here can be out of date; a key that is never asked for again only takes room.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use stillwell_method::ChartContribution;

use crate::charts::ChartHold;
use crate::hash::Digest;

/// What a series gives to the charts, and the identity of each of its determinations; nothing where it cannot be read by the method.
#[derive(Debug, Default)]
pub(crate) struct Contribution {
    pub(crate) charts: ChartContribution,
    pub(crate) results: Vec<[String; 4]>,
}

/// Series are forgotten, all of them, when there are more: a hundred studies of a hundred series.
const MOST_SERIES: usize = 10_000;

/// Heads are forgotten when there are more.
const MOST_HEADS: usize = 16;

struct Memory {
    holds: BTreeMap<Digest, Arc<ChartHold>>,
    series: BTreeMap<Digest, Arc<Contribution>>,
}

static MEMORY: Mutex<Memory> = Mutex::new(Memory { holds: BTreeMap::new(), series: BTreeMap::new() });

/// Its maps are whole whatever a thread that held it did.
fn memory() -> MutexGuard<'static, Memory> {
    MEMORY.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What the charts withhold at these heads, if it was found before.
pub(crate) fn hold_at(heads: &Digest) -> Option<Arc<ChartHold>> {
    memory().holds.get(heads).cloned()
}

pub(crate) fn keep_hold(heads: Digest, hold: &Arc<ChartHold>) {
    let mut memory = memory();
    if memory.holds.len() >= MOST_HEADS {
        memory.holds.clear();
    }
    memory.holds.insert(heads, Arc::clone(hold));
}

/// What a series gives, if it was walked before.
pub(crate) fn series_of(key: &Digest) -> Option<Arc<Contribution>> {
    memory().series.get(key).cloned()
}

pub(crate) fn keep_series(key: Digest, found: &Arc<Contribution>) {
    let mut memory = memory();
    if memory.series.len() >= MOST_SERIES {
        memory.series.clear();
    }
    memory.series.insert(key, Arc::clone(found));
}
