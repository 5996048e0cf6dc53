//! The server of the field: bound where phones reach it, with nothing on it but the pages of one campaign.

use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::path::Path;
use std::time::Duration;

use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;
use stillwell_study::Clock;
use tokio::net::TcpListener;
use tokio::runtime::Builder;

use super::field_router;
use super::site::FieldSite;
use crate::error::ServeError;
use crate::server::told_to_end;

/// Steps that are worked on at once.
const AT_ONCE: usize = 8;
/// How often runs that nobody goes on with are looked for.
const OVERDUE_EVERY: Duration = Duration::from_hours(1);

/// What is served, and where.
#[derive(Debug)]
pub struct FieldServing<'a> {
    /// The study's file.
    pub study: &'a Path,
    /// The campaign; the last one recorded where none is named.
    pub campaign: Option<&'a str>,
    /// Address and port to listen on.
    pub address: SocketAddr,
    /// The origin that phones ask for where it is another, such as `https://wells.example` behind TLS.
    pub origin: Option<&'a str>,
    /// Where the time comes from.
    pub clock: Clock,
}

/// What is told to whoever started the server.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// The address without a code.
    pub address: String,
    /// The code, good for one phone and ten minutes.
    pub code: String,
    /// Address and code as a picture of characters; none where it is too long for one.
    pub picture: String,
    /// Where the server listens, for a proxy.
    pub listens: SocketAddr,
}

/// Serves a campaign until the process is told to end. `started` is told of the first code, and is given what opens further ones.
///
/// # Errors
/// No such study or campaign, or an address that cannot be had.
pub fn serve_field(
    serving: &FieldServing<'_>,
    started: impl FnOnce(&Said, Box<dyn Fn() -> Result<Said, ServeError> + Send>),
) -> Result<(), ServeError> {
    let runtime = Builder::new_multi_thread()
        .worker_threads(2)
        .max_blocking_threads(AT_ONCE)
        .enable_all()
        .build()
        .map_err(|error| ServeError::System { found: error.to_string() })?;
    let served = runtime.block_on(served(serving, started));
    runtime.shutdown_background();
    served
}

async fn served(
    serving: &FieldServing<'_>,
    started: impl FnOnce(&Said, Box<dyn Fn() -> Result<Said, ServeError> + Send>),
) -> Result<(), ServeError> {
    let refused = |source| ServeError::Bind { address: serving.address, source };
    let listener = TcpListener::bind(serving.address).await.map_err(refused)?;
    let listens = listener.local_addr().map_err(refused)?;
    let site = FieldSite::new(
        serving.study,
        serving.campaign,
        origins(serving.origin, listens),
        serving.clock.clone(),
    )?;
    site.close_overdue()?;
    let of_site = site.clone();
    let say = move || told(&of_site, listens);
    started(&say()?, Box::new(say));
    let closing = site.clone();
    tokio::spawn(async move {
        let mut every = tokio::time::interval(OVERDUE_EVERY);
        loop {
            every.tick().await;
            let site = closing.clone();
            // A study that is locked now is looked at an hour later.
            drop(tokio::task::spawn_blocking(move || site.close_overdue().ok()).await);
        }
    });
    tokio::select! {
        ended = axum::serve(listener, field_router(site).into_make_service_with_connect_info::<SocketAddr>()) => {
            ended.map_err(|error| ServeError::System { found: error.to_string() })
        }
        () = told_to_end() => Ok(()),
    }
}

fn told(site: &FieldSite, listens: SocketAddr) -> Result<Said, ServeError> {
    let code = site.new_code()?;
    let address = site.address(&code);
    let picture = QrCode::new(&address)
        .map(|picture| {
            picture.render::<Dense1x2>().dark_color(Dense1x2::Light).light_color(Dense1x2::Dark).build()
        })
        .unwrap_or_default();
    let address = address.split_once("/pair").map_or(address.clone(), |(before, _)| before.to_owned());
    Ok(Said { address, code, picture, listens })
}

/// The addresses that are answered to: the one that was named, the one that is listened on, and this computer's own.
fn origins(named: Option<&str>, listens: SocketAddr) -> Vec<String> {
    let port = listens.port();
    let mut all: Vec<String> =
        named.map(|named| named.trim_end_matches('/').to_owned()).into_iter().collect();
    let reached = if listens.ip().is_unspecified() { outward(listens.ip()) } else { listens.ip() };
    all.push(format!("http://{}", SocketAddr::new(reached, port)));
    all.push(format!("http://127.0.0.1:{port}"));
    all.push(format!("http://localhost:{port}"));
    all
}

/// The address by which others reach this computer: asked of the routing table; nothing is sent.
fn outward(any: IpAddr) -> IpAddr {
    // An address set aside for documentation (RFC 5737, RFC 3849): no host has it.
    let (own, far) = match any {
        IpAddr::V4(_) => ("0.0.0.0:0", "192.0.2.1:9"),
        IpAddr::V6(_) => ("[::]:0", "[2001:db8::1]:9"),
    };
    let asked = UdpSocket::bind(own).and_then(|socket| {
        socket.connect(far)?;
        socket.local_addr()
    });
    asked.map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |address| address.ip())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_own_addresses_are_answered_to() {
        let listens = "127.0.0.1:4711".parse().unwrap();
        let named = origins(Some("https://wells.example/"), listens);
        assert_eq!(
            named,
            [
                "https://wells.example",
                "http://127.0.0.1:4711",
                "http://127.0.0.1:4711",
                "http://localhost:4711"
            ]
        );
        let found = origins(None, "0.0.0.0:4711".parse().unwrap());
        assert!(found[0].starts_with("http://") && !found[0].contains("0.0.0.0"), "{found:?}");
    }
}
