//! The server: bound to this computer only, and ended in an orderly way.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use tokio::net::TcpListener;
use tokio::runtime::Builder;

use crate::error::ServeError;
use crate::routes::router;
use crate::site::Site;

/// How many pages are made at once: each may walk a chain over all cores.
const AT_ONCE: usize = 8;

/// What is served, and where.
#[derive(Debug)]
pub struct Serving<'a> {
    /// The study's file.
    pub study: &'a Path,
    /// Loopback address and port; port 0 for any free one.
    pub address: SocketAddr,
    /// Key file of whoever serves, where they want to sign from the page.
    pub key: Option<PathBuf>,
}

/// Serves until the process is told to end. `started` is told the address that leads in.
///
/// # Errors
/// A file that is no study, or an address that cannot be had.
pub fn serve(serving: &Serving<'_>, started: impl FnOnce(&str)) -> Result<(), ServeError> {
    let runtime = Builder::new_multi_thread()
        .worker_threads(2)
        .max_blocking_threads(AT_ONCE)
        .enable_all()
        .build()
        .map_err(|error| ServeError::System { found: error.to_string() })?;
    let served = runtime.block_on(served(serving, started));
    // A page that is still being made must not keep the process.
    runtime.shutdown_background();
    served
}

async fn served(serving: &Serving<'_>, started: impl FnOnce(&str)) -> Result<(), ServeError> {
    let refused = |source| ServeError::Bind { address: serving.address, source };
    if !serving.address.ip().is_loopback() {
        return Err(ServeError::NotLoopback { found: serving.address });
    }
    let listener = TcpListener::bind(serving.address).await.map_err(refused)?;
    let address = listener.local_addr().map_err(refused)?;
    let site = Site::new(serving.study, address, serving.key.clone())?;
    let pages = router(site.clone());
    started(&site.address());
    tokio::select! {
        ended = axum::serve(listener, pages) => {
            ended.map_err(|error| ServeError::System { found: error.to_string() })
        }
        () = told_to_end() => Ok(()),
    }
}

/// Ctrl-C, or what a service manager sends.
pub(crate) async fn told_to_end() {
    let interrupted = async {
        // Without a handler the signal ends the process by itself.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminated) = signal(SignalKind::terminate()) {
            tokio::select! {
                () = interrupted => {}
                _ = terminated.recv() => {}
            }
            return;
        }
    }
    interrupted.await;
}
