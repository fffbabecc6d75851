//! How long the parts of the work took, by the times of a job's entries.
//!
//! The time from one entry to the next belongs to the part of the later one. A gap of more than four hours is another
//! job or the night and belongs to none (common practice, no source). Never here: who worked.

use crate::view::StoryLine;
use serde::{Deserialize, Serialize};

const MINUTE_US: i64 = 60_000_000;
/// Longest gap that is still work at the job.
const GAP_MOST_US: i64 = 240 * MINUTE_US;

/// Minutes of the parts of the work; absent where no entry belongs to the part.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Minutes {
    /// Up to the first litre: identity, codes, drive, sample, hook-up.
    pub minutes_before: Option<i64>,
    /// Exchange.
    pub minutes_exchange: Option<i64>,
    /// Pan, parts, screws, refill.
    pub minutes_pan: Option<i64>,
    /// Gears, level, plug.
    pub minutes_level: Option<i64>,
    /// After that, to the end of the job.
    pub minutes_after: Option<i64>,
}

/// Parts of the work, in its order.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Before,
    Exchange,
    Pan,
    Level,
    After,
}

/// Which kind belongs to which part; any other belongs to the part that is going on.
const KINDS: &[(&str, Part)] = &[
    ("arrival", Part::Before),
    ("vin_reading", Part::Before),
    ("variant_settled", Part::Before),
    ("hookup", Part::Before),
    ("exchange_reading", Part::Exchange),
    ("drain", Part::Pan),
    ("part_fitted", Part::Pan),
    ("tightening", Part::Pan),
    ("fill", Part::Pan),
    ("gear_cycle", Part::Level),
    ("level_check", Part::Level),
    ("plug_closed", Part::Level),
    ("leak_check", Part::After),
    ("waste", Part::After),
    ("closing", Part::After),
    ("record_issued", Part::After),
    ("handover", Part::After),
];

/// The minutes by the entries of a job in words.
pub(super) fn of(story: &[StoryLine]) -> Minutes {
    let mut lines: Vec<&StoryLine> = story.iter().filter(|line| line.kind != "correction").collect();
    lines.sort_by_key(|line| (line.time_us, line.seq));
    let mut us: [Option<i64>; 5] = [None; 5];
    let mut going_on = Part::Before;
    let mut before: Option<i64> = None;
    for line in lines {
        let known = KINDS.iter().find(|(kind, _)| *kind == line.kind).map(|(_, part)| *part);
        // Codes and a drive after the level belong to the end; fluid added at the level belongs to the level.
        going_on = match known {
            Some(Part::Pan) if going_on == Part::Level => Part::Level,
            Some(part) => part.max(if part == Part::Before { going_on } else { part }),
            None if going_on == Part::Level && is_after(line.kind) => Part::After,
            None => going_on,
        };
        let gap = before.map_or(0, |before| line.time_us.saturating_sub(before));
        if (0..=GAP_MOST_US).contains(&gap)
            && let Some(sum) = us.get_mut(going_on as usize)
        {
            *sum = Some(sum.unwrap_or_default() + gap);
        }
        before = Some(line.time_us);
    }
    let [a, b, c, d, e] = us.map(|us| us.map(|us| (us + MINUTE_US / 2) / MINUTE_US));
    Minutes { minutes_before: a, minutes_exchange: b, minutes_pan: c, minutes_level: d, minutes_after: e }
}

fn is_after(kind: &str) -> bool {
    matches!(kind, "fault_codes" | "road_test")
}
