//! Folders that are not as they should be: every program refuses in one sentence, and nothing is made worse.

mod bits;
mod homes;
mod pages;
mod site;

use std::path::Path;
use std::process::Command;

/// Copies a folder with everything in it.
fn copy(from: &Path, to: &Path) {
    std::fs::create_dir(to).unwrap();
    std::fs::set_permissions(to, std::fs::metadata(from).unwrap().permissions()).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let name = entry.file_name();
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &to.join(name));
        } else {
            std::fs::copy(entry.path(), to.join(name)).unwrap();
        }
    }
}

/// Every file below a folder with its bytes, by name.
pub(crate) fn content(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_owned()];
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.display().to_string();
                found.push((name, std::fs::read(path).unwrap()));
            }
        }
    }
    found.sort();
    found
}

/// What begins a program so that one folder is mounted read-only for it; nothing where the system does not let us.
fn on_a_read_only_mount(folder: &Path) -> Option<Command> {
    let mount = format!("mount --bind '{0}' '{0}' && mount -o remount,ro,bind '{0}'", folder.display());
    let command = |run: &str| {
        let mut command = standpipe_tests::shop::bare(Path::new("unshare"));
        command.args(["--mount", "sh", "-c", &format!("{mount} && {run}"), "sh"]);
        command
    };
    let works = command("true").output().is_ok_and(|tried| tried.status.success());
    if !works {
        println!("skipped: a folder cannot be mounted read-only here");
    }
    works.then(|| command("exec \"$@\""))
}
