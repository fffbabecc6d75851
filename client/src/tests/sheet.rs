//! Tallies on the terminal and for spreadsheets.

use super::*;
use standpipe_proto::v1::SheetRow;

fn words(text: &str) -> SheetCell {
    SheetCell { text: text.to_owned(), ..SheetCell::default() }
}

fn number(text: &str, number: f64, unit: &str) -> SheetCell {
    SheetCell { text: text.to_owned(), number: Some(number), unit: unit.to_owned() }
}

fn sheet(columns: &[(&str, &str, bool)], rows: Vec<Vec<SheetCell>>) -> Sheet {
    let column = |(key, heading, numeric): &(&str, &str, bool)| SheetColumn {
        key: (*key).to_owned(),
        heading: (*heading).to_owned(),
        numeric: *numeric,
    };
    let table = SheetTable {
        heading: "Fluid".to_owned(),
        columns: columns.iter().map(column).collect(),
        rows: rows.into_iter().map(|cells| SheetRow { cells, job: String::new() }).collect(),
        empty: "Nothing was received.".to_owned(),
    };
    Sheet { title: "Store".to_owned(), tables: vec![table], ..Sheet::default() }
}

#[test]
fn numbers_stand_by_their_decimal_point_and_words_at_the_left() {
    let columns = [("code", "Code", false), ("there", "There", true), ("note", "Note", false)];
    let rows = vec![
        vec![words("F-1"), number("208.5", 208.46, "L"), words("counted")],
        vec![words("F-22"), number("9.26", 9.26, "L"), words("")],
        vec![words("F-23"), number("0.25", 0.25, "L"), words("half a can")],
        vec![words("F-3"), words(""), words("never counted")],
    ];
    let expected = "\
Store

Fluid
Code     There  Note
F-1   208.5 L   counted
F-22    9.3 L
F-23    0.25 L  half a can
F-3             never counted
";
    assert_eq!(shown(&sheet(&columns, rows)), expected);
}

#[test]
fn a_table_is_narrowed_to_eighty_columns_by_breaking_words_apart_and_never_within() {
    let long = "a remark of many words that would run far beyond the edge of any terminal in a workshop";
    let columns = [("code", "Code", false), ("note", "Note", false), ("there", "In the store", true)];
    let rows = vec![vec![words("A8-II"), words(long), number("12", 12.0, "pieces")]; 3];
    let said = shown(&sheet(&columns, rows));
    assert!(said.lines().all(|line| line.chars().count() <= COLUMNS), "{said}");
    for word in long.split(' ') {
        assert!(said.contains(word), "{word} in\n{said}");
    }
    // What is wider than the terminal is cut at its edge, and nothing of it is lost.
    let code = "X".repeat(100);
    let said = shown(&sheet(&columns, vec![vec![words(&code), words(""), words("")]]));
    assert_eq!(said.matches('X').count(), 100, "{said}");
    assert!(said.lines().all(|line| line.chars().count() <= COLUMNS), "{said}");
}

#[test]
fn a_table_without_rows_says_so() {
    let said = shown(&sheet(&[("code", "Code", false)], Vec::new()));
    assert_eq!(said, "Store\n\nFluid\n  Nothing was received.\n");
}

#[test]
fn a_table_of_too_many_columns_reads_row_by_row_within_eighty_columns() {
    let keys = ["code", "name", "lot", "what", "came_in", "drawn", "counted_on", "until", "there"];
    let columns: Vec<_> = keys.iter().map(|key| (*key, "Some heading", *key == "drawn")).collect();
    let cell = |key: &&str| match *key {
        "drawn" => number("12.5", 12.5, "L"),
        "until" => words(""),
        key => words(&format!("{key}-of-this-lot")),
    };
    let rows = vec![keys.iter().map(cell).collect(); 2];
    let said = shown(&sheet(&columns, rows));
    assert!(said.lines().all(|line| line.chars().count() <= COLUMNS), "{said}");
    assert_eq!(said.matches("Some heading: code-of-this-lot\n").count(), 2, "{said}");
    assert_eq!(said.matches("Some heading: 12.5 L;").count(), 2, "{said}");
    assert!(!said.contains(": ;"), "an empty cell is left out: {said}");
}

#[test]
fn a_spreadsheet_gets_one_table_and_is_told_of_the_others() {
    let mut sheet = sheet(&[("code", "Code", false), ("there", "There", true)], Vec::new());
    let first = "\"code\",\"there\",\"there_unit\"\r\n";
    assert_eq!(csv_of(&sheet, None).unwrap(), (first.to_owned(), None));
    let mut other = sheet.tables[0].clone();
    other.columns.pop();
    sheet.tables.push(other);
    let (csv, note) = csv_of(&sheet, None).unwrap();
    assert_eq!(csv, first);
    assert_eq!(note.unwrap(), "this is table 1 of 2, Fluid; the others with --table NUMBER");
    assert_eq!(csv_of(&sheet, Some(2)).unwrap().0, "\"code\"\r\n");
    for none in [0, 3] {
        assert!(csv_of(&sheet, Some(none)).unwrap_err().to_string().contains("has 2 tables"));
    }
}
