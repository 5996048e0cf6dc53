//! Text in a figure: made harmless, measured, shortened, wrapped.

/// Size of all text but titles, in units of the drawing: 12 px where the figure is 360 px wide.
pub(crate) const TEXT_SIZE: f64 = 16.0;

/// Width of a figure in units of the drawing.
pub(crate) const FIGURE_WIDTH: f64 = 480.0;

/// Names longer than this are cut.
const LONGEST_NAME: usize = 160;

/// A text without characters that SVG forbids or that turn the reading order of what follows.
pub(crate) fn clean(text: &str) -> String {
    text.chars().map(|c| if is_harmful(c) { '\u{fffd}' } else { c }).collect()
}

/// A name, clean and no longer than anyone reads; one that is written from right to left stands for itself, so that the numbers
/// beside it keep their places.
pub(crate) fn harmless(text: &str) -> String {
    let cleaned = clean(text);
    let cleaned = if is_balanced(&cleaned) { cleaned } else { cleaned.replace([FIRST_STRONG, END], "") };
    let mut kept: String = cleaned.chars().take(LONGEST_NAME).collect();
    if cleaned.chars().count() > LONGEST_NAME {
        kept.push('…');
    }
    let n_open = kept.matches(FIRST_STRONG).count().saturating_sub(kept.matches(END).count());
    kept.extend((0..n_open).map(|_| END));
    if turns_outside(&kept) { format!("{FIRST_STRONG}{kept}{END}") } else { kept }
}

/// Begins a stretch with a reading order of its own.
const FIRST_STRONG: char = '\u{2068}';

/// Ends it.
const END: char = '\u{2069}';

/// Depth of such stretches after each character.
fn depths(text: &str) -> impl Iterator<Item = (char, i32)> {
    text.chars().scan(0_i32, |depth, c| {
        *depth += i32::from(c == FIRST_STRONG) - i32::from(c == END);
        Some((c, *depth))
    })
}

fn is_balanced(text: &str) -> bool {
    depths(text).all(|(_, depth)| depth >= 0) && depths(text).last().is_none_or(|(_, depth)| depth == 0)
}

/// Whether letters from right to left stand outside such a stretch.
fn turns_outside(text: &str) -> bool {
    depths(text).any(|(c, depth)| depth == 0 && is_right_to_left(c))
}

/// Hebrew, Arabic and their neighbours. Source: Unicode blocks of the scripts of bidirectional class R and AL (from memory).
fn is_right_to_left(c: char) -> bool {
    matches!(c, '\u{0590}'..='\u{08ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{fefc}' | '\u{10800}'..='\u{10fff}' | '\u{1e800}'..='\u{1efff}')
}

fn is_harmful(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{200e}' | '\u{200f}' | '\u{061c}' | '\u{202a}'..='\u{202e}' | '\u{2066}' | '\u{2067}'
        )
        || matches!(c, '\u{fffe}' | '\u{ffff}' | '\u{2028}' | '\u{2029}')
}

/// Width of a text in the size of running text: an estimate for common sans-serif faces, rather too wide.
pub(crate) fn width(text: &str) -> f64 {
    TEXT_SIZE * text.chars().map(relative_width).sum::<f64>()
}

/// In parts of the size. The widths are those of a wide common face, measured in letters and rounded up.
fn relative_width(c: char) -> f64 {
    match c {
        FIRST_STRONG | END => 0.0,
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '|' | '\'' | '!' => 0.34,
        ' ' | 'f' | 't' | 'r' | '(' | ')' | '/' | '-' | '[' | ']' | '·' => 0.41,
        'W' => 1.1,
        'm' | 'M' | '@' | '%' | '…' => 1.0,
        'w' | 'A'..='Z' | '−' | '+' | '=' | '<' | '>' | '±' => 0.83,
        c if (c as u32) < 0x0590 => 0.64,
        _ => 1.0,
    }
}

/// The text, or as much of its beginning as fits, with an ellipsis.
pub(crate) fn shortened(text: &str, most: f64) -> String {
    if width(text) <= most {
        return text.to_owned();
    }
    let mut kept = String::new();
    let mut used = width("…");
    for c in text.chars() {
        used += TEXT_SIZE * relative_width(c);
        if used > most {
            break;
        }
        kept.push(c);
    }
    kept.truncate(kept.trim_end().len());
    kept.push('…');
    kept
}

/// Lines of at most `most` units; words that are longer by themselves are cut. No more than `n_lines` lines: the last one
/// ends in an ellipsis where there was more.
pub(crate) fn wrapped(text: &str, most: f64, n_lines: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in held_together(text) {
        match lines.last_mut() {
            Some(line) if width(line) + width(" ") + width(&word) <= most => {
                line.push(' ');
                line.push_str(&word);
            }
            _ => lines.push(word),
        }
    }
    if lines.len() > n_lines {
        lines.truncate(n_lines);
        if let Some(last) = lines.last_mut() {
            last.push_str(" …");
        }
    }
    lines.iter().map(|line| shortened(line, most)).collect()
}

/// Words, a number with what follows it: its unit.
fn held_together(text: &str) -> Vec<String> {
    let is_number =
        |word: &str| word.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | '−' | '±' | '<'));
    let mut words: Vec<String> = Vec::new();
    let mut awaits_unit = false;
    for word in text.split_whitespace() {
        match words.last_mut() {
            Some(number) if awaits_unit => {
                number.push(' ');
                number.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
        awaits_unit = !awaits_unit && is_number(word);
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_turns_the_reading_order_or_breaks_a_document_is_replaced() {
        assert_eq!(harmless("a\u{202e}b\u{0}c"), "a\u{fffd}b\u{fffd}c");
        assert_eq!(harmless("مرحبا"), "\u{2068}مرحبا\u{2069}");
        let line = format!("well {} · 50 mg/L", harmless("بئر 7"));
        assert_eq!(harmless(&line), line);
        assert_eq!(harmless("a\u{2069}b\u{2068}"), "ab");
        let long = harmless(&"ب".repeat(300));
        assert!(is_balanced(&long) && long.ends_with("…\u{2069}"));
        assert_eq!(harmless(&"x".repeat(300)).chars().count(), LONGEST_NAME + 1);
    }

    #[test]
    fn lines_keep_their_width() {
        let text = "a scan whose current stands still at the end of the range is clipped ".repeat(4);
        let lines = wrapped(&text, 200.0, 3);
        assert_eq!(lines.len(), 3);
        assert!(lines.iter().all(|line| width(line) <= 200.0));
        assert!(lines.last().is_some_and(|line| line.ends_with('…')));
        assert_eq!(wrapped("a standard of 25 mg/L", 118.0, 3), ["a standard of", "25 mg/L"]);
        assert!(width(&shortened(&"W".repeat(300), 100.0)) <= 100.0);
    }
}
