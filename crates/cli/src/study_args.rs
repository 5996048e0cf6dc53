//! `study` and its commands, with every option.

use std::path::PathBuf;

use clap::{ArgGroup, Args, Subcommand};

use crate::args::Output;

#[derive(Debug, Args)]
pub(crate) struct StudyArguments {
    #[command(subcommand)]
    pub(crate) command: StudyCommand,
}

#[derive(Debug, Subcommand)]
#[command(disable_help_subcommand = true)]
pub(crate) enum StudyCommand {
    /// Begins a study: one new file, with its first method.
    #[command(after_help = "Example:\n  \
        stillwell study new wells.study --method method.toml --as ines")]
    New(NewArguments),
    /// Takes raw scans in, whole, with the run sheet that says what each is; again is a no-op.
    #[command(after_help = "Example:\n  \
        stillwell study add wells.study examples/alder-vale --as ines\n\n\
        Where it is broken off, what was said to be kept is kept; adding again completes it.\n\n\
        Scans that count in a series already do not come in again under another run sheet: correct or exclude\n\
        them there. Blanks and standards may serve several series.")]
    Add(AddArguments),
    /// Issues results: what each series gives by the current method, recorded with all that it came from.
    #[command(after_help = "Example:\n  \
        stillwell study determine wells.study --as ines\n\n\
        What stands in the ledger already is not issued twice. `stillwell determine wells.study` shows the same and records nothing.\n\n\
        Exit code 1: some result is not below every limit, is refused, has its verdict withheld, or is not approved.")]
    Determine(IssueArguments),
    /// What the study holds and how it stands: series, calibrations, results with their numbers, keys.
    #[command(after_help = "Example:\n  \
        stillwell study show wells.study\n\n\
        Exit code 1: some result is not below every limit, is refused, has its verdict withheld, or is not approved.")]
    Show(ReadArguments),
    /// The whole chain of one issued result as it was when it was issued, down to the raw scans.
    #[command(after_help = "Example:\n  \
        stillwell study chain wells.study --result 4")]
    Chain(ChainArguments),
    /// Keys: makes one for a person, or tells a study whose key it is and what they may do.
    #[command(after_help = "Example:\n  \
        stillwell study key make approver --passphrase-file words.txt\n  \
        stillwell study key add wells.study --key approver.key --role approver --as ines \\\n      \
        --reason \"approver since the founding\"\n\n\
        words.txt holds the passphrase, readable by its owner alone: chmod 600 words.txt")]
    Key(KeyArguments),
    /// An approver's signed word on the method, on calibrations, results and campaigns that another person recorded.
    #[command(after_help = "Example:\n  \
        stillwell study approve wells.study --calibration 2 --as approver \\\n      \
        --reason \"residuals without trend\" --passphrase-file words.txt")]
    Approve(ApproveArguments),
    /// Records a campaign in the field: which wells, with which strips, in which times. An approver's key releases it.
    #[command(after_help = "Example:\n  \
        stillwell study new field.study --method examples/alder-vale-campaign/method.toml --as ines\n  \
        stillwell study add field.study examples/alder-vale-campaign/standards --as ines\n  \
        stillwell study determine field.study --as ines\n  \
        stillwell study campaign field.study --file examples/alder-vale-campaign/campaign.toml --as ines\n\n\
        Nothing is measured by it before an approver has approved its calibrations and itself: `study approve --campaign 1`.\n\n\
        The method must be one for the field: electrodes = 1, bracketing = false, and coverage under [trust].")]
    Campaign(CampaignArguments),
    /// Labels of a campaign's wells and boxes to print and cut: an operator's phone scans them instead of picking from the list.
    #[command(after_help = "Example:\n  \
        stillwell study labels field.study --out labels.html\n  \
        stillwell study labels field.study --campaign 1 --language de --strips --out labels.html\n\n\
        One HTML file with everything inside. Each label is bound to the study: another study's well of the same code is told apart.")]
    Labels(LabelsArguments),
    /// Takes in what an accredited laboratory found in the same waters; `compare` then uses it. A later file adds.
    #[command(after_help = "Example:\n  \
        stillwell study laboratory wells.study examples/alder-vale-year/comparison.csv --as ines \\\n      \
        --reason \"report of the laboratory, January to December\"\n\n\
        One line for each result: sample,value,unit,u (or expanded_u, k = 2); batch and date may be added. \"<5\" and \">100\" \
        stay bounds. The same file again is a no-op; a sample that was reported already is refused, since nothing is averaged.")]
    Laboratory(LaboratoryArguments),
    /// A result, a calibration, a campaign, a laboratory's results or a key no longer count; the record stays, and the results that it touches are named.
    #[command(after_help = "Example:\n  \
        stillwell study withdraw wells.study --calibration 2 --as ines \\\n      \
        --reason \"standard 50 was mixed up\"")]
    Withdraw(WithdrawArguments),
    /// Issues a result anew after leaving scans out or overriding checks; the new result names the one it replaces.
    #[command(after_help = "Example:\n  \
        stillwell study correct wells.study --result 1 --exclude wells-B1.csv:3 --as ines \\\n      \
        --reason \"air bubble on the strip, seen by eye\"\n\n\
        The whole series is determined again, since a scan may matter to other samples as well; what changes for\n\
        another cause states that cause. Only this issues a withdrawn result anew; nothing need be left out for it.")]
    Correct(CorrectArguments),
    /// Leaves a scan out from now on; `determine` then issues what changes.
    #[command(after_help = "Example:\n  \
        stillwell study exclude wells.study --scan wells-B1.csv:4 --as ines \\\n      \
        --reason \"air bubble on the strip, seen by eye\"")]
    Exclude(ExcludeArguments),
    /// Uses a scan from now on although a check did not pass; finding and reason both stay with the result.
    #[command(after_help = "Example:\n  \
        stillwell study override wells.study --scan wells-B1.csv:5 --check peak-width --as ines \\\n      \
        --reason \"broad by design on this lot\"")]
    Override(OverrideArguments),
    /// What is known of a lot of electrodes, signed: a new lot never means a new method.
    #[command(after_help = "Example:\n  \
        stillwell study lot wells.study --lot L21 --identity \"copper strips, spring batch\" \\\n      \
        --last-day 2027-03-31 --storage \"dry, below 25 °C\" --as approver \\\n      \
        --reason \"from the lot's sheet\" --passphrase-file words.txt")]
    Lot(LotArguments),
    /// Where a sample comes from: place, time, person, preservation, holding time, dilution.
    #[command(after_help = "Example:\n  \
        stillwell study custody wells.study --sample AV-02 --place \"well 2, Alder Vale\" \\\n      \
        --taken 2026-05-12T08:30:00Z --taken-by ines --preservation \"cooled to 4 °C\" \\\n      \
        --holding-time-h 48 --as ines --reason \"from the field book\"")]
    Custody(CustodyArguments),
    /// Until when a calibration may be used, or that something ended it; past that no verdict is drawn.
    #[command(after_help = "Example:\n  \
        stillwell study validity wells.study --calibration 1 --last-day 2026-12-31 \\\n      \
        --ends-with \"new reference electrode\" --as ines \\\n      \
        --reason \"half a year, as the laboratory's rule says\"\n  \
        stillwell study validity wells.study --calibration 1 --ended-on 2026-11-02 --as ines \\\n      \
        --reason \"reference electrode was changed\"")]
    Validity(ValidityArguments),
    /// Who did what, when and why; what every number depended on; which results a withdrawn calibration touches.
    #[command(after_help = "Example:\n  \
        stillwell study history wells.study\n  \
        stillwell study history wells.study --of AV-02")]
    History(HistoryArguments),
    /// Shows that nothing was changed, or names the first record that was.
    #[command(after_help = "Example:\n  \
        stillwell study verify wells.study\n  \
        stillwell study verify wells.study --recompute 4\n\n\
        Exit code 1: something was changed, is missing, or does not come out again. 2: no study, or one of a newer version.")]
    Verify(VerifyArguments),
    /// The head of the ledger: a hash to keep where the file's owner cannot change it.
    #[command(after_help = "Example:\n  \
        stillwell study anchor wells.study")]
    Anchor(ReadArguments),
    /// All of history under a new method revision: old numbers kept, differences and changed verdicts shown.
    #[command(after_help = "Example:\n  \
        stillwell study reevaluate wells.study --method method.toml --dry-run\n  \
        stillwell study reevaluate wells.study --method method.toml --as ines \\\n      \
        --reason \"revision 2: narrower window\"\n\n\
        With --dry-run nothing is recorded. Where it is broken off, doing it again completes it.\n\n\
        Exit code 1: a verdict changes, or a series cannot be read under the new revision.")]
    Reevaluate(ReevaluateArguments),
    /// Writes a bundle for a colleague: everything recorded so far, in one file.
    #[command(after_help = "Example:\n  \
        stillwell study export wells.study for-mara.study")]
    Export(ToFileArguments),
    /// Begins a study of one's own from a colleague's bundle; the bundle's ledger stays as it is, beside the new one.
    #[command(after_help = "Example:\n  \
        stillwell study import for-mara.study mara.study --as mara")]
    Import(ImportArguments),
    /// Takes in what a colleague recorded; again is a no-op.
    #[command(after_help = "Example:\n  \
        stillwell study merge wells.study mara.study --as ines")]
    Merge(MergeArguments),
    /// Writes plain files with checksums that need no Stillwell to read.
    #[command(after_help = "Example:\n  \
        stillwell study archive wells.study archive")]
    Archive(ToFolderArguments),
}

/// The study and how the result is printed.
#[derive(Debug, Args)]
pub(crate) struct ReadArguments {
    /// The study.
    pub(crate) study: PathBuf,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// Who acts; the act itself says why.
#[derive(Debug, Args)]
pub(crate) struct RoutineActor {
    /// Who acts, as it will stand in the ledger.
    #[arg(long = "as", value_name = "NAME")]
    pub(crate) actor: String,
    /// Why; without it, that it was routine.
    #[arg(long, value_name = "WORDS")]
    pub(crate) reason: Option<String>,
}

/// Who acts, and why.
#[derive(Debug, Args)]
pub(crate) struct Actor {
    /// Who acts, as it will stand in the ledger.
    #[arg(long = "as", value_name = "NAME")]
    pub(crate) actor: String,
    /// Why, in words that will be understood in ten years.
    #[arg(long, value_name = "WORDS")]
    pub(crate) reason: String,
}

/// The key that signs.
#[derive(Debug, Args)]
pub(crate) struct SigningKeyArguments {
    /// The signer's key file; without it, the signer's name with .key in this folder, such as approver.key.
    #[arg(long, value_name = "FILE.key")]
    pub(crate) key: Option<PathBuf>,
    /// File whose first line is the passphrase; without it, the terminal asks and shows nothing.
    #[arg(long, value_name = "FILE")]
    pub(crate) passphrase_file: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct NewArguments {
    /// The file to make; one that is there is never written over.
    pub(crate) study: PathBuf,
    /// Method file, or a folder with method.toml.
    #[arg(long, value_name = "METHOD")]
    pub(crate) method: PathBuf,
    /// Name of the study; without it, that of the file.
    #[arg(long, value_name = "NAME")]
    pub(crate) name: Option<String>,
    #[command(flatten)]
    pub(crate) by: RoutineActor,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct AddArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// A folder with run-sheet.csv and raw files, or the files themselves.
    #[arg(required = true, value_name = "FOLDER|FILE")]
    pub(crate) paths: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) by: RoutineActor,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct IssueArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// Only this series, as `study show` numbers it; `last` for the one that came in last.
    #[arg(long, value_name = "N")]
    pub(crate) series: Option<String>,
    #[command(flatten)]
    pub(crate) by: RoutineActor,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct ChainArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The result, as `study show` numbers it.
    #[arg(long, value_name = "N")]
    pub(crate) result: String,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
#[command(group(ArgGroup::new("approved").required(true).multiple(true).args(["method", "calibration", "result", "campaign"])))]
pub(crate) struct ApproveArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// Calibrations, as `study show` numbers them.
    #[arg(long, value_name = "N,N…", value_delimiter = ',')]
    pub(crate) calibration: Vec<String>,
    /// Results, as `study show` numbers them.
    #[arg(long, value_name = "N,N…", value_delimiter = ',')]
    pub(crate) result: Vec<String>,
    /// Campaigns, as `study show` numbers them.
    #[arg(long, value_name = "N,N…", value_delimiter = ',')]
    pub(crate) campaign: Vec<String>,
    /// The method revision in force, which a device needs approved.
    #[arg(long)]
    pub(crate) method: bool,
    /// Say that they must not be relied on; no verdict is then drawn.
    #[arg(long)]
    pub(crate) refuse: bool,
    /// Why a calibration that did not pass acceptance, or a result without a number or verdict, is approved all the same; goes
    /// on record with what did not pass. Without it such are not approved.
    #[arg(long, value_name = "WORDS", conflicts_with = "refuse")]
    pub(crate) although: Option<String>,
    #[command(flatten)]
    pub(crate) by: Actor,
    #[command(flatten)]
    pub(crate) signing: SigningKeyArguments,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct CampaignArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The campaign's file.
    #[arg(long, value_name = "FILE.toml")]
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) by: RoutineActor,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct LabelsArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The campaign, as `study show` numbers it; the last one recorded where none is named.
    #[arg(long, value_name = "N")]
    pub(crate) campaign: Option<String>,
    /// The language of the words beside the codes.
    #[arg(long, value_enum, default_value_t = LabelLanguage::En)]
    pub(crate) language: LabelLanguage,
    /// A label for each strip as well.
    #[arg(long)]
    pub(crate) strips: bool,
    /// File to write, which ends in .html; labels.html where none is named.
    #[arg(long, value_name = "FILE.html")]
    pub(crate) out: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// A language that operators read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum LabelLanguage {
    /// English.
    En,
    /// German.
    De,
}

#[derive(Debug, Args)]
#[command(group(ArgGroup::new("withdrawn").required(true).args(["calibration", "result", "campaign", "laboratory", "owner"])))]
pub(crate) struct WithdrawArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// A calibration, as `study show` numbers it.
    #[arg(long, value_name = "N")]
    pub(crate) calibration: Option<String>,
    /// A result, as `study show` numbers it.
    #[arg(long, value_name = "N")]
    pub(crate) result: Option<String>,
    /// A campaign, as `study show` numbers it.
    #[arg(long, value_name = "N")]
    pub(crate) campaign: Option<String>,
    /// A record of a laboratory's results, as `study show` numbers it.
    #[arg(long, value_name = "N")]
    pub(crate) laboratory: Option<String>,
    /// The key of this person.
    #[arg(long = "key-of", value_name = "NAME")]
    pub(crate) owner: Option<String>,
    #[command(flatten)]
    pub(crate) by: Actor,
    /// Sign it with an approver's key: the last approver's key is withdrawn in no other way.
    #[arg(long)]
    pub(crate) signed: bool,
    #[command(flatten)]
    pub(crate) signing: SigningKeyArguments,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct CorrectArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The result to be issued anew, as `study show` numbers it.
    #[arg(long, value_name = "N")]
    pub(crate) result: String,
    /// A scan to leave out: raw file and number of the scan in it; may be given several times.
    #[arg(long, value_name = "FILE:N")]
    pub(crate) exclude: Vec<String>,
    #[command(flatten)]
    pub(crate) by: Actor,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct ExcludeArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The series, as `study show` numbers it; may be left out where there is one.
    #[arg(long, value_name = "N")]
    pub(crate) series: Option<String>,
    /// The scan: raw file and number of the scan in it.
    #[arg(long, value_name = "FILE:N")]
    pub(crate) scan: String,
    #[command(flatten)]
    pub(crate) by: Actor,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct OverrideArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The series, as `study show` numbers it; may be left out where there is one.
    #[arg(long, value_name = "N")]
    pub(crate) series: Option<String>,
    /// The scan: raw file and number of the scan in it.
    #[arg(long, value_name = "FILE:N")]
    pub(crate) scan: String,
    /// Identity of the check, as `stillwell explain` lists it.
    #[arg(long, value_name = "CHECK")]
    pub(crate) check: String,
    #[command(flatten)]
    pub(crate) by: Actor,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct LotArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The lot, as the run sheet has it.
    #[arg(long, value_name = "LOT")]
    pub(crate) lot: String,
    /// What it is of and who made it.
    #[arg(long, value_name = "WORDS")]
    pub(crate) identity: String,
    /// Last day of use.
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) last_day: String,
    /// How it is to be stored.
    #[arg(long, value_name = "WORDS")]
    pub(crate) storage: String,
    /// Stated sensitivity, A per unit of the method's results.
    #[arg(long, value_name = "A", allow_negative_numbers = true)]
    pub(crate) sensitivity_a_per_unit: Option<f64>,
    /// Stated signal of the blank, A.
    #[arg(long, value_name = "A", allow_negative_numbers = true)]
    pub(crate) blank_a: Option<f64>,
    #[command(flatten)]
    pub(crate) by: Actor,
    #[command(flatten)]
    pub(crate) signing: SigningKeyArguments,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct LaboratoryArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The laboratory's results.
    #[arg(value_name = "FILE.csv")]
    pub(crate) file: PathBuf,
    /// Which laboratory; results of two are not mixed.
    #[arg(long, value_name = "NAME", default_value = "")]
    pub(crate) laboratory: String,
    #[command(flatten)]
    pub(crate) by: Actor,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct CustodyArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The sample, as the run sheet has it.
    #[arg(long, value_name = "SAMPLE")]
    pub(crate) sample: String,
    /// Where it was taken.
    #[arg(long, value_name = "WORDS")]
    pub(crate) place: String,
    /// When it was taken: a day, or a whole moment; neither yet to come nor after the sample was measured. Run sheets date by
    /// the day, so the time it waited counts to the end of that day.
    #[arg(long, value_name = "YYYY-MM-DD[THH:MM:SSZ]")]
    pub(crate) taken: String,
    /// Who took it.
    #[arg(long, value_name = "NAME")]
    pub(crate) taken_by: String,
    /// How it was preserved.
    #[arg(long, value_name = "WORDS", default_value = "none")]
    pub(crate) preservation: String,
    /// The longest time until it must be measured, in hours, up to 8784 (a year).
    #[arg(long, value_name = "HOURS")]
    pub(crate) holding_time_h: Option<f64>,
    /// Dilution in the field or on receipt, in words; the run sheet holds the one that is calculated with.
    #[arg(long, value_name = "WORDS", default_value = "none")]
    pub(crate) dilution: String,
    #[command(flatten)]
    pub(crate) by: Actor,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
#[command(group(ArgGroup::new("until").required(true).args(["last_day", "ended_on"])))]
pub(crate) struct ValidityArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The calibration, as `study show` numbers it.
    #[arg(long, value_name = "N")]
    pub(crate) calibration: String,
    /// Last day on which a sample may be measured; the last statement counts, but a later day than the one in force only where an
    /// approver signs it.
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) last_day: Option<String>,
    /// What ends it earlier; may be given several times.
    #[arg(long, value_name = "WORDS", requires = "last_day")]
    pub(crate) ends_with: Vec<String>,
    /// It ended on this day; the reason says what happened.
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) ended_on: Option<String>,
    #[command(flatten)]
    pub(crate) by: Actor,
    /// Sign it with an approver's key.
    #[arg(long, requires = "last_day")]
    pub(crate) signed: bool,
    #[command(flatten)]
    pub(crate) signing: SigningKeyArguments,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
#[command(disable_help_subcommand = true)]
pub(crate) struct KeyArguments {
    #[command(subcommand)]
    pub(crate) command: KeyCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum KeyCommand {
    /// Makes a key file for a person: readable by its owner only, locked with a passphrase.
    #[command(after_help = "Example:\n  \
        stillwell study key make approver --passphrase-file words.txt\n\n\
        words.txt holds the passphrase, readable by its owner alone: chmod 600 words.txt")]
    Make(KeyMakeArguments),
    /// Tells a study whose key it is and what its owner may do.
    #[command(after_help = "Example:\n  \
        stillwell study key add wells.study --key approver.key --role approver --as ines \\\n      \
        --reason \"approver since the founding\"\n\n\
        The first approver comes on trust; each later one needs the word of an approver who is there (--voucher).")]
    Add(KeyAddArguments),
}

#[derive(Debug, Args)]
pub(crate) struct KeyMakeArguments {
    /// Whose key it is, as it will stand in the ledger.
    pub(crate) name: String,
    #[command(flatten)]
    pub(crate) signing: SigningKeyArguments,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
#[command(group(ArgGroup::new("whose").required(true).args(["key", "public_key"])))]
pub(crate) struct KeyAddArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The key file; its name and public key can be read without the passphrase.
    #[arg(long, value_name = "FILE.key")]
    pub(crate) key: Option<PathBuf>,
    /// The public key, where the file is with its owner.
    #[arg(long, value_name = "64 DIGITS", requires = "name")]
    pub(crate) public_key: Option<String>,
    /// Whose public key it is.
    #[arg(long, value_name = "NAME")]
    pub(crate) name: Option<String>,
    /// What they may do.
    #[arg(long, value_enum)]
    pub(crate) role: Role,
    /// Key file of an approver who is there and vouches for this one.
    #[arg(long, value_name = "FILE.key")]
    pub(crate) voucher: Option<PathBuf>,
    /// File whose first line is the voucher's passphrase; without it, the terminal asks and shows nothing.
    #[arg(long, value_name = "FILE", requires = "voucher")]
    pub(crate) passphrase_file: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) by: Actor,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// What the owner of a key may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Role {
    /// Records, and signs lots.
    Analyst,
    /// Approves what others recorded.
    Approver,
}

#[derive(Debug, Args)]
pub(crate) struct HistoryArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// Only what the results of this sample rest on, and what was said of them.
    #[arg(long, value_name = "SAMPLE")]
    pub(crate) of: Option<String>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct VerifyArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The head of the ledger as a report printed it: 64 digits.
    #[arg(long, value_name = "HASH")]
    pub(crate) anchor: Option<String>,
    /// Results to compute again from the raw text, bit for bit: numbers as `study show` has them, or `all`.
    #[arg(long, value_name = "N,N…|all", value_delimiter = ',')]
    pub(crate) recompute: Vec<String>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
#[command(group(ArgGroup::new("recorded").required(true).args(["dry_run", "actor"])))]
pub(crate) struct ReevaluateArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The new method file, or a folder with method.toml.
    #[arg(long, value_name = "METHOD")]
    pub(crate) method: PathBuf,
    /// Only show what would change; nothing is recorded.
    #[arg(long)]
    pub(crate) dry_run: bool,
    /// Who acts, as it will stand in the ledger.
    #[arg(long = "as", value_name = "NAME", requires = "reason")]
    pub(crate) actor: Option<String>,
    /// Why, in words that will be understood in ten years.
    #[arg(long, value_name = "WORDS")]
    pub(crate) reason: Option<String>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct ToFileArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The file to make; one that is there is never written over.
    pub(crate) to: PathBuf,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct ToFolderArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The folder to make.
    pub(crate) to: PathBuf,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct ImportArguments {
    /// The colleague's bundle.
    pub(crate) bundle: PathBuf,
    /// The file to make; one that is there is never written over.
    pub(crate) study: PathBuf,
    /// Name of the study; without it, that of the file.
    #[arg(long, value_name = "NAME")]
    pub(crate) name: Option<String>,
    #[command(flatten)]
    pub(crate) by: RoutineActor,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct MergeArguments {
    /// The study.
    pub(crate) study: PathBuf,
    /// The colleague's study or bundle.
    pub(crate) other: PathBuf,
    #[command(flatten)]
    pub(crate) by: RoutineActor,
    #[command(flatten)]
    pub(crate) output: Output,
}
