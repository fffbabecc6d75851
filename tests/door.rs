//! The door of a server: TLS for everybody, plain for this machine only, and an end for whoever only holds it open.

mod alive;
mod calls;
mod held;
mod slow;
mod tls;

use standpipe_server::{Limits, Role, RunningServer, Server, ServerOptions};
use standpipe_tests::site::Site;

/// Serves a site on an address, on the machine's clock.
async fn serve(site: &Site, listen: &str) -> RunningServer {
    serve_within(site, listen, Limits::default()).await
}

/// The same within other limits.
async fn serve_within(site: &Site, listen: &str, limits: Limits) -> RunningServer {
    let listen = listen.parse().unwrap();
    Server::start(ServerOptions { listen, limits, ..ServerOptions::new(site.dir()) }).await.unwrap()
}

async fn site() -> Site {
    Site::bare(&[("bay-1", Role::Bay)]).await
}
