//! All exchange equipment: what it holds, since when and by which job.

use super::super::equipment::{Holds, contents, known};
use super::super::{SiteContext, UseOf, tools};
use super::tools::{columns, day, text};
use super::{Asked, TallyError};
use crate::sheet::{Cell, Row, Sheet, Table};
use crate::text::{number, sentence};

/// Makes the sheet.
pub(super) fn make(context: &SiteContext<'_>, _: &Asked) -> Result<Sheet, TallyError> {
    let rows: Vec<Row> = known(context.facts, u64::MAX).into_iter().map(|code| row(context, code)).collect();
    Ok(Sheet {
        tally: "equipment",
        title: sentence::tally_equipment(),
        said: Vec::new(),
        tables: vec![Table {
            heading: sentence::tally_equipment_holds(),
            columns: columns(&["equipment", "fluid", "litres", "since", "job"]),
            rows,
            empty: sentence::tally_no_equipment(),
        }],
        notes: vec![sentence::tally_equipment_note()],
    })
}

fn row(context: &SiteContext<'_>, code: &str) -> Row {
    let workshop = context.workshop();
    let contents = contents(context.facts, workshop, code, u64::MAX, None);
    let since = contents.as_ref().and_then(|it| tools::day_at(&workshop.time_zone, it.time_us));
    let by_job = contents.as_ref().and_then(|it| {
        let mut uses = context.facts.uses(UseOf::Equipment, u64::MAX);
        uses.find(|(_, used)| used.seq == it.seq).map(|(job, _)| job)
    });
    let number = by_job.and_then(|by| context.facts.account(by)).map(|it| it.number.as_str());
    let (fluid, litres) = match contents.map(|contents| contents.holds) {
        Some(Holds::Fluid { code, litres, .. }) => {
            let name = context.revision.fluid(&code).map_or(code.as_str(), |fluid| fluid.name.as_str());
            let shown = number::fixed(litres.value, 1);
            (text(name), Cell::Number { value: litres.value, shown, unit: "L" })
        }
        Some(Holds::Nothing) => (Cell::Words(sentence::tally_holds("nothing")), Cell::Empty),
        Some(Holds::NotRead) | None => (Cell::Words(sentence::tally_holds("not-known")), Cell::Empty),
    };
    let cells =
        vec![text(code), fluid, litres, since.map_or(Cell::Empty, day), number.map_or(Cell::Empty, text)];
    Row { cells, job: by_job.map(str::to_owned) }
}
