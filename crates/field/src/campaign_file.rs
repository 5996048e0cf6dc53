//! The campaign's file: TOML with units in its keys; everything wrong in it is named at once, with the nearest known key.

use stillwell_method::toml_file::{Bounds, Reader, Section};
use stillwell_method::{Method, Problems, limits_in_reporting_unit};
use stillwell_quantity::QuantityKind;

use crate::campaign::{Campaign, Lot, SecondStrip, Timers, Water, Well, Whom};

/// Fewest and most characters of a code.
const CODE_CHARACTERS: std::ops::RangeInclusive<usize> = 3..=24;

impl Campaign {
    /// Reads a campaign's file for a method.
    ///
    /// # Errors
    /// Everything that is wrong in the file, and everything in which it and the method do not hold together.
    pub fn parse(file_name: &str, text: &str, method: &Method) -> Result<Self, Problems> {
        Reader::read(file_name, text, |reader, root| campaign(reader, root, method))
    }
}

fn campaign(reader: &mut Reader<'_>, root: &mut Section<'_>, method: &Method) -> Option<Campaign> {
    must_be_of_the_field(reader, method);
    let mut head = root.section(reader, "campaign");
    let name = head.required_text(reader, "name");
    let last_day = day(reader, &mut head);
    let unit = unit(reader, &mut head, method);
    let limit = limit(reader, &mut head, method);
    head.finish(reader);
    let mut section = root.section(reader, "call");
    let whom = (section.required_text(reader, "name"), section.required_text(reader, "number"));
    section.finish(reader);
    let mut section = root.section(reader, "control");
    let control_level = section.required_number(reader, "level", Bounds::POSITIVE);
    section.finish(reader);
    let second = second(reader, root, limit.as_ref().map(|(_, value)| *value));
    let temperature_c = temperature(reader, root, method);
    let timers = timers(reader, root, method);
    let mut section = root.section(reader, "strips");
    let scans_per_strip = section.count(reader, "scans_per_strip", 1, 10).unwrap_or(1);
    let strips_most = section.count(reader, "failed_in_a_row_most", 1, 20).unwrap_or(3);
    section.finish(reader);
    let wells: Vec<Option<Well>> =
        root.entries(reader, "well").iter_mut().map(|entry| well(reader, entry)).collect();
    let lots: Vec<Option<Lot>> =
        root.entries(reader, "lot").iter_mut().map(|entry| lot(reader, entry)).collect();
    let (limit, limit_value) = limit?;
    let campaign = Campaign {
        name: name?,
        last_day: last_day?,
        limit,
        limit_value,
        unit: unit?,
        whom: Whom { name: whom.0?, number: whom.1? },
        control_level: control_level?,
        second: second?,
        temperature_c: temperature_c?,
        timers: timers?,
        scans_per_strip: scans_per_strip as usize,
        strips_most,
        wells: wells.into_iter().collect::<Option<_>>()?,
        lots: lots.into_iter().collect::<Option<_>>()?,
    };
    codes_are_told_apart(reader, root, &campaign);
    Some(campaign)
}

/// What a method must say to be used by an operator alone.
fn must_be_of_the_field(reader: &mut Reader<'_>, method: &Method) {
    if method.sample.electrodes != 1 {
        let found = format!("the method asks for {} electrodes a sample", method.sample.electrodes);
        let cure = "in the field one strip is measured, and a second near the limit: write a revision with electrodes = 1 \
                    under [sample]";
        reader.complain(None, found, cure);
    }
    if method.calibration.acceptance.bracketing {
        let found = "the method asks for check standards before and after the samples";
        let cure = "in the field the electrode control of each run takes their place: write a revision with bracketing = \
                    false under [calibration.acceptance]";
        reader.complain(None, found, cure);
    }
    if method.trust.coverage.is_none() {
        let found = "the method does not look whether the drop covers the electrode";
        reader.complain(None, found, "write a revision with coverage = [0.75, 1.35] under [trust]");
    }
}

fn day(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<String> {
    let text = section.required_text(reader, "last_day")?;
    match text.trim().parse::<jiff::civil::Date>() {
        Ok(day) => Some(day.to_string()),
        Err(_not_a_day) => {
            let item = section.raw("last_day")?;
            section.wrong(reader, "last_day", item, "a day such as \"2026-09-30\"")
        }
    }
}

/// The unit is stated so that nobody writes a band in mg/L as N for a method that reports as nitrate.
fn unit(reader: &mut Reader<'_>, section: &mut Section<'_>, method: &Method) -> Option<String> {
    let expected = &method.analyte.reported_as;
    let found = section.required_text(reader, "unit")?;
    let kind = QuantityKind::parse(&found, Some(expected.species.analyte())).map(|parsed| parsed.value);
    if kind.is_ok_and(|kind| kind == *expected) {
        return Some(expected.to_string());
    }
    let item = section.raw("unit")?;
    section.wrong(reader, "unit", item, &format!("\"{expected}\", the unit of the method's results"))
}

fn limit(reader: &mut Reader<'_>, section: &mut Section<'_>, method: &Method) -> Option<(String, f64)> {
    let known = limits_in_reporting_unit(method);
    let wanted = section.required_text(reader, "limit")?;
    if let Some(found) = known.iter().find(|(id, _)| *id == wanted.trim()) {
        return Some(found.clone());
    }
    let ids: Vec<&str> = known.iter().map(|(id, _)| id.as_str()).collect();
    let item = section.raw("limit")?;
    section.wrong(reader, "limit", item, &format!("a limit of the method: {}", ids.join(", ")))
}

fn second(reader: &mut Reader<'_>, root: &mut Section<'_>, limit: Option<f64>) -> Option<SecondStrip> {
    let mut section = root.section(reader, "second_strip");
    let band = section.span_of(reader, "band");
    if band.is_none() && section.raw("band").is_none() {
        section.missing(reader, "band", "[35, 65]");
    }
    let largest_difference_percent =
        section.required_number(reader, "largest_difference_percent", Bounds::POSITIVE);
    section.finish(reader);
    if let (Some([low, high]), Some(limit)) = (band, limit)
        && !(low < limit && limit < high)
    {
        let found = format!("the band {low} to {high} does not hold the limit, {limit:.4} in this unit");
        reader.complain(section.span(), found, "a band on both sides of the limit");
    }
    Some(SecondStrip { band: band?, largest_difference_percent: largest_difference_percent? })
}

fn temperature(reader: &mut Reader<'_>, root: &mut Section<'_>, method: &Method) -> Option<[f64; 2]> {
    let mut section = root.section(reader, "temperature");
    let span = section.span_of(reader, "span_c");
    if span.is_none() && section.raw("span_c").is_none() {
        section.missing(reader, "span_c", "[10, 30]");
    }
    section.finish(reader);
    let [low, high] = span?;
    if let Some(rule) = &method.sample.temperature {
        let [least, most] = rule.span_c;
        if low < least || high > most {
            let found = format!("{low} to {high} °C; the method covers {least} to {most} °C");
            reader.complain(section.span(), found, "a span within the method's");
        }
    }
    Some([low, high])
}

fn timers(reader: &mut Reader<'_>, root: &mut Section<'_>, method: &Method) -> Option<Timers> {
    let mut section = root.section(reader, "timers");
    let mut required = |key| section.required_number(reader, key, Bounds::POSITIVE);
    let timers = [
        required("temperature_most_s"),
        required("rinse_least_s"),
        required("rinse_most_s"),
        required("wait_least_s"),
        required("wait_most_s"),
        required("scan_least_s"),
        required("file_most_s"),
        required("control_most_s"),
        required("second_most_s"),
        required("run_most_s"),
        required("hand_in_most_s"),
    ];
    section.finish(reader);
    let mut numbers = timers.into_iter();
    let mut next = || numbers.next().flatten();
    let timers = Timers {
        temperature_most_s: next()?,
        rinse_least_s: next()?,
        rinse_most_s: next()?,
        wait_least_s: next()?,
        wait_most_s: next()?,
        scan_least_s: next()?,
        file_most_s: next()?,
        control_most_s: next()?,
        second_most_s: next()?,
        run_most_s: next()?,
        hand_in_most_s: next()?,
    };
    let pairs = [
        ("rinse", timers.rinse_least_s, timers.rinse_most_s),
        ("wait", timers.wait_least_s, timers.wait_most_s),
        ("scan", timers.scan_least_s, timers.file_most_s),
    ];
    for (name, least, most) in pairs {
        if least >= most {
            let found = format!("the {name} takes at least {least} s and at most {most} s");
            reader.complain(section.span(), found, "a least time below the most");
        }
    }
    if let Some(wait_s) = method.sample.wait_s.filter(|wait_s| timers.wait_least_s < *wait_s) {
        let found = format!("wait_least_s is {}, and the method waits {wait_s} s", timers.wait_least_s);
        reader.complain(section.span(), found, "the method's wait or more");
    }
    Some(timers)
}

fn well(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<Well> {
    let code = code(reader, section);
    let name = section.required_text(reader, "name");
    let place = section.required_text(reader, "place");
    let ph = section.number(reader, "ph", Bounds::NOT_NEGATIVE);
    let chloride_mg_per_l = section.number(reader, "chloride_mg_per_l", Bounds::NOT_NEGATIVE);
    let conductivity_us_per_cm = section.number(reader, "conductivity_us_per_cm", Bounds::NOT_NEGATIVE);
    section.finish(reader);
    let water = Water { ph, chloride_mg_per_l, conductivity_us_per_cm };
    Some(Well { code: code?, name: plain(reader, section, "name", &name?)?, place: place?, water })
}

fn lot(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<Lot> {
    let code = code(reader, section);
    let lot = section.required_text(reader, "lot");
    let calibration = section.required_text(reader, "calibration");
    let numbers = section.numbers(reader, "numbers");
    let recalled = section.numbers(reader, "recalled").unwrap_or_default();
    let last_day = day(reader, section);
    let numbers = match numbers.as_deref() {
        Some([first, last]) => whole(*first).zip(whole(*last)).filter(|(first, last)| first <= last),
        _ => None,
    };
    if numbers.is_none() {
        let accepted = "the first and the last number of the strips, such as [101, 160]";
        if let Some(item) = section.raw("numbers") {
            section.wrong::<()>(reader, "numbers", item, accepted);
        } else {
            section.missing(reader, "numbers", "[101, 160]");
        }
    }
    let recalled: Option<Vec<u32>> = recalled.into_iter().map(whole).collect();
    if recalled.is_none() {
        let item = section.raw("recalled")?;
        section.wrong::<()>(reader, "recalled", item, "numbers of strips such as [110, 111]");
    }
    section.finish(reader);
    let (first, last) = numbers?;
    Some(Lot {
        code: code?,
        lot: plain(reader, section, "lot", &lot?)?,
        calibration: calibration?.trim().to_owned(),
        numbers: [first, last],
        recalled: recalled?,
        last_day: last_day?,
    })
}

fn whole(number: f64) -> Option<u32> {
    let is_whole = (0.0..=999_999.0).contains(&number) && number.fract() == 0.0;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole and in range")]
    is_whole.then_some(number as u32)
}

fn code(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<String> {
    let code = section.required_text(reader, "code")?;
    let is_plain =
        code.bytes().all(|byte| byte.is_ascii_uppercase() || byte.is_ascii_digit() || byte == b'-');
    if is_plain && CODE_CHARACTERS.contains(&code.len()) {
        return Some(code);
    }
    let item = section.raw("code")?;
    section.wrong(reader, "code", item, "3 to 24 capitals, digits and hyphens, such as \"AVW-04\"")
}

/// A name that goes into a cell of a run sheet.
fn plain(
    reader: &mut Reader<'_>,
    section: &mut Section<'_>,
    key: &'static str,
    text: &str,
) -> Option<String> {
    let text = text.trim().to_owned();
    let is_plain = text.chars().all(|c| !c.is_control() && !matches!(c, '"' | ',' | ';' | '='));
    if is_plain && text.chars().count() <= 60 {
        return Some(text);
    }
    let item = section.raw(key)?;
    section.wrong(reader, key, item, "up to 60 characters without quotes, commas and semicolons")
}

fn codes_are_told_apart(reader: &mut Reader<'_>, root: &Section<'_>, campaign: &Campaign) {
    let mut codes: Vec<&str> = campaign.wells.iter().map(|well| well.code.as_str()).collect();
    codes.extend(campaign.lots.iter().map(|lot| lot.code.as_str()));
    codes.sort_unstable();
    for pair in codes.windows(2) {
        if let [one, other] = pair
            && one == other
        {
            reader.complain(
                root.span(),
                format!("the code {one} stands twice"),
                "a code for each well and lot",
            );
        }
    }
    for (what, is_empty) in [("[[well]]", campaign.wells.is_empty()), ("[[lot]]", campaign.lots.is_empty())] {
        if is_empty {
            reader.complain(None, format!("the campaign names no {what}"), format!("add {what}"));
        }
    }
}
