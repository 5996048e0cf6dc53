//! The words of every check, side by side, so that tone and advice can be reviewed at a glance.

use crate::check::{Check, CheckText};

const fn words(
    id: &'static str,
    looks_at: &'static str,
    why: &'static str,
    remedy: &'static str,
) -> CheckText {
    CheckText { id, looks_at, why, remedy }
}

pub(crate) fn text(check: Check) -> CheckText {
    match check {
        Check::OverloadMarks
        | Check::ClippedScan
        | Check::TooFewPoints
        | Check::MissingPoints
        | Check::UnevenSteps
        | Check::WrongWindow
        | Check::SettingsDiffer
        | Check::RepeatedScan
        | Check::OtherScale
        | Check::DropCoverage => recording(check),
        Check::Spikes
        | Check::FlatLine
        | Check::StartTransient
        | Check::Offset
        | Check::Noise
        | Check::ForwardReverseDrift
        | Check::MainsPickup
        | Check::ClockImplausible => current(check),
        Check::BlankMatch
        | Check::BlankShifted
        | Check::BlankRefused
        | Check::BlankMatters
        | Check::DespikedPoints
        | Check::BaselineUnsettled => background(check),
        Check::EdgeMaximum
        | Check::NoPeak
        | Check::BackgroundSwallowsPeak
        | Check::TwoPeaks
        | Check::PeakShift
        | Check::PeakWidth
        | Check::PeakOutside => peak(check),
        Check::Temperature
        | Check::Ph
        | Check::Chloride
        | Check::Conductivity
        | Check::Dilution
        | Check::FewElectrodes
        | Check::ElectrodesDisagree
        | Check::ElectrodeReused
        | Check::NegativeResult
        | Check::LotNotCalibrated
        | Check::ExcludedScans
        | Check::OverriddenChecks
        | Check::IntervalUnbounded => sample(check),
        Check::CalibrationNotInForce | Check::ResultNotInForce | Check::LotExpired | Check::HeldTooLong => {
            study(check)
        }
        _ => batch(check),
    }
}

fn recording(check: Check) -> CheckText {
    match check {
        Check::OverloadMarks => words(
            "overload-marks",
            "points where the instrument wrote a mark instead of a number",
            "the current was larger than could be recorded, so the true peak is not known",
            "measure again on a larger current range, or dilute",
        ),
        Check::ClippedScan => words(
            "clipped-scan",
            "a plateau of equal readings at the largest or smallest current",
            "the top of the peak was cut off, so the concentration would read too low",
            "measure again on a larger current range, or dilute; check that the electrolyte was added",
        ),
        Check::TooFewPoints => words(
            "too-few-points",
            "the number of points in the scan",
            "a peak needs about ten points over its half width to give its height within 1 %",
            "measure again with the potential step of the method",
        ),
        Check::MissingPoints => words(
            "missing-points",
            "gaps and repeats in the potential",
            "lost points shift the peak and hide its top",
            "export the scan again; if the gap is in the record, measure again",
        ),
        Check::UnevenSteps => words(
            "uneven-steps",
            "the size of each potential step",
            "smoothing and baseline are made for even steps",
            "export the scan again without thinning; if the record is uneven, measure again",
        ),
        Check::WrongWindow => words(
            "wrong-window",
            "start, end, step and direction of the potential",
            "a scan recorded otherwise than the standards cannot be read off their calibration",
            "measure again with the technique of the method",
        ),
        Check::RepeatedScan => words(
            "repeated-scan",
            "whether another scan holds the very same numbers",
            "recordings never agree in every digit: one of the two stands in the place of another scan",
            "find which scan was stored or listed twice, export the right one, or exclude the copy",
        ),
        Check::OtherScale => words(
            "other-scale",
            "the scatter between neighbouring points against that of the standards",
            "a wrong unit makes signal and scatter wrong by the same factor",
            "check the unit of the current in the file and on the run sheet, and the current range",
        ),
        Check::DropCoverage => words(
            "drop-coverage",
            "the current outside the peak against that of the standards, where the method states `coverage` under [trust]",
            "an electrode that is dry or half covered gives less current of every kind, and the concentration reads too low",
            "see that the drop covers all electrodes and holds no bubble, keep the wait, and measure again on a new strip",
        ),
        _ => words(
            "settings-differ",
            "the settings lines at the head of the file",
            "another frequency, amplitude or step gives another signal for the same concentration",
            "measure again with the technique of the method, or write a revision for these settings",
        ),
    }
}

fn current(check: Check) -> CheckText {
    match check {
        Check::Spikes => words(
            "spikes",
            "single points far from their neighbours",
            "a spike inside the peak is read as concentration",
            "look for a loose contact, a bubble or a switching motor nearby, and measure again",
        ),
        Check::FlatLine => words(
            "flat-line",
            "the span of the current over the scan",
            "an open circuit or a dry strip gives no current at any concentration",
            "check the contact and that the drop covers all electrodes, and measure again",
        ),
        Check::StartTransient => words(
            "start-transient",
            "the first points against the trend of those after them",
            "an electrode that is still settling bends the baseline",
            "keep the waiting time of the method and measure again",
        ),
        Check::Offset => words(
            "offset",
            "the current at the foot of the scan",
            "a leak between contacts or a wetted connector adds current that is no analyte",
            "dry the connector, check the strip for a leak and measure again with a new strip",
        ),
        Check::Noise => words(
            "noise",
            "the scatter of the current between neighbouring points",
            "noise above what the calibration had makes the stated uncertainty too small",
            "check contact, cable and shielding, and measure again",
        ),
        Check::ForwardReverseDrift => words(
            "forward-reverse-drift",
            "forward against reverse current where they must agree",
            "the electrode changed during the scan",
            "measure again with a new electrode after the waiting time",
        ),
        Check::MainsPickup => words(
            "mains-pickup",
            "an oscillation at the frequency of the mains",
            "pickup moves the peak up or down by chance",
            "move away from mains cables and run on battery, and measure again",
        ),
        _ => words(
            "clock-implausible",
            "date and time in the file",
            "a wrong clock confuses the order of scans; it is kept as found and not believed",
            "set the clock of the instrument; state the date on the run sheet",
        ),
    }
}

fn background(check: Check) -> CheckText {
    match check {
        Check::BlankMatch => words(
            "blank-match",
            "a blank of the same batch, lot, channel, temperature and grid",
            "a background of another lot or electrolyte is not this scan's background",
            "record a blank with this lot and channel in the method's electrolyte",
        ),
        Check::BlankShifted => words(
            "blank-shifted",
            "the shift between scan and blank along the potential",
            "the reference moved between the two; the blank was moved along, which adds uncertainty",
            "record a new blank with the sample if the shift is near its limit",
        ),
        Check::BlankRefused => words(
            "blank-refused",
            "the checks of the blank itself",
            "a bad blank spoils every scan it is subtracted from",
            "record the blank again",
        ),
        Check::BlankMatters => words(
            "blank-matters",
            "the signal with and without the blank",
            "a large difference means that the number rests on the blank as much as on the scan",
            "make sure that the blank is of the same day, lot and electrolyte",
        ),
        Check::DespikedPoints => words(
            "despiked-points",
            "points that were replaced before smoothing",
            "a replaced point is no longer as measured",
            "look at the raw scan; measure again if the points lie in the peak",
        ),
        _ => words(
            "baseline-unsettled",
            "whether the baseline could be drawn",
            "without a settled baseline the height of the peak has no foot",
            "check the windows under [evaluation]; a straight line between anchors always settles",
        ),
    }
}

fn peak(check: Check) -> CheckText {
    match check {
        Check::EdgeMaximum => words(
            "edge-maximum",
            "whether the maximum lies inside the window",
            "a maximum on the edge measures the background, not the analyte",
            "look at the scan; check the reference electrode and chloride, then measure again",
        ),
        Check::NoPeak => words(
            "no-peak",
            "the height of the peak against the noise",
            "no peak is either no analyte or a dead electrode; current alone cannot tell",
            "measure an electrode control in the same batch",
        ),
        Check::BackgroundSwallowsPeak => words(
            "background-swallows-peak",
            "the background under the peak against its height",
            "a small difference of two large currents is uncertain",
            "check electrolyte, pH and dissolved oxygen, and measure again",
        ),
        Check::TwoPeaks => words(
            "two-peaks",
            "a second maximum within the window",
            "another substance reacts nearby; the height is not the analyte's alone",
            "use standard addition or another method for this sample",
        ),
        Check::PeakWidth => words(
            "peak-width",
            "the width at half height against the calibration's",
            "a peak that is too wide was flattened by an overloaded amplifier, or is two peaks in one: it reads low",
            "measure again on a larger current range, or dilute; else use standard addition for this sample",
        ),
        Check::PeakOutside => words(
            "peak-outside",
            "a maximum outside the window that is larger than the one inside",
            "the peak has moved out of the window: what is measured inside is not the analyte",
            "check chloride, the reference electrode and the electrolyte, then measure again with a new strip",
        ),
        _ => words(
            "peak-shift",
            "the potential of the peak against the calibration's",
            "a moved peak means a moved reference or another substance",
            "check chloride and the reference electrode, and measure again with a new strip",
        ),
    }
}

fn sample(check: Check) -> CheckText {
    match check {
        Check::Temperature => words(
            "temperature",
            "the temperature of the sample against the calibration's",
            "the signal changes by 1 to 3 % per kelvin: a cold well reads low",
            "let the sample come to the temperature of the calibration and measure again",
        ),
        Check::Ph => words(
            "ph",
            "the pH after preparation",
            "the reaction takes up protons: at another pH the peak moves and shrinks",
            "add the electrolyte as the method says and measure again",
        ),
        Check::Chloride => words(
            "chloride",
            "chloride against what the method was validated for",
            "chloride shifts a silver / silver chloride reference and attacks copper",
            "dilute, or validate the method for more chloride",
        ),
        Check::Conductivity => words(
            "conductivity",
            "conductivity against what the method was validated for",
            "another ionic strength than the standards' changes the signal",
            "dilute, or validate the method for this water",
        ),
        Check::Dilution => words(
            "dilution",
            "whether the uncertainty of the dilution is stated",
            "an error of the factor is an error of the result by the same fraction",
            "state dilution_u, the standard uncertainty of the factor, on the run sheet",
        ),
        Check::FewElectrodes => words(
            "few-electrodes",
            "the number of electrodes that gave a signal",
            "fewer electrodes widen the interval; scans of one electrode do not replace them",
            "measure the sample on further strips",
        ),
        Check::ElectrodesDisagree => words(
            "electrodes-disagree",
            "the spread between this sample's electrodes",
            "they differ more than the calibration's did; one of them may be bad",
            "measure the sample again on new strips; do not choose among these",
        ),
        Check::ElectrodeReused => words(
            "electrode-reused",
            "whether a single-use electrode served another solution before",
            "what the first solution left behind is read in the second",
            "use a fresh electrode, and give every electrode its own identity on the run sheet",
        ),
        Check::OverriddenChecks => words(
            "overridden-checks",
            "whether the result rests on scans that a check refused and the analyst used all the same",
            "what the check saw may have made the result too low, and no other check stands behind it",
            "measure again on fresh electrodes; or have an approver look at the scans and sign the result in a study",
        ),
        Check::NegativeResult => words(
            "negative-result",
            "how far a result lies below zero",
            "less than nothing beyond chance means a wrong sign, blank or background, not clean water",
            "check the sign of the current and the blank, and measure again",
        ),
        Check::LotNotCalibrated => words(
            "lot-not-calibrated",
            "whether the sample's lot and channel have standards",
            "sensitivity differs from lot to lot by several per cent",
            "measure standards on this lot",
        ),
        Check::ExcludedScans => words(
            "excluded-scans",
            "scans left out, and why",
            "leaving scans out can make a result look better than it is",
            "read the reasons",
        ),
        _ => words(
            "interval-unbounded",
            "whether the interval has two ends",
            "the calibration is too uncertain for this signal to mean a concentration",
            "add standards near this level",
        ),
    }
}

fn batch(check: Check) -> CheckText {
    match check {
        Check::CalibrationAcceptance => words(
            "calibration-acceptance",
            "the acceptance that the method demands of its calibration",
            "a calibration that misses its own standards will miss samples too",
            "find the cause, measure the standards again; a high r² is no reason to accept",
        ),
        Check::LevelsForeseen => words(
            "levels-foreseen",
            "the levels of the standards on the run sheet against `levels` of the method",
            "a level typed wrongly for all standards alike fits as well as the right one, and every result is wrong by the same factor",
            "correct level and unit on the run sheet; if other levels were prepared on purpose, write a revision with these `levels`",
        ),
        Check::CalibrationRefused => words(
            "calibration-refused",
            "whether a calibration could be made",
            "without a calibration there is no concentration",
            "read the reason; add or repeat standards",
        ),
        Check::CheckStandard => words(
            "check-standard",
            "the check standards of the batch against their level",
            "when a known solution reads wrong, unknown ones do too",
            "find the cause, calibrate again and repeat the batch back to the last good check standard",
        ),
        Check::Bracketing => words(
            "bracketing",
            "a check standard before the first and after the last sample of the batch",
            "only a check on both sides shows that nothing drifted between",
            "measure a check standard now and at the end of each batch",
        ),
        Check::BatchBlank => words(
            "batch-blank",
            "the zero standard of the batch against the quantification limit",
            "a zero that reads high means contamination or a bad background",
            "prepare fresh electrolyte and repeat the batch",
        ),
        Check::ElectrodeControl => words(
            "electrode-control",
            "a known solution on an electrode of the same lot and batch",
            "only a living control tells \"nothing there\" from \"dead electrode\"",
            "measure an electrode control with this lot in this batch",
        ),
        Check::ControlChart => words(
            "control-chart",
            "check standards, zeros, duplicates and spikes of all batches on control charts, where the method states a training period",
            "batches can drift one small step at a time, each still within its own limits",
            "find the cause and repeat the batches back to the last point in control",
        ),
        Check::DuplicatesDisagree => words(
            "duplicates-disagree",
            "the two determinations of one sample",
            "two results that differ by more than allowed cannot both be right",
            "repeat the sample on new strips",
        ),
        Check::MatrixEffect => words(
            "matrix-effect",
            "the slope of additions to the sample against that of the standards",
            "a matrix that takes a part of the signal makes every reading off the calibration too low",
            "report the standard addition, and measure samples of this kind by it",
        ),
        Check::AdditionLine => words(
            "addition-line",
            "what a line of additions rests on: whether a bend could be seen, a signal without analyte, agreement with the calibration",
            "the result lies beyond the points, where nothing but the line holds it",
            "make at least four different additions, the sample itself included; check the stock of the additions against a standard",
        ),
        _ => words(
            "spike-recovery",
            "how much of a known addition was found again",
            "a poor recovery means that the matrix changes the sensitivity",
            "external calibration cannot be defended here: use standard addition",
        ),
    }
}

/// What only a study can know: approvals, withdrawals, last days, custody.
fn study(check: Check) -> CheckText {
    match check {
        Check::CalibrationNotInForce => words(
            "calibration-not-in-force",
            "whether a study's record lets the calibration be used: not withdrawn, not refused by the approver, not ended, not past its day",
            "a calibration that no longer counts says nothing about a sample, however well it fits",
            "measure standards again and determine the sample off them; `stillwell study history` says who ended it and why",
        ),
        Check::ResultNotInForce => words(
            "result-not-in-force",
            "whether a study's record lets the result be used: not withdrawn, not refused by the approver",
            "who withdrew or refused it knew something that the numbers do not show; the water counts as unknown",
            "measure again, or issue it anew with `stillwell study correct` and a reason; `stillwell study history` says who ended it and why",
        ),
        Check::LotExpired => words(
            "lot-expired",
            "the day of the measurement against the last day of the electrode lot in a study's lot record",
            "old electrodes lose sensitivity, and then every result is too low",
            "measure again on a lot within its last day, with its own standards",
        ),
        _ => words(
            "held-too-long",
            "the time from sampling to measurement against the holding time in a study's custody record",
            "what was in the water may have been used up or formed while it waited",
            "take a new sample and measure it within its holding time",
        ),
    }
}
