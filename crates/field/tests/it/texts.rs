//! The texts: the same in every language, nothing missing, and short enough for a reader of twelve.

use std::collections::{BTreeMap, BTreeSet};

use fluent_syntax::ast::{Entry, Expression, InlineExpression, Pattern, PatternElement};
use stillwell_field::{AbandonReason, Language, Prompt, Refusal, Texts, Unpicked, Verdict, Why};

/// Every message, and every `message.do`, with the variables it names and its plain text.
fn messages(language: Language) -> BTreeMap<String, (BTreeSet<String>, String)> {
    let resource =
        fluent_syntax::parser::parse(language.source()).unwrap_or_else(|(_, errors)| panic!("{errors:?}"));
    let mut all = BTreeMap::new();
    for entry in &resource.body {
        let Entry::Message(message) = entry else { continue };
        let name = message.id.name.to_owned();
        all.insert(name.clone(), of_pattern(message.value.as_ref().unwrap()));
        for attribute in &message.attributes {
            all.insert(format!("{name}.{}", attribute.id.name), of_pattern(&attribute.value));
        }
    }
    all
}

fn of_pattern(pattern: &Pattern<&str>) -> (BTreeSet<String>, String) {
    let (mut variables, mut text) = (BTreeSet::new(), String::new());
    for element in &pattern.elements {
        match element {
            PatternElement::TextElement { value } => text.push_str(value),
            PatternElement::Placeable {
                expression: Expression::Inline(InlineExpression::VariableReference { id }),
            } => {
                variables.insert(id.name.to_owned());
                text.push('7');
            }
            other @ PatternElement::Placeable { .. } => panic!("only variables are used: {other:?}"),
        }
    }
    (variables, text)
}

#[test]
fn every_language_has_the_same_messages_with_the_same_variables() {
    let english = messages(Language::English);
    for language in Language::ALL {
        let here = messages(language);
        assert_eq!(english.keys().collect::<Vec<_>>(), here.keys().collect::<Vec<_>>(), "{language:?}");
        for (key, (variables, text)) in &here {
            assert_eq!(&english[key].0, variables, "{key} in {language:?}");
            assert!(!text.trim().is_empty());
            let is_same = text == &english[key].1 && text.chars().any(char::is_alphabetic);
            let has_words = key != "reading-number";
            assert!(language == Language::English || !is_same || !has_words, "{key} is not translated");
        }
    }
}

#[test]
fn nothing_that_the_room_says_lacks_a_text() {
    let mut needed: Vec<(String, bool)> = Vec::new();
    needed.extend(Prompt::TEXTS.iter().map(|key| ((*key).to_owned(), true)));
    needed.extend(Refusal::CODES.iter().map(|code| (format!("refusal-{code}"), true)));
    needed.extend(Unpicked::TEXTS.iter().map(|key| ((*key).to_owned(), true)));
    needed.extend(Why::WORDS.iter().map(|word| (format!("why-{word}"), true)));
    needed.push(("why-no-longer".to_owned(), true));
    needed.extend(Verdict::ALL.iter().map(|verdict| (format!("verdict-{}", verdict.word()), true)));
    needed.extend(AbandonReason::ALL.iter().map(|reason| (format!("abandon-{}", reason.word()), false)));
    for key in ["seen-alive", "seen-not-covered", "seen-unusable", "seen-second-strip"] {
        needed.push((key.to_owned(), true));
    }
    for key in [
        "reading-number",
        "reading-less-than",
        "reading-more-than",
        "reading-not-detected",
        "basis-nitrate",
        "basis-nitrogen",
        "basis-other",
        "caution",
        "result-id",
        "calibration-until",
        "call",
        "unknown",
        "abandon",
        "note-clock-set",
        "note-other-run",
    ] {
        needed.push((key.to_owned(), false));
    }
    for language in Language::ALL {
        let there = messages(language);
        let mut left: BTreeSet<&String> = there.keys().collect();
        for (key, has_remedy) in &needed {
            assert!(left.remove(key), "{key} is missing in {language:?}");
            let remedy = format!("{key}.do");
            assert_eq!(left.remove(&remedy), *has_remedy, "{remedy} in {language:?}");
        }
        // Those of the pages are said by another room, whose tests know them.
        left.retain(|key| !key.starts_with("page-"));
        assert!(left.is_empty(), "never said: {left:?}");
    }
}

#[test]
fn every_variable_of_a_refusal_is_filled() {
    let refusals = [
        Refusal::CampaignOver { last_day: "2026-09-30".into() },
        Refusal::CalibrationNotInForce { lot: "K21A".into() },
        Refusal::WellUnknown { code: "X".into() },
        Refusal::LotUnknown { code: "X".into() },
        Refusal::StripUnknown { strip: "K21A-1".into() },
        Refusal::StripUsed { strip: "K21A-1".into() },
        Refusal::StripExpired { strip: "K21A-1".into(), last_day: "2026-09-30".into() },
        Refusal::StripRecalled { strip: "K21A-1".into() },
        Refusal::StripOfOtherLot { strip: "K21A-1".into(), control_lot: "K21B".into() },
        Refusal::TooWarm { found_c: 34.5, most_c: 30.0 },
        Refusal::TooCold { found_c: 3.0, least_c: 10.0 },
        Refusal::TooEarly { wait_s: 12 },
        Refusal::TooLate { after_s: 400.0, most_s: 300.0 },
        Refusal::FileUnreadable { why: "no numbers".into() },
        Refusal::FileOfOtherScans { found: 1, expected: 2 },
    ];
    for refusal in &refusals {
        let named: BTreeSet<String> = refusal.with().into_iter().map(|(name, _)| name).collect();
        let key = format!("refusal-{}", refusal.code());
        let all = messages(Language::English);
        let used: BTreeSet<String> = all[&key].0.union(&all[&format!("{key}.do")].0).cloned().collect();
        assert_eq!(named, used, "{key}");
    }
    let german = Texts::of(Language::German).unwrap();
    let warm = german.words("refusal-too-warm", &refusals[9].with());
    assert_eq!(warm.says, "34,5 °C ist zu warm. Höchstens 30,0 °C sind gut.");
}

/// Syllables of an English word: groups of vowels, without a silent e at the end; one at least.
fn syllables(word: &str) -> usize {
    let word: String = word.to_lowercase().chars().filter(char::is_ascii_alphabetic).collect();
    let is_vowel = |c: char| "aeiouy".contains(c);
    let mut groups = 0;
    let mut was_vowel = false;
    for c in word.chars() {
        groups += usize::from(is_vowel(c) && !was_vowel);
        was_vowel = is_vowel(c);
    }
    let is_silent = word.ends_with('e') && !word.ends_with("le") && groups > 1;
    (groups - usize::from(is_silent)).max(1)
}

/// Words, sentences and syllables of a text.
fn counts(text: &str) -> (usize, usize, usize) {
    let sentences: Vec<&str> =
        text.split(['.', '!', '?', ':']).filter(|part| part.chars().any(char::is_alphabetic)).collect();
    let words: Vec<&str> =
        text.split_whitespace().filter(|word| word.chars().any(char::is_alphanumeric)).collect();
    (words.len(), sentences.len().max(1), words.iter().map(|word| syllables(word)).sum())
}

/// Kincaid, Fishburne, Rogers & Chissom 1975, Research Branch Report 8-75 (the formula from memory):
/// 0.39 words/sentences + 11.8 syllables/words − 15.59.
fn grade((words, sentences, syllables): (usize, usize, usize)) -> f64 {
    0.39 * words as f64 / sentences as f64 + 11.8 * syllables as f64 / words as f64 - 15.59
}

#[test]
fn the_formula_counts_as_it_should() {
    assert_eq!(["strip", "water", "measure", "table", "the", "approved"].map(syllables), [1, 2, 2, 2, 1, 3]);
    assert_eq!(counts("Wait here. Do not move it."), (6, 2, 6));
    assert!((grade((6, 2, 7)) - (0.39 * 3.0 + 11.8 * 7.0 / 6.0 - 15.59)).abs() < 1e-12);
    let hard = "The instrumentation calibration certificate's validity period has unfortunately elapsed.";
    assert!(grade(counts(hard)) > 15.0);
}

#[test]
fn a_reader_of_twelve_can_read_the_english_texts() {
    let all = messages(Language::English);
    let mut sum = (0, 0, 0);
    let mut hardest = (f64::MIN, String::new());
    for (key, (_, text)) in &all {
        let found = counts(text);
        sum = (sum.0 + found.0, sum.1 + found.1, sum.2 + found.2);
        // A few words alone say little about reading.
        if found.0 >= 8 && grade(found) > hardest.0 {
            hardest = (grade(found), key.clone());
        }
        let longest = text.split(['.', '!', '?', ':']).map(|sentence| counts(sentence).0).max().unwrap();
        assert!(longest <= 16, "{key}: a sentence of {longest} words");
    }
    println!("Flesch–Kincaid grade of all: {:.1}; hardest {:.1} ({})", grade(sum), hardest.0, hardest.1);
    assert!(grade(sum) <= 7.0 && hardest.0 <= 8.0, "{} {hardest:?}", grade(sum));
}

/// Björnsson 1968 (the formula from memory): words/sentences + 100 · words of more than six letters / words. Below 40 is a
/// children's book's level.
#[test]
fn the_german_texts_are_of_a_childrens_books_level() {
    let mut sum = (0_usize, 0_usize, 0_usize);
    for (_, text) in messages(Language::German).values() {
        let (words, sentences, _) = counts(text);
        let long = text
            .split_whitespace()
            .filter(|word| word.chars().filter(|c| c.is_alphabetic()).count() > 6)
            .count();
        sum = (sum.0 + words, sum.1 + sentences, sum.2 + long);
    }
    let index = sum.0 as f64 / sum.1 as f64 + 100.0 * sum.2 as f64 / sum.0 as f64;
    println!("readability index of the German texts: {index:.0}");
    assert!(index < 40.0, "{index}");
}

#[test]
fn every_unknown_says_so_first_and_names_infants() {
    for language in Language::ALL {
        let texts = Texts::of(language).unwrap();
        let said = texts.outcome(&stillwell_field::Outcome::Unknown(Why::Disagree));
        assert_eq!(said.len(), 3);
        let [treat, infants] = match language {
            Language::English => ["Treat this water as unknown", "Do not use it for infants"],
            Language::German => ["Dieses Wasser gilt als unbekannt", "nicht für Babys"],
        };
        assert!(said[0].contains(treat) && said[0].contains(infants), "{said:?}");
        assert!(said.iter().all(|sentence| !sentence.is_empty()));
        assert!(
            !said.iter().any(|sentence| sentence.chars().any(|c| c.is_ascii_digit())),
            "no number: {said:?}"
        );
    }
}
