//! Cautions of the running state, short enough to be read from two metres: one line a group, and the groups of each step.
//!
//! The whole text of a group stands above its own step, in the engine's words; these lines stand at the foot of every step
//! that its state goes on in (common practice, no source). Never here: whether a group was read. Called by
//! [`super::steps`].

use standpipe_engine::gates::{Gate, GoAhead};

/// Where nobody stands under or beside a danger of the vehicle.
const NONE: &[&str] = &[];
const HOT: &[&str] = &["pan-and-hot", "used-oil"];
const LINE: &[&str] = &["line-opening", "pan-and-hot"];
const UNDER: &[&str] = &["lifted"];
const DRIVE: &[&str] = &["drive"];
const WITH_ENGINE: &[&str] = &["engine-running", "level", "pan-and-hot"];

/// THE table: the step, and the groups that stand at its foot. At a step that has a group read, its whole text stands above.
const GROUPS: &[(&str, &[&str])] = &[
    ("odometer", NONE),
    ("vin", NONE),
    ("variant", NONE),
    ("codes-before", NONE),
    ("drive-before", DRIVE),
    ("caution-lifted", NONE),
    ("lift-locked", UNDER),
    ("high-voltage", UNDER),
    ("sample-before", &["lifted", "pan-and-hot", "used-oil"]),
    ("fluid", NONE),
    ("filter", NONE),
    ("equipment-contents", NONE),
    ("caution-line", NONE),
    ("hookup", LINE),
    ("caution-engine", NONE),
    ("exchange", &["engine-running", "line-opening"]),
    ("engine-off", LINE),
    ("caution-pan", NONE),
    ("pan", &["pan-and-hot", "used-oil", "lifted"]),
    ("pan-seen", HOT),
    ("old-filter", HOT),
    ("fitted", &["lifted", "used-oil"]),
    ("screws", UNDER),
    ("refill", &["drained", "pan-and-hot", "used-oil"]),
    ("clear", &["drained"]),
    ("caution-gears", NONE),
    ("gears", &["gears-and-level", "engine-running"]),
    ("level-added", WITH_ENGINE),
    ("temperature", WITH_ENGINE),
    ("level", WITH_ENGINE),
    ("plug", WITH_ENGINE),
    ("leaks", WITH_ENGINE),
    ("codes-after", NONE),
    ("drive-after", DRIVE),
    ("waste", &["used-oil"]),
    ("closing", NONE),
];

/// Two confirmations in a row that one tap may say: their states do not contradict each other.
pub(super) const TOGETHER: [(&str, &str); 3] =
    [("caution-lifted", "lift-locked"), ("engine-off", "caution-pan"), ("clear", "caution-gears")];

/// All groups that a foot names.
pub(super) const ALL: [&str; 10] = [
    "lifted",
    "line-opening",
    "engine-running",
    "pan-and-hot",
    "gears-and-level",
    "level",
    "used-oil",
    "drained",
    "drive",
    "dipstick",
];
/// Beside them where a system of high voltage is known.
pub(super) const HIGH_VOLTAGE: &str = "high-voltage";

/// The groups of a step, with what this vehicle adds to them.
pub(super) fn of(step: &str, gates: &[(Gate, GoAhead)]) -> Vec<&'static str> {
    let mut groups: Vec<&'static str> =
        GROUPS.iter().find(|(name, _)| *name == step).map(|(_, groups)| groups.to_vec()).unwrap_or_default();
    let warns =
        |key: &str| gates.iter().any(|(_, answer)| answer.cautions.iter().any(|said| said.key() == key));
    let is_looked_at = matches!(step, "level" | "level-added");
    if is_looked_at && warns("caution-dipstick") {
        groups.retain(|group| *group != "level");
        groups.push("dipstick");
    }
    if !groups.is_empty() && groups != DRIVE && warns("caution-high-voltage") {
        groups.insert(0, HIGH_VOLTAGE);
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_step_of_the_work_has_its_row_once_and_names_groups_that_have_a_line() {
        let rows: Vec<&str> = GROUPS.iter().map(|(step, _)| *step).collect();
        assert_eq!(rows, standpipe_engine::steps::names(), "in the order of the work");
        for (step, groups) in GROUPS {
            assert!(groups.iter().all(|group| ALL.contains(group)), "{step}: {groups:?}");
        }
    }

    #[test]
    fn hot_fluid_is_warned_of_wherever_fluid_runs_and_the_drive_at_both_drives() {
        for step in ["sample-before", "hookup", "pan", "level-added", "level", "plug"] {
            assert!(of(step, &[]).contains(&"pan-and-hot"), "{step}");
        }
        for step in ["sample-before", "pan", "refill"] {
            assert!(of(step, &[]).contains(&"used-oil"), "{step}");
        }
        for step in ["drive-before", "drive-after"] {
            assert_eq!(of(step, &[]), ["drive"]);
        }
    }

    #[test]
    fn no_two_confirmations_of_one_tap_are_of_opposite_states() {
        for (one, other) in TOGETHER {
            let both = [of(one, &[]), of(other, &[])].concat();
            assert!(
                !both.contains(&"engine-running") && !both.contains(&"level"),
                "{one} and {other}: {both:?}"
            );
        }
    }

    #[test]
    fn a_dipstick_takes_the_place_of_the_plug() {
        let gates = [(
            Gate::Level,
            GoAhead {
                yes: false,
                missing: Vec::new(),
                decidable: Vec::new(),
                basis: Vec::new(),
                cautions: vec![
                    standpipe_engine::text::sentence::caution_dipstick(),
                    standpipe_engine::text::sentence::caution_high_voltage(),
                ],
            },
        )];
        assert_eq!(of("level", &gates), ["high-voltage", "engine-running", "pan-and-hot", "dipstick"]);
        assert_eq!(of("drive-after", &gates), ["drive"]);
        assert!(of("vin", &gates).is_empty());
    }
}
