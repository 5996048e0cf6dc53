//! What was measured, in the order of the work: three batches, each with a lot of strips of its own.
//!
//! Within a batch: blanks, standards, opening checks, wells, closing checks. A single-use strip serves one
//! solution only, so every strip belongs to exactly one [`Measurement`].

use super::dialect::Dialect;

/// One day's work on one lot of strips.
pub(crate) struct Batch {
    pub(crate) name: &'static str,
    pub(crate) date: &'static str,
    pub(crate) lot: &'static str,
    /// Number of the lot in the random streams.
    pub(crate) lot_number: u64,
    /// Sensitivity of the lot relative to the first.
    pub(crate) lot_factor: f64,
    pub(crate) dialect: Dialect,
    /// Start of a file's name and what the file holds.
    pub(crate) files: &'static [(&'static str, &'static [Measurement])],
}

/// One solution measured on some strips.
#[derive(Clone, Copy)]
pub(crate) struct Measurement {
    pub(crate) role: &'static str,
    pub(crate) sample: &'static str,
    /// Level as the run sheet states it, mg/L as NO3-; empty where the role states none.
    pub(crate) level: &'static str,
    /// What the strip really sees, mg/L as NO3-: after dilution, after a spike.
    pub(crate) at_strip_mg_per_l: f64,
    pub(crate) strips: u32,
    pub(crate) scans_per_strip: u32,
    pub(crate) temperature_c: f64,
    /// pH, chloride in mg/L and conductivity in µS/cm as the run sheet states them.
    pub(crate) water: [&'static str; 3],
    /// Dilution factor and its uncertainty as the run sheet states them.
    pub(crate) dilution: [&'static str; 2],
    pub(crate) range: Range,
    pub(crate) note: &'static str,
}

/// The current range and whether the strip was wetted as intended.
#[derive(Clone, Copy)]
pub(crate) enum Range {
    /// ±100 µA.
    Wide,
    /// ±40 µA.
    Narrow,
    /// ±40 µA, and the liquid reached the bare track above the coating: a large background.
    NarrowAndOverfilled,
}

const PLAIN: Measurement = Measurement {
    role: "blank",
    sample: "",
    level: "",
    at_strip_mg_per_l: 0.0,
    strips: 3,
    scans_per_strip: 1,
    temperature_c: 21.0,
    water: ["", "", ""],
    dilution: ["", ""],
    range: Range::Narrow,
    note: "",
};

const fn standard(level: &'static str, at_strip_mg_per_l: f64) -> Measurement {
    Measurement { role: "standard", level, at_strip_mg_per_l, scans_per_strip: 2, ..PLAIN }
}

const fn well(
    role: &'static str,
    sample: &'static str,
    at_strip_mg_per_l: f64,
    temperature_c: f64,
    water: [&'static str; 3],
) -> Measurement {
    Measurement { role, sample, at_strip_mg_per_l, scans_per_strip: 2, temperature_c, water, ..PLAIN }
}

const CHECK: Measurement = Measurement {
    role: "check-standard",
    level: "50",
    at_strip_mg_per_l: 50.0,
    strips: 2,
    scans_per_strip: 2,
    ..PLAIN
};

const STANDARDS: &[Measurement] = &[
    standard("0", 0.0),
    standard("10", 10.0),
    standard("25", 25.0),
    standard("50", 50.0),
    standard("75", 75.0),
    standard("100", 100.0),
];

const OPENING: &[Measurement] = &[
    Measurement { note: "before the wells", ..CHECK },
    Measurement { role: "electrode-control", level: "25", at_strip_mg_per_l: 25.0, ..CHECK },
];

const CLOSING: &[Measurement] = &[Measurement { note: "after the wells", ..CHECK }];

const WELLS_B1: &[Measurement] = &[
    well("sample", "AV-01", 17.6, 20.8, ["3.0", "31", "540"]),
    Measurement {
        note: "second vial from the same bottle",
        ..well("duplicate", "AV-01", 17.6, 20.8, ["3.0", "31", "540"])
    },
    Measurement {
        level: "25",
        note: "25 mg/L added to the same bottle",
        ..well("spike", "AV-01", 42.6, 20.9, ["3.0", "31", "545"])
    },
    well("sample", "AV-05", 0.0, 20.9, ["2.9", "12", "310"]),
];

const WELLS_B2: &[Measurement] = &[
    well("sample", "AV-02", 49.3, 21.1, ["3.1", "58", "720"]),
    Measurement {
        note: "conductivity probe flat, not read",
        ..well("sample", "AV-03", 78.0, 21.2, ["3.0", "74", ""])
    },
    Measurement {
        range: Range::NarrowAndOverfilled,
        note: "vial overfilled, strips wet up to the bare track; current at the end of its range",
        ..well("sample", "AV-04", 71.0, 21.1, ["3.0", "66", "790"])
    },
];

const WELLS_B3: &[Measurement] = &[
    Measurement {
        range: Range::Wide,
        note: "range set to 100 µA",
        ..well("sample", "AV-06", 148.0, 20.9, ["3.1", "112", "1080"])
    },
    Measurement {
        dilution: ["2", "0.01"],
        note: "one part water, one part electrolyte",
        ..well("sample", "AV-07", 30.5, 21.0, ["2.9", "88", "860"])
    },
    Measurement {
        note: "measured at the well, not warmed up",
        ..well("sample", "AV-08", 31.0, 12.0, ["3.0", "45", "610"])
    },
];

const BLANKS: &[Measurement] = &[PLAIN];

const BLANKS_B3: &[Measurement] = &[
    PLAIN,
    Measurement { temperature_c: 12.0, note: "electrolyte at the well's temperature, for AV-08", ..PLAIN },
];

pub(crate) const BATCHES: &[Batch] = &[
    Batch {
        name: "B1",
        date: "2026-05-12",
        lot: "L21",
        lot_number: 21,
        lot_factor: 1.00,
        dialect: Dialect::SharedPotential,
        files: &[
            ("blanks", BLANKS),
            ("standards", STANDARDS),
            ("opening-checks", OPENING),
            ("wells", WELLS_B1),
            ("closing-checks", CLOSING),
        ],
    },
    Batch {
        name: "B2",
        date: "2026-05-19",
        lot: "L22",
        lot_number: 22,
        lot_factor: 0.96,
        dialect: Dialect::PairsWithSettings,
        files: &[
            ("blanks", BLANKS),
            ("standards", STANDARDS),
            ("opening-checks", OPENING),
            ("wells", WELLS_B2),
            ("closing-checks", CLOSING),
        ],
    },
    Batch {
        name: "B3",
        date: "2026-05-27",
        lot: "L23",
        lot_number: 23,
        lot_factor: 1.05,
        dialect: Dialect::Stacked,
        files: &[
            ("blanks", BLANKS_B3),
            ("standards", STANDARDS),
            ("opening-checks", OPENING),
            ("wells", WELLS_B3),
            ("closing-checks", CLOSING),
        ],
    },
];
