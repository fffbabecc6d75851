//! A drawn year: every number of the sheets, and who is named, against Python's own computation from the rows.

use super::{complaints, recomputed};
use serde_json::{Value, json};
use standpipe_demo::year::{Plan, Year, year};
use standpipe_engine::owner::sheets::{OwnerContext, tally};
use standpipe_engine::owner::{DisplayState, Figures, JobRow, Measure, named};
use standpipe_engine::sheet::{Cell, Sheet};
use standpipe_engine::text::{Language, Sentence, render, sentence};
use std::io::Write as _;
use std::path::Path;

fn said(sentence: &Sentence) -> String {
    render(Language::English, sentence).unwrap()
}

/// A sheet as the network gives it.
fn json_of(sheet: &Sheet, as_of_us: i64) -> Value {
    let cell = |cell: &Cell| match cell {
        Cell::Empty => json!({}),
        Cell::Words(words) => json!({ "text": said(words) }),
        Cell::Text(text) => json!({ "text": text }),
        Cell::Number { value, shown, unit } => json!({ "text": shown, "number": value, "unit": unit }),
    };
    let table = |table: &standpipe_engine::sheet::Table| {
        let columns: Vec<Value> = table.columns.iter().map(|column| json!({ "key": column.key })).collect();
        let rows: Vec<Value> = table
            .rows
            .iter()
            .map(|row| json!({ "cells": row.cells.iter().map(cell).collect::<Vec<_>>() }))
            .collect();
        json!({ "columns": columns, "rows": rows })
    };
    json!({
        "title": said(&sheet.title),
        "said": sheet.said.iter().map(said).collect::<Vec<_>>(),
        "tables": sheet.tables.iter().map(table).collect::<Vec<_>>(),
        "notes": sheet.notes.iter().map(said).collect::<Vec<_>>(),
        "as_of": jiff::Timestamp::from_microsecond(as_of_us).unwrap().to_string(),
    })
}

/// Writes what the engine makes of a year.
fn write(folder: &Path, year: &Year) {
    let figures = Figures::of(&year.rows, year.as_of_us);
    let found = named(&figures);
    let context = OwnerContext { figures: &figures, rows: &year.rows, names: &year.sites, named: &found };
    let put = |name: &str, value: &Value| std::fs::write(folder.join(name), value.to_string()).unwrap();
    let sheet = |name: &str, about: &str| json_of(&tally(&context, name, about).unwrap(), year.as_of_us);
    put("owner.json", &sheet("owner", ""));
    put("sums.json", &sheet("owner-sums", ""));
    put("site.json", &sheet("owner-site", &year.sites[0].0));
    put("names.json", &Value::from_iter(year.sites.clone()));
    let place = |measure: Measure| Measure::ALL.iter().position(|of| *of == measure).unwrap();
    let named: Vec<Value> = found
        .iter()
        .map(|it| json!([place(it.measure), it.site, it.equipment, it.from_month, it.to_month]))
        .collect();
    put("named.json", &Value::from(named));
    write_rows(folder, &year.rows);
}

fn write_rows(folder: &Path, rows: &[JobRow]) {
    let lines: String = rows.iter().map(|row| format!("{}\n", serde_json::to_string(row).unwrap())).collect();
    std::fs::write(folder.join("jobs.jsonl"), lines).unwrap();
}

#[test]
fn every_number_of_a_drawn_year_is_what_somebody_else_computes_from_its_rows() {
    // Enough workshops to tell how they differ; too few; more than a year, so that come-backs within 365 days are counted.
    for (sites, months, seed) in [(30, 12, 11), (6, 12, 1), (12, 15, 5)] {
        let folder = tempfile::tempdir().unwrap();
        let year = year(&Plan { sites, months, seed, faults: true });
        write(folder.path(), &year);
        let Some(found) = recomputed(folder.path()) else { return };
        assert_eq!(complaints(&found), 0, "{found}");
        let numbers = found["numbers"].as_u64().unwrap();
        println!("{sites} workshops, {months} months: {numbers} numbers of {} jobs compared", found["jobs"]);
        assert!(numbers > 5_000 && found["jobs"] == year.rows.len());
        assert!(found["named"].as_array().unwrap().len() >= 4, "{}", found["named"]);
    }
}

#[test]
fn one_altered_row_is_noticed() {
    let folder = tempfile::tempdir().unwrap();
    let year = year(&Plan { sites: 10, months: 12, seed: 2, faults: true });
    write(folder.path(), &year);
    let place = year.rows.iter().position(|row| row.done && row.difference.is_some()).unwrap();
    let back = year.rows.iter().position(|row| row.back_after_days.is_some()).unwrap();
    type Alter = fn(&mut JobRow);
    let alterations: [(&str, usize, Alter); 8] = [
        ("a millilitre", place, |row| row.difference = row.difference.map(|litres| litres + 0.001)),
        ("a millilitre shown", place, |row| row.litres_by_display += 0.001),
        ("a level", place, |row| row.level_set = !row.level_set),
        ("a late entry", place, |row| row.late_entries = 3 - row.late_entries.min(3)),
        ("a check", place, |row| {
            row.display = match row.display {
                DisplayState::Checked => DisplayState::PastCheck,
                _ => DisplayState::Checked,
            }
        }),
        ("a minute", place, |row| {
            row.minutes.minutes_pan = row.minutes.minutes_pan.map(|minutes| minutes + 1)
        }),
        ("a vehicle that came back", back, |row| row.vehicle = "0".repeat(32)),
        ("another month", place, |row| row.month = "2026-12".to_owned()),
    ];
    for (what, place, alter) in alterations {
        let mut rows = year.rows.clone();
        alter(&mut rows[place]);
        assert_ne!(rows[place], year.rows[place], "{what}");
        write_rows(folder.path(), &rows);
        let Some(found) = recomputed(folder.path()) else { return };
        assert!(complaints(&found) > 0, "{what} was not noticed");
    }
    write_rows(folder.path(), &year.rows[1..]);
    assert!(
        recomputed(folder.path()).is_none_or(|found| complaints(&found) > 0),
        "a row less was not noticed"
    );
    write_rows(folder.path(), &year.rows);
    assert!(recomputed(folder.path()).is_none_or(|found| complaints(&found) == 0));
}

/// A row as the export has it of a job that could not be computed.
fn row_left_out(site: &str, number: &str) -> Value {
    let row = serde_json::to_value(JobRow::default()).unwrap();
    let mut row = row.as_object().unwrap().clone();
    row.values_mut().for_each(|value| *value = Value::Null);
    let said = [("site", site), ("job", number), ("number", number), ("month", "2026-11")];
    row.extend(said.map(|(key, value)| (key.to_owned(), value.into())));
    row.insert("left_out".to_owned(), true.into());
    row.into()
}

#[test]
fn rows_of_jobs_that_could_not_be_computed_are_in_no_figure_and_have_their_note() {
    let folder = tempfile::tempdir().unwrap();
    let year = year(&Plan { sites: 6, months: 12, seed: 3, faults: true });
    write(folder.path(), &year);
    let (site, name) = &year.sites[1];
    let numbers: Vec<String> = (1..=12).map(|number| format!("ZZ-26-{number:04}")).collect();
    let mut file = std::fs::OpenOptions::new().append(true).open(folder.path().join("jobs.jsonl")).unwrap();
    for number in &numbers {
        writeln!(file, "{}", row_left_out(site, number)).unwrap();
    }
    let read = |name: &str| -> Value {
        serde_json::from_slice(&std::fs::read(folder.path().join(name)).unwrap()).unwrap()
    };
    let mut sheet = read("owner.json");
    let Some(found) = recomputed(folder.path()) else { return };
    assert!(complaints(&found) > 0, "nothing on the sheet says that jobs are left out");
    assert_eq!((&found["jobs"], &found["left_out"]), (&year.rows.len().into(), &12.into()));
    let named = sentence::owner_jobs_more(2, numbers[..10].join(", "));
    let note = said(&sentence::owner_note_left_out(12, named, name.as_str()));
    sheet["notes"].as_array_mut().unwrap().push(note.into());
    std::fs::write(folder.path().join("owner.json"), sheet.to_string()).unwrap();
    let found = recomputed(folder.path()).unwrap();
    assert_eq!(complaints(&found), 0, "{found}");
}
