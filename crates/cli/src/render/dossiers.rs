//! `dossier` for people: where it is, and the one answer of its first page.

use stillwell_report::json::dossiers::Written;

use super::wrapped;

pub(crate) fn text(written: &Written<'_>) -> String {
    let anchor = &written.input.history.anchor;
    let mut text =
        format!("dossier written to {}: {} bytes\n", written.path.display(), written.document.len());
    line!(text, "blake3 {}", written.blake3());
    line!(text, "as of record #{}, head {}", anchor.seq, anchor.head);
    let answer = if written.input.is_free() {
        "nothing speaks against any result in it"
    } else {
        "not every result in it may be used as it stands; its first chapter says which and why"
    };
    line!(text, "{}", wrapped("", answer));
    line!(text, "{}", wrapped("", "open it in a browser; printing it gives pages of A4 or Letter"));
    text
}
