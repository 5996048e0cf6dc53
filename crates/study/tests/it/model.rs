//! Random acts against a simple model: whatever is done, in whatever order, across reopenings, the ledger holds exactly
//! the acts that were said to be done, and the file verifies.

use std::collections::BTreeSet;
use std::path::Path;

use proptest::prelude::*;
use stillwell_study::{By, Custody, Delivery, ScanRef, Study, VerifyRequest};

use crate::folders::folder_of_scans;
use crate::scenario::{clock, new_study};

const N_FOLDERS: usize = 3;
const N_FILES: usize = 4;

#[derive(Debug, Clone)]
enum Doing {
    Add(usize),
    Exclude(usize, usize),
    Determine(usize),
    Withdraw(usize),
    Custody(usize),
    Reopen,
}

fn doing() -> impl Strategy<Value = Doing> {
    prop_oneof![
        3 => (0..N_FOLDERS).prop_map(Doing::Add),
        3 => (0..N_FOLDERS, 0..N_FILES).prop_map(|(series, scan)| Doing::Exclude(series, scan)),
        2 => (0..N_FOLDERS).prop_map(Doing::Determine),
        2 => (0..2 * N_FILES).prop_map(Doing::Withdraw),
        1 => (0..N_FILES).prop_map(Doing::Custody),
        1 => Just(Doing::Reopen),
    ]
}

/// What must be true of the study.
#[derive(Default)]
struct Model {
    /// Kinds of all records in their order.
    kinds: Vec<String>,
    /// Folder of each series, in the order of adding.
    series: Vec<usize>,
    excluded: BTreeSet<(usize, usize)>,
    withdrawn: BTreeSet<usize>,
}

impl Model {
    fn expect(&mut self, kind: &str, times: usize) {
        self.kinds.extend(std::iter::repeat_n(kind.to_owned(), times));
    }
}

fn act(study: &mut Study, model: &mut Model, folder: &Path, doing: &Doing) {
    let by = By::new("Ines Field", "a random act").unwrap();
    match doing {
        Doing::Add(index) => {
            let delivery = Delivery::of_folder(&folder.join(format!("raw-{index}"))).unwrap();
            let added = study.add(&delivery, &by, |_| {}).unwrap();
            assert_eq!(added.was_there, model.series.contains(index));
            if !added.was_there {
                model.series.push(*index);
                model.expect("files", 1);
                model.expect("series", 1);
            }
        }
        Doing::Exclude(index, scan) => {
            let Some(place) = model.series.iter().position(|series| series == index) else { return };
            let series = study.series().unwrap()[place].record.hash;
            let reference = ScanRef { file: format!("scan-{scan:06}.csv"), scan: 1 };
            let is_new = model.excluded.insert((*index, *scan));
            assert_eq!(study.exclude(&series, &reference, &by).is_ok(), is_new);
            model.expect("exclusion", usize::from(is_new));
        }
        Doing::Determine(index) => {
            let Some(place) = model.series.iter().position(|series| series == index) else { return };
            let series = study.series().unwrap()[place].record.hash;
            let issued = study.determine(&series, &by).unwrap();
            model.expect("determination", issued.determinations.iter().filter(|one| !one.was_there).count());
            assert!(study.determine(&series, &by).unwrap().determinations.iter().all(|one| one.was_there));
        }
        Doing::Withdraw(index) => {
            let all = study.determinations().unwrap();
            let Some(one) = all.get(*index) else { return };
            let is_new = model.withdrawn.insert(*index);
            assert_eq!(study.withdraw(&one.record.hash, &by).is_ok(), is_new);
            model.expect("withdrawal", usize::from(is_new));
        }
        Doing::Custody(index) => {
            let custody = Custody {
                sample: format!("well-{index}"),
                place: "invented well".to_owned(),
                taken: "2026-05-12".to_owned(),
                taken_by: "Ines Field".to_owned(),
                preservation: "none".to_owned(),
                holding_time_h: None,
                dilution: "none".to_owned(),
            };
            study.record_custody(&custody, &by).unwrap();
            model.expect("custody", 1);
        }
        Doing::Reopen => {
            let path = study.path().to_owned();
            *study = Study::open(&path, clock()).unwrap();
        }
    }
}

fn holds(study: &Study, model: &Model) {
    let kinds: Vec<String> =
        study.history(None).unwrap().into_iter().map(|entry| entry.record.kind).collect();
    assert_eq!(kinds, model.kinds);
    let found = study.verify(&VerifyRequest::default()).unwrap();
    assert!(found.is_sound(), "{:?}", found.damages);
    assert_eq!(found.n_scans, model.series.len() * N_FILES);
    for (series, index) in study.series().unwrap().iter().zip(&model.series) {
        let input = study.input(&series.record.hash).unwrap();
        let excluded: Vec<bool> = input.run_sheet.rows.iter().map(|row| row.exclude.is_some()).collect();
        let expected: Vec<bool> = (0..N_FILES).map(|scan| model.excluded.contains(&(*index, scan))).collect();
        assert_eq!(excluded, expected);
    }
    for (place, one) in study.determinations().unwrap().iter().enumerate() {
        assert_eq!(one.standing.withdrawn.is_some(), model.withdrawn.contains(&place));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_ledger_holds_what_was_done(doings in prop::collection::vec(doing(), 1..14)) {
        let folder = tempfile::tempdir().unwrap();
        for index in 0..N_FOLDERS {
            folder_of_scans(&folder.path().join(format!("raw-{index}")), N_FILES, 40, index + 1);
        }
        let mut study = new_study(&folder.path().join("wells.study"));
        let mut model = Model::default();
        model.expect("founding", 1);
        model.expect("revision", 1);
        for doing in &doings {
            act(&mut study, &mut model, folder.path(), doing);
        }
        drop(study);
        let study = Study::open(&folder.path().join("wells.study"), clock()).unwrap();
        holds(&study, &model);
    }
}
