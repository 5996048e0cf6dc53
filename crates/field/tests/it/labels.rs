//! Labels: what is printed is read, and nothing else is taken for one.

use proptest::prelude::*;
use stillwell_field::{Label, LabelKind, Picked, Unpicked};

use crate::phone::{Own, Phone, Queued};
use crate::wells::Station;

const DAY: &str = "2026-07-06";

#[test]
fn every_label_of_a_campaign_is_read_as_it_was_printed_and_no_two_are_the_same() {
    let at = Station::new();
    let labels = at.field.labels();
    let mut texts: Vec<String> = labels.wells.iter().map(|(label, _)| label.text()).collect();
    texts.extend(labels.boxes.iter().map(|(label, _)| label.text()));
    texts.extend(labels.strips.iter().map(|(label, _)| label.text()));
    for text in &texts {
        assert_eq!(Label::read(text).unwrap().text(), *text);
        // The characters that a code packs tightest (ISO/IEC 18004, alphanumeric mode).
        let is_packed = |c: char| c.is_ascii_digit() || c.is_ascii_uppercase() || " $%*+-./:".contains(c);
        assert!(text.chars().all(is_packed) && text.len() <= 67, "{text}");
    }
    let n = texts.len();
    texts.sort();
    texts.dedup();
    assert_eq!(texts.len(), n);
}

#[test]
fn a_label_that_is_changed_in_any_character_picks_nothing_else() {
    let at = Station::new();
    let text = at.field.labels().wells[0].0.text();
    let pick = |text: &str| at.field.pick(&at.study, "run-000001", text, DAY).unwrap();
    assert!(matches!(pick(&text), Ok(Picked::Well(well)) if well.get().code == "AVW-11"));
    for place in 0..text.len() {
        for other in ['0', 'Q', ':'] {
            let mut changed: Vec<char> = text.chars().collect();
            if changed[place] == other {
                continue;
            }
            changed[place] = other;
            let changed: String = changed.into_iter().collect();
            // "AVW-1Q" is no well; nothing becomes the well beside it unnoticed but by its own code.
            assert!(pick(&changed).is_err(), "{changed}");
        }
    }
    // Even a neighbour's code under this plate's hash is noticed.
    assert!(matches!(pick(&text.replace("AVW-11", "AVW-12")), Err(Unpicked::Outdated { .. })));
}

#[test]
fn a_box_stands_for_its_strips_and_a_strip_for_itself() {
    let mut at = Station::new();
    let mut phone = Phone::new("labels");
    phone.at_well(&mut at, "AVW-11");
    let labels = at.field.labels();
    let run = phone.run.clone();
    let pick = |at: &Station, label: &Label| at.field.pick(&at.study, &run, &label.text(), DAY).unwrap();
    assert!(matches!(pick(&at, &labels.boxes[0].0), Ok(Picked::Box(lot)) if lot.code == "K21A"));
    let (label, strip) = &labels.strips[4];
    assert_eq!(label.kind(), LabelKind::Strip);
    assert!(matches!(pick(&at, label), Ok(Picked::Strip(picked)) if picked.get() == strip));
    // Of a box past its day, neither.
    let late = labels.strips.last().unwrap();
    for label in [&labels.boxes[1].0, &late.0] {
        assert!(
            matches!(pick(&at, label), Err(Unpicked::Refused(refusal)) if refusal.code() == "strip-expired")
        );
    }
    // The control's box binds the strips for the water; and what served is not picked again.
    phone.control(&mut at, 101);
    let used = pick(&at, &labels.strips[0].0);
    assert!(matches!(used, Err(Unpicked::Refused(refusal)) if refusal.code() == "strip-used"));
}

#[test]
fn the_ledger_says_by_which_label_a_step_was_chosen_and_believes_no_other() {
    let mut at = Station::new();
    let mut phone = Phone::new("by-label");
    let labels = at.field.labels();
    let [well, other, in_box] = [&labels.wells[0].0, &labels.wells[1].0, &labels.boxes[0].0].map(Label::text);
    let foreign = well.replace(well.split(':').nth(2).unwrap(), "0123456789ABCDEF");
    let given = [
        (Own::Well("AVW-11".into()), Some(well.clone()), Some(well.clone())),
        (Own::Strip("K21A".into(), 101), Some(in_box.clone()), Some(in_box)),
        (Own::Strip("K21A".into(), 102), Some(labels.strips[0].0.text()), None),
        (Own::Well("AVW-11".into()), Some(other), None),
        (Own::Well("AVW-11".into()), Some(foreign), None),
        (Own::Well("AVW-11".into()), Some("no label".into()), None),
        (Own::Rinse, Some(well), None),
    ];
    for (deed, label, expected) in given {
        let queued = Queued { label, ..phone.queue(deed) };
        phone.hand_in(&mut at, &queued).unwrap();
        assert_eq!(at.study.field_steps().unwrap().last().unwrap().label, expected);
    }
    at.sound();
}

proptest! {
    #[test]
    fn no_text_is_taken_for_a_label_that_would_be_printed_otherwise(text in ".{0,80}|SWF1(:[A-Z0-9-]{0,18}){0,5}") {
        if let Some(label) = Label::read(&text) {
            prop_assert_eq!(label.text(), text.trim());
        }
    }
}
