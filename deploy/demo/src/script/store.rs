//! What the workshop has at hand before the job: fluid, tools, and equipment that still holds the fluid of a job before.

use super::{sent, state_of_site};
use crate::DemoError;
use crate::scene::{Scene, say};
use std::io::Write;

/// The torque tool of bay-1.
pub(super) const TORQUE_TOOL: &str = "TW-1";
/// The exchange equipment.
pub(super) const EQUIPMENT: &str = "EX-1";

/// Deliveries, checks, and what the equipment holds.
pub(super) async fn keep(scene: &mut Scene, tell: &mut dyn Write) -> Result<(), DemoError> {
    let Scene { clock, office, expires_on, .. } = scene;
    for (lot, code) in [("L-1840", "BR-861"), ("L-2209", "LN-847")] {
        let drum = ["--what=fluid", "--volume=60 L", "--container=drum", "--expires-on", expires_on.as_str()];
        state_of_site(office, "lot-received", &[&["--lot", lot, "--code", code], &drum[..]].concat())?;
        clock.pass(60);
    }
    state_of_site(office, "lot-received", &["--lot=K-77", "--what=kit", "--code=K8-20", "--piece-count=4"])?;
    let tool = ["--tool", TORQUE_TOOL, "--kind=torque-tool", "--event=checked", "--certificate=C-118"];
    let range = ["--least=4 Nm", "--greatest=25 Nm", "--limit=4 %"];
    let read = ["--torque", "5Nm 5.1Nm", "--torque", "15Nm 14.8Nm", "--torque", "25Nm 25.2Nm"];
    state_of_site(office, "tool-checked", &[&tool[..], &range[..], &read[..]].concat())?;
    // Five litres into a jug: the display shows one part in a hundred too much.
    let display = ["--kind=litre-display", "--event=checked", "--shown=5.00 L", "--reference-volume=4.95 L"];
    state_of_site(office, "tool-checked", &[&["--tool", EQUIPMENT], &display[..]].concat())?;
    let held = ["--held=fluid", "--fluid-code=BR-861", "--held-volume=0.6 L"];
    state_of_site(office, "equipment-contents", &[&["--equipment", EQUIPMENT], &held[..]].concat())?;
    sent(office).await?;
    clock.pass(600);
    say(tell, "office: a drum of each fluid and four kits came in; TW-1 and the display of EX-1 were checked")
}
