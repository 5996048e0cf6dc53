//! Icons that stand beside words: each is drawn here, in one line width, and says nothing that the words do not say.

use maud::{Markup, html};

/// The paths of an icon on a ground of 24 × 24.
fn path(name: &str) -> &'static str {
    match name {
        "well" => "M5 21V11h14v10M3 11l9-7 9 7M9 11v4a3 3 0 0 0 6 0v-4M12 4v7",
        "strip" => "M8 2h8v20H8zM8 15h8M12 18v1M11 6h2M11 9h2",
        "temperature" => "M10 14V5a2 2 0 0 1 4 0v9a4.5 4.5 0 1 1-4 0zM12 9v8",
        "rinse" => "M4 4h9a3 3 0 0 1 3 3v2M14 9h4M15 13v2M17 12v4M16 18v3M13 17v3M19 17v3",
        "apply" => "M12 3c4 5 6 8 6 11a6 6 0 0 1-12 0c0-3 2-6 6-11zM9 14a3 3 0 0 0 3 3",
        "start" => "M12 4a8.5 8.5 0 1 0 .01 0zM12 8v5l3 2M9 1.5h6",
        "file" => "M6 2h9l4 4v16H6zM15 2v4h4M9 17l2-5 2 3 3-6",
        "below" => "M4 12.5l5 5L20 6.500",
        "above" => "M12 3l10 18H2zM12 9v6M12 17.500v1",
        "unknown" => "M8 8a4 4 0 1 1 5.500 3.700c-1 .500-1.500 1.200-1.500 2.300v1M12 18v1.500",
        "too-close" => "M3 9h4l2-2 3 4 3-4 2 2h4M3 16h4l2-2 3 4 3-4 2 2h4",
        "stop" => "M8 3h8l5 5v8l-5 5H8l-5-5V8zM9 9l6 6M15 9l-6 6",
        "call" => "M6 3l4 1 1 5-2.500 1.500a11 11 0 0 0 5 5L15 13l5 1 1 4-3 3C10 21 3 14 3 6z",
        "no-link" => "M3 9a13 13 0 0 1 18 0M7 13a7 7 0 0 1 10 0M12 18v.5M4 3l16 18",
        "phone" => "M7 2h10v20H7zM11 19h2",
        "scan" => "M4 8V4h4M16 4h4v4M20 16v4h-4M8 20H4v-4M8 8h3v3H8zM13 13h3v3h-3zM13 8h3M8 13v3",
        "list" => "M8 6h12M8 12h12M8 18h12M4 6h.01M4 12h.01M4 18h.01",
        "people" => {
            "M8 5a3 3 0 1 0 .01 0zM2 20c0-5 2-8 6-8s6 3 6 8M16 7a2.500 2.500 0 1 0 .01 0zM16 13c4 0 6 3 6 7"
        }
        _ => "M5 12h14M13 6l6 6-6 6",
    }
}

/// The icon of this name; the words beside it speak.
pub(super) fn icon(name: &str) -> Markup {
    html! {
        svg class="icon" viewBox="0 0 24 24" width="24" height="24" aria-hidden="true" focusable="false" {
            path d=(path(name)) {}
        }
    }
}
