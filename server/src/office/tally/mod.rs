//! Tallies as pages, and as files to take along: CSV and PDF.
//!
//! A page shows any sheet without knowing what it is about; [`PAGES`] says where each stands and what can be stated
//! there. Codes of jobs, lots and tools lead to their pages. Never here: a sum. Customers are named on the page of
//! recalls only, by [`recall`], and never in a file.

pub(super) mod recall;

use super::Office;
use super::fact;
use super::guard::SignedIn;
use super::jobs::urlencoded;
use super::language::{Words, say, word};
use super::owner::job_address;
use super::trouble::{Trouble, capital};
use crate::convert::words;
use crate::tallies::Gathered;
use crate::tally::{self, print};
use axum::extract::{Path, Query, State};
use axum::http::Uri;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};
use standpipe_engine::sheet::{Cell, Column, Row, Sheet, Table};
use standpipe_engine::site::tally::Asked;
use standpipe_engine::text::Language;
use standpipe_engine::text::sentence;
use standpipe_proto::csv;
use std::collections::HashMap;
use std::sync::Arc;

/// Where a tally stands among the pages.
pub(super) struct TallyPage {
    /// Its address, which begins with the name of the tally.
    pub(super) route: &'static str,
    /// Name of the tally.
    name: &'static str,
    /// Whether a year or a month is asked for.
    by_period: bool,
    /// Forms that are linked to.
    forms: &'static [&'static str],
    /// Other pages: address and words.
    ways: &'static [(&'static str, Words)],
    /// Kinds of facts that are shown below.
    kinds: &'static [&'static str],
}

const NO_PAGE: TallyPage =
    TallyPage { route: "", name: "", by_period: false, forms: &[], ways: &[], kinds: &[] };

/// A table of more columns reads row by row where the window is no wide one.
const COLUMNS_BESIDE_MAX: usize = 7;
/// A code or day of at most so many characters is not broken.
const CODE_LENGTH_MAX: usize = 20;

/// THE table of pages of tallies.
pub(super) const PAGES: [TallyPage; 8] = [
    TallyPage {
        route: "/store",
        name: "store",
        forms: &["lot", "count"],
        ways: &[("/recall", sentence::page_recalls_lots_and_whom_to_call)],
        kinds: &["lot_received", "stock_counted"],
        ..NO_PAGE
    },
    TallyPage {
        route: "/lot/{about}",
        name: "lot",
        ways: &[("/store", sentence::page_store), ("/recall", sentence::page_recalls)],
        ..NO_PAGE
    },
    TallyPage {
        route: "/recall",
        name: "recall",
        forms: &["recall"],
        ways: &[("/store", sentence::page_store)],
        kinds: &["lot_recalled"],
        ..NO_PAGE
    },
    TallyPage {
        route: "/tools",
        name: "tools",
        forms: &["torque-tool", "litre-display", "tool"],
        ways: &[("/equipment", sentence::page_what_equipment_holds)],
        kinds: &["tool_checked"],
        ..NO_PAGE
    },
    TallyPage { route: "/tool/{about}", name: "tool", ways: &[("/tools", sentence::page_tools)], ..NO_PAGE },
    TallyPage {
        route: "/equipment",
        name: "equipment",
        forms: &["equipment"],
        ways: &[("/tools", sentence::page_tools)],
        kinds: &["equipment_contents"],
        ..NO_PAGE
    },
    TallyPage {
        route: "/waste",
        name: "waste",
        by_period: true,
        forms: &["waste"],
        kinds: &["waste_collected"],
        ..NO_PAGE
    },
    TallyPage {
        route: "/month",
        name: "month",
        by_period: true,
        ways: &[("/waste", sentence::page_waste)],
        ..NO_PAGE
    },
];

/// Shows a tally, or gives it as a file.
pub(super) async fn show(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    address: Uri,
    about: Option<Path<String>>,
    Query(asked): Query<HashMap<String, String>>,
) -> Result<Response, Trouble> {
    let name = address.path().split('/').nth(1).unwrap_or_default();
    let page = PAGES.iter().find(|page| page.name == name).ok_or(Trouble::NoPage)?;
    let given = |name: &str| asked.get(name).map_or("", |text| text.trim());
    let about = about.map(|Path(about)| about).unwrap_or_default();
    let question = Asked { about, period: given("period").to_owned() };
    let made = tally::made(&office.workshop, page.name, question.clone()).await?;
    let language = office.workshop.catalogue().now().revision.workshop().language;
    match given("as") {
        "csv" => {
            let number: usize = given("table").parse().unwrap_or(1);
            let message = tally::message(&office.workshop, &made)?;
            let table = number.checked_sub(1).and_then(|place| message.tables.get(place));
            let table = csv::table(table.ok_or(Trouble::NoPage)?);
            let file = (file_name(&made.sheet, &question, "csv"), "text/csv; charset=utf-8");
            Ok(taken_along(file, "attachment", table.into_bytes()))
        }
        "pdf" => {
            let file = (file_name(&made.sheet, &question, "pdf"), "application/pdf");
            Ok(taken_along(file, "inline", print::pdf(&office.workshop, made).await?))
        }
        _ => {
            let content = page.content(&office, &person, &made.sheet, &question, language).await?;
            let title = capital(&words(language, &made.sheet.title)?);
            Ok(office.page(&person, &title, content).into_response())
        }
    }
}

impl TallyPage {
    async fn content(
        &self,
        office: &Office,
        person: &SignedIn,
        sheet: &Sheet,
        question: &Asked,
        language: Language,
    ) -> Result<Markup, Trouble> {
        let address = self.route.replace("{about}", &urlencoded(&question.about));
        let shown = Shown { language, gathered: None };
        let headings = sheet.tables.iter().map(|table| words(language, &table.heading));
        let headings = headings.collect::<Result<Vec<_>, _>>()?;
        Ok(html! {
            h1 { (capital(&words(language, &sheet.title)?)) }
            div.ways {
                (fact::links(self.forms))
                @for (address, label) in self.ways { a href=(address) { (word(*label)) } }
                (files(&address, &question.period, &headings))
            }
            @if self.by_period { (period_box(&address, &question.period)) }
            @for said in &sheet.said { p { (capital(&words(language, said)?)) } }
            @for table in &sheet.tables { (shown.table(table)?) }
            @if !sheet.notes.is_empty() {
                ul.quiet { @for note in &sheet.notes { li { (capital(&words(language, note)?)) } } }
            }
            @if self.name == "recall" { (recall::customers(office, person, sheet).await?) }
            @if !self.kinds.is_empty() { (fact::stated::lately(&office.workshop, self.kinds).await?) }
        })
    }
}

/// Links to the files: a CSV a table, since one with two tables is none (RFC 4180).
fn files(address: &str, period: &str, headings: &[String]) -> Markup {
    let period = if period.is_empty() { String::new() } else { format!("&period={}", urlencoded(period)) };
    html! {
        @for (place, heading) in headings.iter().enumerate() {
            a href={ (address) "?as=csv&table=" (place + 1) (period) } { (say!(page_csv, heading)) }
        }
        a href={ (address) "?as=pdf" (period) } { (say!(page_pdf)) }
    }
}

fn period_box(address: &str, period: &str) -> Markup {
    html! {
        form.search method="get" action=(address) {
            div {
                label for="period" { (say!(page_year_or_month_such_as_2026)) }
                input type="text" id="period" name="period" value=(period) maxlength="7";
            }
            button type="submit" { (say!(page_show)) }
        }
    }
}

/// Shows parts of a sheet in a language.
pub(super) struct Shown<'a> {
    pub(super) language: Language,
    /// What an owner's sheet is made of: jobs, lots and tools of it are not this site's own.
    pub(super) gathered: Option<&'a Gathered>,
}

impl Shown<'_> {
    pub(super) fn table(&self, table: &Table) -> Result<Markup, Trouble> {
        let order = attention_first(&table.columns);
        let columns: Vec<&Column> = order.iter().filter_map(|place| table.columns.get(*place)).collect();
        let heads = columns.iter().map(|column| Ok(capital(&words(self.language, &column.heading)?)));
        let heads: Vec<String> = heads.collect::<Result<_, Trouble>>()?;
        let mut rows = Vec::with_capacity(table.rows.len());
        for row in &table.rows {
            let cells = order.iter().map(|place| row.cells.get(*place).unwrap_or(&Cell::Empty));
            let cells = columns.iter().zip(&heads).zip(cells);
            let cells = cells.map(|((column, head), cell)| self.cell(column, head, cell, row));
            rows.push(cells.collect::<Result<Vec<Markup>, Trouble>>()?);
        }
        Ok(html! {
            h2 { (capital(&words(self.language, &table.heading)?)) }
            @if rows.is_empty() {
                p { (capital(&words(self.language, &table.empty)?)) }
            } @else {
                table.stack.sheet.wide[table.columns.len() > COLUMNS_BESIDE_MAX] {
                    thead {
                        tr {
                            @for (column, head) in columns.iter().zip(&heads) {
                                th.figure[column.numeric] scope="col" { (head) }
                            }
                        }
                    }
                    tbody { @for cells in rows { tr { @for cell in cells { (cell) } } } }
                }
            }
        })
    }

    fn cell(&self, column: &Column, head: &str, cell: &Cell, row: &Row) -> Result<Markup, Trouble> {
        let text = match cell {
            Cell::Empty => return Ok(html! { td.figure[column.numeric] {} }),
            Cell::Words(sentence) => capital(&words(self.language, sentence)?),
            Cell::Text(text) => text.clone(),
            Cell::Number { shown, unit: "", .. } => shown.clone(),
            Cell::Number { shown, unit, .. } => format!("{shown}\u{a0}{unit}"),
        };
        let address = match (column.key, cell, &row.job) {
            ("number", _, Some(job)) if self.gathered.is_some() => {
                let site = self.gathered.and_then(|gathered| gathered.site_of(job));
                site.map(|site| job_address(site, job))
            }
            ("site", Cell::Text(name), _) => {
                let site = self.gathered.and_then(|gathered| gathered.site_called(name));
                site.map(|site| format!("/workshop/{}", urlencoded(site)))
            }
            _ if self.gathered.is_some() => None,
            ("job" | "number", _, Some(job)) => Some(format!("/job/{}", urlencoded(job))),
            ("lot", Cell::Text(lot), _) => Some(format!("/lot/{}", urlencoded(lot))),
            ("tool" | "equipment", Cell::Text(tool), _) => Some(format!("/tool/{}", urlencoded(tool))),
            _ => None,
        };
        let whole = matches!(cell, Cell::Text(text) if text.chars().count() <= CODE_LENGTH_MAX);
        Ok(html! {
            td.figure[column.numeric] .plate[whole] data-label=(head) {
                @match address { Some(address) => a href=(address) { (text) }, None => (text) }
            }
        })
    }
}

/// Places of the columns as a page shows them: what names the row, then what needs attention in it, then the rest.
fn attention_first(columns: &[Column]) -> Vec<usize> {
    const NAMES: [&str; 6] = ["code", "name", "lot", "tool", "equipment", "job"];
    const ATTENTION: [&str; 2] = ["said", "state"];
    let mut order: Vec<usize> = (0..columns.len()).collect();
    let names = columns.iter().take_while(|column| NAMES.contains(&column.key)).count();
    order.sort_by_key(|place| match columns.get(*place) {
        Some(_) if *place < names => 0,
        Some(column) if ATTENTION.contains(&column.key) => 1,
        _ => 2,
    });
    order
}

/// Name of a file: the tally, what it is about, the period.
pub(super) fn file_name(sheet: &Sheet, question: &Asked, ending: &str) -> String {
    let parts = [sheet.tally, &question.about, &question.period].into_iter().filter(|part| !part.is_empty());
    let name = parts.collect::<Vec<_>>().join("-");
    let plain = |letter: char| letter.is_ascii_alphanumeric() || "-._".contains(letter);
    let name: String = name.chars().map(|letter| if plain(letter) { letter } else { '_' }).collect();
    format!("{name}.{ending}")
}

pub(super) fn taken_along((name, kind): (String, &'static str), how: &str, content: Vec<u8>) -> Response {
    let head =
        [(CONTENT_TYPE, kind.to_owned()), (CONTENT_DISPOSITION, format!("{how}; filename=\"{name}\""))];
    (head, content).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn jobs_lots_and_tools_lead_to_their_pages_and_nothing_is_read_as_markup() {
        let say = |words: &str| sentence::store_fluid(words);
        let columns = ["job", "lot", "tool", "said"].map(|key| Column::words(key, say("head")));
        let cells = ["HL-26-0001", "L/2 209", "TW<2>", "plain"].map(|text| Cell::Text(text.to_owned()));
        let table = Table {
            heading: say("used"),
            columns: columns.into(),
            rows: vec![Row { cells: cells.into(), job: Some("0189-x".to_owned()) }],
            empty: say("nothing"),
        };
        let page =
            Shown { language: Language::default(), gathered: None }.table(&table).unwrap().into_string();
        for part in [
            "<a href=\"/job/0189-x\">HL-26-0001</a>",
            "<a href=\"/lot/L%2F2%20209\">L/2 209</a>",
            "<a href=\"/tool/TW%3C2%3E\">TW&lt;2&gt;</a>",
            ">plain</td>",
            "<h2>Used</h2>",
        ] {
            assert!(page.contains(part), "{part}: {page}");
        }
        let empty = Table { rows: Vec::new(), ..table };
        let page =
            Shown { language: Language::default(), gathered: None }.table(&empty).unwrap().into_string();
        assert!(page.contains("<p>Nothing</p>") && !page.contains("<table"), "{page}");
    }

    #[test]
    fn the_name_of_a_file_holds_no_sign_that_a_system_reads() {
        let say = || sentence::store_fluid("x");
        let (said, tables, notes) = (Vec::new(), Vec::new(), Vec::new());
        let sheet = Sheet { tally: "lot", title: say(), said, tables, notes };
        let about = "../a\"b; L*1".to_owned();
        let name = file_name(&sheet, &Asked { about, period: String::new() }, "csv");
        assert_eq!(name, "lot-.._a_b__L_1.csv");
    }
}
