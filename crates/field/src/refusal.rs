//! Why a step is not taken: each has a text with its reason and what to do, in every language.

/// Why a step is not taken.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Refusal {
    /// The step is not the next one.
    NotNow,
    /// The run is over.
    RunIsOver,
    /// The campaign is not approved.
    CampaignNotApproved,
    /// The campaign was withdrawn or refused.
    CampaignWithdrawn,
    /// The campaign's last day has passed.
    CampaignOver {
        /// Its last day.
        last_day: String,
    },
    /// The calibration is not approved, was withdrawn, ended, or is past its day.
    CalibrationNotInForce {
        /// The lot that it serves.
        lot: String,
    },
    /// No well of the campaign has this code.
    WellUnknown {
        /// The code.
        code: String,
    },
    /// No lot of the campaign has this code.
    LotUnknown {
        /// The code.
        code: String,
    },
    /// The lot has no strip of this number.
    StripUnknown {
        /// The strip.
        strip: String,
    },
    /// The strip served before.
    StripUsed {
        /// The strip.
        strip: String,
    },
    /// The lot is past its day.
    StripExpired {
        /// The strip.
        strip: String,
        /// Its last day.
        last_day: String,
    },
    /// The strip was called back.
    StripRecalled {
        /// The strip.
        strip: String,
    },
    /// The strip is of another lot than the electrode control.
    StripOfOtherLot {
        /// The strip.
        strip: String,
        /// The control's lot.
        control_lot: String,
    },
    /// No number that a thermometer can show.
    TemperatureNotANumber,
    /// Warmer than the campaign takes.
    TooWarm {
        /// °C.
        found_c: f64,
        /// The highest, °C.
        most_c: f64,
    },
    /// Colder than the campaign takes.
    TooCold {
        /// °C.
        found_c: f64,
        /// The lowest, °C.
        least_c: f64,
    },
    /// Before its time.
    TooEarly {
        /// How much longer to wait, s.
        wait_s: u64,
    },
    /// After its time.
    TooLate {
        /// When it was, s after the step before.
        after_s: f64,
        /// The latest, s.
        most_s: f64,
    },
    /// The electrode control is too long ago.
    ControlTooOld,
    /// The second strip comes too long after the first.
    SecondTooLate,
    /// The run was begun too long ago.
    RunTooLong,
    /// The device was restarted in between.
    DeviceRestarted,
    /// The device's steady clock cannot be believed.
    DeviceClock,
    /// The step waited on the device for too long.
    HandedInTooLate,
    /// The file cannot be read as scans.
    FileUnreadable {
        /// Why.
        why: String,
    },
    /// The very same file was handed in before.
    FileUsedBefore,
    /// Another number of scans than a strip gets.
    FileOfOtherScans {
        /// Scans in the file.
        found: usize,
        /// Scans that a strip gets.
        expected: usize,
    },
}

impl Refusal {
    /// Every code, in the order of the enum: each has a text in every language.
    pub const CODES: [&'static str; 27] = [
        "not-now",
        "run-is-over",
        "campaign-not-approved",
        "campaign-withdrawn",
        "campaign-over",
        "calibration-not-in-force",
        "well-unknown",
        "lot-unknown",
        "strip-unknown",
        "strip-used",
        "strip-expired",
        "strip-recalled",
        "strip-of-other-lot",
        "temperature-not-a-number",
        "too-warm",
        "too-cold",
        "too-early",
        "too-late",
        "control-too-old",
        "second-too-late",
        "run-too-long",
        "device-restarted",
        "device-clock",
        "handed-in-too-late",
        "file-unreadable",
        "file-used-before",
        "file-of-other-scans",
    ];

    /// Its code in the ledger.
    pub fn code(&self) -> &'static str {
        match self {
            Self::NotNow => "not-now",
            Self::RunIsOver => "run-is-over",
            Self::CampaignNotApproved => "campaign-not-approved",
            Self::CampaignWithdrawn => "campaign-withdrawn",
            Self::CampaignOver { .. } => "campaign-over",
            Self::CalibrationNotInForce { .. } => "calibration-not-in-force",
            Self::WellUnknown { .. } => "well-unknown",
            Self::LotUnknown { .. } => "lot-unknown",
            Self::StripUnknown { .. } => "strip-unknown",
            Self::StripUsed { .. } => "strip-used",
            Self::StripExpired { .. } => "strip-expired",
            Self::StripRecalled { .. } => "strip-recalled",
            Self::StripOfOtherLot { .. } => "strip-of-other-lot",
            Self::TemperatureNotANumber => "temperature-not-a-number",
            Self::TooWarm { .. } => "too-warm",
            Self::TooCold { .. } => "too-cold",
            Self::TooEarly { .. } => "too-early",
            Self::TooLate { .. } => "too-late",
            Self::ControlTooOld => "control-too-old",
            Self::SecondTooLate => "second-too-late",
            Self::RunTooLong => "run-too-long",
            Self::DeviceRestarted => "device-restarted",
            Self::DeviceClock => "device-clock",
            Self::HandedInTooLate => "handed-in-too-late",
            Self::FileUnreadable { .. } => "file-unreadable",
            Self::FileUsedBefore => "file-used-before",
            Self::FileOfOtherScans { .. } => "file-of-other-scans",
        }
    }

    /// The words and numbers that its text names; numbers with a point.
    pub fn with(&self) -> Vec<(String, String)> {
        let pairs: Vec<(&str, String)> = match self {
            Self::CampaignOver { last_day } => vec![("day", last_day.clone())],
            Self::CalibrationNotInForce { lot } => vec![("lot", lot.clone())],
            Self::WellUnknown { code } | Self::LotUnknown { code } => vec![("code", code.clone())],
            Self::StripUnknown { strip } | Self::StripUsed { strip } | Self::StripRecalled { strip } => {
                vec![("strip", strip.clone())]
            }
            Self::StripExpired { strip, last_day } => {
                vec![("strip", strip.clone()), ("day", last_day.clone())]
            }
            Self::StripOfOtherLot { strip, control_lot } => {
                vec![("strip", strip.clone()), ("lot", control_lot.clone())]
            }
            Self::TooWarm { found_c, most_c } => {
                vec![("found", plain(*found_c)), ("limit", plain(*most_c))]
            }
            Self::TooCold { found_c, least_c } => {
                vec![("found", plain(*found_c)), ("limit", plain(*least_c))]
            }
            Self::TooEarly { wait_s } => vec![("seconds", wait_s.to_string())],
            Self::TooLate { after_s, most_s } => {
                vec![("seconds", format!("{after_s:.0}")), ("limit", format!("{most_s:.0}"))]
            }
            Self::FileUnreadable { why } => vec![("why", why.chars().take(300).collect())],
            Self::FileOfOtherScans { found, expected } => {
                vec![("found", found.to_string()), ("expected", expected.to_string())]
            }
            _ => Vec::new(),
        };
        pairs.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
    }
}

fn plain(value: f64) -> String {
    format!("{value:.1}")
}
