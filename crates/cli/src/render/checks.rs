//! `explain` for people.

use stillwell_method::Check;

use super::wrapped;

pub(crate) fn list() -> String {
    let widest = Check::ALL.iter().map(|check| check.id().len()).max().unwrap_or(0);
    let mut text =
        String::from("Checks on the way from a raw scan to a verdict, in the order of the chain:\n\n");
    for check in Check::ALL {
        line!(text, "  {:widest$}  {}", check.id(), check.text().looks_at);
    }
    text.push_str("\nmore on one of them: stillwell explain clipped-scan\n");
    text
}

pub(crate) fn page(check: Check) -> String {
    let words = check.text();
    let mut text = format!("{}\n\n", words.id);
    for (lead, sentence) in [
        ("  looks at:  ", words.looks_at),
        ("  why:       ", words.why),
        ("  if it does not pass: ", words.remedy),
    ] {
        line!(text, "{}", wrapped(lead, sentence));
    }
    if !check.can_be_overridden() {
        text.push_str("  no override on the run sheet lets a number pass it\n");
        return text;
    }
    let override_line = format!(
        "write \"{}: your reason\" under `override` on the run sheet; finding and reason both stay with the result",
        words.id
    );
    line!(text, "{}", wrapped("  to use a scan all the same: ", &override_line));
    text
}
