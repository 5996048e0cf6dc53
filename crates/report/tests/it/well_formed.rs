//! A small checker of documents: elements nest, attributes are quoted, nothing stands unescaped.

/// What is wrong with a document; nothing where it is well formed.
pub(crate) fn complaint(document: &str) -> Option<String> {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = document.trim_end();
    while let Some(at) = rest.find('<') {
        let (words, tag) = rest.split_at(at);
        if let Some(wrong) = unescaped(words) {
            return Some(wrong);
        }
        let Some(end) = tag.find('>') else { return Some(format!("not closed: {tag:.40}")) };
        let inside = &tag[1..end];
        rest = &tag[end + 1..];
        if let Some(name) = inside.strip_prefix('/') {
            if open.pop() != Some(name) {
                return Some(format!("closes what is not open: {name}"));
            }
        } else if let Some(wrong) = attributes(inside) {
            return Some(wrong);
        } else if !inside.ends_with('/') {
            open.push(inside.split(' ').next().unwrap_or_default());
        }
    }
    if let Some(c) = document.chars().find(|c| c.is_control() && *c != '\n') {
        return Some(format!("holds {c:?}"));
    }
    unescaped(rest).or_else(|| open.first().map(|name| format!("stays open: {name}")))
}

fn unescaped(words: &str) -> Option<String> {
    if words.contains('>') {
        return Some(format!("a bare > in {words:.40}"));
    }
    let known = ["&lt;", "&gt;", "&amp;", "&quot;"];
    let bare =
        words.match_indices('&').find(|(at, _)| !known.iter().any(|entity| words[*at..].starts_with(entity)));
    bare.map(|(at, _)| format!("a bare & at {at}"))
}

fn attributes(inside: &str) -> Option<String> {
    let inside = inside.trim_end_matches('/');
    let (_, mut rest) = inside.split_once(' ').unwrap_or((inside, ""));
    while !rest.trim().is_empty() {
        let Some((name, value)) = rest.split_once("=\"") else {
            return Some(format!("no attribute: {rest:.40}"));
        };
        if !name.trim().chars().all(|c| c.is_alphanumeric() || c == '-') {
            return Some(format!("no name: {name:.40}"));
        }
        let Some((_, after)) = value.split_once('"') else { return Some(format!("not quoted: {value:.40}")) };
        rest = after;
    }
    None
}

#[test]
fn broken_documents_are_found() {
    assert_eq!(complaint("<a b=\"1\"><c>x &lt; y</c><d e=\"2\"/></a>\n"), None);
    for broken in
        ["<a>", "<a></b>", "<a b=1></a>", "<a>&</a>", "<a>x > y</a>", "<a>\u{1}</a>", "<a b=\"1></a>"]
    {
        assert!(complaint(broken).is_some(), "{broken}");
    }
}
