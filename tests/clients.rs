//! Any gRPC client is welcome: Python with grpcio, from the .proto files alone and by reflection alone, runs the demo's
//! job, sends everything again and reads what errors say; buf holds the messages against its rules.
//!
//! What these tests stand on is set up by `tests/clients/set_up.sh` (`bash tests/run.sh clients`); without it they say
//! 'skipped'. The libraries are grpcio and its companions and buf, from their package registries: others' reading of
//! gRPC, of protobuf and of AIP-193, none of it ours.

use serde_json::{Value, json};
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::{Entry, GetRequest, Job, fact::Kind};
use standpipe_server::{Desk, InitOptions, Role, Server, ServerOptions, SystemClock, SystemEntropy};
use standpipe_store::{Journal as _, SqliteStore};
use standpipe_tests::clock::Hand;
use standpipe_tests::site::{catalogue, shown};
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;

/// Stations of the demo, which the foreign client is as well.
const STATIONS: [(&str, Role); 3] = [("bay-1", Role::Bay), ("bay-2", Role::Bay), ("office", Role::Office)];
/// The server's own station, and the one of its pages.
const SERVERS_OWN: [&str; 2] = ["server", "office-desk"];

/// Something that `set_up.sh` set up, or nothing and a line that says that the test is skipped.
fn set_up(what: &str) -> Option<PathBuf> {
    let folder = std::env::var_os("STANDPIPE_CLIENTS").map(PathBuf::from)?;
    let found = folder.join(what);
    if found.exists() {
        return Some(found);
    }
    println!("skipped: {what} was not set up; run: bash tests/run.sh clients");
    None
}

fn own(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("clients").join(name)
}

fn proto() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("proto")
}

/// What the demo did, step by step, and what its server says of the job in the end.
struct Played {
    script: Vec<Value>,
    job: Job,
}

async fn played(folder: &Path) -> Played {
    let dir = folder.join("demo");
    standpipe_demo::run(&dir, &mut Vec::new()).await.unwrap();
    let store = SqliteStore::open(&dir.join("standpipe.db")).await.unwrap();
    let mut script = Vec::new();
    let mut last_us = 0;
    for stored in store.read(1, 1_000).await.unwrap() {
        last_us = stored.received_us;
        let entry: Entry = prost::Message::decode(stored.bytes.clone()).unwrap();
        let header = entry.header.unwrap();
        let issued = matches!(entry.fact.unwrap().kind, Some(Kind::RecordIssued(_)));
        if !issued && SERVERS_OWN.contains(&header.station_id.as_str()) {
            continue;
        }
        script.push(json!({
            "station": if issued { "server" } else { header.station_id.as_str() },
            "person": header.person_code,
            "received_us": stored.received_us,
            "sealed": base64::Engine::encode(&base64::engine::general_purpose::STANDARD, &stored.bytes),
        }));
    }
    store.close().await.unwrap();
    let mut desk = Desk::open(&dir).await.unwrap();
    let token = desk.renew_token("office").await.unwrap().token.to_string();
    desk.close().await.unwrap();
    let job = job(&dir, &token, last_us).await;
    Played { script, job }
}

/// The only job of a site as its server tells it at a time.
async fn job(dir: &Path, token: &str, now_us: i64) -> Job {
    let options = ServerOptions {
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: Hand::at(now_us),
        ..ServerOptions::new(dir)
    };
    let server = Server::start(options).await.unwrap();
    let mut jobs = JobServiceClient::new(shown(server.addr, token).await);
    let job = jobs.get(GetRequest { job: "1".into() }).await.unwrap().into_inner().job.unwrap();
    drop(jobs);
    server.shutdown();
    server.join().await.unwrap();
    job
}

/// A new site like the demo's, with the tokens of its stations.
async fn site(dir: &Path, clock: &Arc<Hand>) -> serde_json::Map<String, Value> {
    let options = InitOptions {
        site_id: "harbour-lane".to_owned(),
        site_name: "Harbour Lane".to_owned(),
        clock: Arc::clone(clock) as Arc<dyn standpipe_server::Clock>,
        entropy: Arc::new(SystemEntropy),
    };
    standpipe_server::init(dir, options).await.unwrap();
    let mut desk = Desk::open_with(dir, Arc::clone(clock) as _, Arc::new(SystemEntropy)).await.unwrap();
    let mut tokens = serde_json::Map::new();
    for (name, role) in STATIONS {
        let token = desk.add_station(name, role).await.unwrap().token.to_string();
        tokens.insert(name.to_owned(), token.into());
    }
    desk.add_person("A", Some("technician A")).await.unwrap();
    desk.add_person("B", Some("office B")).await.unwrap();
    desk.import_catalogue(&catalogue()).await.unwrap();
    desk.close().await.unwrap();
    tokens
}

/// How a client comes in.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Way {
    /// Plain, to a server on the day of the demo.
    Plain,
    /// Over TLS, trusting the authority of the site alone: today, since Python goes by the machine's clock.
    Tls,
}

/// Runs a foreign client through the script; moves the server's clock as it asks.
async fn run(program: &str, way: Way) -> Option<(Played, Job, Value)> {
    let python = set_up("python/bin/python")?;
    let folder = tempfile::tempdir().unwrap();
    let played = played(folder.path()).await;
    let clock = Hand::at(match way {
        Way::Plain => played.script[0]["received_us"].as_i64().unwrap(),
        Way::Tls => standpipe_server::Clock::now_us(&SystemClock),
    });
    let dir = folder.path().join("site");
    let tokens = site(&dir, &clock).await;
    let office = tokens["office"].as_str().unwrap().to_owned();
    let listen = "127.0.0.1:0".parse().unwrap();
    let options = ServerOptions { listen, clock: Arc::clone(&clock) as _, ..ServerOptions::new(&dir) };
    let server = Server::start(options).await.unwrap();
    let told = json!({
        "address": server.addr.to_string(),
        "authority": (way == Way::Tls).then(|| dir.join("tls/authority.pem")),
        "tokens": tokens,
        "proto": proto(),
        "script": played.script,
    });
    let file = folder.path().join("told.json");
    std::fs::write(&file, told.to_string()).unwrap();
    let script = own(program);
    let moved = Arc::clone(&clock);
    let seen = tokio::task::spawn_blocking(move || {
        converse(&python, &script, &file, (way == Way::Plain).then_some(&*moved))
    })
    .await
    .unwrap();
    server.shutdown();
    server.join().await.unwrap();
    let last_us = standpipe_server::Clock::now_us(&*clock);
    let job = job(&dir, &office, last_us).await;
    Some((played, job, seen))
}

/// Lets the client go on at each entry, with the clock where it was in the demo; gives what it saw.
fn converse(python: &Path, script: &Path, told: &Path, clock: Option<&Hand>) -> Value {
    use standpipe_server::Clock as _;
    let mut client = Command::new(python)
        .arg(script)
        .arg(told)
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut answers = client.stdin.take().unwrap();
    let mut last = String::new();
    for line in BufReader::new(client.stdout.take().unwrap()).lines() {
        last = line.unwrap();
        if let Some(at) = last.strip_prefix("at ") {
            if let Some(clock) = clock {
                clock.forward(at.parse::<i64>().unwrap() - clock.now_us());
            }
            answers.write_all(b"go\n").unwrap();
        }
    }
    let ended = client.wait().unwrap();
    assert!(ended.success(), "{ended}: {last}");
    serde_json::from_str(&last).unwrap_or_else(|error| panic!("{error}: {last}"))
}

/// What the job comes to, without what every run makes anew: identities, digests, and places in the journal.
fn told(job: &Job) -> Vec<String> {
    let mut told: Vec<String> = job.figures.iter().map(|figure| format!("{figure:?}")).collect();
    told.extend(job.findings.iter().map(|finding| finding.text.clone()));
    told.extend(job.open_points.iter().map(|point| point.text.clone()));
    told.extend(job.story.iter().map(|line| line.text.clone()));
    told.extend(job.remarks.iter().chain(&job.now).chain(&job.not_measured).chain(&job.history).cloned());
    told.push(format!("{:?} {:?} {:?}", job.next_due, job.exchange, job.balance));
    told.push(job.condition_advice.clone());
    told
}

fn assert_whole(played: &Played, job: &Job, seen: &Value) {
    assert_eq!(seen["health"], "SERVING");
    let acknowledged = seen["acknowledged"].as_array().unwrap();
    assert_eq!(acknowledged.len(), played.script.len());
    for (step, acknowledged) in played.script.iter().zip(acknowledged) {
        if step["station"] == "server" {
            assert_eq!(acknowledged["is_pdf"], true, "{acknowledged}");
        } else {
            assert_eq!(acknowledged["repeated"], false, "{acknowledged}");
        }
    }
    // Sent again, everything gets its first answer.
    let sent = played.script.iter().filter(|step| step["station"] != "server").count();
    assert_eq!((&seen["again"]["count"], &seen["again"]["unlike"]), (&json!(sent), &json!([])));
    let questions = &seen["questions"];
    assert_eq!(questions["pdf_begins"], "%PDF-");
    assert_eq!(questions["check_value"], job.check_value);
    assert_eq!(questions["watched"], job.summary.as_ref().unwrap().number);
    assert_eq!(questions["job"]["checkValue"], job.check_value);
    assert_eq!(questions["job"]["figures"].as_array().unwrap().len(), job.figures.len());
    assert_details(seen["errors"].as_array().unwrap());
}

/// Every refusal carries exactly one `ErrorInfo` with a reason of ours.
fn assert_details(errors: &[Value]) {
    let expected = [
        ("other bytes", "ALREADY_EXISTS", "ENTRY_ID_REUSED"),
        ("outside its bounds", "INVALID_ARGUMENT", "OUTSIDE_BOUNDS"),
        ("unknown job", "NOT_FOUND", "JOB_UNKNOWN"),
        ("unknown gate", "INVALID_ARGUMENT", "GATE_UNKNOWN"),
        ("no token", "UNAUTHENTICATED", "TOKEN_NOT_GOOD"),
        ("wrong token", "UNAUTHENTICATED", "TOKEN_NOT_GOOD"),
        ("not for a bay", "PERMISSION_DENIED", "ROLE_NOT_PERMITTED"),
    ];
    assert_eq!(errors.len(), expected.len());
    for (error, (what, code, reason)) in errors.iter().zip(expected) {
        assert_eq!((error["what"].as_str(), error["code"].as_str()), (Some(what), Some(code)), "{error}");
        let details = error["details"].as_array().unwrap();
        let infos: Vec<_> = details.iter().filter(|detail| detail["type"] == "ErrorInfo").collect();
        assert_eq!(infos.len(), 1, "{error}");
        assert_eq!((&infos[0]["reason"], &infos[0]["domain"]), (&json!(reason), &json!("standpipe.v1")));
        let fields = details.iter().find(|detail| detail["type"] == "BadRequest");
        assert_eq!(fields.is_some(), what == "outside its bounds", "{error}");
        if let Some(fields) = fields {
            assert_eq!(fields["fieldViolations"][0]["field"], "header.person_code", "{error}");
        }
    }
    assert_eq!(errors[4]["message"], errors[5]["message"], "no token and a wrong one are told alike");
}

/// The same facts in a foreign client's bytes come to the same figures and sentences.
fn assert_same(played: &Played, job: &Job) {
    assert_eq!(told(job), told(&played.job));
    assert!(told(job).len() > 40, "{:?}", told(job));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_python_client_made_from_the_proto_files_runs_the_demo_job() {
    let Some((played, job, seen)) = run("from_proto.py", Way::Plain).await else { return };
    assert_whole(&played, &job, &seen);
    assert_same(&played, &job);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_python_client_that_trusts_the_sites_authority_runs_the_demo_job_over_tls() {
    let Some((played, job, seen)) = run("from_proto.py", Way::Tls).await else { return };
    assert_whole(&played, &job, &seen);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_python_client_that_knows_only_reflection_runs_the_demo_job() {
    let Some((played, job, seen)) = run("from_reflection.py", Way::Plain).await else { return };
    assert_whole(&played, &job, &seen);
    assert_same(&played, &job);
    let services = seen["services"].as_array().unwrap();
    for service in ["standpipe.v1.JournalService", "grpc.health.v1.Health"] {
        assert!(services.contains(&json!(service)), "{services:?}");
    }
}

/// Runs buf in a folder of messages; its exit code and what it said.
fn buf(folder: &Path, arguments: &[&str]) -> Option<(i32, String)> {
    let buf = set_up("node_modules/.bin/buf")?;
    // It keeps a store of others' modules, which ours needs none of.
    let cache = tempfile::tempdir().unwrap();
    let said = Command::new(buf)
        .args(arguments)
        .current_dir(folder)
        .env("BUF_CACHE_DIR", cache.path())
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&said.stdout).into_owned() + &String::from_utf8_lossy(&said.stderr);
    Some((said.status.code().unwrap(), text))
}

#[test]
fn buf_finds_nothing_against_its_standard_rules() {
    let Some((code, said)) = buf(&proto(), &["lint"]) else { return };
    assert_eq!((code, said.as_str()), (0, ""));
}

#[test]
fn buf_finds_that_nothing_breaks_programs_of_the_stored_messages_and_sees_what_would() {
    let stored = proto().join("stored.binpb");
    let against = ["breaking", "--against", stored.to_str().unwrap()];
    let Some((code, said)) = buf(&proto(), &against) else { return };
    assert_eq!((code, said.as_str()), (0, ""));
    // The same with a field that has become another one.
    let copy = tempfile::tempdir().unwrap();
    let folder = copy.path().join("standpipe/v1");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::copy(proto().join("buf.yaml"), copy.path().join("buf.yaml")).unwrap();
    for file in std::fs::read_dir(proto().join("standpipe/v1")).unwrap() {
        let file = file.unwrap();
        let text = std::fs::read_to_string(file.path()).unwrap();
        let spoilt = text.replace("double volume_litres = 2;", "int64 volume_litres = 2;");
        std::fs::write(folder.join(file.file_name()), spoilt).unwrap();
    }
    let (code, said) = buf(copy.path(), &against).unwrap();
    assert!(code != 0 && said.contains("volume_litres"), "{code} {said}");
}
