//! Why a demo did not come to its end.

use standpipe_client::ClientError;
use standpipe_server::ServerError;
use std::path::PathBuf;

/// Why a demo did not come to its end.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// The folder holds something else.
    #[error("{} exists and holds no earlier demo; name another folder with --dir", .0.display())]
    FolderTaken(PathBuf),
    /// There is no demo to serve.
    #[error("{} holds no demo; run it first", .0.display())]
    NoDemo(PathBuf),
    /// The disk or the network refused.
    #[error("{doing}: {cause}")]
    Io {
        /// What was being done.
        doing: &'static str,
        /// What the system said.
        cause: std::io::Error,
    },
    /// The server failed.
    #[error(transparent)]
    Server(#[from] ServerError),
    /// A station failed.
    #[error(transparent)]
    Station(#[from] ClientError),
    /// Something came out otherwise than it must.
    #[error("wrong: {0}")]
    Wrong(String),
}

impl DemoError {
    /// Names what was being done when the system refused.
    pub(crate) fn io(doing: &'static str) -> impl FnOnce(std::io::Error) -> Self {
        move |cause| Self::Io { doing, cause }
    }
}
