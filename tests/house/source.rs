//! Rust text made fit for counting: comments and literals blanked out, test code told from the rest.

use crate::repository;

/// One Rust file below `crates/*/src`.
pub(crate) struct Source {
    pub(crate) path: String,
    pub(crate) room: String,
    pub(crate) text: String,
    /// Same length in lines and columns as `text`; comments and literals are blanks.
    pub(crate) code: String,
    /// For each line: does it belong to a `#[cfg(test)]` item or to a test file?
    pub(crate) is_test: Vec<bool>,
}

impl Source {
    pub(crate) fn new(path: &str, text: &str) -> Self {
        let code = blanked(text, Keep::Code);
        let n_lines = text.lines().count();
        let is_test = if is_test_file(path) { vec![true; n_lines] } else { test_lines(&code, n_lines) };
        let room = path.split('/').nth(1).unwrap_or_default().to_owned();
        Self { path: path.to_owned(), room, text: text.to_owned(), code, is_test }
    }

    /// Line number (from 1) and blanked text of each line that is not test code.
    pub(crate) fn product_lines(&self) -> impl Iterator<Item = (usize, &str)> {
        let lines = self.code.lines().zip(&self.is_test).enumerate();
        lines.filter(|(_, (_, is_test))| !**is_test).map(|(index, (line, _))| (index + 1, line))
    }

    /// Only the string literals of the product code, line by line.
    pub(crate) fn product_literals(&self) -> Vec<(usize, String)> {
        let literals = blanked(&self.text, Keep::Literals);
        let lines = literals.lines().zip(&self.is_test).enumerate();
        lines.filter(|(_, (_, is_test))| !**is_test).map(|(i, (line, _))| (i + 1, line.to_owned())).collect()
    }
}

/// All Rust files of all rooms.
pub(crate) fn sources() -> Vec<Source> {
    let paths = repository::files("crates", ".rs");
    let in_src = paths.iter().filter(|path| path.split('/').nth(2) == Some("src"));
    let sources: Vec<Source> = in_src.map(|path| Source::new(path, &repository::text(path))).collect();
    assert!(sources.len() >= 9, "only {} source files found", sources.len());
    sources
}

fn is_test_file(path: &str) -> bool {
    let name = path.rsplit('/').next().unwrap_or_default();
    name == "tests.rs" || name.ends_with("_tests.rs") || path.contains("/tests/")
}

#[derive(Clone, Copy, PartialEq)]
enum Keep {
    Code,
    Literals,
}

#[derive(Clone, Copy, PartialEq)]
enum Part {
    Code,
    LineComment,
    BlockComment { depth: u32 },
    Literal { hashes: Option<usize> },
}

/// `text` with everything but the wanted part replaced by blanks; line breaks stay.
fn blanked(text: &str, keep: Keep) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let mut part = Part::Code;
    let mut at = 0;
    while at < chars.len() {
        let (length, next) = step(&chars, at, part);
        let wanted = match keep {
            Keep::Code => part == Part::Code && next == Part::Code && !(length > 1 && chars[at] == '\''),
            Keep::Literals => matches!(part, Part::Literal { .. }),
        };
        for &c in &chars[at..at + length] {
            out.push(if wanted || c == '\n' { c } else { ' ' });
        }
        part = next;
        at += length;
    }
    out
}

/// How many characters belong together at `at`, and in which part the text is after them.
fn step(chars: &[char], at: usize, part: Part) -> (usize, Part) {
    let c = chars[at];
    let following = chars.get(at + 1).copied();
    match part {
        Part::LineComment => (1, if c == '\n' { Part::Code } else { part }),
        Part::BlockComment { depth } => match (c, following) {
            ('/', Some('*')) => (2, Part::BlockComment { depth: depth + 1 }),
            ('*', Some('/')) if depth == 1 => (2, Part::Code),
            ('*', Some('/')) => (2, Part::BlockComment { depth: depth - 1 }),
            _ => (1, part),
        },
        Part::Literal { hashes: None } => match c {
            '\\' => (2.min(chars.len() - at), part),
            '"' => (1, Part::Code),
            _ => (1, part),
        },
        Part::Literal { hashes: Some(n) } => {
            let closes = c == '"' && chars[at + 1..].iter().take(n).filter(|c| **c == '#').count() == n;
            if closes { (1 + n, Part::Code) } else { (1, part) }
        }
        Part::Code => match (c, following) {
            ('/', Some('/')) => (2, Part::LineComment),
            ('/', Some('*')) => (2, Part::BlockComment { depth: 1 }),
            ('"', _) => (1, Part::Literal { hashes: None }),
            ('r', Some('"' | '#')) => raw_literal(chars, at),
            ('\'', _) => (character_literal(chars, at), Part::Code),
            _ => (1, Part::Code),
        },
    }
}

/// At an `r`: the opening of a raw string, or just the letter.
fn raw_literal(chars: &[char], at: usize) -> (usize, Part) {
    let before = at.checked_sub(1).map(|index| chars[index]);
    let is_prefix = before.is_none_or(|c| !c.is_alphanumeric() && c != '_' || c == 'b');
    let n = chars[at + 1..].iter().take_while(|c| **c == '#').count();
    if is_prefix && chars.get(at + 1 + n) == Some(&'"') {
        return (n + 2, Part::Literal { hashes: Some(n) });
    }
    (1, Part::Code)
}

/// At a `'`: the length of a character literal that could mislead (quote, brace, slash), or 1 for a lifetime.
fn character_literal(chars: &[char], at: usize) -> usize {
    match (chars.get(at + 1), chars.get(at + 2)) {
        (Some('\\'), _) => 3 + chars[at + 3..].iter().take_while(|c| **c != '\'').count(),
        (Some(_), Some('\'')) => 3,
        _ => 1,
    }
}

/// Marks the lines of every item under `#[cfg(test)]`.
fn test_lines(code: &str, n_lines: usize) -> Vec<bool> {
    let mut is_test = vec![false; n_lines];
    for (start, mark) in code.match_indices("#[cfg(test)]") {
        let body = &code[start + mark.len()..];
        let end = start + mark.len() + item_end(body);
        let first = code[..start].matches('\n').count();
        let last = code[..end].matches('\n').count();
        for line in is_test.iter_mut().take(last + 1).skip(first) {
            *line = true;
        }
    }
    is_test
}

/// Length in bytes of the item that begins here: up to its closing brace, or its semicolon.
pub(crate) fn item_end(code: &str) -> usize {
    let (mut braces, mut others) = (0_i32, 0_i32);
    for (at, c) in code.char_indices() {
        match c {
            '{' => braces += 1,
            '}' => {
                braces -= 1;
                if braces <= 0 && others == 0 {
                    return at + 1;
                }
            }
            '(' | '[' => others += 1,
            ')' | ']' => others -= 1,
            ';' if braces == 0 && others == 0 => return at + 1,
            _ => {}
        }
    }
    code.len()
}

#[test]
fn comments_and_literals_are_blanked_and_lines_kept() {
    let text =
        "let a = \"} // {\"; // {\nlet b = r#\"\"{\"#; /* { /* } */ */ let c = '{';\nlet d: &'a str = '\\'';";
    let code = blanked(text, Keep::Code);
    assert_eq!(code.lines().count(), 3);
    assert!(!code.contains(['{', '}']), "{code}");
    assert!(code.contains("let c = ") && code.contains("let d: &'a str"));
}

#[test]
fn literals_are_found_without_the_code_around_them() {
    let kept = blanked("call(\"safe \\\" words\"); // \"not this\"", Keep::Literals);
    assert!(kept.contains("safe \\\" words") && !kept.contains("call") && !kept.contains("not this"));
}

#[test]
fn test_modules_and_test_files_are_told_apart() {
    let text = "fn a() {}\n#[cfg(test)]\nmod tests {\n    fn b() {}\n}\nfn c() {}\n";
    assert_eq!(Source::new("crates/x/src/a.rs", text).is_test, [false, true, true, true, true, false]);
    assert_eq!(
        Source::new("crates/x/src/a.rs", "#[cfg(test)]\nmod tests;\nfn a() {}").is_test,
        [true, true, false]
    );
    assert!(Source::new("crates/x/src/a/tests.rs", text).is_test.iter().all(|is_test| *is_test));
}
