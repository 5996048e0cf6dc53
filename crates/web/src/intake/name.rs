//! Names of files as a browser sends them: data for the run sheet, never a path of this computer.

/// Longest name that the ledger takes.
const MOST_BYTES: usize = 255;

/// The last part of a name, or why it is not taken.
pub(crate) fn sanitized(sent: &str) -> Result<String, &'static str> {
    // A browser may send the folders before the name; another program may send whatever it likes.
    let name = sent.rsplit(['/', '\\']).next().unwrap_or_default().trim();
    match name {
        "" | "." | ".." => Err("it has no name"),
        _ if name.len() > MOST_BYTES => Err("its name is longer than 255 bytes"),
        _ if name.chars().any(is_unseen) => Err("its name holds characters that cannot be seen"),
        _ if name.starts_with('.') => Err("it is a hidden file"),
        _ => Ok(name.to_owned()),
    }
}

/// Control characters, and those that turn the direction of what stands around them.
fn is_unseen(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_last_part_of_a_name_counts() {
        for (sent, name) in [
            ("a.csv", "a.csv"),
            ("../../etc/passwd", "passwd"),
            ("..\\..\\windows\\a.csv", "a.csv"),
            ("/abs/ä.csv", "ä.csv"),
            ("<script>alert(1)<script>.csv", "<script>alert(1)<script>.csv"),
            ("folder/with space.csv ", "with space.csv"),
        ] {
            assert_eq!(sanitized(sent).as_deref(), Ok(name), "{sent}");
        }
        let long = "x".repeat(300);
        for sent in
            ["", "..", "a/..", "a/", ".hidden", "a\u{0}.csv", "a\nb.csv", "\u{202e}vsc.a", long.as_str()]
        {
            assert!(sanitized(sent).is_err(), "{sent:?}");
        }
    }
}
