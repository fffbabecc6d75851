//! From the code to the first acknowledged entry of a new station, beside a TLS handshake alone with the same server.

use crate::{Effort, Figure};
use rustls_pki_types::pem::PemObject as _;
use rustls_pki_types::{CertificateDer, ServerName};
use standpipe_client::clock::{SystemClock, SystemEntropy};
use standpipe_client::disk::SystemDisk;
use standpipe_client::{Deadlines, Station, StationOptions};
use standpipe_proto::join::SERVER_NAME;
use standpipe_proto::v1::Arrival;
use standpipe_server::{Desk, Done, Order, Role, Server, ServerOptions, order};
use standpipe_tests::site::Site;
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::version::TLS13;
use tokio_rustls::rustls::{ClientConfig, RootCertStore};

/// Stations that join, for each render that would be measured.
const RENDERS_A_JOIN: usize = 10;

pub async fn run(effort: Effort) {
    let site = Site::with(&[]).await;
    let mut desk = Desk::open(&site.dir()).await.unwrap();
    desk.invite_station("bay-1", Role::Bay).await.unwrap();
    desk.close().await.unwrap();
    let listen = "127.0.0.1:0".parse().unwrap();
    let server = Server::start(ServerOptions { listen, ..ServerOptions::new(site.dir()) }).await.unwrap();
    let times = effort.renders / RENDERS_A_JOIN;
    let (mut joins, mut handshakes) = (Vec::with_capacity(times), Vec::with_capacity(times));
    let start = Instant::now();
    let connector = connector(&site.dir());
    // One after the other, so that both see the same machine.
    for _ in 0..times {
        joins.push(join(&site.dir(), server.addr).await);
        let one = Instant::now();
        let tcp = TcpStream::connect(server.addr).await.unwrap();
        tcp.set_nodelay(true).unwrap();
        connector.connect(ServerName::try_from(SERVER_NAME).unwrap(), tcp).await.unwrap();
        handshakes.push(one.elapsed());
    }
    let (join, handshake) = (Figure::of(joins, start.elapsed()), Figure::of(handshakes, start.elapsed()));
    println!(
        "join ({times} times in one run: code shown, token drawn, station written, first entry acknowledged)"
    );
    println!("{:>16} {:>9} {:>9}", "", "p50 ms", "p99 ms");
    for (name, figure) in [("join to ack", join), ("TLS handshake", handshake)] {
        println!("{name:>16} {:>9.2} {:>9.2}", milliseconds(figure.median), milliseconds(figure.p99));
    }
    println!("p50 join / p50 handshake {:.1}", join.median.as_secs_f64() / handshake.median.as_secs_f64());
    server.shutdown();
    server.join().await.unwrap();
}

fn milliseconds(time: std::time::Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

async fn join(dir: &Path, address: SocketAddr) -> std::time::Duration {
    let done = order(dir, Order::OpenCode { name: "bay-1".into() }).await.unwrap();
    let Done::Invited { code, .. } = done else { panic!("{done:?}") };
    let home = tempfile::tempdir().unwrap();
    let options = StationOptions {
        clock: Arc::new(SystemClock::read().unwrap()),
        entropy: Arc::new(SystemEntropy),
        disk: Arc::new(SystemDisk),
        deadlines: Deadlines::default(),
        name: "bench".into(),
    };
    let one = Instant::now();
    let mut station = Station::open(&home.path().join("bay-1"), options).unwrap();
    station.join_by_code(&address.to_string(), &code).await.unwrap();
    station.set_person("A").unwrap();
    station.open_job(Arrival { plate: "PH 482 K".into(), ..Arrival::default() }, Vec::new(), None).unwrap();
    assert_eq!(station.send().await.unwrap().sent.len(), 1);
    one.elapsed()
}

/// What trusts the site's authority alone.
fn connector(dir: &Path) -> TlsConnector {
    let mut roots = RootCertStore::empty();
    roots.add(CertificateDer::from_pem_file(dir.join("tls/authority.pem")).unwrap()).unwrap();
    let mut config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_protocol_versions(&[&TLS13])
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    config.alpn_protocols = vec![b"h2".to_vec()];
    config.resumption = tokio_rustls::rustls::client::Resumption::disabled();
    TlsConnector::from(Arc::new(config))
}
