//! The condition of the fluid as a message.

use super::{signed, words};
use crate::status::Cause;
use standpipe_engine::text::Language;
use standpipe_engine::view::{ConditionLine, ConditionValue, ConditionView};
use standpipe_proto::v1;

/// What was seen at one time and what it comes to.
pub(super) fn side(language: Language, side: &ConditionView) -> Result<v1::ConditionSide, Cause> {
    Ok(v1::ConditionSide {
        moment: words(language, &side.moment)?,
        lines: side.lines.iter().map(|it| line(language, it)).collect::<Result<_, _>>()?,
        conclusion: words(language, &side.conclusion)?,
        rule: i32::from(side.rule),
    })
}

fn line(language: Language, line: &ConditionLine) -> Result<v1::ConditionLine, Cause> {
    Ok(v1::ConditionLine {
        seen: words(language, &line.seen)?,
        speaks_for: words(language, &line.speaks_for)?,
        why: words(language, &line.why)?,
        kind: line.kind.to_owned(),
        values: line.values.iter().map(value).collect(),
        seqs: line.seqs.iter().copied().map(signed).collect(),
        measured: line.measured,
    })
}

fn value(value: &ConditionValue) -> v1::ConditionValue {
    v1::ConditionValue {
        name: value.name.to_owned(),
        value: value.value,
        standard_uncertainty: value.standard_uncertainty,
        unit: value.unit.to_owned(),
    }
}
