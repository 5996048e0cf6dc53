//! A browser that has come in by the printed address.

use std::fmt::Write as _;
use std::path::Path;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Method, Request, StatusCode};
use stillwell_web::{Site, router};
use tokio::runtime::Runtime;
use tower::ServiceExt as _;

pub(crate) const HOST: &str = "127.0.0.1:4711";

/// What came back.
pub(crate) struct Answered {
    pub(crate) status: StatusCode,
    pub(crate) headers: HeaderMap,
    pub(crate) body: String,
}

impl Answered {
    pub(crate) fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().unwrap())
    }
}

pub(crate) struct Browser {
    pub(crate) site: Site,
    router: Router,
    runtime: Runtime,
}

impl Browser {
    pub(crate) fn on(study: &Path) -> Self {
        Self::with_key(study, None)
    }

    pub(crate) fn with_key(study: &Path, key: Option<&Path>) -> Self {
        let site = Site::new(study, HOST.parse().unwrap(), key.map(Path::to_owned)).unwrap();
        let runtime =
            tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
        Self { router: router(site.clone()), site, runtime }
    }

    /// A request with the right host, session and origin; what is given takes their place.
    pub(crate) fn send(&self, method: &str, path: &str, other: &[(&str, &str)], body: Vec<u8>) -> Answered {
        let launch = self.site.launch();
        let cookie = format!("{}={}", launch.cookie_name(), launch.session());
        let mut request = Request::builder().method(Method::from_bytes(method.as_bytes()).unwrap()).uri(path);
        let usual = [
            ("host", HOST),
            ("cookie", cookie.as_str()),
            ("sec-fetch-site", "same-origin"),
            ("origin", "http://127.0.0.1:4711"),
            ("content-type", "application/x-www-form-urlencoded"),
        ];
        let is_replaced = |name: &str| other.iter().any(|(found, _)| *found == name);
        let kept = usual.iter().filter(|(name, _)| !is_replaced(name));
        for (name, value) in kept.chain(other).filter(|(_, value)| !value.is_empty()) {
            request = request.header(*name, *value);
        }
        let request = request.body(Body::from(body)).unwrap();
        self.runtime.block_on(async {
            let answer = self.router.clone().oneshot(request).await.unwrap();
            let (parts, body) = answer.into_parts();
            let bytes = to_bytes(body, 64 << 20).await.unwrap();
            Answered {
                status: parts.status,
                headers: parts.headers,
                body: String::from_utf8_lossy(&bytes).into_owned(),
            }
        })
    }

    pub(crate) fn get(&self, path: &str) -> Answered {
        self.send("GET", path, &[("content-type", "")], Vec::new())
    }

    /// Sends a form with the token that the page would hold.
    pub(crate) fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answered {
        let token = self.site.launch().form_token(path);
        let mut all = vec![("form-token", token.as_str())];
        all.extend(fields);
        self.send("POST", path, &[], form(&all))
    }
}

/// Fields as a browser sends them.
pub(crate) fn form(fields: &[(&str, &str)]) -> Vec<u8> {
    let encoded = |text: &str| {
        text.bytes().fold(String::new(), |mut encoded, byte| {
            write!(encoded, "%{byte:02X}").unwrap();
            encoded
        })
    };
    let pairs: Vec<String> =
        fields.iter().map(|(name, value)| format!("{}={}", encoded(name), encoded(value))).collect();
    pairs.join("&").into_bytes()
}
