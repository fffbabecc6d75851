//! A job watched from another station: the first state at once, then each change, until somebody ends it.

use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::{WatchRequest, WatchResponse};
use standpipe_server::{Done, Order, Role, order};
use standpipe_tests::clock::{DAY_US, Hand};
use standpipe_tests::facts::{self, VIN_SECOND_SERIES};
use standpipe_tests::sealed::{START_US, Sealer};
use standpipe_tests::shop::{Home, Shop, words};
use standpipe_tests::site::{Shown, Site, append, journal, opened, shown};
use standpipe_tests::told::reason;
use std::io::{BufRead as _, BufReader, Read as _};
use std::process::{Child, Command, Stdio};
use std::time::Instant;
use tonic::{Code, Streaming};

/// The station's program while it watches.
struct Watching {
    child: Child,
    lines: BufReader<std::process::ChildStdout>,
}

impl Watching {
    fn begin(home: &Home, line: &str) -> Self {
        let mut command = home.command();
        command.args(words(line)).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap());
        Self { child, lines }
    }

    /// The next line; waits for it.
    fn line(&mut self) -> String {
        let mut line = String::new();
        self.lines.read_line(&mut line).unwrap();
        line
    }

    /// The next state; waits for it.
    fn state(&mut self) -> serde_json::Value {
        let line = self.line();
        serde_json::from_str(&line).unwrap_or_else(|error| panic!("{error}: {line}"))
    }

    fn now(&mut self) -> Vec<String> {
        let state = self.state();
        let lines = state["now"].as_array().unwrap().iter();
        lines.map(|line| line.as_str().unwrap().replace('\u{a0}', " ")).collect()
    }

    /// Ctrl-C; gives the exit code and the standard error.
    fn interrupt(mut self) -> (Option<i32>, String) {
        let sent = Command::new("kill").args(["-INT", &self.child.id().to_string()]).status().unwrap();
        assert!(sent.success(), "the watch had ended before it was told to");
        self.ended()
    }

    fn ended(&mut self) -> (Option<i32>, String) {
        let mut said = String::new();
        self.child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        (self.child.wait().unwrap().code(), said)
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        // Where it has ended already there is nothing left to do.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn a_reading_at_one_station_appears_in_the_watch_of_another() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 48000km --reason service-due").fine();
    bay.say(&format!("add vin-reading --vin {VIN_SECOND_SERIES} --source body-plate")).fine();
    bay.say(
        "add variant-settled --variant-code A8-II --means catalogue-rule --transmission-plate-agrees yes",
    )
    .fine();
    bay.say("add part-checked --part fluid-container --code LN-847 --lot L-2209 --read-by eye").fine();
    let other = shop.station("bay-2", "A");
    let mut watching = Watching::begin(&other, "watch 1 --output json");
    let first = watching.state();
    assert_eq!((&first["summary"]["plate"], first["now"].as_array().unwrap().len()), (&"PH 482 K".into(), 0));
    bay.say("add exchange-reading --volume-in '3.0 L' --volume-out '3.8 L'").fine();
    assert_eq!(watching.now()[0], "Stop the engine: 0.7 L more has left than entered, both taken at 15 °C.");
    bay.say("add exchange-reading --volume-in '6.0 L' --volume-out '6.0 L' --last").fine();
    assert!(watching.now()[0].starts_with("Pushed 6.0"), "the exchange is over");
    bay.say("add drain --place pan --mass 3.05kg --means scale").fine();
    assert_eq!(watching.now(), ["Refill 3.05 kg: what ran out of the pan."]);
    let (exit, said) = watching.interrupt();
    assert_eq!((exit, said.as_str()), (Some(0), ""));
    // What the watch said stands at the top of the job too.
    let shown = bay.say("show").fine().out.replace('\u{a0}', " ");
    assert_eq!(shown.lines().nth(1), Some("> Refill 3.05 kg: what ran out of the pan."), "{shown}");
    shop.close();
}

#[test]
fn a_watch_in_words_names_job_and_plate_and_what_is_done_next() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 48000km --reason service-due").fine();
    bay.say(&format!("add vin-reading --vin {VIN_SECOND_SERIES} --source body-plate")).fine();
    let mut watching = Watching::begin(&bay, "watch 1");
    let first = [watching.line(), watching.line()].map(|line| line.replace('\u{a0}', " "));
    assert!(first[0].ends_with("  HL-26-0001 PH 482 K\n") && first[0].as_bytes()[2] == b':', "{first:?}");
    assert!(first[1].starts_with("  next: "), "{first:?}");
    bay.say("add drain --place pan --mass 3.05kg --means scale").fine();
    let lines = [watching.line(), watching.line()].map(|line| line.replace('\u{a0}', " "));
    assert_eq!(lines[1], "  > Refill 3.05 kg: what ran out of the pan.\n", "{lines:?}");
    assert_eq!(watching.interrupt(), (Some(0), String::new()));
    shop.close();
}

#[test]
fn renewing_the_token_ends_an_open_watch_and_the_new_token_watches() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 48000km --reason service-due").fine();
    let other = shop.station("bay-2", "A");
    let mut watching = Watching::begin(&other, "watch 1 --output json");
    watching.state();
    let renewed = shop.verb("station token bay-2").fine();
    let (exit, said) = watching.ended();
    assert_eq!((exit, said.lines().count()), (Some(77), 1), "{said}");
    other.fed(&format!("join {} -", shop.address()), renewed.line()).fine();
    let mut watching = Watching::begin(&other, "watch 1 --output json");
    assert_eq!(watching.state()["summary"]["plate"], "PH 482 K");
    assert_eq!(watching.interrupt(), (Some(0), String::new()));
    shop.close();
}

#[test]
fn a_watch_waits_for_the_server_and_ends_when_the_station_may_no_more() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 48000km --reason service-due").fine();
    let other = shop.station("bay-2", "A");
    let mut watching = Watching::begin(&other, "watch 1 --output json");
    watching.state();
    shop.verb("station revoke bay-2").fine();
    let (exit, said) = watching.ended();
    assert_eq!(exit, Some(77), "{said}");
    assert_eq!(said.lines().count(), 1, "{said}");
    // A watch does not hold up a server that stops.
    let mut watching = Watching::begin(&bay, "watch --output json");
    watching.state();
    shop.close();
    let mut said = BufReader::new(watching.child.stderr.take().unwrap());
    let mut line = String::new();
    said.read_line(&mut line).unwrap();
    assert_eq!(line, "the server is stopping; the watch goes on when it answers again\n");
}

async fn workshop() -> Site {
    Site::with(&[("bay-1", Role::Bay), ("bay-2", Role::Bay), ("office", Role::Office)]).await
}

async fn watched(client: &mut JobServiceClient<Shown>, job: &str) -> Streaming<WatchResponse> {
    client.watch(WatchRequest { job: job.to_owned(), after_seq: 0 }).await.unwrap().into_inner()
}

#[tokio::test]
async fn only_the_job_s_own_entries_make_a_state_and_many_at_once_make_few() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let (job, other) = (sealer.job(1), sealer.job(2));
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    let mut jobs = JobServiceClient::new(shown(server.addr, site.token("bay-2")).await);
    let mut states = watched(&mut jobs, &job).await;
    let first = states.message().await.unwrap().unwrap();
    let plate = first.summary.map(|summary| summary.plate).unwrap_or_default();
    assert_eq!((plate.as_str(), first.last_seq > 0, first.time.is_some()), ("PH 482 K", true, true));
    append(&mut bay, &sealer.seal(&other, facts::arrival("PH 483 K"))).await.unwrap();
    let (mut last, began) = (0, Instant::now());
    for _ in 0..40 {
        last = append(&mut bay, &sealer.seal(&job, facts::temperature(43.0))).await.unwrap().seq;
    }
    let mut seen = Vec::new();
    while seen.last() != Some(&last) {
        seen.push(states.message().await.unwrap().unwrap().last_seq);
    }
    // However fast the disk is: one state in a quarter of a second, and what is on its way at both ends.
    let most = began.elapsed().as_millis() / 250 + 2;
    assert!(seen.len() as u128 <= most, "many at once make few: {seen:?}, at most {most}");
    assert!(seen[0] > first.last_seq && seen.is_sorted_by(|one, next| one < next), "told twice: {seen:?}");
    server.shutdown();
    match states.message().await {
        Err(status) => assert_eq!(status.code(), Code::Unavailable, "{status:?}"),
        Ok(state) => assert_eq!(state, None),
    }
    drop(states);
    server.join().await.unwrap();
}

#[tokio::test]
async fn a_bay_watches_what_it_may_see_and_no_other_job() {
    let site = workshop().await;
    let clock = Hand::at(START_US);
    let server = site.serve_on(clock.clone()).await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    append(&mut bay, &sealer.seal(&job, facts::closing())).await.unwrap();
    let mut in_bay = JobServiceClient::new(shown(server.addr, site.token("bay-2")).await);
    let mut in_office = JobServiceClient::new(shown(server.addr, site.token("office")).await);
    let mut watching = watched(&mut in_bay, "1").await;
    assert!(watching.message().await.unwrap().unwrap().summary.unwrap().closed);
    clock.forward(8 * DAY_US);
    let refused = in_bay.watch(WatchRequest { job: "1".into(), after_seq: 0 }).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::PermissionDenied, "CLOSED_LONG_AGO"));
    // Who watched before sees no entry that came since.
    append(&mut bay, &sealer.seal(&job, facts::temperature(20.0))).await.unwrap();
    let ended = watching.message().await.unwrap_err();
    assert_eq!((ended.code(), reason(&ended).as_str()), (Code::PermissionDenied, "CLOSED_LONG_AGO"));
    let mut in_office = watched(&mut in_office, "1").await;
    assert!(in_office.message().await.unwrap().is_some());
    let refused = in_bay.watch(WatchRequest { job: "9".into(), after_seq: 0 }).await.unwrap_err();
    assert_eq!(refused.code(), Code::NotFound);
    let refused = in_bay.watch(WatchRequest { job: String::new(), after_seq: 0 }).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::InvalidArgument, "OUTSIDE_BOUNDS"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_station_that_only_watches_renews_its_token() {
    let site = workshop().await;
    let clock = Hand::at(START_US);
    let server = site.serve_on(clock.clone()).await;
    opened(server.addr, site.token("bay-1")).await;
    let done = order(&site.dir(), Order::OpenCode { name: "bay-2".into() }).await.unwrap();
    let Done::Invited { code, .. } = done else { panic!("{done:?}") };
    let folder = tempfile::tempdir().unwrap();
    let home = Home { name: String::new(), path: folder.path().join("bay-2") };
    let watching = move || {
        let token = || {
            let kept = std::fs::read_to_string(home.path.join("station.toml")).unwrap();
            kept.lines().find_map(|line| line.strip_prefix("token = ").map(str::to_owned)).unwrap()
        };
        home.say(&format!("join {} {code}", server.addr)).fine();
        let first = token();
        clock.forward(61 * DAY_US);
        let mut watching = Watching::begin(&home, "watch 1 --output json");
        assert_eq!(watching.state()["summary"]["number"], "HL-26-0001");
        assert_ne!(token(), first, "before the first state is shown");
        assert_eq!(watching.interrupt(), (Some(0), String::new()));
    };
    tokio::task::spawn_blocking(watching).await.unwrap();
}
