//! Killing a program at a chosen step: `strace` delivers SIGKILL at the nth call of a system call, before it is done.

use standpipe_tests::programs::tool;
use std::path::Path;
use std::process::Command;

/// Calls by which a program changes what is on the disk or speaks to others.
pub const STEPS: [&str; 13] = [
    "openat",
    "mkdir",
    "write",
    "pwrite64",
    "fsync",
    "fdatasync",
    "rename",
    "link",
    "unlink",
    "ftruncate",
    "flock",
    "connect",
    "writev",
];

/// Whether programs can be killed at a step here; says so if not.
pub fn works() -> bool {
    let Some(strace) = tool("strace") else { return false };
    let traced =
        Command::new(strace).args(["-f", "-qq", "-o", "/dev/null", "-e", "trace=none", "true"]).status();
    let works = traced.is_ok_and(|status| status.success());
    if !works {
        println!("skipped: this machine does not let strace follow a program");
    }
    works
}

/// The program, killed at the nth such call of any of its threads.
pub fn killed_at(program: &Path, step: &str, nth: usize) -> Command {
    let mut command = Command::new("strace");
    let (trace, inject) = (format!("trace={step}"), format!("inject={step}:signal=KILL:when={nth}"));
    command.args(["-f", "-qq", "-o", "/dev/null", "-e", &trace, "-e", &inject]).arg(program);
    command
}

/// Whether it was killed, as `strace` passes it on.
pub fn was_killed(status: std::process::ExitStatus) -> bool {
    use std::os::unix::process::ExitStatusExt as _;
    status.signal() == Some(9) || status.code() == Some(137)
}

/// The steps to be killed at: all of the first ones, then in growing distances; all of them in the long campaigns.
pub fn numbers(full: bool) -> impl Iterator<Item = usize> {
    let mut next = 1;
    std::iter::repeat_with(move || {
        let now = next;
        next += if full || now < 4 { 1 } else { now };
        now
    })
}
