//! All tools: range, last check, uses since, when due, and what is against them.

use super::super::tools::{Against, Register, ToCall, Tool, jobs_to_call};
use super::super::{JobAccount, SiteContext, display};
pub(super) use super::cells::text;
use super::{Asked, TallyError};
use crate::formula::torque_tool::Unusable;
use crate::kind::tool_checked::ToolChecked;
use crate::kind::words::ToolKind;
use crate::sheet::{Cell, Column, Row, Sheet, Table};
use crate::text::{Sentence, number, sentence};
use jiff::civil::Date;

/// Makes the sheet.
pub(super) fn make(context: &SiteContext<'_>, _: &Asked) -> Result<Sheet, TallyError> {
    let register = Register::of(context.facts, context.workshop(), u64::MAX);
    let today = register.day(context.as_of_us).unwrap_or_default();
    let torque = register.tools(ToolKind::TorqueTool);
    let displays = register.tools(ToolKind::LitreDisplay);
    let against = |tool: &Tool<'_>| -> Vec<Sentence> {
        tool.against(u64::MAX, today).iter().map(|against| against.sentence(tool.code)).collect()
    };
    let settings = &context.workshop().tool_check;
    Ok(Sheet {
        tally: "tools",
        title: sentence::tally_tools(),
        said: torque.iter().flat_map(against).collect(),
        tables: vec![
            Table {
                heading: sentence::tally_torque_tools(),
                columns: columns(&[
                    "tool",
                    "range",
                    "limit",
                    "checked",
                    "certificate",
                    "uses",
                    "due",
                    "state",
                ]),
                rows: torque.iter().map(|tool| torque_row(tool, register, today)).collect(),
                empty: sentence::tally_no_tools(),
            },
            Table {
                heading: sentence::tally_displays(),
                columns: columns(&[
                    "equipment",
                    "checked",
                    "shown",
                    "reference",
                    "deviation",
                    "due",
                    "state",
                ]),
                rows: displays.iter().map(|tool| display_row(tool, register, today)).collect(),
                empty: sentence::tally_no_displays(),
            },
            Table {
                heading: sentence::tally_to_call(),
                columns: columns(&["tool", "found", "job", "plate", "done", "used"]),
                rows: jobs_to_call(register).iter().map(|call| call_row(context, call, register)).collect(),
                empty: sentence::tally_nobody_to_call(),
            },
        ],
        notes: vec![
            sentence::tally_tools_note(
                settings.display_months.to_string(),
                settings.months.to_string(),
                &settings.source,
                number::fixed(settings.uses, 0),
            ),
            sentence::tally_uses_note(),
        ],
    })
}

fn torque_row(tool: &Tool<'_>, register: Register<'_>, today: Date) -> Row {
    let last = tool.last_check();
    let uses = tool.uses_since_good(u64::MAX);
    Row {
        cells: vec![
            text(tool.code),
            tool.range().map_or(Cell::Empty, |(least, greatest)| {
                Cell::Words(sentence::tally_range(number::plain(greatest), number::plain(least)))
            }),
            limit_said(tool, u64::MAX),
            last.and_then(|(stated, _)| register.day(stated.time_us)).map_or(Cell::Empty, day),
            last.map_or(Cell::Empty, |(_, checked)| text(&checked.certificate)),
            Cell::Number { value: uses, shown: number::fixed(uses, 0), unit: "" },
            tool.due_on(u64::MAX).map_or(Cell::Empty, day),
            state(tool, today),
        ],
        job: None,
    }
}

fn display_row(tool: &Tool<'_>, register: Register<'_>, today: Date) -> Row {
    let last = tool.last_check();
    let amount = |read: fn(&ToolChecked) -> Option<&crate::amount::Amount>| {
        last.and_then(|(_, checked)| read(checked)).map_or(Cell::Empty, |amount| text(amount.as_read()))
    };
    Row {
        cells: vec![
            text(tool.code),
            last.and_then(|(stated, _)| register.day(stated.time_us)).map_or(Cell::Empty, day),
            amount(|checked| checked.shown.as_ref()),
            amount(|checked| checked.reference.as_ref()),
            last.and_then(|(_, checked)| display::deviation(checked)).map_or(Cell::Empty, percent),
            tool.due_on(u64::MAX).map_or(Cell::Empty, day),
            state(tool, today),
        ],
        job: None,
    }
}

fn call_row(context: &SiteContext<'_>, call: &ToCall<'_>, register: Register<'_>) -> Row {
    let used = call.used.used;
    let day_of = |us: i64| register.day(us).map_or(Cell::Empty, day);
    let mut cells = vec![text(call.tool), day_of(call.found_us)];
    cells.extend(job(context, call.used.job));
    cells.extend([day_of(used.done_us), used_for(&used.purpose)]);
    Row { cells, job: Some(call.used.job.to_owned()) }
}

/// Number and plate of a job.
pub(super) fn job(context: &SiteContext<'_>, job: &str) -> [Cell; 2] {
    let account = context.facts.account(job);
    let shown = |text_of: fn(&JobAccount) -> &str| account.map_or(Cell::Empty, |it| text(text_of(it)));
    [shown(|it| &it.number), shown(|it| &it.plate)]
}

/// What a tool was used for, in words.
pub(super) fn used_for(purpose: &str) -> Cell {
    Cell::Words(sentence::tool_used_for(known_use(purpose)))
}

/// The word of a use, as the sentences know it.
pub(super) fn known_use(purpose: &str) -> &'static str {
    const KNOWN: [&str; 4] = ["pan-screws", "filter-screws", "other-screws", "plug"];
    KNOWN.into_iter().find(|known| *known == purpose).unwrap_or("unknown")
}

/// Tools that a check is due for before a day or that may not be used as they are now, each with its last day and state.
pub(super) fn due(context: &SiteContext<'_>, before: Date) -> Table {
    let register = Register::of(context.facts, context.workshop(), u64::MAX);
    let today = context.date(context.as_of_us);
    let kinds = [ToolKind::TorqueTool, ToolKind::LitreDisplay];
    let tools =
        kinds.into_iter().flat_map(|kind| register.tools(kind).into_iter().map(move |tool| (kind, tool)));
    let taken_out = |tool: &Tool<'_>| {
        let against = tool.against(u64::MAX, today);
        against.iter().any(|against| matches!(against, Against::TakenOut))
    };
    let open = tools.filter(|(_, tool)| {
        let due = tool.due_on(u64::MAX).is_none_or(|day| day < before);
        !taken_out(tool) && (due || !tool.against(u64::MAX, today).is_empty())
    });
    let row = |(kind, tool): (ToolKind, Tool<'_>)| Row {
        cells: vec![
            text(tool.code),
            Cell::Words(sentence::tool_kind(kind.word())),
            tool.due_on(u64::MAX).map_or(Cell::Empty, day),
            state(&tool, today),
        ],
        job: None,
    };
    Table {
        heading: sentence::month_tools(),
        columns: columns(&["tool", "kind", "due", "state"]),
        rows: open.map(row).collect(),
        empty: sentence::month_no_tool_due(),
    }
}

fn state(tool: &Tool<'_>, today: Date) -> Cell {
    let word = |against: &Against| match against {
        Against::TakenOut => "taken-out",
        Against::OutOfLimits | Against::OutOfLimitTaken => "out-of-limits",
        Against::Unusable(Unusable::NeverChecked, _) => "never-checked",
        Against::Unusable(Unusable::Old, _) => "old",
        Against::Unusable(Unusable::Worn, _) => "worn",
        Against::Unusable(Unusable::Overloaded, _) => "overloaded",
    };
    let against = tool.against(u64::MAX, today);
    let said: Vec<Sentence> = against.iter().map(|against| sentence::tool_state(word(against))).collect();
    Cell::Words(if said.is_empty() { sentence::tool_state("usable") } else { sentence::tally_list(said) })
}

/// The limit that a check is judged by; where none is stated, the one that is taken.
pub(super) fn limit_said(tool: &Tool<'_>, up_to: u64) -> Cell {
    match tool.judged_by(up_to) {
        Some((limit, true)) => percent(limit),
        Some((limit, false)) => {
            Cell::Words(sentence::tally_limit_taken(number::with_unit(&number::fixed(limit, 2), "%")))
        }
        None => Cell::Empty,
    }
}

/// Columns by their keys; numbers stand in columns of their own.
pub(super) fn columns(keys: &[&'static str]) -> Vec<Column> {
    const NUMBERS: [&str; 5] = ["limit", "uses", "deviation", "screws", "litres"];
    let column = |key: &&'static str| {
        let heading = sentence::tool_column(*key);
        if NUMBERS.contains(key) { Column::numbers(key, heading) } else { Column::words(key, heading) }
    };
    keys.iter().map(column).collect()
}

pub(super) fn day(day: Date) -> Cell {
    Cell::Text(day.to_string())
}

pub(super) fn percent(value: f64) -> Cell {
    Cell::Number { value, shown: number::fixed(value, 2), unit: "%" }
}
