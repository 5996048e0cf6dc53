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

/// A name, clean and no longer than anyone reads.
pub(crate) fn harmless(text: &str) -> String {
    let cleaned = clean(text);
    let mut kept: String = cleaned.chars().take(LONGEST_NAME).collect();
    if cleaned.chars().count() > LONGEST_NAME {
        kept.push('…');
    }
    kept
}

fn is_harmful(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200e}' | '\u{200f}' | '\u{061c}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        || matches!(c, '\u{fffe}' | '\u{ffff}' | '\u{2028}' | '\u{2029}')
}

/// Width of a text in the size of running text: an estimate for common sans-serif faces, rather too wide.
pub(crate) fn width(text: &str) -> f64 {
    TEXT_SIZE * text.chars().map(relative_width).sum::<f64>()
}

/// In parts of the size. The widths are those of a wide common face, measured in letters and rounded up.
fn relative_width(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '|' | '\'' | '!' => 0.34,
        ' ' | 'f' | 't' | 'r' | '(' | ')' | '/' | '-' | '[' | ']' | '·' => 0.41,
        'm' | 'M' | 'W' | '@' | '%' | '…' => 1.0,
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
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if width(line) + width(" ") + width(word) <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_turns_the_reading_order_or_breaks_a_document_is_replaced() {
        assert_eq!(harmless("a\u{202e}b\u{0}c"), "a\u{fffd}b\u{fffd}c");
        assert_eq!(harmless("مرحبا"), "مرحبا");
        assert_eq!(harmless(&"x".repeat(300)).chars().count(), LONGEST_NAME + 1);
    }

    #[test]
    fn lines_keep_their_width() {
        let text = "a scan whose current stands still at the end of the range is clipped ".repeat(4);
        let lines = wrapped(&text, 200.0, 3);
        assert_eq!(lines.len(), 3);
        assert!(lines.iter().all(|line| width(line) <= 200.0));
        assert!(lines.last().is_some_and(|line| line.ends_with('…')));
        assert!(width(&shortened(&"W".repeat(300), 100.0)) <= 100.0);
    }
}
