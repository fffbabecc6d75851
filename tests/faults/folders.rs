//! Folders of a site whose verbs were killed on the way: what is left is refused in a sentence with its exit code, or
//! completes cleanly.

use super::strace;
use standpipe_tests::process::{self, Process};
use standpipe_tests::{programs, site};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

const DISK_STEPS: [&str; 9] =
    ["openat", "mkdir", "write", "pwrite64", "fsync", "fdatasync", "rename", "link", "unlink"];

fn init(dir: &Path) -> Output {
    process::server(&["init", "--site", "harbour-lane", "--name", "Harbour Lane"], dir)
}

fn founded(home: &Path) -> PathBuf {
    let dir = home.join("site");
    assert!(init(&dir).status.success());
    dir
}

/// The one sentence that a program ended with.
fn sentence(output: &Output) -> String {
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(!said.contains("panicked"), "{said}");
    said.lines().last().unwrap_or_default().to_owned()
}

fn sound(dir: &Path) {
    let verified = process::server(&["verify"], dir);
    assert!(verified.status.success(), "{verified:?}");
    let (code, said) = Process::serve(dir).terminate();
    assert_eq!(code, Some(0), "{said}");
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Runs a verb that is killed at each step in turn, and looks at what it left.
fn killed_at_each_step(
    arguments: &[&str],
    prepare: impl Fn(&Path) -> PathBuf,
    look: impl Fn(&Path, &str),
) -> usize {
    let mut kills = 0;
    for step in DISK_STEPS {
        for nth in strace::numbers(super::times() > 1) {
            let home = tempfile::tempdir().unwrap();
            let dir = prepare(home.path());
            let mut command = strace::killed_at(&programs::server(), step, nth);
            let output = command.args(arguments).arg("--dir").arg(&dir).output().unwrap();
            look(&dir, &format!("killed at {step} {nth}"));
            if !strace::was_killed(output.status) {
                assert!(output.status.success(), "{output:?}");
                break;
            }
            kills += 1;
        }
    }
    println!("{kills} kills");
    kills
}

#[test]
fn a_site_whose_creation_is_killed_at_any_step_is_whole_or_is_not_there() {
    if !strace::works() {
        return;
    }
    let kills = killed_at_each_step(
        &["init", "--site", "harbour-lane"],
        |home| home.join("site"),
        |dir, at| {
            if dir.exists() {
                // It bears its name only when it is whole; only its token was not shown.
                let again = init(dir);
                assert_eq!(again.status.code(), Some(78), "{at}");
                assert!(sentence(&again).contains("never created over anything"), "{at}: {again:?}");
                let added = process::server(&["station", "add", "office", "--role", "office"], dir);
                assert!(added.status.success(), "{at}: {added:?}");
                return sound(dir);
            }
            let again = init(dir);
            if !again.status.success() {
                let left = dir.parent().unwrap().join(".site-unfinished");
                assert_eq!(again.status.code(), Some(78), "{at}: {again:?}");
                assert!(sentence(&again).contains(&*left.to_string_lossy()), "{at}: {again:?}");
                fs::remove_dir_all(left).unwrap();
                assert!(init(dir).status.success(), "{at}");
            }
            sound(dir);
        },
    );
    assert!(kills >= 30, "only {kills} kills");
}

#[test]
fn a_catalogue_whose_import_is_killed_at_any_step_is_adopted_whole_or_not_at_all() {
    if !strace::works() {
        return;
    }
    let template = tempfile::tempdir().unwrap();
    let founded = founded(template.path());
    let from = site::catalogue();
    let import = ["catalogue", "import", from.to_str().unwrap()];
    let prepare = |home: &Path| {
        let dir = home.join("site");
        copy(&founded, &dir);
        dir
    };
    let kills = killed_at_each_step(&import, prepare, |dir, at| {
        let verified = process::server(&["verify"], dir);
        assert!(verified.status.success(), "{at}: {verified:?}");
        let listed = process::server(&["catalogue", "list", "--output", "json"], dir);
        let adopted: serde_json::Value = serde_json::from_slice(&listed.stdout).unwrap();
        assert!(adopted.as_array().unwrap().len() <= 1, "{at}: {adopted}");
        let again = process::server(&import, dir);
        assert!(again.status.success(), "{at}: {again:?}");
        let listed = process::server(&["catalogue", "list", "--output", "json"], dir);
        let adopted: serde_json::Value = serde_json::from_slice(&listed.stdout).unwrap();
        assert_eq!(adopted.as_array().unwrap().len(), 1, "{at}: {adopted}");
        sound(dir);
    });
    assert!(kills >= 20, "only {kills} kills");
}
