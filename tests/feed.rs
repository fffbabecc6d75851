//! Instruments that feed themselves: lines from the input, a file or a serial line become readings, whatever is wrong
//! with some of them, and wherever the shop server is meanwhile.

#[cfg(target_os = "linux")]
mod device;
mod going_on;
mod input;
mod instrument;

use standpipe_tests::facts::VIN_SECOND_SERIES;
use standpipe_tests::shop::{Home, Shop, words};
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};

/// Litres and a share, by spaces, without times.
const PLAIN: &str = "[litres_in]\ncolumn = 1\n[new_share]\ncolumn = 2\nuncertainty_percent = 2\n";
/// The same with seconds in front.
const TIMED: &str = "[time]\ncolumn = 1\nform = \"seconds\"\n[litres_in]\ncolumn = 2\n[new_share]\ncolumn = 3\n\
                     uncertainty_percent = 2\n";

/// A file of the repository's samples.
fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("deploy").join(name)
}

fn sample_lines() -> String {
    std::fs::read_to_string(sample("feed-sample.csv")).unwrap()
}

/// A file of the test.
fn written(shop: &Shop, name: &str, text: &str) -> PathBuf {
    let path = shop.path(name);
    std::fs::write(&path, text).unwrap();
    path
}

/// A served workshop with an open job whose variant is settled, so that a share can be told.
fn at_work() -> (Shop, Home) {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    bay.say(&format!("add vin-reading --vin {VIN_SECOND_SERIES} --source body-plate")).fine();
    let settled =
        "add variant-settled --variant-code A8-II --means catalogue-rule --transmission-plate-agrees yes";
    bay.say(settled).fine();
    (shop, bay)
}

fn job(home: &Home) -> serde_json::Value {
    home.say("show 1 --output json").fine().json()
}

/// What the readings of the job say, in words, in the order of the journal.
fn readings(home: &Home) -> Vec<String> {
    let job = job(home);
    let of_kind = |line: &&serde_json::Value| {
        ["exchange_reading", "temperature_reading"].contains(&line["kind"].as_str().unwrap())
    };
    let story = job["story"].as_array().unwrap().iter().filter(of_kind);
    story.map(|line| line["text"].as_str().unwrap().replace('\u{a0}', " ")).collect()
}

/// The program while it is fed.
struct Feeding {
    child: Child,
    lines: BufReader<std::process::ChildStdout>,
    input: Option<ChildStdin>,
}

impl Feeding {
    fn begin(home: &Home, line: &str) -> Self {
        let mut command = home.command();
        command.args(words(line)).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap());
        let input = child.stdin.take();
        Self { child, lines, input }
    }

    fn write(&mut self, lines: &str) {
        let input = self.input.as_mut().unwrap();
        input.write_all(lines.as_bytes()).unwrap();
        input.flush().unwrap();
    }

    /// The next line that it says; waits for it.
    fn said(&mut self) -> String {
        let mut line = String::new();
        self.lines.read_line(&mut line).unwrap();
        line
    }

    /// The next sentence on the standard error; waits for it.
    fn told(&mut self) -> String {
        let mut bytes = Vec::new();
        let mut byte = [0];
        while self.child.stderr.as_mut().unwrap().read(&mut byte).unwrap() == 1 && byte[0] != b'\n' {
            bytes.push(byte[0]);
        }
        String::from_utf8(bytes).unwrap()
    }

    fn signal(&self, name: &str) {
        let sent = Command::new("kill").args([name, &self.child.id().to_string()]).status().unwrap();
        assert!(sent.success(), "the feed had ended before it was told to");
    }

    /// Exit code and the rest of both outputs, once it has ended.
    fn ended(mut self) -> (Option<i32>, String, String) {
        let (mut out, mut err) = (String::new(), String::new());
        self.lines.read_to_string(&mut out).unwrap();
        self.child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
        (self.child.wait().unwrap().code(), out, err)
    }
}

impl Drop for Feeding {
    fn drop(&mut self) {
        // Where it has ended already there is nothing left to do.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
