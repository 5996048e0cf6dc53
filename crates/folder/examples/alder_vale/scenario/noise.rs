//! Chance, seeded: one stream for every strip and one for every scan, so that no value depends on the order of work.

use stillwell_stats::random::RandomStream;

use super::PlannedScan;

const SEED: u64 = 2026;

/// The random numbers of one strip or of one scan.
pub(crate) struct Noise(RandomStream);

impl Noise {
    /// What belongs to the strip: the same for each of its scans.
    pub(crate) fn of_strip(scan: &PlannedScan) -> Self {
        Self::of(scan, 0)
    }

    /// What belongs to this one scan.
    pub(crate) fn of_scan(scan: &PlannedScan) -> Self {
        Self::of(scan, scan.electrode_scan)
    }

    /// Readable stream numbers: lot 21, strip 7, scan 2 is 2100702; scan 0 is the strip itself.
    fn of(scan: &PlannedScan, electrode_scan: u32) -> Self {
        let index = scan.batch.lot_number * 100_000 + u64::from(scan.strip) * 100 + u64::from(electrode_scan);
        Self(RandomStream::new(SEED, index))
    }

    /// A standard normal value.
    pub(crate) fn normal(&mut self) -> f64 {
        self.0.normal()
    }
}
