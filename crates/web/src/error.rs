//! Why the server could not be started: what was found, and what would be accepted.

use std::net::SocketAddr;

use stillwell_field::FieldError;
use stillwell_study::StudyError;

/// Why nothing is served.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ServeError {
    /// The address can be reached from elsewhere.
    #[error(
        "{found} can be reached from other computers\n  cure: serve on 127.0.0.1 or [::1]; from elsewhere, come through a tunnel such as `ssh -L`"
    )]
    NotLoopback {
        /// The address that was asked for.
        found: SocketAddr,
    },
    /// The address is taken or forbidden.
    #[error("{address}: {source}\n  cure: another port, or port 0 for any free one")]
    Bind {
        /// The address that was asked for.
        address: SocketAddr,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// The operating system gave no randomness, no threads or no signals.
    #[error("the server could not start: {found}")]
    System {
        /// What it said.
        found: String,
    },
    /// The study cannot be read.
    #[error(transparent)]
    Study(#[from] StudyError),
    /// The campaign cannot be used.
    #[error(transparent)]
    Field(#[from] FieldError),
    /// There is no campaign to measure by.
    #[error(
        "the study holds no campaign\n  cure: `stillwell study campaign STUDY --file campaign.toml --as NAME` records one"
    )]
    NoCampaign,
    /// A host that is no origin.
    #[error("\"{found}\" is no address of a host\n  cure: such as https://wells.example, without a path")]
    Host {
        /// What was found.
        found: String,
    },
}
