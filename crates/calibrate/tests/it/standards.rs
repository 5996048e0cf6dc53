//! Standards and settings that the tests of this room share.

use stillwell_calibrate::{
    Acceptance, Calibration, CalibrationSettings, ElectrodeSignals, Model, StandardSignal, Weights, calibrate,
};

/// One scan of one electrode for each pair of level and signal.
pub(crate) fn one_electrode_each(levels: &[f64], signals: &[f64]) -> Vec<StandardSignal> {
    levels
        .iter()
        .zip(signals)
        .enumerate()
        .map(|(i, (&x, &y))| standard(x, &format!("strip {i}"), 0, y))
        .collect()
}

pub(crate) fn standard(level: f64, electrode: &str, scan: u32, signal_a: f64) -> StandardSignal {
    StandardSignal {
        level,
        signal_a,
        electrode: electrode.to_owned(),
        label: format!("{electrode}#{scan}"),
        scan_number: Some(scan + 1),
        excluded: None,
    }
}

pub(crate) fn settings(model: Model, weights: Weights, coverage: f64) -> CalibrationSettings {
    CalibrationSettings {
        model,
        weights,
        coverage,
        max_excluded_fraction: 0.2,
        acceptance: Acceptance { linearity_alpha: Some(0.01), ..Acceptance::default() },
    }
}

pub(crate) fn line(levels: &[f64], signals: &[f64], coverage: f64) -> Calibration {
    calibrate(&one_electrode_each(levels, signals), &settings(Model::Line, Weights::None, coverage)).unwrap()
}

/// Fluorescein, Miller & Miller chapter 5: a well-behaved line.
pub(crate) fn fluorescein() -> (Vec<f64>, Vec<f64>) {
    (vec![0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0], vec![2.1, 5.0, 9.0, 12.6, 17.3, 21.0, 24.7])
}

/// Six levels of three electrodes with four scans each, made of fixed small numbers; close to `3 + 2 level`.
pub(crate) fn three_strips_of_four_scans() -> Vec<StandardSignal> {
    let mut standards = Vec::new();
    for (i, level) in [0.0, 10.0, 25.0, 50.0, 75.0, 100.0].into_iter().enumerate() {
        for strip in 0..3_usize {
            let offset = [[1.1, -0.7, 0.2], [-0.4, 0.9, -1.3]][i % 2][strip]
                + 0.05 * level / 10.0 * [1.0, -1.0, 0.2][strip];
            for scan in 0..4_u32 {
                let jitter = [0.21, -0.33, 0.05, 0.12][(scan as usize + i + strip) % 4];
                let signal = 3.0 + 2.0 * level + offset + jitter;
                standards.push(standard(level, &format!("strip {i}.{strip}"), scan, signal));
            }
        }
    }
    standards
}

/// A sample: one list of signals an electrode.
pub(crate) fn sample(electrodes: &[&[f64]]) -> Vec<ElectrodeSignals> {
    electrodes
        .iter()
        .enumerate()
        .map(|(i, signals)| ElectrodeSignals {
            electrode: format!("sample strip {i}"),
            signals_a: signals.to_vec(),
        })
        .collect()
}
