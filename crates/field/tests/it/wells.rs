//! The invented campaign of `examples/alder-vale-campaign`: a study with an approved calibration, and strips whose truth is known.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, LazyLock};

use stillwell_field::Field;
use stillwell_foresee::alder_vale::{CELL_TEXT, CIRCUIT_TEXT};
use stillwell_foresee::{Bench, CellModel, CircuitModel, Exposure};
use stillwell_method::Method;
use stillwell_scan::{TextForm, write};
use stillwell_study::{By, Clock, Delivery, SigningPerson, Study, StudyRole, Word};
use stillwell_twin::Fault;
use tempfile::TempDir;

/// Noon of 2026-07-06 UTC, ms.
pub(crate) const NOON_MS: i64 = 1_783_339_200_000;
/// mg/L of NO₃⁻ a mol/m³ (62.0049 g/mol, from the molar masses of the quantity room).
const NITRATE_G_PER_MOL: f64 = 62.0049;

pub(crate) fn example() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/alder-vale-campaign")
}

pub(crate) fn method_text() -> String {
    std::fs::read_to_string(example().join("method.toml")).unwrap()
}

pub(crate) fn campaign_text() -> String {
    std::fs::read_to_string(example().join("campaign.toml")).unwrap()
}

pub(crate) fn analyst() -> By {
    By::new("Ines Field", "summer round").unwrap()
}

fn clock() -> Clock {
    let seconds = Arc::new(AtomicI64::new(NOON_MS / 1000));
    Clock::of(move || jiff::Timestamp::from_second(seconds.fetch_add(1, Ordering::Relaxed)).unwrap())
}

/// A study with the calibration of lot L21, approved, and the campaign, approved unless said otherwise. Made once, copied often.
static PREPARED: LazyLock<(TempDir, PathBuf, PathBuf)> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wells.study");
    let mut study = Study::create(&path, "wells", &method_text(), &analyst(), clock()).unwrap();
    let added =
        study.add(&Delivery::of_folder(&example().join("standards")).unwrap(), &analyst(), |_| {}).unwrap();
    study.determine(&added.series, &analyst()).unwrap();
    let approver =
        SigningPerson::create(&folder.path().join("a.key"), "Tomas Reed", "four plain invented words")
            .unwrap();
    study.add_key("Tomas Reed", approver.public_key(), StudyRole::Approver, None, &analyst()).unwrap();
    let calibration = study.calibration("1").unwrap().record.hash;
    study.set_validity(&calibration, "2026-08-31", &[], &analyst()).unwrap();
    study.approve(&calibration, Word::Approved, &approver, "residuals without trend").unwrap();
    let campaign = Field::record(&mut study, "campaign.toml", &campaign_text(), &analyst()).unwrap();
    drop(study);
    let unapproved = folder.path().join("unapproved.study");
    std::fs::copy(&path, &unapproved).unwrap();
    let mut study = Study::open(&path, clock()).unwrap();
    study.approve(&campaign.hash, Word::Approved, &approver, "wells and boxes as listed").unwrap();
    drop(study);
    (folder, path, unapproved)
});

/// A study of one's own, and the campaign in it.
pub(crate) struct Station {
    folder: TempDir,
    pub(crate) study: Study,
    pub(crate) field: Field,
}

impl Station {
    pub(crate) fn new() -> Self {
        Self::of(&PREPARED.1)
    }

    pub(crate) fn unapproved() -> Self {
        Self::of(&PREPARED.2)
    }

    fn of(prepared: &Path) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wells.study");
        std::fs::copy(prepared, &path).unwrap();
        let study = Study::open(&path, clock()).unwrap();
        let field = Field::open(&study, "1").unwrap();
        Self { folder, study, field }
    }

    /// The server is killed and started again.
    pub(crate) fn restarted(self) -> Self {
        let path = self.folder.path().join("wells.study");
        drop(self.study);
        let study = Study::open(&path, clock()).unwrap();
        let field = Field::open(&study, "1").unwrap();
        Self { folder: self.folder, study, field }
    }

    pub(crate) fn folder(&self) -> &Path {
        self.folder.path()
    }

    pub(crate) fn sound(&self) {
        let all = stillwell_study::VerifyRequest {
            recompute: stillwell_study::Recompute::All,
            ..stillwell_study::VerifyRequest::default()
        };
        let found = self.study.verify(&all).unwrap();
        assert!(found.is_sound(), "{:?} {:?}", found.damages, found.recomputed);
    }
}

/// What a strip of lot L21 is put into, and what is wrong with it.
#[derive(Debug, Clone)]
pub(crate) struct Dip {
    pub(crate) strip: u32,
    pub(crate) mg_per_l: f64,
    pub(crate) temperature_c: f64,
    pub(crate) faults: Vec<Fault>,
}

impl Dip {
    pub(crate) fn new(strip: u32, mg_per_l: f64) -> Self {
        Self { strip, mg_per_l, temperature_c: 21.0, faults: Vec::new() }
    }

    pub(crate) fn with(self, fault: Fault) -> Self {
        Self { faults: vec![fault], ..self }
    }

    /// The file that the handheld writes: so many scans side by side.
    pub(crate) fn file(&self, n_scans: u32) -> Vec<u8> {
        let method = Method::parse("method.toml", &method_text()).unwrap();
        let cell = CellModel::parse(CELL_TEXT.name, CELL_TEXT.text).unwrap();
        let circuit = CircuitModel::parse(CIRCUIT_TEXT.name, CIRCUIT_TEXT.text).unwrap();
        // The world of examples/alder-vale, so that these are strips of its lot.
        let bench = Bench { cell: &cell, circuit: &circuit, technique: &method.technique, seed: 2026 };
        let scan = |scan: u32| {
            let exposure = Exposure {
                analyte_mol_per_m3: self.mg_per_l / NITRATE_G_PER_MOL,
                temperature_c: Some(self.temperature_c),
                lot: 21,
                electrode: u64::from(self.strip),
                scan,
                faults: self.faults.clone(),
            };
            bench.read(&bench.trace(&exposure).unwrap(), &exposure, &circuit.circuit).unwrap()
        };
        write(&(1..=n_scans).map(scan).collect::<Vec<_>>(), &TextForm::plain(3))
    }
}
