//! What the service manager is told, and what SIGHUP and SIGTERM do.

use standpipe_server::{Role, SETTINGS_FILE};
use standpipe_tests::process::Process;
use standpipe_tests::programs;
use standpipe_tests::site::{Site, shown};
use std::io::{BufRead as _, BufReader};
use std::os::unix::net::UnixDatagram;
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::health_client::HealthClient;

/// A bound on waiting for a message that comes by itself, so that a failure ends.
const PATIENCE: Duration = Duration::from_secs(30);

/// The end of a service manager (sd_notify(3)).
struct Listener {
    _home: tempfile::TempDir,
    path: std::path::PathBuf,
    socket: UnixDatagram,
}

impl Listener {
    fn new() -> Self {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("notify");
        let socket = UnixDatagram::bind(&path).unwrap();
        socket.set_read_timeout(Some(PATIENCE)).unwrap();
        Self { _home: home, path, socket }
    }

    /// Waits for a message with this line and gives the whole.
    fn until(&self, line: &str) -> String {
        let mut buffer = [0; 4096];
        loop {
            let length = self.socket.recv(&mut buffer).unwrap_or_else(|error| panic!("no {line}: {error}"));
            let message = String::from_utf8_lossy(&buffer[..length]).into_owned();
            if message.lines().any(|it| it == line) {
                return message;
            }
        }
    }
}

fn signal(process: u32, name: &str) {
    assert!(Command::new("kill").args([name, &process.to_string()]).status().unwrap().success());
}

#[tokio::test]
async fn the_service_manager_is_told_ready_signs_of_life_and_stopping() {
    let site = Site::bare(&[("bay-1", Role::Bay)]).await;
    let listener = Listener::new();
    let mut command = Command::new(programs::server());
    command.env("NOTIFY_SOCKET", &listener.path).env("WATCHDOG_USEC", "200000");
    let server = Process::start(command, &site.dir()).unwrap();
    let ready = listener.until("READY=1");
    assert!(ready.contains(&format!("STATUS=listening on {}", server.address)), "{ready}");
    listener.until("WATCHDOG=1");
    listener.until("WATCHDOG=1");
    let ended = tokio::task::spawn_blocking(|| server.terminate());
    let stopping = listener.until("STOPPING=1");
    assert!(stopping.contains("STATUS=stopping within 10 s"), "{stopping}");
    let (code, said) = ended.await.unwrap();
    assert_eq!(code, Some(0), "{said}");
}

/// A server with the log of its settings, and its standard error.
fn logging(site: &Site, listener: &Listener) -> (Child, String) {
    let mut command = Command::new(programs::server());
    command.env("NOTIFY_SOCKET", &listener.path).args(["serve", "--listen", "127.0.0.1:0", "--dir"]);
    let mut child = command.arg(site.dir()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
    (child, line.trim_end().trim_start_matches("listening on ").to_owned())
}

#[tokio::test]
async fn a_hang_up_takes_up_what_is_logged_and_a_wrong_setting_changes_nothing() {
    let site = Site::bare(&[("bay-1", Role::Bay)]).await;
    let settings = site.dir().join(SETTINGS_FILE);
    std::fs::write(&settings, "log = \"info\"\n").unwrap();
    let listener = Listener::new();
    let (child, address) = logging(&site, &listener);
    listener.until("READY=1");
    std::fs::write(&settings, "log = \"info,standpipe_server=debug\"\n").unwrap();
    signal(child.id(), "-HUP");
    listener.until("STATUS=logging info,standpipe_server=debug");
    let mut stranger = standpipe_proto::v1::station_service_client::StationServiceClient::new(
        shown(address.parse().unwrap(), &"0".repeat(64)).await,
    );
    let refused = stranger.describe(standpipe_proto::v1::DescribeRequest {}).await.unwrap_err();
    assert_eq!(refused.code(), tonic::Code::Unauthenticated);
    std::fs::write(&settings, "lgo = \"warn\"\n").unwrap();
    signal(child.id(), "-HUP");
    listener.until("STATUS=the settings were read again and are not taken; see the log");
    signal(child.id(), "-TERM");
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success());
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.lines().any(|line| line.contains("DEBUG") && line.contains("call refused")), "{said}");
    let refused = said.lines().find(|line| line.contains("not taken"));
    assert!(refused.is_some_and(|line| line.contains("did you mean log?")), "{said}");
}

#[tokio::test]
async fn who_holds_on_is_cut_off_by_a_second_signal() {
    let site = Site::bare(&[("bay-1", Role::Bay)]).await;
    let listener = Listener::new();
    let (mut child, address) = logging(&site, &listener);
    let (_held, requests) =
        tokio::sync::mpsc::channel::<tonic_reflection::pb::v1::ServerReflectionRequest>(1);
    let mut reflection = tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient::new(
        shown(address.parse().unwrap(), &site.admin).await,
    );
    let requests = tokio_stream::wrappers::ReceiverStream::new(requests);
    let _open = reflection.server_reflection_info(requests).await.unwrap();
    signal(child.id(), "-TERM");
    listener.until("STOPPING=1");
    let began = std::time::Instant::now();
    signal(child.id(), "-TERM");
    let code = tokio::task::spawn_blocking(move || child.wait().unwrap().code()).await.unwrap();
    assert_eq!(code, Some(0));
    assert!(began.elapsed() < standpipe_server::DEFAULT_STOP_WITHIN, "it waited for the deadline");
}

/// The server as `strace` makes its syncs fail from the nth on.
fn failing_syncs(from: usize) -> Option<Command> {
    let strace = programs::tool("strace")?;
    let follows =
        Command::new(strace).args(["-f", "-qq", "-o", "/dev/null", "-e", "trace=none", "true"]).status();
    if !follows.is_ok_and(|status| status.success()) {
        println!("skipped: this machine does not let strace follow a program");
        return None;
    }
    let mut command = Command::new(strace);
    let inject = format!("inject=fsync,fdatasync:error=EIO:when={from}+");
    command.args(["-D", "-f", "-qq", "-o", "/dev/null", "-e", "trace=fsync,fdatasync", "-e", &inject]);
    command.arg(programs::server());
    Some(command)
}

#[tokio::test]
async fn health_says_that_nothing_is_served_before_a_server_ends_whose_disk_failed() {
    use standpipe_tests::{facts, sealed::Sealer, site};
    // Enough for the start; what comes after them is an entry's.
    let Some(command) = failing_syncs(40) else { return };
    let site = Site::bare(&[("bay-1", Role::Bay)]).await;
    let server = Process::start(command, &site.dir()).unwrap();
    let mut health = HealthClient::new(site::channel(server.address).await);
    let mut statuses = health.watch(HealthCheckRequest::default()).await.unwrap().into_inner();
    assert_eq!(statuses.message().await.unwrap().unwrap().status(), ServingStatus::Serving);
    let mut bay = site::journal(server.address, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let mut acknowledged = 0;
    while site::append(&mut bay, &sealer.seal(&job, facts::arrival("AB 123"))).await.is_ok() {
        acknowledged += 1;
        assert!(acknowledged < 1_000, "the disk never failed");
    }
    assert_eq!(statuses.message().await.unwrap().unwrap().status(), ServingStatus::NotServing);
    assert!(!matches!(statuses.message().await, Ok(Some(_))), "the watch ends with the server");
    let (code, said) = tokio::task::spawn_blocking(|| server.ended()).await.unwrap();
    assert_eq!(code, Some(74), "{said}");
    assert!(said.contains("journal"), "{said}");
}
