//! Where the lines come from: the standard input, a file, or a serial line, read by a thread of its own so that nothing
//! else waits for it; and the signals that end a feed.

use super::End;
use crate::clock::Clock;
use crate::error::ClientError;
use crate::feed::map::SerialLine;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tokio::sync::mpsc;

/// Pieces that wait to be binned: minutes of any display, while the shop server does not answer.
const PIECES_MAX: usize = 1_024;
/// Greatest size of a piece, in bytes.
const PIECE_BYTES_MAX: usize = 4_096;

/// What came.
pub(super) enum Piece {
    /// Bytes, and when they came by the monotonic clock.
    Bytes {
        /// The bytes.
        bytes: Vec<u8>,
        /// When they came.
        at_us: i64,
    },
    /// The input broke.
    Failed(ClientError),
}

/// An input that is open.
pub(super) struct Input {
    from: Box<dyn Read + Send>,
    name: PathBuf,
    is_device: bool,
}

impl Input {
    /// A file, or the standard input.
    pub(super) fn file(path: Option<&Path>) -> Result<Self, ClientError> {
        let Some(path) = path else {
            let name = PathBuf::from("the input");
            return Ok(Self { from: Box::new(std::io::stdin()), name, is_device: false });
        };
        let file = File::open(path)
            .map_err(|cause| ClientError::Usage(format!("{} cannot be read: {cause}", path.display())))?;
        Ok(Self { from: Box::new(file), name: path.to_owned(), is_device: false })
    }

    /// A serial line.
    #[cfg(unix)]
    pub(super) fn device(path: &Path, line: SerialLine) -> Result<Self, ClientError> {
        let file = crate::feed::device::open(path, line)?;
        Ok(Self { from: Box::new(file), name: path.to_owned(), is_device: true })
    }

    /// A serial line.
    #[cfg(not(unix))]
    pub(super) fn device(path: &Path, _line: SerialLine) -> Result<Self, ClientError> {
        Err(ClientError::Usage(format!(
            "{} cannot be read: this system's serial lines are not supported; feed its lines through the input",
            path.display()
        )))
    }

    /// The serial line's name, if it is one.
    pub(super) fn device_name(&self) -> Option<String> {
        self.is_device.then(|| self.name.display().to_string())
    }

    /// Reads it in a thread that ends with the input, or when nobody takes its pieces any more.
    pub(super) fn pieces(self, clock: Arc<dyn Clock>) -> mpsc::Receiver<Piece> {
        let (pieces, taken) = mpsc::channel(PIECES_MAX);
        std::thread::spawn(move || self.read_all(&*clock, &pieces));
        taken
    }

    fn read_all(mut self, clock: &dyn Clock, pieces: &mpsc::Sender<Piece>) {
        let mut bytes = vec![0; PIECE_BYTES_MAX];
        loop {
            let piece = match self.from.read(&mut bytes) {
                // A serial line has no end but that it is pulled out.
                Ok(0) if self.is_device => Piece::Failed(self.failed(ErrorKind::UnexpectedEof.into())),
                Ok(0) => return,
                Ok(count) => {
                    let bytes = bytes.get(..count).unwrap_or_default().to_vec();
                    Piece::Bytes { bytes, at_us: clock.monotonic_microseconds() }
                }
                Err(cause) if cause.kind() == ErrorKind::Interrupted => continue,
                Err(cause) => Piece::Failed(self.failed(cause)),
            };
            let is_over = matches!(piece, Piece::Failed(_));
            if pieces.blocking_send(piece).is_err() || is_over {
                return;
            }
        }
    }

    fn failed(&self, cause: std::io::Error) -> ClientError {
        ClientError::instrument("reading", &self.name, cause)
    }
}

/// The signals that end a feed: interrupt, terminate, and that the terminal is gone.
pub(super) struct Interrupts {
    #[cfg(unix)]
    signals: [tokio::signal::unix::Signal; 3],
}

impl Interrupts {
    #[cfg(unix)]
    pub(super) fn new() -> Result<Self, ClientError> {
        use tokio::signal::unix::{SignalKind, signal};
        let told = |cause| ClientError::disk("waiting for", Path::new("signals"), cause);
        let [interrupt, terminate, hangup] =
            [SignalKind::interrupt(), SignalKind::terminate(), SignalKind::hangup()].map(signal);
        Ok(Self { signals: [interrupt.map_err(told)?, terminate.map_err(told)?, hangup.map_err(told)?] })
    }

    #[cfg(not(unix))]
    pub(super) fn new() -> Result<Self, ClientError> {
        Ok(Self {})
    }

    /// Waits for one of them.
    #[cfg(unix)]
    pub(super) async fn next(&mut self) -> End {
        let [interrupt, terminate, hangup] = &mut self.signals;
        tokio::select! {
            _ = interrupt.recv() => End::Interrupted,
            _ = terminate.recv() => End::Stopped,
            _ = hangup.recv() => End::Stopped,
        }
    }

    /// Waits for one of them; where a signal cannot be waited for, none comes.
    #[cfg(not(unix))]
    pub(super) async fn next(&mut self) -> End {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
        End::Interrupted
    }
}
