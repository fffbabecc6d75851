//! Tallies of invented numbers, laid out and read back from what is drawn.

use super::*;
use standpipe_engine::sheet;
use standpipe_engine::text::Sentence;

/// Words of ours that say just this.
fn say(words: &str) -> Sentence {
    sentence::store_fluid(words)
}

fn litres(value: f64) -> Cell {
    Cell::Number { value, shown: format!("{value:.1}"), unit: "L" }
}

fn text(words: &str) -> Cell {
    Cell::Text(words.to_owned())
}

fn table(columns: Vec<sheet::Column>, rows: Vec<Vec<Cell>>) -> SheetTable {
    SheetTable {
        heading: say("Fluid"),
        columns,
        rows: rows.into_iter().map(|cells| sheet::Row { cells, job: None }).collect(),
        empty: say("Nothing came in yet."),
    }
}

fn sheet(tables: Vec<SheetTable>) -> Sheet {
    Sheet {
        tally: "store",
        title: say("What should be in the store"),
        said: vec![say("Two lots differ from what was counted last.")],
        tables,
        notes: vec![say("Fluid that was weighed is turned into litres by its density.")],
    }
}

fn store(rows: usize) -> SheetTable {
    let columns = vec![
        sheet::Column::words("code", say("Code")),
        sheet::Column::words("lot", say("Lot")),
        sheet::Column::numbers("computed", say("Computed")),
        sheet::Column::numbers("counted", say("Counted")),
        sheet::Column::words("note", say("Note")),
    ];
    let row = |index: usize| {
        let note = if index.is_multiple_of(7) {
            "Less is there than the jobs used; look for a job without its litres, or for what was spilled."
        } else {
            ""
        };
        let computed = index as f64 * 17.3 - 4.0;
        vec![text("LN-847"), text(&format!("L-{index:05}")), litres(computed), Cell::Empty, text(note)]
    };
    table(columns, (0..rows).map(row).collect())
}

fn paper() -> TallyPaper {
    TallyPaper {
        workshop: "Harbour Lane Transmissions".to_owned(),
        printed_at: "26 November 2026, 11:05".to_owned(),
        printed_us: 1_795_691_100_000_000,
        engine_version: "0.1.0".to_owned(),
        language: Language::default(),
    }
}

fn laid_out(sheet: &Sheet) -> Vec<Page> {
    pages(sheet, &paper(), &mut Composer::new(Faces::shipped().unwrap(), Language::default())).unwrap()
}

/// Every word with its place: left end, right end, baseline.
fn drawn(page: &Page) -> Vec<(String, f64, f64, f64)> {
    let each = page.marks.iter().filter_map(|mark| match mark {
        Mark::Words { at, segment } => Some((segment.text.clone(), at.x, at.x + segment.width, at.y)),
        _ => None,
    });
    each.collect()
}

#[test]
fn the_same_sheet_gives_the_same_bytes() {
    let sheet = sheet(vec![store(40)]);
    assert_eq!(tally(&sheet, &paper()).unwrap(), tally(&sheet, &paper()).unwrap());
}

#[test]
fn a_head_is_repeated_on_every_page_and_no_row_is_cut() {
    let pages = laid_out(&sheet(vec![store(140)]));
    assert!(pages.len() > 2);
    let mut lots = 0;
    for (number, page) in (1..).zip(&pages) {
        let words = drawn(page);
        assert_eq!(words.iter().filter(|(text, ..)| text == "Computed").count(), 1, "page {number}");
        assert!(words.iter().any(|(text, ..)| *text == format!("page {number} of {}", pages.len())));
        // A row of several lines stands whole on the page that it begins on.
        let begun = words.iter().filter(|(text, ..)| text.starts_with("Less is there")).count();
        let ended = words.iter().filter(|(text, ..)| text.ends_with("spilled.")).count();
        assert_eq!(begun, ended, "page {number}");
        lots += words.iter().filter(|(text, ..)| text.starts_with("L-0")).count();
    }
    assert_eq!(lots, 140);
}

#[test]
fn numbers_stand_under_each_other_by_their_point() {
    let pages = laid_out(&sheet(vec![store(12)]));
    let faces = Faces::shipped().unwrap();
    let points: Vec<f64> = drawn(&pages[0])
        .iter()
        .filter(|(text, ..)| text.ends_with(" L") && text.contains('.'))
        .map(|(text, left, ..)| left + width_of(faces, text.split('.').next().unwrap(), Style::TEXT).unwrap())
        .collect();
    assert_eq!(points.len(), 12);
    assert!(points.iter().all(|point| (point - points[0]).abs() < 1e-9), "{points:?}");
}

/// A table of so many columns, each with a word that cannot be broken.
fn wide(columns: usize) -> SheetTable {
    let heads = (0..columns).map(|_| sheet::Column::words("word", say("Transmission"))).collect();
    table(heads, vec![vec![text("A8-II-second-series"); columns]; 3])
}

#[test]
fn a_table_that_is_too_wide_turns_the_sheet_and_stays_within_its_margins() {
    for (columns, format) in
        [(3, Format::Upright), (4, Format::Upright), (6, Format::Across), (9, Format::Across)]
    {
        let pages = laid_out(&sheet(vec![wide(columns)]));
        let edge = format.width() - page::MARGIN + 1e-6;
        for page in &pages {
            assert_eq!(page.format, format, "{columns} columns");
            for (text, left, right, y) in drawn(page) {
                assert!(left >= page::MARGIN - 1e-6 && right <= edge, "{text}: {left} to {right}");
                assert!(y < format.height() - page::FOOT_MARGIN, "{text}: {y}");
            }
        }
        let bytes = tally(&sheet(vec![wide(columns)]), &paper()).unwrap();
        let file = lopdf::Document::load_mem(&bytes).unwrap();
        let first = file.get_dictionary(file.get_pages()[&1]).unwrap();
        let corners = first.get(b"MediaBox").unwrap().as_array().unwrap();
        let width = f64::from(corners[2].as_float().unwrap());
        assert!((width - format.width()).abs() < 0.5, "{width}");
    }
}

#[test]
fn a_table_without_rows_says_so_and_signs_without_a_glyph_are_spelled_out() {
    let mut sheet = sheet(vec![store(0), store(1)]);
    sheet.tables[1].rows[0].cells[1] = text("L-✓");
    let words: Vec<String> = drawn(&laid_out(&sheet)[0]).into_iter().map(|(text, ..)| text).collect();
    assert!(words.iter().any(|text| text == "Nothing came in yet."), "{words:?}");
    assert!(words.iter().any(|text| text.contains("L-[U+2713]")), "{words:?}");
}

#[test]
fn there_are_no_vertical_lines() {
    for page in laid_out(&sheet(vec![store(30)])) {
        for mark in &page.marks {
            if let Mark::Stroke { through, .. } = mark {
                assert!(through.windows(2).all(|pair| pair[0].y == pair[1].y));
            }
        }
    }
}

/// Customers to call, as wide as the recalls' table is, with what an unlucky person may have written as a code.
fn calls(rows: usize, odd: &str) -> SheetTable {
    let keys = ["job", "plate", "vin", "date", "why", "told", "looked_at"];
    let columns = keys.map(|key| sheet::Column::words(key, say(&format!("Head of {key}")))).into();
    let row = |index: usize| {
        vec![
            text(&format!("HL-26-{index:04}")),
            text("AB 123"),
            text("AZTWA8MZ3LA038412"),
            text("2026-11-26"),
            Cell::Words(say(&format!("{odd} LN-847, lot L-2209, 12.4\u{a0}L: recalled by its maker"))),
            Cell::Words(say("on 2026-11-26: informed, comes on Monday")),
            Cell::Words(say("not yet")),
        ]
    };
    table(columns, (0..rows).map(row).collect())
}

#[test]
fn job_numbers_vins_and_days_are_never_broken() {
    let long = "x".repeat(400);
    for odd in ["", "Container-Without-Any-Label", long.as_str()] {
        let pages = laid_out(&sheet(vec![store(3), calls(4, odd)]));
        let words: Vec<_> = pages.iter().flat_map(drawn).collect();
        let count = |code: &str| words.iter().filter(|(text, ..)| text == code).count();
        assert_eq!(count("AZTWA8MZ3LA038412"), 4, "{odd}: {words:?}");
        assert_eq!((count("HL-26-0003"), count("2026-11-26"), count("AB 123")), (1, 4, 4), "{odd}");
        let page = &pages[0];
        let expected = if odd.is_empty() { Format::Upright } else { Format::Across };
        assert_eq!(page.format, expected, "{odd}");
        for (text, left, right, _) in words {
            assert!(
                left >= page::MARGIN - 1e-6 && right <= page.format.width() - page::MARGIN + 1e-6,
                "{text}"
            );
        }
        // No word makes the letters of the others smaller.
        let style = |mark: &Mark| match mark {
            Mark::Words { segment, .. } if segment.text == "HL-26-0003" => Some(segment.style.size),
            _ => None,
        };
        let size = pages.iter().flat_map(|page| &page.marks).find_map(style);
        assert_eq!(size, Some(Style::TEXT.size), "{odd}");
    }
}

#[test]
fn a_sheet_of_two_thousand_rows_has_them_all_and_one_of_none_has_its_page() {
    let pages = laid_out(&sheet(vec![calls(2000, "")]));
    let jobs: std::collections::BTreeSet<String> = pages
        .iter()
        .flat_map(drawn)
        .map(|(text, ..)| text)
        .filter(|text| text.starts_with("HL-26-"))
        .collect();
    assert_eq!(jobs.len(), 2000);
    let empty = Sheet { said: Vec::new(), notes: Vec::new(), ..sheet(Vec::new()) };
    let pages = laid_out(&empty);
    assert_eq!(pages.len(), 1);
    assert!(drawn(&pages[0]).iter().any(|(text, ..)| text == "What should be in the store"));
}

#[test]
#[ignore = "writes files to look at"]
fn pictures() {
    let folder = std::path::PathBuf::from(std::env::var("PICTURES").unwrap());
    let write = |name: &str, sheet: Sheet| {
        std::fs::write(folder.join(name), tally(&sheet, &paper()).unwrap()).unwrap()
    };
    write("tally.pdf", sheet(vec![store(70), store(0)]));
    write("tally-calls.pdf", sheet(vec![calls(5, &"x".repeat(400)), store(4)]));
    write("tally-across.pdf", sheet(vec![wide(7), store(20)]));
}
