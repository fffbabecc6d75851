//! Entering a transmission variant: about ten boxes that become one more TOML file of the catalogue.
//!
//! The file is put beside the files of the current revision, all are read as one, and the result is adopted as a new
//! revision, as an import does. Jobs that are open keep the revision they were opened under. Never here: what a
//! catalogue may hold, which is the engine's.

use super::Office;
use super::frame::TextBox;
use super::guard::{Filled, SignedForm, SignedIn};
use super::trouble::{Trouble, capital};
use crate::catalogue::{CATALOGUE_BYTES_MAX, Catalogue, Files, kept};
use crate::number;
use crate::order::Order;
use crate::status::Cause;
use crate::workshop::{Workshop, off_the_network};
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};
use standpipe_engine::catalogue::{CatalogueError, Fluid, LevelMethod, Revision, WORKSHOP_FILE};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::sync::Arc;

/// What is wrong: a sentence for each box, and sentences that are about none.
#[derive(Default)]
struct Problems {
    boxes: BTreeMap<String, String>,
    others: Vec<String>,
}

/// Keys at the head of the file.
const HEAD: [&str; 4] = ["name", "maker", "source", "edition"];
/// Keys of the variant that are words.
const WORDS: [&str; 6] = ["code", "label", "fluid_code", "fluid_name", "filter_code", "plate_code"];
/// Keys of the variant that are numbers.
const NUMBERS: [&str; 7] = [
    DENSITY,
    "total_fill_litres",
    "pan_refill_litres",
    "level_from_celsius",
    "level_to_celsius",
    "plug_torque_newton_metres",
    "maker_interval_kilometres",
];
/// The key of the variant that is a whole number.
const MONTHS: &str = "maker_interval_months";
const DENSITY: &str = "density_at_15_celsius_kilograms_per_cubic_metre";

const METHODS: [(LevelMethod, &str); 3] = [
    (LevelMethod::StandpipeOverflow, "overflow at the standpipe"),
    (LevelMethod::SideHole, "hole in the side"),
    (LevelMethod::Dipstick, "dipstick"),
];

/// Shows the empty form.
pub(super) async fn ask(State(office): State<Arc<Office>>, person: SignedIn) -> Markup {
    let content = form(&office.workshop, &person, &Filled::default(), &Problems::default());
    office.page(&person, "Enter a variant", content)
}

/// Adopts the variant, or shows the form again with everything that is wrong.
pub(super) async fn enter(
    State(office): State<Arc<Office>>,
    SignedForm(person, filled): SignedForm,
) -> Result<Response, Trouble> {
    match entered(&office.workshop, &person.code, &filled).await? {
        Ok(remarks) => {
            let content = html! {
                h1 { "Variant " (filled.text("code")) " is in the catalogue" }
                p { "Jobs that are opened from now on are judged by it. Jobs that are open keep their catalogue." }
                @if !remarks.is_empty() {
                    h2 { "Worth a look" }
                    ul { @for remark in &remarks { li { (capital(remark)) } } }
                }
                p.ways { a href="/variant" { "Enter another" } a href="/" { "Jobs" } }
            };
            Ok(office.page(&person, "Variant entered", content).into_response())
        }
        Err(problems) => {
            let content = form(&office.workshop, &person, &filled, &problems);
            let page = office.page(&person, "Enter a variant", content);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// Adopts the variant, also when the browser goes away meanwhile: what the journal says must be what the server judges
/// by.
async fn entered(
    workshop: &Arc<Workshop>,
    person_code: &str,
    filled: &Filled,
) -> Result<Result<Vec<String>, Problems>, Trouble> {
    let (workshop, code, filled) = (Arc::clone(workshop), person_code.to_owned(), filled.clone());
    let entering = tokio::spawn(async move { adopt(&workshop, &code, &filled).await });
    entering.await.map_err(|error| Cause::internal("entering a variant", &error))?
}

async fn adopt(
    workshop: &Workshop,
    person_code: &str,
    filled: &Filled,
) -> Result<Result<Vec<String>, Problems>, Trouble> {
    // The desk is held from reading the current files on, so that two forms at once both get in.
    let mut desk = workshop.desk.lock().await;
    let catalogue = workshop.catalogue();
    let mut files = current_files(workshop, &catalogue).await?;
    let code = filled.text("code");
    if catalogue.now().revision.variant(code).is_some() {
        let known = format!("'{code}' is in the catalogue already; give the new variant a code of its own.");
        let boxes = BTreeMap::from([("code".to_owned(), known)]);
        return Ok(Err(Problems { boxes, ..Problems::default() }));
    }
    let fluid = catalogue.now().revision.fluid(filled.text("fluid_code")).cloned();
    let name = file_name(&files, filled.text("name"), code);
    files.push((name.clone(), toml(filled, fluid.as_ref()).into_bytes()));
    if files.iter().map(|(_, content)| content.len() as u64).sum::<u64>() > CATALOGUE_BYTES_MAX {
        let most = CATALOGUE_BYTES_MAX / 1024;
        let most = format!("The catalogue would have more than {most} KiB; take out what is not used.");
        return Ok(Err(Problems { others: vec![most], ..Problems::default() }));
    }
    let parsed = files.clone();
    let revision = match off_the_network(move || Revision::parse(parsed)).await? {
        Ok(revision) => revision,
        Err(error) => return Ok(Err(problems(&name, &error))),
    };
    let imported = desk.adopt(&files, &revision, person_code).await;
    workshop.look_again(&Order::ImportCatalogue { from: PathBuf::new() }).await?;
    Ok(Ok(imported?.remarks))
}

/// The files of the revision in use, or what stands for one where none was adopted.
async fn current_files(workshop: &Workshop, catalogue: &Catalogue) -> Result<Files, Trouble> {
    let Some(current) = catalogue.current() else {
        let (name, prefix) =
            (toml_text(&workshop.site_name), toml_text(&number::prefix_of_site(&workshop.site_id)));
        let settings = format!("name = {name}\njob_prefix = {prefix}\n");
        return Ok(vec![(WORKSHOP_FILE.to_owned(), settings.into_bytes())]);
    };
    let (folder, id) = (workshop.folder.clone(), current.id.clone());
    let (files, _) = off_the_network(move || kept(&folder, &id))
        .await?
        .map_err(|error| Cause::internal("reading a catalogue revision", &error))?;
    Ok(files)
}

/// A name for the new file: what the transmission and the variant are called, in small letters.
fn file_name(files: &Files, transmission: &str, code: &str) -> String {
    let words = format!("{transmission} {code}").to_lowercase();
    let words = words.split(|letter: char| !letter.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    let stem: String = words.collect::<Vec<_>>().join("-").chars().take(60).collect();
    let stem = if stem.is_empty() { "variant".to_owned() } else { stem };
    let free = |name: &String| !files.iter().any(|(known, _)| known == name);
    let plain = format!("{stem}.toml");
    let numbered = (2..).map(|number| format!("{stem}-{number}.toml"));
    std::iter::once(plain).chain(numbered).find(free).unwrap_or_default()
}

/// The file as the form says it. A known fluid brings its name and density along where their boxes are empty.
fn toml(filled: &Filled, fluid: Option<&Fluid>) -> String {
    let mut text = String::new();
    let mut line = |key: &str, value: String| {
        if !value.is_empty() {
            // Writing to a String cannot fail.
            let _ = writeln!(text, "{key} = {value}");
        }
    };
    let words = |key: &str| {
        Some(filled.text(key)).filter(|words| !words.is_empty()).map(toml_text).unwrap_or_default()
    };
    for key in HEAD {
        line(key, words(key));
    }
    line("\n[[variant]]\nlevel_method", words("level_method"));
    for key in WORDS {
        let known = fluid.filter(|_| key == "fluid_name" && filled.text(key).is_empty());
        line(key, known.map_or_else(|| words(key), |fluid| toml_text(&fluid.name)));
    }
    for key in NUMBERS {
        let known = fluid.filter(|_| key == DENSITY && filled.text(key).is_empty());
        line(
            key,
            known.map_or_else(
                || toml_number(filled.text(key)),
                |fluid| decimal(fluid.density_at_15_celsius.get()),
            ),
        );
    }
    line(MONTHS, toml_whole(filled.text(MONTHS)));
    text
}

/// A TOML string. A JSON string is one as well.
fn toml_text(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

/// A TOML number; what is none stays words, and the catalogue says so.
fn toml_number(text: &str) -> String {
    match text.replace(',', ".").parse::<f64>() {
        Ok(number) if number.is_finite() => decimal(number),
        _ if text.is_empty() => String::new(),
        _ => toml_text(text),
    }
}

/// A whole TOML number; what is none stays words, and the catalogue says so.
fn toml_whole(text: &str) -> String {
    match text.parse::<u32>() {
        Ok(number) => number.to_string(),
        Err(_) if text.is_empty() => String::new(),
        Err(_) => toml_text(text),
    }
}

fn decimal(number: f64) -> String {
    format!("{number:?}")
}

/// What is wrong, beside the boxes where it is about one of the new file.
fn problems(file: &str, error: &CatalogueError) -> Problems {
    let mut problems = Problems::default();
    for problem in &error.problems {
        let key = problem.key.rsplit('.').next().unwrap_or_default();
        let what = format!("This {}.", problem.what.trim_end_matches('.'));
        if problem.file != file {
            problems.others.push(problem.to_string());
        } else if label(key) == key {
            problems.others.push(format!("{key}: {what}"));
        } else {
            problems.boxes.entry(key.to_owned()).or_insert(what);
        }
    }
    problems
}

/// What a key is called on the page.
fn label(key: &str) -> &str {
    match key {
        "name" => "Transmission",
        "maker" => "Maker",
        "source" => "Source",
        "edition" => "Edition",
        "code" => "Code",
        "label" => "What tells it apart",
        "fluid_code" => "Fluid, code on the container",
        "fluid_name" => "Fluid, name",
        DENSITY => "Fluid, density at 15 °C",
        "filter_code" => "Filter, code",
        "plate_code" => "Transmission plate, code",
        "total_fill_litres" => "Total fill, dry",
        "pan_refill_litres" => "Refill after the pan",
        "level_from_celsius" => "Level, from",
        "level_to_celsius" => "Level, to",
        "level_method" => "Level, method",
        "plug_torque_newton_metres" => "Level plug, torque",
        "maker_interval_kilometres" => "Maker's interval, distance",
        MONTHS => "Maker's interval, time",
        other => other,
    }
}

fn form(workshop: &Workshop, person: &SignedIn, filled: &Filled, problems: &Problems) -> Markup {
    let one = |name: &'static str, unit: &'static str, hint: &'static str| {
        let length = if name == "source" { 200 } else { 80 };
        let (label, value, first) = (label(name), filled.text(name), name == "maker");
        let wrong = problems.boxes.get(name).map(String::as_str);
        TextBox { name, label, unit, hint, value, length, first, wrong, ..TextBox::PLAIN }.show()
    };
    let method = filled.text("level_method");
    html! {
        h1 { "Enter a variant" }
        p { "Copy every value from the maker's instructions. A value that they do not state stays empty." }
        @if !problems.boxes.is_empty() || !problems.others.is_empty() {
            div role="alert" {
                p.wrong { "Nothing was entered yet; put right what stands beside the boxes and send it again." }
                @if !problems.others.is_empty() { ul { @for problem in &problems.others { li { (problem) } } } }
            }
        }
        form method="post" action="/variant" {
            (person.key_box())
            fieldset {
                legend { "Transmission" }
                (one("maker", "", ""))
                (one("name", "", ""))
                (one("code", "", "Unique in this catalogue."))
                (one("label", "", "For example: second series."))
                (one("plate_code", "", "If it is known."))
            }
            fieldset {
                legend { "Fluid and filter" }
                (one("fluid_code", "", ""))
                (one("fluid_name", "", "May stay empty for a fluid of the catalogue."))
                (one(DENSITY, "kg/m³", "May stay empty for a fluid of the catalogue; else from its data sheet."))
                (one("total_fill_litres", "L", "With converter, cooler and lines."))
                (one("pan_refill_litres", "L", "If it is known."))
                (one("filter_code", "", "If it is known."))
                (one("maker_interval_kilometres", "km", "If it is stated; no next service is named beyond it."))
                (one(MONTHS, "months", "If it is stated."))
            }
            fieldset {
                legend { "Level" }
                div.box {
                    label for="level_method" { (label("level_method")) }
                    select id="level_method" name="level_method" {
                        @for (known, words) in METHODS {
                            option value=(known.code()) selected[known.code() == method] { (words) }
                        }
                    }
                    @if let Some(wrong) = problems.boxes.get("level_method") { span.wrong { (wrong) } }
                }
                (one("level_from_celsius", "°C", ""))
                (one("level_to_celsius", "°C", ""))
                (one("plug_torque_newton_metres", "N·m", "If it is stated; an empty box prints 'see the maker'."))
            }
            fieldset {
                legend { "Where it was read" }
                (one("source", "", ""))
                (one("edition", "", "Or the date of the look-up."))
            }
            button type="submit" { "Enter the variant" }
        }
        (in_catalogue(workshop))
    }
}

fn in_catalogue(workshop: &Workshop) -> Markup {
    let catalogue = workshop.catalogue();
    let variants = catalogue.now().revision.variants();
    html! {
        h2 { "In the catalogue" }
        @if variants.is_empty() { p { "No variant yet." } }
        ul {
            @for variant in variants {
                li { (variant.code) ": " (variant.maker) " " (variant.transmission) ", " (variant.label) ", fluid "
                    (variant.fluid.code) " " (variant.fluid.name) }
            }
        }
    }
}

#[cfg(test)]
mod unit {
    use super::*;
    use crate::tests::Shop;

    #[tokio::test]
    async fn a_variant_is_judged_by_though_the_browser_goes_away() {
        let shop = Shop::found().await;
        let workshop = shop.workshop().await;
        let boxes = [
            ("maker", "Tarnwick"),
            ("name", "Alder-8"),
            ("code", "A8-III"),
            ("label", "third series"),
            ("fluid_code", "LN-847"),
            ("fluid_name", "Linden"),
            (DENSITY, "846"),
            ("total_fill_litres", "9"),
            ("level_method", "standpipe_overflow"),
            ("level_from_celsius", "40"),
            ("level_to_celsius", "50"),
            ("maker_interval_kilometres", "60000"),
            (MONTHS, "48"),
            ("source", "parts data"),
            ("edition", "2026-03"),
        ];
        let filled = Filled::of(&boxes);
        let reached = workshop.journal.head().await.unwrap().seq;
        tokio::select! {
            biased;
            _ = workshop.journal.grown_beyond(reached) => {}
            entered = entered(&workshop, "A", &filled) => {
                panic!("it was waited for, or is wrong: {}", entered.is_ok_and(|read| read.is_ok()));
            }
        }
        // The desk is held until the variant is judged by.
        drop(workshop.desk.lock().await);
        let catalogue = workshop.catalogue();
        let maker = catalogue.now().revision.variant("A8-III").map(|variant| variant.maker_interval);
        assert!(
            maker.is_some_and(|it| it.kilometres == Some(60_000.0) && it.months == Some(48)),
            "{maker:?}"
        );
        workshop.journal.close().await.unwrap();
    }

    #[test]
    fn a_file_is_named_after_what_is_in_it_and_never_over_another() {
        let files: Files = vec![("alder-8-a8-iii.toml".to_owned(), Vec::new())];
        assert_eq!(file_name(&files, "Alder-8", "A8-IV"), "alder-8-a8-iv.toml");
        assert_eq!(file_name(&files, "Alder-8", "A8-III"), "alder-8-a8-iii-2.toml");
        assert_eq!(file_name(&files, "../..", "é"), "variant.toml");
    }

    #[test]
    fn words_and_numbers_become_toml_that_cannot_break_out() {
        assert_eq!(toml_number("9,5"), "9.5");
        assert_eq!(toml_number("40"), "40.0");
        assert_eq!(toml_number("warm"), "\"warm\"");
        assert_eq!((toml_whole("48").as_str(), toml_whole("4.5").as_str()), ("48", "\"4.5\""));
        assert_eq!(toml_text("a\"\n[x]"), r#""a\"\n[x]""#);
    }
}
