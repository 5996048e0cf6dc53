//! Vectors: scans and samples with the expected bits of every intermediate result, as a device's test reads them.
//!
//! A file is a row of blocks: kind and length (`uint32_t` each, little-endian), then the payload, padded to 8 bytes. The test
//! program (`c/check.c`) walks them in order. Expected results are 64-bit words in the order of [`scan_words`] and
//! [`sample_words`]; curves enter with a hash over the bits of all their points.

use stillwell_evaluate::{
    Conditions, FrozenStorage, InverseFault, Point, Refusal, SampleOutcome, SampleRefusal, SampleResult,
    SampleRun, ScanOutcome, ScanResult, Signal, TrustCheck, VerdictCode, Workspace,
};

use crate::constants::{method_constants, small, state_code};
use crate::error::TransferError;
use crate::frozen::Frozen;
use crate::limits::MOST_LIMITS;

/// The version of the format: raised whenever a block or the order of words changes.
pub const VECTORS_VERSION: u32 = 1;

const MAGIC: u32 = 0x5657_5453; // "STWV"
const BLOCK_END: u32 = 0;
const BLOCK_METHOD: u32 = 1;
const BLOCK_LOT: u32 = 2;
const BLOCK_SCAN: u32 = 3;
const BLOCK_SAMPLE_BEGIN: u32 = 4;
const BLOCK_SAMPLE_END: u32 = 5;
const BLOCK_ROOTS: u32 = 6;

/// A word of an expected result with its name.
pub type Word = (String, u64);

/// A vector file in the making.
#[derive(Debug, Clone)]
pub struct Vectors {
    bytes: Vec<u8>,
    n_scans: usize,
    n_samples: usize,
}

impl Default for Vectors {
    fn default() -> Self {
        let mut bytes = MAGIC.to_le_bytes().to_vec();
        bytes.extend(VECTORS_VERSION.to_le_bytes());
        Self { bytes, n_scans: 0, n_samples: 0 }
    }
}

impl Vectors {
    /// Scans so far.
    pub fn n_scans(&self) -> usize {
        self.n_scans
    }

    /// Samples so far.
    pub fn n_samples(&self) -> usize {
        self.n_samples
    }

    /// The finished file.
    pub fn finish(mut self) -> Vec<u8> {
        self.block(BLOCK_END, &[]);
        self.bytes
    }

    fn block(&mut self, kind: u32, payload: &[u8]) {
        let padded = payload.len().next_multiple_of(8);
        self.bytes.extend(kind.to_le_bytes());
        self.bytes.extend(small(padded).to_le_bytes());
        self.bytes.extend(payload);
        self.bytes.resize(self.bytes.len() + padded - payload.len(), 0);
    }

    /// The method and lot that the following scans belong to, with the blank to subtract: that of the record, or one that the
    /// device recorded.
    ///
    /// # Errors
    /// As [`Frozen::method_c`].
    pub fn method(&mut self, frozen: &Frozen, own_blank_a: Option<&[f64]>) -> Result<(), TransferError> {
        let constants = method_constants(frozen)?;
        let mut payload = constants.fields.bytes();
        for word in
            [small(constants.potential_v.len()), small(constants.weights.len()), constants.checksum(), 0]
        {
            payload.extend(word.to_le_bytes());
        }
        payload.extend(
            constants.potential_v.iter().chain(&constants.weights).flat_map(|x| x.to_bits().to_le_bytes()),
        );
        self.block(BLOCK_METHOD, &payload);
        let lot = frozen.lot_record(own_blank_a.is_none())?;
        let blank_a = own_blank_a.or(frozen.blank_a()).unwrap_or(&[]);
        let mut payload = lot.record;
        payload.extend(small(blank_a.len()).to_le_bytes());
        payload.extend(0_u32.to_le_bytes());
        payload.extend(blank_a.iter().flat_map(|x| x.to_bits().to_le_bytes()));
        self.block(BLOCK_LOT, &payload);
        Ok(())
    }

    /// One scan: its points and the expected words; with an electrode it is added to the sample that was begun.
    pub fn scan(&mut self, points: &[Point], has_reverse: bool, electrode: Option<usize>, words: &[Word]) {
        let marked: Vec<u32> =
            points.iter().enumerate().filter(|(_, point)| point.overload).map(|(i, _)| small(i)).collect();
        let mut payload = Vec::new();
        let electrode = electrode.map_or(u32::MAX, small);
        for word in [small(points.len()), u32::from(has_reverse), electrode, small(marked.len())] {
            payload.extend(word.to_le_bytes());
        }
        for point in points {
            let currents = [point.current_a, point.forward_a, point.reverse_a];
            let n = if has_reverse { 3 } else { 1 };
            payload.extend(currents.iter().take(n).flat_map(|x| x.to_bits().to_le_bytes()));
        }
        payload.extend(marked.iter().flat_map(|index| index.to_le_bytes()));
        payload.resize(payload.len().next_multiple_of(8), 0);
        payload.extend(words.iter().flat_map(|(_, word)| word.to_le_bytes()));
        self.block(BLOCK_SCAN, &payload);
        self.n_scans += 1;
    }

    /// Begins a sample.
    pub fn sample_begin(&mut self, conditions: &Conditions) {
        let Conditions { temperature_c, dilution_factor, dilution_u, today, control_alive } = *conditions;
        let mut payload = Vec::new();
        for number in [temperature_c.unwrap_or(0.0), dilution_factor, dilution_u] {
            payload.extend(number.to_bits().to_le_bytes());
        }
        let stated = u32::from(temperature_c.is_some()) | u32::from(control_alive) << 1;
        payload.extend(today.unwrap_or(0).to_le_bytes());
        payload.extend(stated.to_le_bytes());
        self.block(BLOCK_SAMPLE_BEGIN, &payload);
    }

    /// Ends the sample with its expected words.
    pub fn sample_end(&mut self, words: &[Word]) {
        let payload: Vec<u8> = words.iter().flat_map(|(_, word)| word.to_le_bytes()).collect();
        self.block(BLOCK_SAMPLE_END, &payload);
        self.n_samples += 1;
    }

    /// Numbers and their square roots.
    pub fn roots(&mut self, numbers: &[f64]) {
        let words = numbers.iter().flat_map(|x| [x.to_bits(), canonical(libm::sqrt(*x))]);
        let payload: Vec<u8> = words.flat_map(u64::to_le_bytes).collect();
        self.block(BLOCK_ROOTS, &payload);
    }
}

/// Runs one scan through the kernel: its result and the expected words, curves included.
///
/// # Errors
/// [`TransferError::SettingsNotUsable`] where lengths do not fit the frozen grid.
pub fn run_scan(
    frozen: &Frozen,
    blank_a: Option<&[f64]>,
    points: &[Point],
) -> Result<(ScanResult, Vec<Word>), TransferError> {
    let n = frozen.n_points();
    let (method, lot) = (frozen.method()?, frozen.lot());
    let mut currents = [vec![0.0; n], vec![0.0; n], vec![0.0; n], vec![0.0; n]];
    let mut overload = vec![0; n];
    let [current_a, forward_a, reverse_a, order] = &mut currents;
    let storage = FrozenStorage { current_a, forward_a, reverse_a, order, overload: &mut overload };
    let mut run = method.begin(&lot, blank_a, storage).map_err(TransferError::SettingsNotUsable)?;
    for point in points {
        run.push(*point).map_err(TransferError::SettingsNotUsable)?;
    }
    let mut numbers = vec![0.0; Workspace::storage_len(n)];
    let mut workspace = Workspace::new(&mut numbers, n).map_err(TransferError::SettingsNotUsable)?;
    let result = run.finish(&mut workspace).map_err(TransferError::SettingsNotUsable)?;
    let words = scan_words(&result, &workspace);
    Ok((result, words))
}

/// Runs one sample: its result and the expected words; none where the conditions are not possible.
///
/// # Errors
/// As [`Frozen::method`].
pub fn run_sample(
    frozen: &Frozen,
    conditions: &Conditions,
    scans: &[(usize, ScanResult)],
) -> Result<Option<(SampleResult, Vec<Word>)>, TransferError> {
    let (method, lot) = (frozen.method()?, frozen.lot());
    let Some(mut run) = SampleRun::begin(&method, &lot, *conditions) else { return Ok(None) };
    for (electrode, scan) in scans {
        run.add(*electrode, scan);
    }
    let result = run.finish();
    let words = sample_words(frozen, &result);
    Ok(Some((result, words)))
}

/// The bits of a number, every NaN alike.
fn canonical(x: f64) -> u64 {
    if x.is_nan() { 0x7ff8_0000_0000_0000 } else { x.to_bits() }
}

/// Over the bits of all points of a curve.
fn hash_of_curve(values: &[f64]) -> u64 {
    values
        .iter()
        .fold(0xcbf2_9ce4_8422_2325, |hash: u64, x| (hash ^ canonical(*x)).wrapping_mul(0x0100_0000_01b3))
}

/// Collects words with their names.
#[derive(Default)]
struct Words(Vec<Word>);

impl Words {
    fn number(&mut self, name: impl Into<String>, value: f64) {
        self.0.push((name.into(), canonical(value)));
    }

    fn count(&mut self, name: impl Into<String>, value: usize) {
        self.0.push((name.into(), value as u64));
    }

    fn code(&mut self, name: impl Into<String>, value: u32) {
        self.0.push((name.into(), u64::from(value)));
    }
}

/// Every number of a finished scan in the order in which the C test compares them.
fn scan_words(result: &ScanResult, workspace: &Workspace<'_>) -> Vec<Word> {
    let ScanResult { trust, outcome, reasons, refusal, outside, signal, spikes_warned, has_curves } = result;
    let mut words = Words::default();
    for check in TrustCheck::ALL {
        let finding = trust.of(check);
        words.code(format!("{check:?} state"), state_code(finding.state));
        words.code(format!("{check:?} place"), finding.at_index);
        words.number(format!("{check:?} found"), finding.found);
        words.number(format!("{check:?} limit"), finding.limit);
    }
    signal_words(&mut words, signal.as_ref());
    let told = refusal.map_or([0.0, 0.0, 0.0], numbers_of);
    let [index, height_a, noise_a] = told;
    words.number("refusal height", height_a);
    words.number("refusal noise", noise_a);
    words.number("height outside", outside.map_or(0.0, |(_, height_a)| height_a));
    words.count("index outside", outside.map_or(0, |(index, _)| index));
    words.code("refusal", refusal.map_or(0, |refusal| u32::from(refusal.code())));
    // Indices are whole and far below 2⁵³.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index")]
    words.count("refusal index", index as usize);
    words.code(
        "outcome",
        match outcome {
            ScanOutcome::SignalByPeak => 1,
            ScanOutcome::SignalAtPlace => 2,
            ScanOutcome::Refused => 3,
        },
    );
    words.code("reasons", reasons.bits());
    words.code("spikes warned", u32::from(*spikes_warned));
    let curves = [
        ("despiked and freed of the blank", workspace.subtracted_a()),
        ("smoothed", workspace.smoothed_a()),
        ("baseline", workspace.baseline_a()),
        ("corrected", workspace.corrected_a()),
    ];
    for (name, curve) in curves {
        words.0.push((name.to_owned(), if *has_curves { hash_of_curve(curve) } else { 0 }));
    }
    words.0
}

/// Index, height and noise of a refusal, as far as it has them.
fn numbers_of(refusal: Refusal) -> [f64; 3] {
    match refusal {
        Refusal::MaximumOnWindowEdge { index, height_a } => [index as f64, height_a, 0.0],
        Refusal::NoPeak { index, height_a, noise_a } => [index as f64, height_a, noise_a],
        Refusal::NotFinite { index } => [index as f64, 0.0, 0.0],
        Refusal::TooFewPoints { .. }
        | Refusal::LengthsDiffer { .. }
        | Refusal::WorkspaceTooSmall { .. }
        | Refusal::PotentialNotMonotonic { .. }
        | Refusal::RangeNotUsable { .. }
        | Refusal::SettingNotUsable { .. }
        | Refusal::BaselineNotSettled { .. }
        | Refusal::OutOfNumberRange => [0.0; 3],
    }
}

fn signal_words(words: &mut Words, signal: Option<&Signal>) {
    let number = |words: &mut Words, name: &str, value: Option<f64>| words.number(name, value.unwrap_or(0.0));
    let foot = signal.map_or([0.0; 2], |signal| signal.foot_potential_v);
    let points = signal.and_then(|signal| signal.baseline_points);
    number(words, "signal", signal.map(|signal| signal.signal_a));
    number(words, "height", signal.map(|signal| signal.height_a));
    number(words, "peak potential", signal.and_then(|signal| signal.peak_potential_v));
    number(words, "half width", signal.and_then(|signal| signal.half_width_v));
    words.number("foot before", foot[0]);
    words.number("foot after", foot[1]);
    number(words, "baseline at peak", signal.map(|signal| signal.baseline_at_peak_a));
    number(words, "noise", signal.and_then(|signal| signal.noise_a));
    number(words, "signal to noise", signal.and_then(|signal| signal.signal_to_noise));
    number(words, "background ratio", signal.and_then(|signal| signal.background_ratio));
    words.count("peak index", signal.map_or(0, |signal| signal.peak_index));
    words.count("baseline point before", points.map_or(0, |[before, _]| before));
    words.count("baseline point after", points.map_or(0, |[_, after]| after));
    words.count("despiked", signal.map_or(0, |signal| signal.despiked));
    words.code("flags", signal.map_or(0, |signal| u32::from(signal.flags.bits())));
    let has = signal.map_or(0, |signal| {
        u32::from(signal.peak_potential_v.is_some())
            | u32::from(signal.half_width_v.is_some()) << 1
            | u32::from(points.is_some()) << 2
            | u32::from(signal.noise_a.is_some()) << 3
            | u32::from(signal.signal_to_noise.is_some()) << 4
            | u32::from(signal.background_ratio.is_some()) << 5
    });
    words.code("found", has);
}

/// Every number of a finished sample in the order in which the C test compares them.
fn sample_words(frozen: &Frozen, result: &SampleResult) -> Vec<Word> {
    let SampleResult {
        outcome,
        mean_signal,
        factor,
        level,
        standard_u,
        interval,
        disagreement,
        n_electrodes,
        n_scans,
        withheld,
        warnings,
    } = *result;
    let mut words = Words::default();
    let (code, bound, because, fault) = match outcome {
        SampleOutcome::Quantified => (1, 0.0, 0, 0),
        SampleOutcome::BelowQuantification(bound) => (2, bound, 0, 0),
        SampleOutcome::NotDetected(bound) => (3, bound, 0, 0),
        SampleOutcome::AboveRange(bound) => (4, bound, 0, 0),
        SampleOutcome::Refused(refusal) => {
            let (because, fault) = refusal_codes(refusal);
            (5, 0.0, because, fault)
        }
    };
    words.number("mean signal", mean_signal);
    words.number("factor", factor);
    for (name, value) in ["level", "level low", "level high"].into_iter().zip(level) {
        words.number(name, value);
    }
    words.number("standard u", standard_u);
    for (name, value) in ["value", "low", "high"].into_iter().zip(interval) {
        words.number(name, value);
    }
    words.number("bound", bound);
    let [ratio, limit] = disagreement.unwrap_or([0.0; 2]);
    words.number("disagreement", ratio);
    words.number("disagreement limit", limit);
    words.code("outcome", code);
    words.code("refused because", because);
    words.code("fault", fault);
    words.code("electrodes", n_electrodes);
    words.code("scans", n_scans);
    words.code("withheld", withheld);
    words.code("warnings", warnings);
    words.count("limits", frozen.limits.len());
    let decided: Vec<u32> = (0..MOST_LIMITS)
        .map(|place| frozen.limits.get(place).map_or(4, |limit| verdict_code(result.decided(limit))))
        .collect();
    for (place, code) in decided.iter().enumerate() {
        words.code(format!("decided {place}"), *code);
    }
    for (place, code) in decided.iter().enumerate() {
        words.code(format!("verdict {place}"), if withheld != 0 && *code != 4 { 5 } else { *code });
    }
    words.0
}

fn refusal_codes(refusal: SampleRefusal) -> (u32, u32) {
    match refusal {
        SampleRefusal::NoScan => (1, 0),
        SampleRefusal::Condemned => (2, 0),
        SampleRefusal::Temperature => (3, 0),
        SampleRefusal::Unresolved(fault) => (4, fault_code(fault)),
        SampleRefusal::NoPeakAbove => (5, 0),
        SampleRefusal::Negative => (6, 0),
        SampleRefusal::NoControl => (7, 0),
        SampleRefusal::NoPeakDetected => (8, 0),
        SampleRefusal::NoClaim => (9, 0),
        SampleRefusal::NumberRange => (10, 0),
    }
}

fn fault_code(fault: InverseFault) -> u32 {
    match fault {
        InverseFault::InputNotFinite => 1,
        InverseFault::ExtraVarianceNegative => 2,
        InverseFault::NoElectrodes => 3,
        InverseFault::CurveUnusable => 4,
        InverseFault::VarianceNotPositive { .. } => 5,
        InverseFault::SlopeNotSignificant { .. } => 6,
        InverseFault::NotMonotonic { .. } => 7,
        InverseFault::NumberOverflow => 8,
    }
}

/// `STW_BELOW` and its like.
pub(crate) fn verdict_code(code: VerdictCode) -> u32 {
    match code {
        VerdictCode::Below => 1,
        VerdictCode::Above => 2,
        VerdictCode::TooCloseToCall => 3,
        VerdictCode::NotDecidable => 4,
    }
}
