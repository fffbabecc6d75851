//! The page for the office, `deploy/catalogue/README.md`, held against what the reader of a transmission file asks for.

use std::cell::RefCell;
use std::collections::BTreeSet;

use super::reader::{Asked, Document};
use super::transmission;

const PAGE: &str = include_str!("../../../../deploy/catalogue/README.md");
/// It states every table, so that the reader asks for the keys of each.
const WHOLE: &str = include_str!("../../../../deploy/catalogue/alder-8.toml");

fn asked() -> BTreeSet<Asked> {
    let (problems, asked) = (RefCell::new(Vec::new()), RefCell::new(BTreeSet::new()));
    let document = Document::new("alder-8.toml", WHOLE, &problems).noting(&asked);
    assert_eq!(transmission::read(document.fields().unwrap()).len(), 2);
    assert_eq!(problems.into_inner(), []);
    asked.into_inner()
}

/// The rows of the page: key, form, and whether it is needed.
fn told() -> BTreeSet<Asked> {
    let rows = PAGE.lines().filter(|line| line.starts_with("| `"));
    rows.map(|row| {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let [key, what, form, without] = cells.as_slice() else { panic!("{row}") };
        assert!(!what.is_empty() && !without.is_empty(), "{row}");
        Asked {
            key: key.trim_matches('`').to_owned(),
            form: (*form).to_owned(),
            is_needed: *without == "needed",
        }
    })
    .collect()
}

#[test]
fn every_key_that_is_read_stands_in_the_page_with_its_bounds_and_no_other() {
    let (asked, told) = (asked(), told());
    for Asked { key, form, is_needed } in asked.difference(&told) {
        println!(
            "the reader asks for: | `{key}` | … | {form} | {} |",
            if *is_needed { "needed" } else { "…" }
        );
    }
    for Asked { key, form, .. } in told.difference(&asked) {
        println!("the page tells of: | `{key}` | … | {form} |");
    }
    assert_eq!(asked, told, "the lines above are not in both");
    assert!(asked.len() > 50, "{}", asked.len());
}
