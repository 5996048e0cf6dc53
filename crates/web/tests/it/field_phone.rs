//! A phone at the field's pages, asked without a socket: a paired one, its own time, and forms as a browser without script sends them.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Method, Request};
use stillwell_study::Clock;
use stillwell_web::{FieldSite, field_router};
use tokio::runtime::Runtime;
use tower::ServiceExt as _;

use crate::browser::Answered;
use crate::wells::{Dip, NOON_MS};

pub(crate) const HOST: &str = "192.0.2.7:8090";
pub(crate) const ORIGIN: &str = "http://192.0.2.7:8090";
pub(crate) const BOUNDARY: &str = "a-boundary-of-ours";

/// The server and its clock.
pub(crate) struct Served {
    pub(crate) site: FieldSite,
    pub(crate) now_ms: Arc<AtomicI64>,
    router: Router,
    runtime: Runtime,
}

impl Served {
    pub(crate) fn on(study: &Path) -> Self {
        Self::at(study, Arc::new(AtomicI64::new(NOON_MS)), None)
    }

    pub(crate) fn at(study: &Path, now_ms: Arc<AtomicI64>, campaign: Option<&str>) -> Self {
        let of_clock = now_ms.clone();
        let clock =
            Clock::of(move || jiff::Timestamp::from_millisecond(of_clock.load(Ordering::Relaxed)).unwrap());
        let origins = vec![ORIGIN.to_owned(), "https://wells.example".to_owned()];
        let site = FieldSite::new(study, campaign, origins, clock).unwrap();
        let runtime =
            tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
        Self { router: field_router(site.clone()), site, now_ms, runtime }
    }

    /// The process is killed and started again on the same study.
    pub(crate) fn restarted(self, study: &Path) -> Self {
        let now_ms = self.now_ms.clone();
        drop(self);
        Self::at(study, now_ms, None)
    }

    pub(crate) fn wait(&self, seconds: i64) {
        self.now_ms.fetch_add(1000 * seconds, Ordering::Relaxed);
    }

    pub(crate) fn send(&self, method: &str, way: &str, headers: &[(&str, &str)], body: Vec<u8>) -> Answered {
        let mut request = Request::builder().method(Method::from_bytes(method.as_bytes()).unwrap()).uri(way);
        let usual = [("host", HOST), ("sec-fetch-site", "same-origin"), ("origin", ORIGIN)];
        let is_replaced = |name: &str| headers.iter().any(|(found, _)| *found == name);
        let kept = usual.iter().filter(|(name, _)| !is_replaced(name));
        for (name, value) in kept.chain(headers).filter(|(_, value)| !value.is_empty()) {
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

    pub(crate) fn try_code(&self, code: &str, cookie: &str) -> Answered {
        let headers = [("content-type", "application/x-www-form-urlencoded"), ("cookie", cookie)];
        self.send("POST", "/field/pair", &headers, format!("code={code}").into_bytes())
    }

    /// Pairs a phone: its cookie.
    pub(crate) fn pair(&self) -> String {
        let code = self.site.new_code().unwrap();
        let paired = self.try_code(&code, "");
        assert_eq!(paired.status.as_u16(), 303, "{}", paired.body);
        paired.header("set-cookie").split(';').next().unwrap().to_owned()
    }
}

/// A step as a form.
pub(crate) fn multipart(fields: &[(&str, &str)], file: Option<&[u8]>) -> Vec<u8> {
    let mut body = Vec::new();
    for (name, value) in fields {
        body.extend(
            format!("--{BOUNDARY}\r\ncontent-disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n")
                .bytes(),
        );
    }
    if let Some(file) = file {
        let head = "content-disposition: form-data; name=\"file\"; filename=\"scan.txt\"";
        body.extend(format!("--{BOUNDARY}\r\n{head}\r\ncontent-type: text/plain\r\n\r\n").bytes());
        body.extend(file);
        body.extend(b"\r\n");
    }
    body.extend(format!("--{BOUNDARY}--\r\n").bytes());
    body
}

/// The value of an attribute in a page.
pub(crate) fn attribute(page: &str, before: &str) -> String {
    let from = page.find(before).unwrap() + before.len();
    page[from..].split('"').next().unwrap().to_owned()
}

/// A phone without script: it sends the form of the page that it sees.
pub(crate) struct Phone {
    pub(crate) cookie: String,
    pub(crate) run: String,
    pub(crate) page: String,
}

impl Phone {
    pub(crate) fn paired(at: &Served) -> Self {
        let mut phone = Self { cookie: at.pair(), run: String::new(), page: String::new() };
        phone.begins(at);
        phone
    }

    pub(crate) fn begins(&mut self, at: &Served) {
        let new = at.send("GET", "/field/new", &[("cookie", &self.cookie)], Vec::new());
        new.header("location").strip_prefix("/field/run/").unwrap().clone_into(&mut self.run);
        self.looks(at);
    }

    pub(crate) fn looks(&mut self, at: &Served) {
        let way = format!("/field/run/{}", self.run);
        let seen = at.send("GET", &way, &[("cookie", &self.cookie)], Vec::new());
        assert_eq!(seen.status.as_u16(), 200, "{}", seen.body);
        self.page = seen.body;
    }

    /// The fields of the form on the page.
    pub(crate) fn form(&self, deed: &str, more: &[(&str, &str)], file: Option<&[u8]>) -> Vec<u8> {
        let of = |name: &str| attribute(&self.page, &format!("name=\"{name}\" value=\""));
        let (token, place, key) = (of("form-token"), of("place"), of("key"));
        let mut all = vec![("form-token", token.as_str()), ("place", &place), ("key", &key), ("deed", deed)];
        all.extend(more);
        multipart(&all, file)
    }

    pub(crate) fn posts(&self, at: &Served, body: Vec<u8>) -> Answered {
        let kind = format!("multipart/form-data; boundary={BOUNDARY}");
        let way = format!("/field/run/{}", self.run);
        at.send("POST", &way, &[("cookie", &self.cookie), ("content-type", &kind)], body)
    }

    /// Presses what the page asks for and looks at what comes then.
    pub(crate) fn does(&mut self, at: &Served, deed: &str, more: &[(&str, &str)], file: Option<&[u8]>) {
        let sent = self.posts(at, self.form(deed, more, file));
        assert_eq!(sent.status.as_u16(), 303, "{deed}: {}", sent.body);
        self.looks(at);
    }

    /// One strip from the box to its file, in good order.
    pub(crate) fn measures(&mut self, at: &Served, dip: &Dip) {
        at.wait(5);
        self.does(at, "strip", &[("code", &format!("K21A-{}", dip.strip))], None);
        at.wait(20);
        self.does(at, "temperature", &[("temperature", &format!("{:.1}", dip.temperature_c))], None);
        at.wait(3);
        self.does(at, "rinse", &[], None);
        at.wait(15);
        self.does(at, "apply", &[], None);
        at.wait(65);
        self.does(at, "start", &[], None);
        at.wait(20);
        self.does(at, "file", &[], Some(&dip.file(2)));
    }

    pub(crate) fn at_well(&mut self, at: &Served, code: &str) {
        self.does(at, "well", &[("code", code)], None);
    }

    pub(crate) fn control(&mut self, at: &Served, strip: u32) {
        self.measures(at, &Dip::new(strip, 25.0));
        self.shows(&["The test strip works."]);
    }

    pub(crate) fn shows(&self, words: &[&str]) {
        for one in words {
            assert!(self.page.contains(one), "{one} is not on {}", self.page);
        }
    }

    pub(crate) fn hides(&self, words: &[&str]) {
        for one in words {
            assert!(!self.page.contains(one), "{one} is on {}", self.page);
        }
    }
}
