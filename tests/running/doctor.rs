//! `standpipe-server doctor` and `config show`, `standpipe doctor`: the programs as somebody calls them.

use serde_json::Value;
use standpipe_server::{Role, SETTINGS_FILE};
use standpipe_tests::process::Process;
use standpipe_tests::programs;
use standpipe_tests::site::Site;
use std::path::Path;
use std::process::{Command, Output};

fn run(program: &Path, arguments: &[&str], here: &Path, environment: &[(&str, &str)]) -> Output {
    let mut command = Command::new(program);
    command.args(arguments).current_dir(here).envs(environment.iter().copied());
    command.output().unwrap()
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{error}: {output:?}"))
}

fn check<'a>(told: &'a Value, about: &str) -> &'a Value {
    told["checks"].as_array().unwrap().iter().find(|check| check["about"] == about).unwrap()
}

#[tokio::test]
async fn the_server_is_looked_at_without_naming_the_only_folder_here() {
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let (home, server) = (site.folder.path(), programs::server());
    let told = run(&server, &["doctor", "--output", "json"], home, &[]);
    assert_eq!(told.status.code(), Some(1), "{told:?}");
    let told = json(&told);
    assert!(check(&told, "server")["next"].as_str().unwrap().contains("standpipe-server serve"));
    assert_eq!(check(&told, "journal")["next"], Value::Null);
    let running = Process::serve(&site.dir());
    let told = run(&server, &["doctor", "--only", "server,journal,catalogue"], &site.dir(), &[]);
    assert_eq!(told.status.code(), Some(0), "{told:?}");
    let text = String::from_utf8(told.stdout).unwrap();
    assert!(text.ends_with("nothing is to be done\n"), "{text}");
    assert_eq!(run(&server, &["doctor", "--only", "weather"], &site.dir(), &[]).status.code(), Some(65));
    drop(running);
    let nowhere = tempfile::tempdir().unwrap();
    let lost = run(&server, &["doctor"], nowhere.path(), &[]);
    assert_eq!(lost.status.code(), Some(78));
    let sentence = String::from_utf8(lost.stderr).unwrap();
    assert!(sentence.contains("--dir DIR") && sentence.contains("STANDPIPE_SERVER_DIR"), "{sentence}");
    let dir = site.dir().display().to_string();
    let named =
        run(&server, &["doctor", "--output", "csv"], nowhere.path(), &[("STANDPIPE_SERVER_DIR", &dir)]);
    assert!(String::from_utf8(named.stdout).unwrap().starts_with("about,sentence,next\n"));
}

#[tokio::test]
async fn each_setting_is_shown_with_where_it_stands() {
    let site = Site::bare(&[]).await;
    std::fs::write(site.dir().join(SETTINGS_FILE), "# ours\nnames = [\"shop.lan\"]\n").unwrap();
    let environment = [("STANDPIPE_SERVER_TOKEN_DAYS", "30")];
    let told = run(&programs::server(), &["config", "show", "--output", "json"], &site.dir(), &environment);
    let told = json(&told);
    let of = |key: &str| told.as_array().unwrap().iter().find(|it| it["key"] == key).unwrap().clone();
    assert_eq!((&of("names")["value"], &of("names")["line"]), (&serde_json::json!(["shop.lan"]), &2.into()));
    assert_eq!(
        (&of("token_days")["value"], &of("token_days")["origin"]),
        (&"30".into(), &"environment".into())
    );
    assert_eq!(
        (&of("listen")["value"], &of("listen")["origin"]),
        (&"127.0.0.1:50551".into(), &"default".into())
    );
    let text = run(&programs::server(), &["config", "show"], &site.dir(), &environment);
    let text = String::from_utf8(text.stdout).unwrap();
    let line = text.lines().find(|line| line.starts_with("token_days")).unwrap();
    assert!(line.contains("30") && line.ends_with("environment, STANDPIPE_SERVER_TOKEN_DAYS"), "{line}");
    let wrong =
        run(&programs::server(), &["config", "show"], &site.dir(), &[("STANDPIPE_SERVER_LISTN", "x")]);
    assert_eq!(wrong.status.code(), Some(78));
    assert!(String::from_utf8(wrong.stderr).unwrap().contains("did you mean listen?"));
}

#[tokio::test]
async fn a_station_is_looked_at_with_and_without_its_server() {
    let site = Site::bare(&[("bay-1", Role::Bay)]).await;
    let home = tempfile::tempdir().unwrap();
    let station = |arguments: &[&str]| {
        let home = home.path().display().to_string();
        run(&programs::station(), arguments, Path::new("."), &[("STANDPIPE_HOME", &home)])
    };
    let told = station(&["doctor", "--output", "json"]);
    assert_eq!(told.status.code(), Some(1), "a folder of no station: {told:?}");
    assert!(check(&json(&told), "joined")["sentence"].as_str().unwrap().starts_with("not joined"));
    let server = Process::serve(&site.dir());
    let joined = station(&["join", &server.address.to_string(), site.token("bay-1")]);
    assert!(joined.status.success(), "{joined:?}");
    let told = station(&["doctor", "--output", "json"]);
    assert_eq!(told.status.code(), Some(1), "{told:?}");
    assert_eq!(check(&json(&told), "person")["next"], "standpipe as CODE");
    assert!(station(&["as", "A"]).status.success());
    let told = station(&["doctor"]);
    assert_eq!(told.status.code(), Some(0), "{told:?}");
    server.kill();
    let told = station(&["doctor", "--output", "json"]);
    assert_eq!(told.status.code(), Some(75), "{told:?}");
    assert!(check(&json(&told), "address")["sentence"].as_str().unwrap().contains("could not be asked"));
}
