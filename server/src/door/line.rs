//! One accepted connection, plain or TLS, which ends by itself when nobody asks anything, when nobody takes what is
//! written, and when it is flooded with frames that say nothing.
//!
//! Never here: who is accepted, which is [`super::Door`]'s.

use super::Held;
use super::frames::Frames;
use super::limits::Limits;
use super::peer::{Peer, Waits};
use std::io::{self, ErrorKind, IoSlice};
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::time::{Instant, Sleep, sleep, sleep_until};
use tokio_rustls::server::TlsStream;
use tonic::transport::server::Connected;

/// Bytes either way.
pub(super) enum Wire {
    /// As they are; from this machine only.
    Plain(TcpStream),
    /// Encrypted.
    Tls(Box<TlsStream<TcpStream>>),
}

/// A connection with its ends.
pub(crate) struct Line {
    wire: Wire,
    peer: Peer,
    frames: Frames,
    waits: Waits,
    stalled_write: Duration,
    ends: Pin<Box<Sleep>>,
    /// Set while nothing of what is written is taken.
    stalled: Option<Pin<Box<Sleep>>>,
    _held: Held,
}

impl Line {
    pub(super) fn new(wire: Wire, peer: Peer, limits: &Limits, held: Held) -> Self {
        let (now, waits) = (Instant::now(), Waits::of(limits));
        Self {
            wire,
            frames: Frames::new(now),
            stalled_write: limits.stalled_write,
            ends: Box::pin(sleep_until(peer.ends(waits, now))),
            waits,
            peer,
            stalled: None,
            _held: held,
        }
    }

    /// Why the connection is over, if it is.
    fn over(&mut self, context: &mut Context<'_>) -> Option<io::Error> {
        if self.peer.is_cut(context.waker()) {
            return Some(io::Error::new(ErrorKind::TimedOut, "its streams were not read"));
        }
        while self.ends.as_mut().poll(context).is_ready() {
            let now = Instant::now();
            let ends = self.peer.ends(self.waits, now);
            if ends <= now {
                return Some(io::Error::new(ErrorKind::TimedOut, "no call came"));
            }
            self.ends.as_mut().reset(ends);
        }
        None
    }

    /// Watches over a write: one that is not taken for too long ends the connection.
    fn watch<T>(&mut self, context: &mut Context<'_>, written: Poll<io::Result<T>>) -> Poll<io::Result<T>> {
        if written.is_ready() {
            self.stalled = None;
            return written;
        }
        let within = self.stalled_write;
        let stalled = self.stalled.get_or_insert_with(|| Box::pin(sleep(within)));
        ready!(stalled.as_mut().poll(context));
        Poll::Ready(Err(io::Error::new(ErrorKind::TimedOut, "nothing of what was written was taken")))
    }
}

impl Connected for Line {
    type ConnectInfo = Peer;

    fn connect_info(&self) -> Peer {
        self.peer.clone()
    }
}

impl AsyncRead for Line {
    fn poll_read(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let line = self.get_mut();
        if let Some(error) = line.over(context) {
            return Poll::Ready(Err(error));
        }
        let before = buffer.filled().len();
        ready!(match &mut line.wire {
            Wire::Plain(stream) => Pin::new(stream).poll_read(context, buffer),
            Wire::Tls(stream) => Pin::new(stream).poll_read(context, buffer),
        })?;
        let read = buffer.filled().get(before..).unwrap_or_default();
        if line.frames.read(read, Instant::now()) {
            return Poll::Ready(Ok(()));
        }
        tracing::debug!(peer = %line.peer.address, "a connection was flooded with empty frames and is cut");
        Poll::Ready(Err(io::Error::new(ErrorKind::InvalidData, "too many frames without content")))
    }
}

impl AsyncWrite for Line {
    fn poll_write(self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let line = self.get_mut();
        let written = match &mut line.wire {
            Wire::Plain(stream) => Pin::new(stream).poll_write(context, bytes),
            Wire::Tls(stream) => Pin::new(stream).poll_write(context, bytes),
        };
        line.watch(context, written)
    }

    fn poll_write_vectored(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        slices: &[IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let line = self.get_mut();
        let written = match &mut line.wire {
            Wire::Plain(stream) => Pin::new(stream).poll_write_vectored(context, slices),
            Wire::Tls(stream) => Pin::new(stream).poll_write_vectored(context, slices),
        };
        line.watch(context, written)
    }

    fn is_write_vectored(&self) -> bool {
        match &self.wire {
            Wire::Plain(stream) => stream.is_write_vectored(),
            Wire::Tls(stream) => stream.is_write_vectored(),
        }
    }

    fn poll_flush(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let line = self.get_mut();
        let written = match &mut line.wire {
            Wire::Plain(stream) => Pin::new(stream).poll_flush(context),
            Wire::Tls(stream) => Pin::new(stream).poll_flush(context),
        };
        line.watch(context, written)
    }

    fn poll_shutdown(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let line = self.get_mut();
        let written = match &mut line.wire {
            Wire::Plain(stream) => Pin::new(stream).poll_shutdown(context),
            Wire::Tls(stream) => Pin::new(stream).poll_shutdown(context),
        };
        line.watch(context, written)
    }
}
