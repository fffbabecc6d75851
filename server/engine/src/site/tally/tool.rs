//! One tool: its checks, and the jobs that used it since its last good one.

use super::super::tools::{Register, Tool, uses_since_good_check, worst};
use super::super::{SiteContext, SiteStated};
use super::tools::{columns, day, job, limit_said, percent, text, used_for};
use super::{Asked, TallyError};
use crate::kind::site::SiteKind as _;
use crate::kind::tool_checked::ToolChecked;
use crate::kind::words::{ToolEvent, ToolKind};
use crate::sheet::{Cell, Row, Sheet, Table};
use crate::text::{number, sentence};

/// Makes the sheet.
pub(super) fn make(context: &SiteContext<'_>, asked: &Asked) -> Result<Sheet, TallyError> {
    let code = asked.about.trim();
    if code.is_empty() {
        return Err(TallyError::AboutNothing { name: "tool", what: "tool" });
    }
    let register = Register::of(context.facts, context.workshop(), u64::MAX);
    let kinds = [ToolKind::TorqueTool, ToolKind::LitreDisplay];
    let tool = kinds.into_iter().find_map(|kind| register.tool(kind, code));
    let today = register.day(context.as_of_us);
    let said = match (&tool, today) {
        (None, _) => vec![sentence::finding_tool_unknown(code)],
        (Some(tool), Some(today)) => {
            let against = tool.against(u64::MAX, today);
            against.iter().map(|against| against.sentence(tool.code)).collect()
        }
        (Some(_), None) => Vec::new(),
    };
    Ok(Sheet {
        tally: "tool",
        title: sentence::tally_tool(tool.as_ref().map_or(code, |tool| tool.code)),
        said,
        tables: vec![
            Table {
                heading: sentence::tally_checks(),
                columns: columns(&["checked", "event", "deviation", "limit", "state", "certificate"]),
                rows: tool.as_ref().map_or_else(Vec::new, |tool| checks(tool, register)),
                empty: sentence::tally_no_checks(),
            },
            Table {
                heading: sentence::tally_jobs_since(),
                columns: columns(&["job", "plate", "done", "used", "screws"]),
                rows: tool.as_ref().map_or_else(Vec::new, |tool| jobs(context, tool, register)),
                empty: sentence::tally_no_jobs_since(),
            },
        ],
        notes: vec![sentence::tally_uses_note()],
    })
}

fn checks(tool: &Tool<'_>, register: Register<'_>) -> Vec<Row> {
    let row = |(stated, checked): &(&SiteStated, &ToolChecked)| {
        let is_check = checked.event == Some(ToolEvent::Checked);
        let inside = if tool.is_good(stated, checked) { "inside" } else { "out-of-limits" };
        let found = if tool.judged_by(stated.seq).is_some() { inside } else { "limit-not-stated" };
        Row {
            cells: vec![
                register.day(stated.time_us).map_or(Cell::Empty, day),
                Cell::Words(checked.sentence()),
                worst(checked).map_or(Cell::Empty, percent),
                if is_check { limit_said(tool, stated.seq) } else { Cell::Empty },
                if is_check { Cell::Words(sentence::tool_state(found)) } else { Cell::Empty },
                text(&checked.certificate),
            ],
            job: None,
        }
    };
    tool.events().iter().map(row).collect()
}

fn jobs(context: &SiteContext<'_>, tool: &Tool<'_>, register: Register<'_>) -> Vec<Row> {
    let mut rows = Vec::new();
    for it in uses_since_good_check(tool) {
        let used = it.used;
        let mut cells = Vec::from(job(context, it.job));
        cells.extend([
            register.day(used.done_us).map_or(Cell::Empty, day),
            used_for(&used.purpose),
            Cell::Number { value: used.amount, shown: number::fixed(used.amount, 0), unit: "" },
        ]);
        rows.push(Row { cells, job: Some(it.job.to_owned()) });
    }
    rows
}
