//! `study campaign`: which wells are measured in the field, and with what.

use stillwell_field::Field;
use stillwell_report::json::study::Receipt;
use stillwell_study::Study;

use super::{printed, routine};
use crate::commands::text_files;
use crate::exit::{Failure, Outcome};
use crate::render::numbers::counted;
use crate::study_args::CampaignArguments;

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
        study.path().display()
    ));
    Ok((printed(&receipt, arguments.format), Outcome::Done))
}
