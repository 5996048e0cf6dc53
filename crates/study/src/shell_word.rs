//! Commands that are offered as the next step must run as they are printed.

/// A path or name as one word of a command line: quoted where a shell would read more into it.
///
/// ```
/// use stillwell_study::shell_word;
/// assert_eq!(shell_word("tour/wells.study"), "tour/wells.study");
/// assert_eq!(shell_word("wells of May.study"), "'wells of May.study'");
/// assert_eq!(shell_word("mill's well"), r"'mill'\''s well'");
/// ```
///
/// # Source
/// POSIX.1-2017, Shell Command Language, 2.2.2 (from memory).
pub fn shell_word(text: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "_-./+:@%,=".contains(c);
    if !text.is_empty() && text.chars().all(is_plain) {
        return text.to_owned();
    }
    format!("'{}'", text.replace('\'', r"'\''"))
}

/// A path, likewise.
pub fn shell_path(path: &std::path::Path) -> String {
    shell_word(&path.display().to_string())
}
