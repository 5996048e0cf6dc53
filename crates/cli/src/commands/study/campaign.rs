//! `study campaign` and `study labels`: which wells are measured in the field, and with what; and the codes that name them there.

use std::path::PathBuf;

use stillwell_field::{Field, Language};
use stillwell_report::json::study::Receipt;
use stillwell_study::Study;
use stillwell_web::{SheetWanted, label_sheet};

use super::{printed, routine};
use crate::commands::{dossier, figure, text_files};
use crate::exit::{Failure, Outcome};
use crate::render::numbers::counted;
use crate::study_args::{CampaignArguments, LabelLanguage, LabelsArguments};

pub(super) fn record(arguments: &CampaignArguments) -> Result<(String, Outcome), Failure> {
    let by = routine(&arguments.by, "a campaign in the field")?;
    let (name, text) = (arguments.file.display().to_string(), text_files::text_at(&arguments.file)?);
    let mut study = Study::open_now(&arguments.study)?;
    let record = Field::record(&mut study, &name, &text, &by)?;
    let label = study.campaign(&record.hash.to_string())?.label;
    let field = Field::open(&study, &label)?;
    let campaign = field.campaign();
    let said = format!(
        "campaign {label} \"{}\" until {}: {}, {} of strips",
        campaign.name,
        campaign.last_day,
        counted(campaign.wells.len(), "well"),
        counted(campaign.lots.len(), "lot"),
    );
    let mut receipt = Receipt::of(&study, said, vec![record])?;
    if campaign.last_day < study.today() {
        receipt
            .said
            .push(format!("its last day, {}, is past: nothing can be measured by it", campaign.last_day));
    }
    receipt.hints.push(format!(
        "nothing is measured by it until an approver's key releases it: stillwell study approve {} --campaign {label}",
        stillwell_study::shell_path(study.path())
    ));
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}

pub(super) fn labels(arguments: &LabelsArguments) -> Result<(String, Outcome), Failure> {
    let path = arguments.out.clone().unwrap_or_else(|| PathBuf::from("labels.html"));
    dossier::check_name(&path, "the sheet of labels")?;
    let study = Study::open_to_read(&arguments.study)?;
    let language = match arguments.language {
        LabelLanguage::En => Language::English,
        LabelLanguage::De => Language::German,
    };
    let wanted = SheetWanted { campaign: arguments.campaign.as_deref(), language, strips: arguments.strips };
    let sheet = label_sheet(&study, &wanted)?;
    figure::write(&path, &sheet.document)?;
    let [wells, boxes, strips] = sheet.counts;
    let said = format!(
        "labels of \"{}\" for {}, {} and {}: {}",
        sheet.campaign,
        counted(wells, "well"),
        if boxes == 1 { "1 box".to_owned() } else { format!("{boxes} boxes") },
        counted(strips, "strip"),
        path.display()
    );
    let mut receipt = Receipt::of(&study, said, Vec::new())?;
    receipt
        .hints
        .push("print it at its true size; the phone scans a label from about a hand's breadth".to_owned());
    Ok((printed(&receipt, arguments.output.format), Outcome::Done))
}
