//! The door of a server: one port for TLS and, from this machine only, for plain connections.
//!
//! The first byte tells them apart: a TLS hello begins with 0x16 (RFC 8446, section 5.1), which no request of HTTP does.
//! Whoever is silent, never ends the handshake, or has too many connections already is sent away before anything of
//! the server hears of it. [`Identity`] is the certificate, [`Peer`] what a call knows of its connection. Mounted by
//! [`crate::wiring`]. Never here: what a call may do.

mod counted;
mod frames;
mod identity;
mod limits;
mod line;
mod network;
mod peer;
mod rates;
mod turns;

pub(crate) use counted::Counted;
pub(crate) use identity::Identity;
pub use limits::Limits;
pub(crate) use line::Line;
pub(crate) use network::network;
pub(crate) use peer::Peer;
pub(crate) use rates::Rate;
pub(crate) use turns::Turns;

use crate::authority::provider;
use crate::error::ServerError;
use crate::figures::{Away, Figures, Guest};
use crate::places::{Place, Places};
use line::Wire;
use socket2::{SockRef, TcpKeepalive};
use std::io::{self, ErrorKind};
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::mpsc;
use tokio::time::{Instant, sleep, timeout_at};
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_stream::wrappers::ReceiverStream;

/// First byte of a TLS record that carries a handshake.
const TLS_HANDSHAKE: u8 = 0x16;
/// Bytes of a plain request from outside that are read before it is answered.
const PLAIN_REQUEST_BYTES: usize = 1024;
/// What such a request is told.
const USE_TLS: &[u8] =
    b"HTTP/1.1 400 Bad Request\r\ncontent-type: text/plain; charset=utf-8\r\ncontent-length: 72\r\n\
connection: close\r\n\r\nThis shop server answers other machines only over TLS: write https://.\r\n";
/// Pause after the operating system refused a connection, so that one that does so for long is not asked in vain.
const REFUSED_PAUSE: Duration = Duration::from_millis(100);

/// A bound address at which nobody is answered yet.
pub(crate) struct Door {
    listener: TcpListener,
    address: SocketAddr,
    hall: Arc<Hall>,
}

/// What a connection holds as long as it lasts: its places, and that it is counted.
type Held = ([Place; 2], Guest);
/// The same, and the place of a stranger, which it gives back when it is known.
type Taken = (Held, Place);

/// What all connections share.
struct Hall {
    tls: TlsAcceptor,
    limits: Limits,
    /// Places by address.
    guests: Arc<Places>,
    /// Places from outside and on this machine.
    all: Arc<Places>,
    /// Those of connections that nobody knows yet.
    strangers: Arc<Places>,
    /// Where connections are counted.
    figures: Arc<Figures>,
}

impl Door {
    /// Binds an address. Port 0 takes any free one.
    ///
    /// # Errors
    /// [`ServerError::Listen`].
    pub(crate) async fn bind(
        listen: SocketAddr,
        identity: Arc<Identity>,
        limits: Limits,
        figures: Arc<Figures>,
    ) -> Result<Self, ServerError> {
        let failed = |cause| ServerError::Listen { address: listen, cause };
        let listener = TcpListener::bind(listen).await.map_err(failed)?;
        let address = listener.local_addr().map_err(failed)?;
        let hall = Hall {
            tls: acceptor(identity).map_err(|error| ServerError::Network { cause: error.to_string() })?,
            guests: Arc::new(Places::new(limits.connections_per_address)),
            all: Arc::new(Places::new(limits.connections)),
            strangers: Arc::new(Places::new(limits.strangers)),
            limits,
            figures,
        };
        Ok(Self { listener, address, hall: Arc::new(hall) })
    }

    /// The address, with the port that was taken.
    pub(crate) fn address(&self) -> SocketAddr {
        self.address
    }

    /// Lets connections in until the stream is dropped.
    pub(crate) fn open(self) -> ReceiverStream<io::Result<Line>> {
        // Few wait: the next part takes them at once.
        let (sender, lines) = mpsc::channel(16);
        tokio::spawn(accept(self.listener, self.hall, sender));
        ReceiverStream::new(lines)
    }
}

fn acceptor(identity: Arc<Identity>) -> Result<TlsAcceptor, tokio_rustls::rustls::Error> {
    let builder = ServerConfig::builder_with_provider(Arc::new(provider()));
    let mut config =
        builder.with_safe_default_protocol_versions()?.with_no_client_auth().with_cert_resolver(identity);
    config.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
    Ok(TlsAcceptor::from(Arc::new(config)))
}

async fn accept(listener: TcpListener, hall: Arc<Hall>, sender: mpsc::Sender<io::Result<Line>>) {
    loop {
        let accepted = tokio::select! {
            // Nobody takes connections any more; dropping the listener frees the address.
            () = sender.closed() => return,
            accepted = listener.accept() => accepted,
        };
        match accepted {
            Ok((stream, address)) => {
                let Some(places) = hall.places(address) else {
                    hall.figures.sent_away(Away::TooMany);
                    tracing::debug!(peer = %address, "too many connections; one more is closed");
                    continue;
                };
                tokio::spawn(receive(stream, address, Arc::clone(&hall), places, sender.clone()));
            }
            Err(error) => {
                tracing::warn!(%error, "a connection was not accepted");
                sleep(REFUSED_PAUSE).await;
            }
        }
    }
}

impl Hall {
    /// A place for a connection; none if there are too many. This machine's own are counted apart, so that nobody
    /// outside can take their places.
    fn places(&self, address: SocketAddr) -> Option<Taken> {
        let ip = network(address.ip());
        let (side, guest) = if ip.is_loopback() {
            // Each connection of the machine is its own guest: only their sum is bounded.
            ("here", address.to_string())
        } else {
            ("outside", ip.to_string())
        };
        let places = [self.all.take(side)?, self.guests.take(&guest)?];
        let stranger = self.strangers.take(side)?;
        Some(((places, self.figures.connected()), stranger))
    }
}

/// Brings one connection as far as its first request can come, or sends it away.
async fn receive(
    stream: TcpStream,
    address: SocketAddr,
    hall: Arc<Hall>,
    (places, stranger): Taken,
    sender: mpsc::Sender<io::Result<Line>>,
) {
    let accepted = Instant::now();
    let welcomed = tokio::select! {
        () = sender.closed() => return,
        welcomed = welcome(stream, address, &hall, accepted) => welcomed,
    };
    match welcomed {
        Ok(Some(wire)) => {
            let address = SocketAddr::new(address.ip().to_canonical(), address.port());
            let peer = Peer::new(address, matches!(wire, Wire::Tls(_)), accepted).holding(stranger);
            // An error means that the server stops taking connections.
            let _ = sender.send(Ok(Line::new(wire, peer, &hall.limits, places))).await;
        }
        Ok(None) => {
            hall.figures.sent_away(Away::Plain);
            tracing::debug!(peer = %address, "a plain connection from outside was sent away");
        }
        Err(error) => {
            hall.figures.sent_away(Away::Unfinished);
            tracing::debug!(peer = %address, %error, "a connection was cut before its first request");
        }
    }
}

/// Small answers leave at once. The operating system ends a connection whose other side is gone without a word: HTTP/2
/// asks for signs of life by itself, but a page that is kept up to date over HTTP/1.1 does not.
fn prepare(stream: &TcpStream, limits: &Limits) -> io::Result<()> {
    stream.set_nodelay(true)?;
    let socket = SockRef::from(stream);
    let keepalive = TcpKeepalive::new().with_time(limits.sign_of_life).with_interval(limits.sign_of_life);
    socket.set_tcp_keepalive(&keepalive)?;
    #[cfg(target_os = "linux")]
    socket.set_tcp_user_timeout(Some(limits.stalled_write))?;
    Ok(())
}

/// What a connection speaks; nothing if it was plain and not from this machine.
async fn welcome(
    stream: TcpStream,
    address: SocketAddr,
    hall: &Hall,
    accepted: Instant,
) -> io::Result<Option<Wire>> {
    if let Err(error) = prepare(&stream, &hall.limits) {
        tracing::debug!(peer = %address, %error, "a connection goes on as the operating system sets it");
    }
    let late = |_| io::Error::from(ErrorKind::TimedOut);
    let mut first = [0];
    let first_request = accepted + hall.limits.first_request;
    let seen = timeout_at(first_request, stream.peek(&mut first)).await.map_err(late)??;
    if seen == 0 {
        return Err(ErrorKind::UnexpectedEof.into());
    }
    if first == [TLS_HANDSHAKE] {
        let handshake = hall.tls.accept(stream);
        let stream = timeout_at(accepted + hall.limits.handshake, handshake).await.map_err(late)??;
        return Ok(Some(Wire::Tls(Box::new(stream))));
    }
    if address.ip().to_canonical().is_loopback() {
        return Ok(Some(Wire::Plain(stream)));
    }
    timeout_at(first_request, send_away(stream)).await.map_err(late)??;
    Ok(None)
}

/// Tells a plain request from outside what to write instead.
async fn send_away(mut stream: TcpStream) -> io::Result<()> {
    // What was asked is read first: closing over unread bytes would take the answer back.
    let mut request = [0; PLAIN_REQUEST_BYTES];
    // However much of it is there, the answer is the same.
    let _read: usize = stream.read(&mut request).await?;
    stream.write_all(USE_TLS).await?;
    stream.shutdown().await
}
