//! The files for deployment: the unit of systemd, the container file, the alerts.

use super::figures::{ask, at_work, names};
use standpipe_server::Role;
use standpipe_tests::process::Process;
use standpipe_tests::programs::{self, tool};
use standpipe_tests::site::{Site, append, journal};
use standpipe_tests::{facts, sealed::Sealer};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Most exposure of the unit, on the scale of `systemd-analyze security` from 0 to 10.
const EXPOSURE_MAX: f64 = 1.5;

fn deploy(file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("deploy").join(file)
}

fn text(file: &str) -> String {
    std::fs::read_to_string(deploy(file)).unwrap()
}

fn unit_value(key: &str) -> String {
    let unit = text("systemd/standpipe-server.service");
    let mut lines =
        unit.lines().rev().filter_map(|line| line.strip_prefix(&format!("{key}=")).map(str::to_owned));
    lines.next().unwrap_or_else(|| panic!("the unit has no {key}"))
}

#[test]
fn the_unit_leaves_little_open() {
    let Some(analyze) = tool("systemd-analyze") else { return };
    let unit = deploy("systemd/standpipe-server.service");
    let told =
        Command::new(analyze).args(["security", "--offline=true", "--no-pager"]).arg(&unit).output().unwrap();
    let told = String::from_utf8(told.stdout).unwrap();
    let line =
        told.lines().find(|line| line.contains("Overall exposure level")).unwrap_or_else(|| panic!("{told}"));
    let exposure: f64 = line.split(": ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    assert!(exposure <= EXPOSURE_MAX, "{line}");
    println!("{line}");
}

#[tokio::test]
async fn the_units_command_starts_the_server_which_reports_itself_as_the_unit_expects() {
    assert_eq!(unit_value("Type"), "notify");
    let exec = unit_value("ExecStart");
    let words: Vec<&str> = exec.split(' ').collect();
    assert_eq!(words[1..], ["serve", "--dir", "/var/lib/standpipe/site"]);
    let stop: u64 = unit_value("TimeoutStopSec").parse().unwrap();
    assert!(
        stop > standpipe_server::DEFAULT_STOP_WITHIN.as_secs(),
        "systemd would kill what still stops in order"
    );
    let kept: BTreeSet<_> = unit_value("RestartPreventExitStatus").split(' ').map(str::to_owned).collect();
    assert_eq!(kept, BTreeSet::from(["65", "77", "78"].map(str::to_owned)));
    // The same words on another folder; `Process` adds a free port and fewer lines of log.
    let site = Site::bare(&[]).await;
    let (code, said) =
        tokio::task::spawn_blocking(move || Process::serve(&site.dir()).terminate()).await.unwrap();
    assert_eq!(code, Some(0), "{said}");
}

/// The system calls of a group of systemd, groups within it resolved.
fn group(name: &str, found: &mut BTreeSet<String>) {
    let told = Command::new("systemd-analyze").args(["syscall-filter", name]).output().unwrap();
    let told = String::from_utf8(told.stdout).unwrap();
    for line in told.lines().skip(1).map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'))
    {
        match line.strip_prefix('@') {
            Some(_) => group(line, found),
            None => {
                found.insert(line.to_owned());
            }
        }
    }
}

/// What the unit's filter lets through: its groups in their order, those with a tilde taken away.
fn allowed() -> BTreeSet<String> {
    let unit = text("systemd/standpipe-server.service");
    let mut allowed = BTreeSet::new();
    for groups in unit.lines().filter_map(|line| line.strip_prefix("SystemCallFilter=")) {
        let (denies, groups) = groups.strip_prefix('~').map_or((false, groups), |groups| (true, groups));
        for name in groups.split(' ') {
            let mut calls = BTreeSet::new();
            group(name, &mut calls);
            if denies {
                allowed.retain(|call| !calls.contains(call));
            } else {
                allowed.extend(calls);
            }
        }
    }
    allowed
}

#[tokio::test]
async fn the_server_makes_only_system_calls_that_the_unit_lets_through() {
    let (Some(_), Some(strace)) = (tool("systemd-analyze"), tool("strace")) else { return };
    let follows =
        Command::new(strace).args(["-f", "-qq", "-o", "/dev/null", "-e", "trace=none", "true"]).status();
    if !follows.is_ok_and(|status| status.success()) {
        return println!("skipped: this machine does not let strace follow a program");
    }
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let calls = site.folder.path().join("calls");
    let mut command = Command::new(strace);
    // As a grandchild it leaves the program the process that is told to stop; its end closes the standard error.
    command.args(["-D", "-f", "-qq", "-o"]).arg(&calls).arg(programs::server());
    let server = Process::start(command, &site.dir()).unwrap();
    let mut bay = journal(server.address, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, facts::arrival("AB 123"))).await.unwrap();
    let mut records = standpipe_proto::v1::record_service_client::RecordServiceClient::new(
        standpipe_tests::site::shown(server.address, &site.admin).await,
    );
    let request = standpipe_proto::v1::RenderRequest { job, ..Default::default() };
    records.render(request).await.unwrap();
    assert_eq!(ask(server.address, "GET /metrics", &[]).await.0, 200);
    let (code, said) = tokio::task::spawn_blocking(|| server.terminate()).await.unwrap();
    assert_eq!(code, Some(0), "{said}");
    let traced = std::fs::read_to_string(calls).unwrap();
    let names = traced.lines().filter_map(|line| {
        let call = line.split_once(' ')?.1.trim_start().split_once('(')?.0;
        call.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'_').then(|| call.to_owned())
    });
    let mut made: BTreeSet<String> = names.collect();
    // Only for root does SQLite give its files the owner of the database; the unit's user is none.
    made.remove("fchown");
    assert!(made.contains("accept4") && made.len() > 20, "{made:?}");
    let allowed = allowed();
    // What strace sees of the program's own start is allowed by systemd to every service.
    let refused: Vec<_> = made.iter().filter(|call| !allowed.contains(*call)).collect();
    assert!(refused.is_empty(), "the unit refuses {refused:?}");
}

#[test]
fn the_container_runs_as_nobody_special_and_says_whether_it_is_well() {
    let file = text("container/Containerfile").replace("\\\n", " ");
    let lines: Vec<&str> =
        file.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#')).collect();
    // Instructions of the OCI image builders' file; from memory.
    let known = [
        "FROM",
        "WORKDIR",
        "COPY",
        "RUN",
        "USER",
        "VOLUME",
        "ENV",
        "EXPOSE",
        "STOPSIGNAL",
        "HEALTHCHECK",
        "ENTRYPOINT",
        "CMD",
    ];
    let word = |line: &str| line.split(' ').next().unwrap().to_owned();
    for line in &lines {
        assert!(known.contains(&word(line).as_str()), "{line}");
    }
    assert_eq!(lines.iter().filter(|line| word(line) == "FROM").count(), 2, "built in one, run in another");
    let at = |name: &str| lines.iter().rposition(|line| word(line) == name).unwrap();
    assert!(at("USER") < at("ENTRYPOINT") && lines[at("USER")] != "USER root");
    assert_eq!(lines[at("STOPSIGNAL")], "STOPSIGNAL SIGTERM");
    for name in ["ENTRYPOINT", "CMD"] {
        let array = lines[at(name)].split_once(' ').unwrap().1;
        serde_json::from_str::<Vec<String>>(array).unwrap();
    }
    let health = lines[at("HEALTHCHECK")].split_once("CMD ").unwrap().1;
    let words: Vec<String> = serde_json::from_str(health).unwrap();
    assert_eq!(words[..2], ["standpipe-server", "doctor"]);
    assert!(words.contains(&"server,address,journal".to_owned()));
}

#[tokio::test]
async fn every_figure_that_an_alert_names_is_told() {
    let site = Site::bare(&[("bay-1", Role::Bay)]).await;
    let server = at_work(&site).await;
    let (_, scrape) = ask(server.addr, "GET /metrics", &[]).await;
    let told = names(&scrape);
    let alerts = text("prometheus/alerts.yml");
    let expressions: Vec<&str> =
        alerts.lines().filter_map(|line| line.trim().strip_prefix("expr: ")).collect();
    assert_eq!(expressions.len(), alerts.matches("- alert: ").count());
    let mut named = BTreeSet::new();
    for expression in expressions {
        let words = expression.split(|letter: char| !letter.is_ascii_alphanumeric() && letter != '_');
        named.extend(words.filter(|word| word.starts_with("standpipe_")).map(str::to_owned));
    }
    assert!(named.len() >= 8, "{named:?}");
    for name in &named {
        assert!(told.contains(name), "{name} is in no scrape:\n{scrape}");
    }
    server.shutdown();
    server.join().await.unwrap();
    let Some(promtool) = tool("promtool") else { return };
    let checked = Command::new(promtool)
        .args(["check", "rules"])
        .arg(deploy("prometheus/alerts.yml"))
        .output()
        .unwrap();
    assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stderr));
}
