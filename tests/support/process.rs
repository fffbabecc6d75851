//! The real server program on a site's folder: started, spoken to, killed.

use super::programs;
use std::io::{BufRead as _, BufReader, Read as _};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};

/// A running server program. Dropping it kills it.
pub struct Process {
    child: Child,
    pub address: SocketAddr,
}

impl Process {
    /// Starts the server on a free port and waits until it says where it listens.
    pub fn serve(dir: &Path) -> Self {
        Self::start(Command::new(programs::server()), dir).unwrap()
    }

    /// The same, begun by another command that starts the program, or what it said instead.
    pub fn start(command: Command, dir: &Path) -> Result<Self, String> {
        Self::start_at(SocketAddr::from(([127, 0, 0, 1], 0)), command, dir)
    }

    /// The same at an address.
    pub fn start_at(listen: SocketAddr, mut command: Command, dir: &Path) -> Result<Self, String> {
        command.args(["serve", "--listen", &listen.to_string(), "--log", "warn", "--dir"]).arg(dir);
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        match line.trim_end().strip_prefix("listening on ") {
            Some(address) => Ok(Self { address: address.parse().unwrap(), child }),
            None => {
                let output = child.wait_with_output().unwrap();
                Err(format!("{}: {}", output.status, String::from_utf8_lossy(&output.stderr)))
            }
        }
    }

    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// SIGKILL.
    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// SIGTERM; gives the exit code and what was written on the standard error.
    pub fn terminate(self) -> (Option<i32>, String) {
        let sent = Command::new("kill").args(["-TERM", &self.id().to_string()]).status().unwrap();
        assert!(sent.success(), "the server had ended before it was told to");
        self.ended()
    }

    /// Waits until it ends; gives the exit code and what was written on the standard error.
    pub fn ended(mut self) -> (Option<i32>, String) {
        let mut said = String::new();
        self.child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        (self.child.wait().unwrap().code(), said)
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // Where it has ended already there is nothing left to do.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Runs the server program to its end.
pub fn server(arguments: &[&str], dir: &Path) -> Output {
    Command::new(programs::server()).args(arguments).arg("--dir").arg(dir).output().unwrap()
}
