//! The programs as they were built beside the tests.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// Folder of the programs of this build. They are built once if they are not there.
fn folder() -> &'static Path {
    static FOLDER: OnceLock<PathBuf> = OnceLock::new();
    FOLDER.get_or_init(|| {
        let own = std::env::current_exe().unwrap();
        let folder = own.parent().and_then(Path::parent).unwrap().to_path_buf();
        let built = ["standpipe", "standpipe-server", "standpipe-demo"]
            .iter()
            .all(|name| folder.join(name).is_file());
        if !built {
            build(&folder);
        }
        folder
    })
}

/// Builds the programs as they are now. A bench is not started by a command that builds them, and one measured with older
/// programs would say something of those.
pub fn bring_up_to_date() {
    build(folder());
}

fn build(folder: &Path) {
    let mut build = Command::new(std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned()));
    build.args(["build", "--workspace", "--bins", "--quiet"]);
    if folder.ends_with("release") {
        build.arg("--release");
    }
    build.current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap());
    assert!(build.status().unwrap().success(), "the programs could not be built");
}

/// The shop server's program, or the one that the environment names instead: a build that is broken on purpose.
pub fn server() -> PathBuf {
    std::env::var_os("STANDPIPE_TEST_SERVER").map_or_else(|| folder().join("standpipe-server"), PathBuf::from)
}

/// The station's program.
pub fn station() -> PathBuf {
    folder().join("standpipe")
}

/// The demo's program.
pub fn demo() -> PathBuf {
    folder().join("standpipe-demo")
}

/// The path of a tool, or nothing and a line that says that the test is skipped.
pub fn tool(name: &str) -> Option<&str> {
    let found = Command::new(name).arg("--version").output().is_ok();
    if !found {
        println!("skipped: {name} is not installed");
    }
    found.then_some(name)
}
