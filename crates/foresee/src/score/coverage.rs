//! How often the check of drop coverage speaks: on covered electrodes, on half covered and dry ones, and on those still wetting.

use rayon::prelude::*;
use stillwell_method::{Check, Effect, Report, ScanLink};
use stillwell_scan::{Arrangement, TextForm};
use stillwell_stats::random::RandomStream;
use stillwell_twin::Fault;

use super::Subject;
use crate::error::ForeseeError;
use crate::plan::{Batch, Measurement};

/// How far the drop covers the electrode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Coverage {
    /// All of it, at temperatures that the method covers.
    Whole,
    /// Nine tenths.
    Most,
    /// 70 %.
    SeventyPercent,
    /// Half.
    Half,
    /// One hundredth: as good as dry.
    Dry,
    /// Half to all of it dry at the start, wetting in 0.2 to 1 s.
    QuickWetting,
    /// Half to all of it dry at the start, wetting in 1 to 5 s.
    SlowWetting,
}

impl Coverage {
    /// All states, in the order of the table.
    pub const ALL: [Self; 7] = [
        Self::Whole,
        Self::Most,
        Self::SeventyPercent,
        Self::Half,
        Self::Dry,
        Self::QuickWetting,
        Self::SlowWetting,
    ];

    /// In words, for the table.
    pub fn name(self) -> &'static str {
        match self {
            Self::Whole => "covered, 12 to 28 °C",
            Self::Most => "90 % covered",
            Self::SeventyPercent => "70 % covered",
            Self::Half => "half covered",
            Self::Dry => "dry (1 % wetted)",
            Self::QuickWetting => "dry start, wetting in 0.2 to 1 s",
            Self::SlowWetting => "dry start, wetting in 1 to 5 s",
        }
    }

    fn fault(self, stream: &mut RandomStream) -> Option<Fault> {
        let mut wetting = |low: f64, high: f64| Fault::DryStart {
            dry_share: 0.5 + 0.5 * stream.uniform(),
            wetting_s: low * libm::pow(high / low, stream.uniform()),
            charging_a: -libm::pow(10.0, -6.0 + 1.7 * stream.uniform()),
        };
        match self {
            Self::Whole => None,
            Self::Most => Some(Fault::PartialCoverage { wetted_share: 0.9 }),
            Self::SeventyPercent => Some(Fault::PartialCoverage { wetted_share: 0.7 }),
            Self::Half => Some(Fault::PartialCoverage { wetted_share: 0.5 }),
            Self::Dry => Some(Fault::PartialCoverage { wetted_share: 0.01 }),
            Self::QuickWetting => Some(wetting(0.2, 1.0)),
            Self::SlowWetting => Some(wetting(1.0, 5.0)),
        }
    }
}

/// What became of the scans of one state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CoverageRow {
    /// The state.
    pub state: Coverage,
    /// Scans.
    pub scans: usize,
    /// Refused for their coverage.
    pub refused: usize,
    /// Refused by another check of the scan, and not for their coverage.
    pub refused_otherwise: usize,
    /// Said to be not testable.
    pub untold: usize,
    /// Taken as sound.
    pub passed: usize,
}

/// Measures the check of drop coverage in so many laboratories: each calibrates a lot of its own and scans one strip of every
/// state once, at a level drawn evenly from 0 to `most`. `has_both` writes forward and reverse currents into the files.
///
/// # Units
/// `most` in the method's reporting unit.
///
/// # Errors
/// What the twin refuses, or a method without levels.
pub fn coverage_table(
    subject: &Subject<'_>,
    laboratories: u32,
    most: f64,
    has_both: bool,
) -> Result<Vec<CoverageRow>, ForeseeError> {
    let reports = (1..=laboratories)
        .into_par_iter()
        .map(|number| {
            let mut batch = subject.batch(u64::from(number), samples(subject, number, most))?;
            if has_both {
                set_both(&mut batch);
            }
            subject.report(batch)
        })
        .collect::<Result<Vec<Report>, ForeseeError>>()?;
    Ok(Coverage::ALL.into_iter().map(|state| row(state, &reports)).collect())
}

fn set_both(batch: &mut Batch) {
    batch.form = TextForm { arrangement: Arrangement::Stacked, ..batch.form.clone() };
}

fn samples(subject: &Subject<'_>, number: u32, most: f64) -> Vec<Measurement> {
    let mut stream = RandomStream::new(subject.seed ^ 0x0063_6f76_6572, u64::from(number));
    let states = Coverage::ALL.into_iter();
    states
        .map(|state| {
            let level = most * stream.uniform();
            let mut sample = Measurement::sample(state.name(), level, 1, 1);
            if state == Coverage::Whole && subject.method.sample.temperature.is_some() {
                sample.temperature_c = Some(12.0 + 16.0 * stream.uniform());
            }
            sample.faults = state.fault(&mut stream).map(|fault| (fault, 1)).into_iter().collect();
            sample
        })
        .collect()
}

fn row(state: Coverage, reports: &[Report]) -> CoverageRow {
    let is_of_state = |link: &&ScanLink| link.row.sample == state.name();
    let scans: Vec<&ScanLink> = reports.iter().flat_map(|report| &report.scans).filter(is_of_state).collect();
    let says = |link: &ScanLink, effect: Effect| {
        link.findings.iter().any(|found| found.check == Check::DropCoverage && found.effect == effect)
    };
    let mut row =
        CoverageRow { state, scans: scans.len(), refused: 0, refused_otherwise: 0, untold: 0, passed: 0 };
    for link in scans {
        if says(link, Effect::Refused) {
            row.refused += 1;
        } else if link.is_refused() {
            row.refused_otherwise += 1;
        } else if says(link, Effect::Noted) {
            row.untold += 1;
        } else {
            row.passed += 1;
        }
    }
    row
}
