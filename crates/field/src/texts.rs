//! What an operator reads, in two languages: short sentences and plain words. The words stand in `texts/*.ftl`.

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};

use stillwell_study::{StepAnswer, StepSeen};

use crate::error::FieldError;
use crate::outcome::{Outcome, Reading};

/// A language that the texts come in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Language {
    /// English.
    English,
    /// German.
    German,
}

impl Language {
    /// All.
    pub const ALL: [Self; 2] = [Self::English, Self::German];

    /// Its tag, as a page states it.
    pub fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// The best of ours for a tag such as `de-AT`; English where there is none.
    ///
    /// # Example
    /// ```
    /// use stillwell_field::Language;
    /// assert_eq!(Language::of_tag("de-AT"), Language::German);
    /// assert_eq!(Language::of_tag("sw"), Language::English);
    /// ```
    pub fn of_tag(tag: &str) -> Self {
        let primary = tag.split(['-', '_']).next().unwrap_or("");
        Self::ALL
            .into_iter()
            .find(|language| language.tag().eq_ignore_ascii_case(primary))
            .unwrap_or(Self::English)
    }

    /// The source of its texts.
    pub fn source(self) -> &'static str {
        match self {
            Self::English => include_str!("../texts/en.ftl"),
            Self::German => include_str!("../texts/de.ftl"),
        }
    }

    /// The decimal mark.
    fn decimal_mark(self) -> &'static str {
        match self {
            Self::English => ".",
            Self::German => ",",
        }
    }
}

/// The texts of one language.
pub struct Texts {
    language: Language,
    bundle: FluentBundle<FluentResource>,
}

/// Sentences that belong together.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Words {
    /// What is so.
    pub says: String,
    /// What to do; empty where nothing is.
    pub to_do: String,
}

impl Texts {
    /// The texts of a language.
    ///
    /// # Errors
    /// Texts that are no Fluent: a fault of ours that a test finds.
    pub fn of(language: Language) -> Result<Self, FieldError> {
        let unsound = |found: String| FieldError::Text { language: language.tag(), found };
        let resource = FluentResource::try_new(language.source().to_owned())
            .map_err(|(_, errors)| unsound(format!("{errors:?}")))?;
        let tag = language.tag().parse().map_err(|error| unsound(format!("{error:?}")))?;
        let mut bundle = FluentBundle::new_concurrent(vec![tag]);
        // Marks of direction around numbers would end up in read-out text.
        bundle.set_use_isolating(false);
        bundle.add_resource(resource).map_err(|errors| unsound(format!("{errors:?}")))?;
        Ok(Self { language, bundle })
    }

    /// The language.
    pub fn language(&self) -> Language {
        self.language
    }

    /// One text with its words and numbers; the key itself where there is no such text.
    pub fn say(&self, key: &str, with: &[(String, String)]) -> String {
        self.part(key, None, with).unwrap_or_else(|| key.to_owned())
    }

    /// A text and what to do, which stands beside it as `.do`.
    pub fn words(&self, key: &str, with: &[(String, String)]) -> Words {
        Words { says: self.say(key, with), to_do: self.part(key, Some("do"), with).unwrap_or_default() }
    }

    fn part(&self, key: &str, attribute: Option<&str>, with: &[(String, String)]) -> Option<String> {
        let message = self.bundle.get_message(key)?;
        let pattern = match attribute {
            None => message.value()?,
            Some(name) => message.get_attribute(name)?.value(),
        };
        let mut arguments = FluentArgs::new();
        for (name, value) in with {
            arguments.set(name.as_str(), FluentValue::from(self.number(value)));
        }
        let mut errors = Vec::new();
        Some(self.bundle.format_pattern(pattern, Some(&arguments), &mut errors).into_owned())
    }

    /// A number with the language's decimal mark; other words stay.
    fn number(&self, value: &str) -> String {
        let is_number = !value.is_empty()
            && value.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.')
            && value.bytes().filter(|byte| *byte == b'.').count() <= 1;
        if is_number { value.replace('.', self.language.decimal_mark()) } else { value.to_owned() }
    }

    /// What a step's answer says; none where there is nothing to say beside the next step.
    pub fn answer(&self, answer: &StepAnswer) -> Option<Words> {
        match answer {
            StepAnswer::Refused { code, with } => Some(self.words(&format!("refusal-{code}"), with)),
            StepAnswer::Taken { seen: Some(StepSeen::Unusable { check, .. }) } => {
                let key = if check == "drop-coverage" { "seen-not-covered" } else { "seen-unusable" };
                Some(self.words(key, &[]))
            }
            StepAnswer::Taken { seen: Some(StepSeen::Alive { .. }) } => Some(self.words("seen-alive", &[])),
            StepAnswer::Taken { seen: Some(StepSeen::SecondStrip { .. }) } => {
                Some(self.words("seen-second-strip", &[]))
            }
            StepAnswer::Taken { .. } => None,
        }
    }

    /// Every sentence of an outcome, in the order in which it is read: the number with its basis, the verdict, what it counts,
    /// and what to do; or that the water is unknown, why, and what to do.
    pub fn outcome(&self, outcome: &Outcome) -> Vec<String> {
        let result = match outcome {
            Outcome::Known(result) => result,
            Outcome::Unknown(why) => return self.unknown(why.word()),
            Outcome::NoLonger => return self.unknown("no-longer"),
        };
        let pair = |name: &str, value: &str| (name.to_owned(), value.to_owned());
        let (key, mut with) = match &result.reading {
            Reading::Number { value, expanded_u } => {
                ("reading-number", vec![pair("value", value), pair("plus", expanded_u)])
            }
            Reading::LessThan(bound) => ("reading-less-than", vec![pair("value", bound)]),
            Reading::MoreThan(bound) => ("reading-more-than", vec![pair("value", bound)]),
            Reading::NotDetected { less_than, .. } => {
                ("reading-not-detected", vec![pair("value", less_than)])
            }
        };
        with.push(pair("unit", &result.basis.unit));
        let limit = [pair("limit", &result.limit), pair("unit", &result.basis.unit)];
        let verdict = self.words(&format!("verdict-{}", result.verdict.word()), &limit);
        let mut said = vec![self.say(key, &with), verdict.says];
        said.push(self.say(&format!("basis-{}", result.basis.word), &[]));
        said.push(verdict.to_do);
        said.push(self.say("caution", &[]));
        said.push(self.say("result-id", &[pair("id", &result.id)]));
        if let Some(day) = &result.calibration_last_day {
            said.push(self.say("calibration-until", &[pair("day", day)]));
        }
        said.push(self.say("call", &[pair("name", &result.whom.name), pair("number", &result.whom.number)]));
        said
    }

    fn unknown(&self, word: &str) -> Vec<String> {
        let why = self.words(&format!("why-{word}"), &[]);
        vec![self.say("unknown", &[]), why.says, why.to_do]
    }
}
