//! The socket on which a running server takes orders from the user it runs as.
//!
//! One connection carries one order: one JSON value up to the end of the sender's half, and one JSON value back. Who
//! may open the socket is decided by the file system: it is readable and writable by its owner only, in a folder that
//! only the owner can enter. Never here: what an order does, which is [`crate::order`]'s.

use crate::backup;
use crate::error::{Exit, ServerError};
use crate::folder::Folder;
use crate::order::{Done, Order, owner_joined, perform};
use crate::workshop::Workshop;
use serde::{Deserialize, Serialize};
use std::fs::{self, Permissions};
use std::io::{self, ErrorKind};
use std::net::SocketAddr;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{UnixListener, UnixStream};
use tokio::sync::watch;

/// Most bytes of an order.
const ORDER_BYTES_MAX: u64 = 64 * 1024;
/// Longest time that an order may take to arrive.
const ORDER_WITHIN: Duration = Duration::from_secs(5);

/// What goes back over the socket.
#[derive(Debug, Serialize, Deserialize)]
enum Answer {
    Done(Done),
    Refused { sentence: String, exit: Exit },
}

/// Listens on the socket of a folder whose lock this program holds; what a killed server left there is replaced.
///
/// # Errors
/// When the operating system refuses, for example because the path is too long for a socket.
pub(crate) fn listen(folder: &Folder) -> Result<UnixListener, ServerError> {
    let path = folder.admin_socket();
    let failed = || ServerError::file("listening", &path);
    remove(folder)?;
    let listener = UnixListener::bind(&path).map_err(failed())?;
    fs::set_permissions(&path, Permissions::from_mode(0o600)).map_err(failed())?;
    Ok(listener)
}

/// Removes the socket, by the holder of the lock only.
pub(crate) fn remove(folder: &Folder) -> Result<(), ServerError> {
    let path = folder.admin_socket();
    match fs::remove_file(&path) {
        Err(error) if error.kind() != ErrorKind::NotFound => Err(ServerError::file("removing", &path)(error)),
        _ => Ok(()),
    }
}

/// Takes orders until the server begins to stop.
pub(crate) async fn serve(
    listener: UnixListener,
    workshop: Arc<Workshop>,
    address: SocketAddr,
    mut draining: watch::Receiver<bool>,
) {
    loop {
        let accepted = tokio::select! {
            // An error means that nobody is left who could ask; then it is time to end as well.
            _ = draining.wait_for(|draining| *draining) => return,
            accepted = listener.accept() => accepted,
        };
        match accepted {
            Ok((stream, _)) => {
                tokio::spawn(answer(stream, Arc::clone(&workshop), address));
            }
            Err(error) => {
                tracing::warn!(%error, "no order was taken");
                tokio::time::sleep(Duration::from_millis(100)).await;
            }
        }
    }
}

async fn answer(mut stream: UnixStream, workshop: Arc<Workshop>, address: SocketAddr) {
    let answer = match read(&mut stream).await {
        // Whoever asks whether the server runs must not wait until the desk is free.
        Ok(Order::Running) => {
            Answer::Done(Done::Running { version: crate::VERSION.to_owned(), address: Some(address) })
        }
        // Nor must whoever asks how far the journal is; and asking makes the server look again.
        Ok(Order::AtOwner) => {
            let at_owner = workshop.bond.at_owner();
            workshop.bond.wish();
            Answer::Done(Done::AtOwner(at_owner))
        }
        Ok(order) => obey(&workshop, order).await,
        Err(cause) => {
            let sentence = format!("the order cannot be read ({cause}); send it with the same version");
            Answer::Refused { sentence, exit: Exit::Usage }
        }
    };
    let written = match serde_json::to_vec(&answer) {
        Ok(bytes) => stream.write_all(&bytes).await,
        Err(error) => Err(io::Error::other(error)),
    };
    if let Err(error) = written {
        tracing::warn!(%error, "an order was done, but its answer did not arrive");
    }
}

async fn read(stream: &mut UnixStream) -> io::Result<Order> {
    let mut bytes = Vec::new();
    let mut bounded = stream.take(ORDER_BYTES_MAX);
    let reading = bounded.read_to_end(&mut bytes);
    tokio::time::timeout(ORDER_WITHIN, reading).await.map_err(io::Error::other)??;
    serde_json::from_slice(&bytes).map_err(io::Error::other)
}

async fn obey(workshop: &Workshop, order: Order) -> Answer {
    let done = match &order {
        // A backup takes its time and must not hold up the desk.
        Order::BackUp { to } => {
            let (folder, store) = workshop.desk.lock().await.shelves();
            let done = backup::back_up(&folder, &*store, to).await.map(Done::BackedUp);
            workshop.desk.lock().await.note_order(&order.about(), done.is_ok()).await;
            done
        }
        // Another machine may take its time as well.
        Order::JoinOwner { host, code } => {
            let joiner = workshop.desk.lock().await.joiner();
            let done = joiner.join(host, code).await.map(owner_joined);
            workshop.desk.lock().await.note_order(&order.about(), done.is_ok()).await;
            match workshop.look_again(&order).await {
                Ok(()) => done,
                Err(error) => done.and(Err(error)),
            }
        }
        _ => {
            let mut desk = workshop.desk.lock().await;
            let done = perform(&mut desk, order.clone()).await;
            // The desk is held until what it changed is seen everywhere, so that orders take effect in their order.
            match workshop.look_again(&order).await {
                Ok(()) => done,
                Err(error) => done.and(Err(error)),
            }
        }
    };
    match done {
        Ok(done) => Answer::Done(done),
        Err(error) => Answer::Refused { sentence: error.to_string(), exit: error.exit() },
    }
}

/// A running server that takes an order.
pub(crate) struct Connection {
    stream: UnixStream,
    path: PathBuf,
}

/// Reaches the server that runs on a folder; nothing if none answers.
///
/// # Errors
/// Whatever is wrong with the folder.
pub(crate) async fn reach(dir: &Path) -> Result<Option<Connection>, ServerError> {
    let path = Folder::find(dir)?.admin_socket();
    match UnixStream::connect(&path).await {
        Ok(stream) => Ok(Some(Connection { stream, path })),
        // None runs, or one was killed. If one does run after all, the lock will say so.
        Err(_) => Ok(None),
    }
}

impl Connection {
    /// Sends the order and waits for its end, however long that takes.
    pub(crate) async fn ask(mut self, order: &Order) -> Result<Done, ServerError> {
        let path = self.path.clone();
        match self.exchange(order).await {
            Ok(Answer::Done(done)) => Ok(done),
            Ok(Answer::Refused { sentence, exit }) => Err(ServerError::Told { sentence, exit }),
            Err(error) => Err(ServerError::Unanswered { path, cause: error.to_string() }),
        }
    }

    /// The same within a time; nothing if that is over first.
    pub(crate) async fn ask_within(
        self,
        order: &Order,
        within: Duration,
    ) -> Option<Result<Done, ServerError>> {
        tokio::time::timeout(within, self.ask(order)).await.ok()
    }

    async fn exchange(&mut self, order: &Order) -> io::Result<Answer> {
        self.stream.write_all(&serde_json::to_vec(order)?).await?;
        self.stream.shutdown().await?;
        let mut bytes = Vec::new();
        self.stream.read_to_end(&mut bytes).await?;
        serde_json::from_slice(&bytes).map_err(io::Error::other)
    }
}
