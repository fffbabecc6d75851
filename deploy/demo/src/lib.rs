//! A whole job on a new embedded workshop, over the network, with a simulated clock and seeded ids.
//!
//! Two bays and an office work through the real station library against the real server; the record
//! comes out with the same bytes every time. Called by `cargo demo` and by the tests. Nothing here is
//! a part of the product, and everything it names is invented.

mod cable;
mod error;
mod folder;
mod inputs;
mod outcome;
mod scene;
mod script;
pub mod workshops;
pub mod year;

pub use error::DemoError;
pub use outcome::Outcome;

use inputs::SimulatedClock;
use scene::Scene;
use std::io::Write;
use std::path::Path;

/// Runs the demo in a folder, tells each step, and checks what comes out.
///
/// An earlier demo in the folder is replaced; anything else is refused.
///
/// # Errors
/// When the folder is something else, when anything fails, and when a figure is not what it must be.
pub async fn run(dir: &Path, tell: &mut dyn Write) -> Result<Outcome, DemoError> {
    let mut scene = Scene::build(dir, tell).await?;
    let outcome = script::play(&mut scene, tell).await?;
    scene.end().await?;
    Ok(outcome)
}

/// After [`run`]: opens a second job and serves on the machine's clock until interrupted.
///
/// # Errors
/// When the folder holds no demo or the server fails.
pub async fn stay(dir: &Path, tell: &mut dyn Write) -> Result<(), DemoError> {
    scene::stay(dir, tell).await
}

/// The simulated start of the work: 18 March 2026, 08:40 UTC.
const START_US: i64 = 1_773_823_200_000_000;
