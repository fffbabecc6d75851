//! Several workshops and their owner: figures computed again by somebody else, and the demo of several workshops.

mod demo;
mod year;

use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// Has the figures in a folder computed again from its rows, by Python; nothing without it.
fn recomputed(folder: &Path) -> Option<Value> {
    let python = standpipe_tests::programs::tool("python3")?;
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("owner/recompute.py");
    let said = Command::new(python).arg("-B").arg(script).arg(folder).output().unwrap();
    let err = String::from_utf8_lossy(&said.stderr);
    assert!(said.status.success(), "{err}");
    Some(serde_json::from_slice(&said.stdout).unwrap())
}

fn complaints(found: &Value) -> u64 {
    found["complaint_count"].as_u64().unwrap()
}
