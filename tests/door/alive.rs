//! A peer that is gone without a word: the cable is out, the telephone is asleep, and both sockets stay open.

use super::{serve_within, site};
use standpipe_proto::v1::WatchRequest;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_server::Limits;
use standpipe_tests::facts;
use standpipe_tests::site::{append, opened, shown};
use std::net::SocketAddr;
use std::time::Duration;
use tokio::io::AsyncReadExt as _;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::oneshot;

/// Longest that a test waits for what must come.
const AT_MOST: Duration = Duration::from_secs(30);

/// Passes bytes both ways until it is told to stop; from then on it keeps both sockets, passes nothing, and says when
/// the server has closed its own.
async fn line_that_goes_dead(to: SocketAddr) -> (SocketAddr, oneshot::Sender<()>, oneshot::Receiver<()>) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let (stop, stopped) = oneshot::channel();
    let (closed, is_closed) = oneshot::channel();
    tokio::spawn(async move {
        let (mut near, _) = listener.accept().await.unwrap();
        let mut far = TcpStream::connect(to).await.unwrap();
        tokio::select! {
            passed = tokio::io::copy_bidirectional(&mut near, &mut far) => panic!("an end closed early: {passed:?}"),
            _ = stopped => {}
        }
        let mut unread = Vec::new();
        // A reset is an end as well.
        let _ = far.read_to_end(&mut unread).await;
        closed.send(()).unwrap();
        drop(near);
    });
    (address, stop, is_closed)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_station_that_is_gone_without_a_word_gives_its_watch_back() {
    let site = site().await;
    let limits = Limits { sign_of_life: Duration::from_millis(200), ..Limits::default() };
    let server = serve_within(&site, "127.0.0.1:0", limits).await;
    let token = site.token("bay-1");
    let (mut bay, mut sealer, job) = opened(server.addr, token).await;
    let (address, stop, closed) = line_that_goes_dead(server.addr).await;
    let mut jobs = JobServiceClient::new(shown(address, token).await);
    let request = || WatchRequest { job: "1".to_owned(), after_seq: 0 };
    let mut states = jobs.watch(request()).await.unwrap().into_inner();
    assert!(states.message().await.unwrap().is_some());
    stop.send(()).unwrap();
    tokio::time::timeout(AT_MOST, closed).await.unwrap().unwrap();
    // A station that answers keeps its connection all the while.
    append(&mut bay, &sealer.seal(&job, facts::drained(3.05))).await.unwrap();
}
