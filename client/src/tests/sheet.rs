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
        vec![words("F-22"), number("9.25", 9.25, "L"), words("")],
        vec![words("F-3"), words(""), words("never counted")],
    ];
    let expected = "\
Store

Fluid
Code     There  Note
F-1   208.5  L  counted
F-22    9.25 L
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
    // What cannot be broken is wider and whole.
    let code = "X".repeat(100);
    let said = shown(&sheet(&columns, vec![vec![words(&code), words(""), words("")]]));
    assert!(said.contains(&code), "{said}");
}

#[test]
fn a_table_without_rows_says_so() {
    let said = shown(&sheet(&[("code", "Code", false)], Vec::new()));
    assert_eq!(said, "Store\n\nFluid\n  Nothing was received.\n");
}

#[test]
fn a_spreadsheet_gets_numbers_in_full_units_apart_and_no_formula() {
    let columns = [("code", "Code", false), ("there", "There", true)];
    let rows = vec![vec![words("=1+1"), number("-0.5", -0.461, "L")], vec![words("a, \"b\""), words("")]];
    let mut sheet = sheet(&columns, rows);
    let expected = "\"code\",\"there\",\"there_unit\"\r\n\"'=1+1\",\"-0.461\",\"L\"\r\n\
                    \"a, \"\"b\"\"\",\"\",\"\"\r\n";
    assert_eq!(csv(&sheet), expected);
    sheet.tables.push(sheet.tables[0].clone());
    assert_eq!(csv(&sheet), format!("{expected}\r\n{expected}"));
}
