//! The ground: light, dark, or what the system says. It is kept in a cookie, so that the choice needs no script.

use axum::http::StatusCode;
use axum::http::header::{LOCATION, SET_COOKIE};
use axum::response::{IntoResponse as _, Response};

use crate::guard::Posted;

/// The ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Theme {
    /// As the system has it.
    System,
    /// Light.
    Light,
    /// Dark.
    Dark,
}

impl Theme {
    pub(crate) const ALL: [Self; 3] = [Self::Light, Self::Dark, Self::System];

    pub(crate) fn of(word: &str) -> Self {
        Self::ALL.into_iter().find(|theme| theme.word() == word).unwrap_or(Self::System)
    }

    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::System => "system",
            Self::Light => "light",
            Self::Dark => "dark",
        }
    }
}

/// Keeps the choice and leads back to where it was made.
pub(crate) async fn choose(Posted(fields): Posted) -> Response {
    let theme = Theme::of(fields.text("theme"));
    let cookie =
        format!("stillwell-theme={}; Path=/; Max-Age=31536000; HttpOnly; SameSite=Strict", theme.word());
    let back = own_path(fields.text("back"));
    (StatusCode::SEE_OTHER, [(SET_COOKIE, cookie), (LOCATION, back)]).into_response()
}

/// A path of our own, whatever was sent: never another host.
fn own_path(text: &str) -> String {
    let is_own = text.starts_with('/')
        && !text.starts_with("//")
        && text.bytes().all(|byte| byte.is_ascii_graphic() && byte != b'\\');
    if is_own { text.to_owned() } else { "/".to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_way_back_never_leads_elsewhere() {
        assert_eq!(own_path("/results/3"), "/results/3");
        for elsewhere in ["//evil.example", "https://evil.example", "/\\evil.example", "/a\r\nb", ""] {
            assert_eq!(own_path(elsewhere), "/", "{elsewhere}");
        }
    }
}
