//! One trial: what a method asks of one lot on one day, with samples whose truth is known.

use stillwell_method::{BlankUse, Method, Role};
use stillwell_scan::TextForm;
use stillwell_twin::Circuit;

use crate::error::ForeseeError;
use crate::plan::{Batch, Measurement, Water};

/// Scans on each strip of a trial; blanks are scanned once.
pub(crate) const SCANS_PER_STRIP: u32 = 2;

/// Strips of each check standard and control.
const CHECK_STRIPS: u32 = 2;

/// The batch that a method asks for: blanks, standards at its levels, check standards and a control before the samples, and
/// check standards after them, with `replicates` strips for each standard. Samples that say nothing of their water get what
/// the method was validated for.
///
/// # Errors
/// A method without levels.
pub fn trial(
    method: &Method,
    lot_number: u64,
    replicates: u32,
    form: &TextForm,
    samples: Vec<Measurement>,
) -> Result<Batch, ForeseeError> {
    trial_at(&method.calibration.levels, method, lot_number, replicates, form, samples)
}

/// The same with standards at other levels than the method's.
pub(crate) fn trial_at(
    levels: &[f64],
    method: &Method,
    lot_number: u64,
    replicates: u32,
    form: &TextForm,
    samples: Vec<Measurement>,
) -> Result<Batch, ForeseeError> {
    let mut positive: Vec<f64> = levels.iter().copied().filter(|level| *level > 0.0).collect();
    positive.sort_by(f64::total_cmp);
    let (Some(middle), Some(low)) = (positive.get(positive.len() / 2), positive.get(positive.len() / 3))
    else {
        return Err(ForeseeError::OutOfRange {
            what: "the number of levels above zero",
            found: positive.len() as f64,
            accepted: "1 or more; a calibration needs several",
        });
    };
    let check = |note: &str| Measurement {
        note: note.to_owned(),
        ..Measurement::known(Role::CheckStandard, *middle, CHECK_STRIPS, SCANS_PER_STRIP)
    };
    let standards = levels
        .iter()
        .map(|level| Measurement::known(Role::Standard, *level, replicates, SCANS_PER_STRIP))
        .collect();
    let mut files = Vec::new();
    if method.evaluation.blank != BlankUse::Ignore {
        files.push(("blanks".to_owned(), vec![Measurement::new(Role::Blank, 0.0, replicates.max(3))]));
    }
    files.push(("standards".to_owned(), standards));
    if !samples.is_empty() {
        let control = Measurement::known(Role::ElectrodeControl, *low, CHECK_STRIPS, SCANS_PER_STRIP);
        files.push(("opening-checks".to_owned(), vec![check("before the samples"), control]));
        files.push(("samples".to_owned(), with_water(method, samples)));
        files.push(("closing-checks".to_owned(), vec![check("after the samples")]));
    }
    Ok(Batch {
        strips_used: 0,
        name: format!("B{lot_number}"),
        date: String::new(),
        lot: format!("T{lot_number:02}"),
        lot_number,
        form: form.clone(),
        extension: "csv",
        files,
    })
}

/// Water in the middle of what the method was validated for, where nothing is said of it.
fn with_water(method: &Method, samples: Vec<Measurement>) -> Vec<Measurement> {
    let conditions = &method.sample;
    let half = |most: Option<f64>| most.map_or_else(String::new, |most| format!("{:.0}", most / 2.0));
    let water = Water {
        ph: conditions.ph.map_or_else(String::new, |[low, high]| format!("{:.2}", f64::midpoint(low, high))),
        chloride_mg_per_l: half(conditions.chloride_mg_per_l_max),
        conductivity_us_per_cm: half(conditions.conductivity_us_per_cm_max),
    };
    let fill = |sample: Measurement| {
        if sample.water == Water::default() { Measurement { water: water.clone(), ..sample } } else { sample }
    };
    samples.into_iter().map(fill).collect()
}

/// Plain text with as many decimals of a microampere as the circuit's converter resolves, and two more.
///
/// # Source
/// Common practice, no source.
pub fn text_form(circuit: &Circuit) -> TextForm {
    let step_ua = circuit.converter().step_a() * 1e6 / f64::from(circuit.samples_per_reading);
    let mut decimals = 3;
    let mut unit = 1e-3;
    while unit > step_ua / 100.0 && decimals < 9 {
        unit /= 10.0;
        decimals += 1;
    }
    TextForm::plain(decimals)
}
