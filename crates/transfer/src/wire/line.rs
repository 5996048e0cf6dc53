//! The line of text: one SenML record whose own labels carry the basis, the bounds and the codes.
//!
//! Labels that end with `_` must be understood by whoever reads the record (RFC 8428, 4.4): analyte, unit, form, outcome,
//! bound and verdicts. A reader that does not know them has to refuse the record, and cannot take mg/L as N for mg/L as
//! nitrate. The unit stands there and not in `u`, since none of the registered units is a mg/L, and a kg/m3 would change the
//! 64 bits.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use serde_json::Value;
use stillwell_quantity::{Concentration, QuantityKind};

use super::basis::{basis_texts, kind_of};
use super::compact::{checksum, codes, concentration};
use super::error::WireError;
use super::keys::{self, Key};
use super::record::{VERSION, WireNumbers, WireOutcome, WireRecord, WireVerdict};
use super::senml::{SenmlRecord, SenmlValue, resolve};

const LESS_THAN: &str = "less-than_";
const AT_LEAST: &str = "at-least_";
const UNDERSTOOD: [&str; 8] =
    ["analyte_", "unit_", "species_", "outcome_", LESS_THAN, AT_LEAST, "verdicts_", "withheld_"];
const OWN_NAME: &str = "concentration";

/// The record's line, as `stw_wire_json` writes it, without its end.
///
/// # Errors
/// A record that no device could have sent.
///
/// # Source
/// RFC 8428; numbers with 17 significant digits, which read back as the same 64 bits (IEEE 754-2019, 5.12.2).
pub fn to_line(record: &WireRecord) -> Result<String, WireError> {
    let checksum = checksum(record)?;
    let mut line = format!("[{{\"bn\":\"{}:\"", record.name);
    if let Some(time_s) = record.time_s {
        say(&mut line, "bt", &time_s.to_string());
    }
    say(&mut line, "n", &quoted(OWN_NAME));
    for (label, text) in ["analyte_", "unit_", "species_"].into_iter().zip(basis_texts(&record.kind)) {
        say(&mut line, label, &quoted(&text));
    }
    say_numbers(&mut line, &record.outcome);
    let verdicts: Vec<&str> = record.verdicts.iter().map(|verdict| verdict.word()).collect();
    say(&mut line, "verdicts_", &quoted(&verdicts.join(" ")));
    for (key, value) in codes(record).into_iter().chain([(keys::COUNTER, record.counter)]) {
        say(&mut line, key.label(), &value.to_string());
    }
    say(&mut line, "method", &quoted(&hex(&record.method)));
    say(&mut line, "lot", &quoted(&record.lot));
    say(&mut line, "lot-record", &record.lot_checksum.to_string());
    say(&mut line, "calibration", &quoted(&hex(&record.calibration)));
    say(&mut line, "wire", &VERSION.to_string());
    say(&mut line, "checksum", &checksum.to_string());
    line.push_str("}]");
    Ok(line)
}

fn say(line: &mut String, label: &str, value: &str) {
    // Writing into a text does not fail.
    let _infallible = write!(line, ",\"{label}\":{value}");
}

fn say_numbers(line: &mut String, outcome: &WireOutcome) {
    say(line, "outcome_", &quoted(outcome.word()));
    let word = quoted(outcome.word());
    let number = |number: &Concentration| format!("{:.16e}", number.value());
    match outcome {
        WireOutcome::Quantified(numbers) => {
            say(line, "v", &number(&numbers.value));
            say(line, "low", &number(&numbers.low));
            say(line, "high", &number(&numbers.high));
            say(line, "level", &number(&numbers.level));
            say(line, "level-u", &number(&numbers.level_standard_u));
        }
        WireOutcome::BelowQuantification(bound) | WireOutcome::NotDetected(bound) => {
            say(line, "vs", &word);
            say(line, LESS_THAN, &number(bound));
        }
        WireOutcome::AboveRange(bound) => {
            say(line, "vs", &word);
            say(line, AT_LEAST, &number(bound));
        }
        WireOutcome::Refused { because, fault } => {
            say(line, "vs", &word);
            say(line, "refused", &because.to_string());
            say(line, "fault", &fault.to_string());
        }
    }
}

/// A text in quotes, escaped as `wire.c` does (RFC 8259, 7).
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if (c as u32) < 0x20 => {
                let _infallible = write!(out, "\\u{:04x}", c as u32);
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _infallible = write!(text, "{byte:02x}");
        text
    })
}

/// Reads a line that `stw_wire_json` wrote, also after something on the way has written the same pack in another way.
///
/// # Errors
/// Text that is no such record, a number without a basis, and a number, code or text that the checksum does not stand for.
pub fn from_line(line: &str) -> Result<WireRecord, WireError> {
    let mut records = resolve(line.trim(), &UNDERSTOOD)?.into_iter();
    let (Some(found), None) = (records.next(), records.next()) else {
        return Err(WireError::NotSenml { found: "several records".to_owned() });
    };
    let mut fields = Fields { fields: found.extensions.clone() };
    let version = fields.whole("wire")?;
    if version != VERSION {
        return Err(WireError::VersionUnknown { found: version, known: VERSION });
    }
    let stated = fields.whole("checksum")?;
    let record = record(&found, &mut fields)?;
    record.check()?;
    let computed = checksum(&record)?;
    if computed != stated {
        return Err(WireError::ChecksumDiffers { stated, found: computed });
    }
    Ok(record)
}

fn record(found: &SenmlRecord, fields: &mut Fields) -> Result<WireRecord, WireError> {
    let name = found.name.strip_suffix(OWN_NAME).and_then(|name| name.strip_suffix(':'));
    let name = name.ok_or_else(|| {
        WireError::unusable("n", format!("{:?}", found.name), "the device's name, `:` and `concentration`")
    })?;
    if found.unit.is_some() || found.sum.is_some() || found.update_s.is_some() {
        return Err(WireError::unusable(
            "u",
            "a unit, a sum or an update time",
            "none: the unit stands in `unit_`",
        ));
    }
    let kind = kind_of(&fields.text("analyte_")?, &fields.text("unit_")?, &fields.text("species_")?)?;
    Ok(WireRecord {
        name: name.to_owned(),
        counter: fields.whole("counter")?,
        time_s: if found.time_s == 0.0 { None } else { Some(whole("bt", found.time_s)?) },
        method: fields.hash("method")?,
        lot: fields.text("lot")?,
        lot_checksum: fields.whole("lot-record")?,
        calibration: fields.hash("calibration")?,
        outcome: outcome(&found.value, fields, &kind)?,
        kind,
        verdicts: verdicts(&fields.text("verdicts_")?)?,
        withheld: fields.whole("withheld_")?,
        warnings: fields.whole("warnings")?,
        n_electrodes: fields.whole("electrodes")?,
        n_scans: fields.whole("scans")?,
        n_offered: fields.whole("offered")?,
        trust_failed: fields.whole("trust-failed")?,
        trust_untested: fields.whole("trust-untested")?,
        reasons: fields.whole("reasons")?,
    })
}

fn outcome(value: &SenmlValue, fields: &mut Fields, kind: &QuantityKind) -> Result<WireOutcome, WireError> {
    let word = fields.text("outcome_")?;
    if word == "quantified" {
        let SenmlValue::Number(value) = value else { return Err(WireError::Missing { field: "v" }) };
        let mut number = |key: Key| concentration(key, fields.number(key.label())?, kind);
        return Ok(WireOutcome::Quantified(Box::new(WireNumbers {
            value: concentration(keys::VALUE, *value, kind)?,
            low: number(keys::LOW)?,
            high: number(keys::HIGH)?,
            level: number(keys::LEVEL)?,
            level_standard_u: number(keys::LEVEL_U)?,
        })));
    }
    if *value != SenmlValue::Text(word.clone()) {
        return Err(WireError::unusable("vs", format!("{value:?}"), "the word of `outcome_`"));
    }
    let mut bound = |label| concentration(keys::BOUND, fields.number(label)?, kind);
    Ok(match word.as_str() {
        "below-quantification" => WireOutcome::BelowQuantification(bound(LESS_THAN)?),
        "not-detected" => WireOutcome::NotDetected(bound(LESS_THAN)?),
        "above-range" => WireOutcome::AboveRange(bound(AT_LEAST)?),
        "refused" => {
            WireOutcome::Refused { because: fields.whole("refused")?, fault: fields.whole("fault")? }
        }
        other => {
            let accepted = "quantified, below-quantification, not-detected, above-range or refused";
            return Err(WireError::unusable("outcome_", format!("{other:?}"), accepted));
        }
    })
}

fn verdicts(words: &str) -> Result<Vec<WireVerdict>, WireError> {
    let known = |word: &str| {
        WireVerdict::ALL.into_iter().find(|verdict| verdict.word() == word).ok_or_else(|| {
            let accepted = "below, above, too-close-to-call, not-decidable or withheld";
            WireError::unusable("verdicts_", format!("{word:?}"), accepted)
        })
    };
    words.split(' ').filter(|word| !word.is_empty()).map(known).collect()
}

/// The record's own labels, each taken once.
struct Fields {
    fields: BTreeMap<String, Value>,
}

impl Fields {
    fn value(&mut self, label: &'static str) -> Result<Value, WireError> {
        self.fields.remove(label).ok_or(WireError::Missing { field: label })
    }

    fn text(&mut self, label: &'static str) -> Result<String, WireError> {
        match self.value(label)? {
            Value::String(text) => Ok(text),
            other => Err(WireError::unusable(label, other.to_string(), "a text")),
        }
    }

    fn number(&mut self, label: &'static str) -> Result<f64, WireError> {
        let value = self.value(label)?;
        value.as_f64().ok_or_else(|| WireError::unusable(label, value.to_string(), "a number"))
    }

    fn whole(&mut self, label: &'static str) -> Result<u32, WireError> {
        let found = self.number(label)?;
        whole(label, found)
    }

    fn hash(&mut self, label: &'static str) -> Result<[u8; 32], WireError> {
        let text = self.text(label)?;
        let digits: Option<Vec<u32>> = text.chars().map(|c| c.to_digit(16)).collect();
        let bytes: Option<Vec<u8>> = digits.and_then(|digits| {
            let (pairs, rest) = digits.as_chunks::<2>();
            let byte = |[high, low]: &[u32; 2]| u8::try_from(16 * high + low).ok();
            rest.is_empty().then(|| pairs.iter().map(byte).collect()).flatten()
        });
        bytes
            .and_then(|bytes| <[u8; 32]>::try_from(bytes).ok())
            .ok_or_else(|| WireError::unusable(label, format!("{text:?}"), "64 hexadecimal digits"))
    }
}

fn whole(label: &str, found: f64) -> Result<u32, WireError> {
    let is_whole = found >= 0.0 && found <= f64::from(u32::MAX) && found % 1.0 == 0.0;
    if !is_whole {
        return Err(WireError::unusable(label, found.to_string(), "a whole number of at most 32 bits"));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "shown to be a whole number in range"
    )]
    Ok(found as u32)
}
