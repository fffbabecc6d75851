//! The network cable of one bay: passes bytes on to the server, and can be pulled out.

use crate::DemoError;
use std::net::SocketAddr;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;

/// A cable between a bay and the server.
pub(crate) struct Cable {
    /// Where the bay finds the server.
    pub(crate) address: SocketAddr,
    plugged: watch::Sender<bool>,
}

impl Cable {
    /// Plugs a cable into the server at `to`.
    pub(crate) async fn plug(to: SocketAddr) -> Result<Self, DemoError> {
        let listener = TcpListener::bind("127.0.0.1:0").await.map_err(DemoError::io("opening a port"))?;
        let address = listener.local_addr().map_err(DemoError::io("opening a port"))?;
        let (plugged, state) = watch::channel(true);
        tokio::spawn(async move {
            while let Ok((bay, _)) = listener.accept().await {
                if *state.borrow() {
                    tokio::spawn(pass_on(bay, to, state.clone()));
                }
            }
        });
        Ok(Self { address, plugged })
    }

    /// Pulls the cable out: open connections break, new ones find nobody.
    pub(crate) fn pull(&self) {
        self.plugged.send_replace(false);
    }

    /// Puts it back in.
    pub(crate) fn put_back(&self) {
        self.plugged.send_replace(true);
    }
}

async fn pass_on(bay: TcpStream, to: SocketAddr, mut plugged: watch::Receiver<bool>) {
    let Ok(server) = TcpStream::connect(to).await else { return };
    // Small answers must not wait for more bytes to join them.
    let _ = (bay.set_nodelay(true), server.set_nodelay(true));
    let (mut from_bay, mut to_bay) = bay.into_split();
    let (mut from_server, mut to_server) = server.into_split();
    tokio::select! {
        // Looked at first, so that nothing passes a cable that is out already.
        biased;
        _ = plugged.wait_for(|plugged| !plugged) => {}
        () = copy(&mut from_bay, &mut to_server) => {}
        () = copy(&mut from_server, &mut to_bay) => {}
    }
}

/// A broken connection ends the copying; that is what a cable does.
async fn copy(from: &mut (impl AsyncReadExt + Unpin), to: &mut (impl AsyncWriteExt + Unpin)) {
    let mut bytes = vec![0; 16 * 1024];
    while let Ok(length @ 1..) = from.read(&mut bytes).await {
        let Some(read) = bytes.get(..length) else { return };
        if to.write_all(read).await.is_err() {
            return;
        }
    }
}
