//! Joining as people do it: the built programs, what is printed and typed, wrong clocks, lost answers, the page.

use super::{code, site};
use sha2::{Digest as _, Sha256};
use standpipe_client::clock::{Clock, SystemClock};
use standpipe_client::disk::SystemDisk;
use standpipe_client::{Deadlines, Station, StationOptions};
use standpipe_proto::join::{JoinCode, JoinCodeError, authority_digest};
use standpipe_proto::v1;
use standpipe_tests::clock::{DAY_US, Hand};
use standpipe_tests::sealed::START_US;
use standpipe_tests::shop::{Home, Said, Shop, ended, words};
use std::io::{Read as _, Write as _};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Runs a station's command in a home of its own.
fn say(home: &Path, line: &str) -> Said {
    Home { name: String::new(), path: home.to_owned() }.say(line)
}

#[test]
fn one_line_of_the_server_makes_a_machine_a_station() {
    let shop = Shop::founded();
    shop.serve();
    let added = shop.verb("station add bay-3").fine();
    // Nothing but what is pasted behind 'standpipe join' stands on the standard output.
    assert_eq!(added.out.lines().count(), 1, "{}", added.out);
    let (host, code) = added.line().split_once(' ').unwrap();
    assert_eq!(host, shop.address());
    assert!(JoinCode::read(code).is_ok(), "{code}");
    assert!(added.err.contains("'bay-3' is enrolled; within 10 minutes, once"), "{}", added.err);
    let listed = |field: &str| {
        let list = shop.verb("station list --output json").fine().json();
        list.as_array().unwrap().iter().find(|it| it["station_id"] == "bay-3").unwrap()[field].clone()
    };
    assert!(listed("code_until").is_string() && listed("token_ends").is_null());

    let bay = shop.home("bay-3");
    let joined = bay.say(&format!("join {}", added.line())).fine();
    assert_eq!(
        (joined.line(), joined.err.as_str()),
        (&*format!("this is station bay-3 of harbour-lane at {host}"), "")
    );
    assert!(listed("code_until").is_null() && listed("token_ends").is_string());
    bay.say("as A").fine();
    bay.say("open 'PH 482 K' --odometer 48000km --reason service-due").fine();
    bay.say("add drain --place pan --mass 3.05kg --means scale").fine();
    assert!(bay.unsent_files().is_empty(), "acknowledged over TLS");
    assert!(bay.say("show").fine().out.contains("PH 482 K"));
    let kept = std::fs::read_to_string(bay.path.join("station.toml")).unwrap();
    assert!(kept.contains("BEGIN CERTIFICATE") && !kept.contains(code), "{kept}");
    assert!(!bay.path.join("joining").exists(), "a token that is in use is not kept twice");
    // The same line again is the code again, which is used.
    let again = bay.say(&format!("join {}", added.line())).refused(77);
    assert!(again.contains("standpipe-server station code NAME"), "{again}");
    assert!(again.contains("this folder is station bay-3 of harbour-lane already"), "{again}");
    bay.say("jobs").fine();
    shop.close();
}

#[test]
fn a_code_is_typed_as_people_type() {
    let shop = Shop::open();
    shop.verb("station add bay-3").fine();
    let bay = shop.home("bay-3");
    let new = || {
        let line = shop.verb("station code bay-3").fine().line().to_owned();
        let (host, code) = line.split_once(' ').unwrap();
        (host.to_owned(), code.to_owned())
    };
    for typed in [
        |code: &str| code.to_lowercase(),
        |code: &str| code.replace('-', ""),
        |code: &str| code.replace('-', " "),
        |code: &str| format!("'{} '", code.replace('0', "o").replace('1', "l")),
    ] {
        let (host, code) = new();
        let joined = bay.say(&format!("join {host} {}", typed(&code))).fine();
        assert!(joined.out.contains("bay-3"), "{}", joined.out);
    }
    let (host, code) = new();
    assert!(bay.fed(&format!("join https://{host} -"), &format!("{code}\n")).fine().out.contains("bay-3"));
    // A character that was read wrong is told before anything is sent, and costs no try.
    let (host, code) = new();
    let wrong = ["7", "8", "9"].map(|letter| format!("{letter}{}", &code[1..]));
    // One change in a thousand agrees with the ten bits of the check all the same.
    let wrong = wrong.iter().find(|wrong| JoinCode::read(wrong) == Err(JoinCodeError::Mistyped)).unwrap();
    let refused = bay.say(&format!("join {host} {wrong}")).refused(64);
    assert!(refused.contains("copied with a mistake") && refused.contains("nothing was sent"), "{refused}");
    bay.say(&format!("join {host} {code}")).fine();
    // Another station's code does not make this folder another station.
    shop.verb("station add bay-4").fine();
    let other = shop.verb("station code bay-4").fine();
    let refused = bay.say(&format!("join {}", other.line())).refused(64);
    assert!(
        refused.contains("this folder is station bay-3 of harbour-lane already")
            && refused.contains("a new code"),
        "{refused}"
    );
    bay.say("jobs").fine();
    shop.close();
}

#[test]
fn a_code_is_printed_alike_by_a_stopped_server_and_shown_to_programs_and_cameras() {
    let shop = Shop::founded();
    let stopped = shop.verb("station add bay-3 --output json").fine().json();
    assert_eq!(stopped["host"], "127.0.0.1:50551", "as the settings say");
    let code = stopped["code"].as_str().unwrap();
    assert_eq!(stopped["url"], format!("https://127.0.0.1:50551/join#{code}"));
    assert_eq!((stopped["station_id"].as_str(), stopped["ends"].is_string()), (Some("bay-3"), true));
    shop.serve();
    // It is good at the server that was started after it.
    let joined = shop.home("bay-3").say(&format!("join {} {code}", shop.address())).fine();
    assert!(joined.out.contains("bay-3"));
    let drawn = shop.verb("station code bay-3 --host shop.lan --qr").fine();
    let (_, port) = shop.address().rsplit_once(':').map(|(a, b)| (a.to_owned(), b.to_owned())).unwrap();
    assert!(drawn.out.starts_with(&format!("shop.lan:{port} ")), "{}", drawn.out);
    let picture: Vec<&str> = drawn.out.lines().skip(1).collect();
    assert!(picture.len() > 15 && picture.iter().all(|line| line.chars().all(|c| " ▀▄█".contains(c))));
    let token = shop.verb("station token bay-3 --days 2 --output json").fine().json();
    assert_eq!(token["token"].as_str().unwrap().len(), 64);
    assert!(token["ends"].is_string());
    shop.close();
}

/// A station's clock that is off by so much.
struct Off(SystemClock, i64);

impl Clock for Off {
    fn now_microseconds(&self) -> i64 {
        self.0.now_microseconds() + self.1
    }

    fn monotonic_microseconds(&self) -> i64 {
        self.0.monotonic_microseconds()
    }

    fn boot_id(&self) -> String {
        self.0.boot_id()
    }
}

#[tokio::test]
async fn a_clock_that_is_off_by_years_locks_nobody_out_and_is_told() {
    let site = site().await;
    let now = SystemClock::read().unwrap().now_microseconds();
    let server = site.serve_on(Hand::at(now)).await;
    for (days, told) in [(-3_650, "3650 days behind"), (3_650, "3650 days ahead"), (0, "")] {
        let home = tempfile::tempdir().unwrap();
        let options = StationOptions {
            clock: Arc::new(Off(SystemClock::read().unwrap(), days * DAY_US)),
            entropy: Arc::new(standpipe_client::clock::SystemEntropy),
            disk: Arc::new(SystemDisk),
            deadlines: Deadlines::default(),
            name: "test".into(),
        };
        let mut station = Station::open(&home.path().join("bay-2"), options).unwrap();
        let code = code(&site.dir(), "bay-2").await;
        let joined = station.join_by_code(&server.addr.to_string(), &code.to_string()).await.unwrap();
        let notices = station.take_notices();
        match told {
            "" => assert_eq!(notices, Vec::<String>::new()),
            told => {
                assert!(notices.len() == 1 && notices[0].contains(told), "{notices:?}");
                let off = joined.clock_ahead_seconds.unwrap() - days * 86_400;
                assert!(off.abs() <= 60, "{off} s");
            }
        }
        // Not only joining: what is stated afterwards is sent and taken.
        station.set_person("A").unwrap();
        station
            .open_job(v1::Arrival { plate: "PH 482 K".into(), ..Default::default() }, Vec::new(), None)
            .unwrap();
        let sent = station.send().await.unwrap();
        assert_eq!((sent.waiting, sent.sent.len()), (0, 1), "{sent:?}");
    }
}

/// Passes bytes on, both ways, until it is told to hold back what the server says.
struct Relay {
    address: SocketAddr,
    seen: Arc<std::sync::Mutex<Vec<u8>>>,
    from_station: Arc<AtomicUsize>,
}

impl Relay {
    /// With `mute`, nothing of the server gets through after its first words, which are its part of the handshake.
    fn to(server: SocketAddr, mute: bool) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let (seen, from_station) =
            (Arc::<std::sync::Mutex<Vec<u8>>>::default(), Arc::<AtomicUsize>::default());
        let (keep, count) = (Arc::clone(&seen), Arc::clone(&from_station));
        std::thread::spawn(move || {
            for station in listener.incoming().map_while(Result::ok) {
                let server = TcpStream::connect(server).unwrap();
                let (mut up, mut down) = (station.try_clone().unwrap(), station);
                let (mut to, mut from) = (server.try_clone().unwrap(), server);
                let (keep, count) = (Arc::clone(&keep), Arc::clone(&count));
                let answered = Arc::new(AtomicBool::new(false));
                let muted = Arc::new(AtomicBool::new(false));
                let (told, silent) = (Arc::clone(&answered), Arc::clone(&muted));
                let shared = Arc::clone(&keep);
                std::thread::spawn(move || {
                    let mut part = [0; 16_384];
                    while let Ok(read @ 1..) = up.read(&mut part) {
                        if mute && answered.load(Ordering::SeqCst) {
                            muted.store(true, Ordering::SeqCst);
                        }
                        keep.lock().unwrap().extend_from_slice(&part[..read]);
                        count.fetch_add(read, Ordering::SeqCst);
                        if to.write_all(&part[..read]).is_err() {
                            break;
                        }
                    }
                    let _ = to.shutdown(std::net::Shutdown::Write);
                });
                std::thread::spawn(move || {
                    let mut part = [0; 16_384];
                    while let Ok(read @ 1..) = from.read(&mut part) {
                        shared.lock().unwrap().extend_from_slice(&part[..read]);
                        told.store(true, Ordering::SeqCst);
                        if !silent.load(Ordering::SeqCst) && down.write_all(&part[..read]).is_err() {
                            break;
                        }
                    }
                    let _ = down.shutdown(std::net::Shutdown::Write);
                });
            }
        });
        Self { address, seen, from_station }
    }
}

#[test]
fn who_passes_everything_on_reads_neither_code_nor_token() {
    let shop = Shop::open();
    let added = shop.verb("station add bay-3").fine();
    let (_, code) = added.line().split_once(' ').unwrap();
    let relay = Relay::to(shop.address().parse().unwrap(), false);
    let bay = shop.home("bay-3");
    bay.say(&format!("join {} {code}", relay.address)).fine();
    let kept = std::fs::read_to_string(bay.path.join("station.toml")).unwrap();
    let token = kept.lines().find_map(|line| line.strip_prefix("token = \"")).unwrap().trim_end_matches('"');
    let secret = JoinCode::read(code).unwrap().secret().to_owned();
    let seen = relay.seen.lock().unwrap();
    assert!(seen.len() > 1_000, "{} bytes passed by", seen.len());
    for part in [secret.as_str(), token, "bay-3", "authorization"] {
        assert!(!seen.windows(part.len()).any(|window| window == part.as_bytes()), "{part}");
    }
    assert!(relay.from_station.load(Ordering::SeqCst) > 0);
    drop(seen);
    shop.close();
}

#[test]
fn an_answer_that_was_lost_is_asked_for_again_with_the_same_code() {
    let shop = Shop::open();
    let added = shop.verb("station add bay-3").fine();
    let (host, code) = added.line().split_once(' ').unwrap();
    let relay = Relay::to(shop.address().parse().unwrap(), true);
    let bay = shop.home("bay-3");
    let mut command = bay.command();
    command.env("STANDPIPE_CALL_SECONDS", "1").args(words(&format!("join {} {code}", relay.address)));
    ended(command, "").refused(75);
    let list = shop.verb("station list --output json").fine().json();
    let listed = list.as_array().unwrap().iter().find(|it| it["station_id"] == "bay-3").unwrap().clone();
    assert!(listed["token_ends"].is_string(), "the server had let it in: {listed}");
    // From another folder the code is used; from this one it is the same question.
    let elsewhere = Home { path: shop.path("elsewhere"), ..bay.clone() };
    elsewhere.say(&format!("join {host} {code}")).refused(77);
    bay.say(&format!("join {host} {code}")).fine();
    bay.say("jobs").fine();
    shop.close();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_station_renews_its_token_by_itself() {
    let site = site().await;
    let clock = Hand::at(START_US);
    let server = site.serve_on(clock.clone()).await;
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("bay-2");
    let line = |line: String| {
        let home = home.clone();
        async move { tokio::task::spawn_blocking(move || say(&home, &line)).await.unwrap() }
    };
    let code = code(&site.dir(), "bay-2").await;
    line(format!("join {} {code}", server.addr)).await.fine();
    let token = || {
        let kept = std::fs::read_to_string(home.join("station.toml")).unwrap();
        kept.lines().find_map(|line| line.strip_prefix("token = ").map(str::to_owned)).unwrap()
    };
    let first = token();
    line("jobs".to_owned()).await.fine();
    assert_eq!(token(), first, "it is young");
    clock.forward(61 * DAY_US);
    line("jobs".to_owned()).await.fine();
    let second = token();
    assert_ne!(second, first);
    assert!(!home.join("renewing").exists());
    line("jobs".to_owned()).await.fine();
    assert_eq!(token(), second);
    // Year after year, as long as it comes by once in a while.
    for _ in 0..5 {
        clock.forward(170 * DAY_US);
        line("jobs".to_owned()).await.fine();
    }
    clock.forward(181 * DAY_US);
    let refused = line("jobs".to_owned()).await.refused(77);
    assert!(refused.contains("token"), "{refused}");
}

#[test]
fn a_folder_that_joined_before_there_was_tls_goes_on() {
    let shop = Shop::open();
    let bay = shop.home("bay-1");
    std::fs::create_dir_all(&bay.path).unwrap();
    let old = format!(
        "address = \"http://{}\"\ntoken = \"{}\"\nstation_id = \"bay-1\"\nsite_id = \"harbour-lane\"\nsite_name = \"Harbour Lane\"\n",
        shop.address(),
        shop.token("bay-1")
    );
    std::fs::write(bay.path.join("station.toml"), old).unwrap();
    bay.say("as A").fine();
    bay.say("open 'PH 482 K' --odometer 48000km --reason service-due").fine();
    assert!(bay.unsent_files().is_empty());
    // It joins anew by a code and keeps what it is.
    let code = shop.verb("station code bay-1").fine();
    bay.say(&format!("join {}", code.line())).fine();
    assert!(std::fs::read_to_string(bay.path.join("station.toml")).unwrap().contains("BEGIN CERTIFICATE"));
    assert!(bay.say("show").fine().out.contains("PH 482 K"));
    shop.close();
}

#[test]
fn a_token_is_never_taken_to_another_machine_in_plain() {
    let shop = Shop::founded();
    let bay = shop.home("bay-1");
    let refused = bay.fed("join 192.0.2.7:50551 -", shop.token("bay-1")).refused(64);
    assert!(refused.contains("standpipe-server station code NAME"), "{refused}");
    assert!(!refused.contains(shop.token("bay-1")) && !bay.path.exists());
}

/// Asks for a page in plain, as a browser on the server's own machine would.
fn page(address: &str, path: &str) -> String {
    let mut stream = TcpStream::connect(address).unwrap();
    write!(stream, "GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n").unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    answer
}

#[test]
fn the_page_of_a_code_shows_how_to_join_and_gives_the_authority() {
    let shop = Shop::open();
    let added = shop.verb("station add bay-3").fine();
    let (host, code) = added.line().split_once(' ').unwrap();
    let shown = page(host, "/join");
    assert!(shown.starts_with("HTTP/1.1 200"), "{shown}");
    assert!(shown.contains(&format!("standpipe join {host}")), "{shown}");
    let file = page(host, "/authority.pem");
    assert!(file.starts_with("HTTP/1.1 200"), "{file}");
    let pem = &file[file.find("-----BEGIN").unwrap()..];
    use rustls_pki_types::pem::PemObject as _;
    let certificate = rustls_pki_types::CertificateDer::from_pem_slice(pem.as_bytes()).unwrap();
    assert_eq!(authority_digest(&certificate), JoinCode::read(code).unwrap().authority());
    let digest: Vec<_> = Sha256::digest(&certificate).iter().map(|byte| format!("{byte:02X}")).collect();
    assert!(shown.contains(&digest.join(":")), "{shown}");
    let script = page(host, "/join.js");
    assert!(script.contains("text/javascript") && script.contains("location.hash"), "{script}");
    // Nothing else is shown to who has not signed in.
    assert!(page(host, "/").contains("/login"));
    shop.close();
}
