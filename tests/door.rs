//! The door of a server: TLS for everybody, plain for this machine only, and an end for whoever only holds it open.

mod tls;

use standpipe_server::{Role, RunningServer, Server, ServerOptions};
use standpipe_tests::site::Site;

/// Serves a site on an address, on the machine's clock.
async fn serve(site: &Site, listen: &str) -> RunningServer {
    let listen = listen.parse().unwrap();
    Server::start(ServerOptions { listen, ..ServerOptions::new(site.dir()) }).await.unwrap()
}

async fn site() -> Site {
    Site::bare(&[("bay-1", Role::Bay)]).await
}
