//! Entering a transmission variant: about ten boxes that become one more TOML file of the catalogue.
//!
//! The file is put beside the files of the current revision, all are read as one, and the result is adopted as a new
//! revision, as an import does. A job that is open stays with the revision it is judged by
//! until its variant is settled again, by what was entered for example, see [`settle`]. Never here: what a catalogue may hold, which is the engine's.

mod file;
mod form;
pub(super) mod settle;

use super::Office;
use super::guard::{Filled, SignedForm, SignedIn};
use super::language::{self, say};
use super::trouble::{Trouble, capital};
use crate::catalogue::{CATALOGUE_BYTES_MAX, Catalogue, Files, kept};
use crate::number;
use crate::order::Order;
use crate::status::Cause;
use crate::workshop::{Workshop, off_the_network};
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};
use file::{file_name, toml, toml_text};
use maud::{Markup, html};
use standpipe_engine::catalogue::{CatalogueError, Revision, WORKSHOP_FILE};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

/// What is wrong: a sentence for each box, and sentences that are about none.
#[derive(Default)]
struct Problems {
    boxes: BTreeMap<String, String>,
    others: Vec<String>,
}

/// Shows the form; what stands in its address is filled in, such as the job that it is for.
pub(super) async fn ask(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Query(beforehand): Query<Vec<(String, String)>>,
) -> Markup {
    let content = form::page(&person, &Filled::beforehand(beforehand), &Problems::default());
    office.page(&person, &say!(page_enter_a_variant), content)
}

/// Adopts the variant, or shows the form again with everything that is wrong.
pub(super) async fn enter(
    State(office): State<Arc<Office>>,
    SignedForm(person, filled): SignedForm,
) -> Result<Response, Trouble> {
    match entered(&office.workshop, &person.code, &filled).await? {
        Ok(remarks) => {
            let content = html! {
                h1 { (say!(page_variant_is_in_the_catalogue, filled.text("code"))) }
                p { (say!(page_jobs_that_are_opened_from_now)) }
                (settle::offers(&office, &person, filled.text("code"), filled.text("job")).await?)
                @if !remarks.is_empty() {
                    h2 { (say!(page_worth_a_look)) }
                    ul { @for remark in &remarks { li { (capital(remark)) } } }
                }
                p.ways { a href="/variant" { (say!(page_enter_another)) } a href="/catalogue" { (say!(page_catalogue)) } a href="/" { (say!(page_jobs)) } }
            };
            Ok(office.page(&person, &say!(page_variant_entered), content).into_response())
        }
        Err(problems) => {
            let content = form::page(&person, &filled, &problems);
            let page = office.page(&person, &say!(page_enter_a_variant), content);
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
    let adopting = async move { adopt(&workshop, &code, &filled).await };
    let entering = tokio::spawn(language::speaking(language::language(), adopting));
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
        let known = say!(page_is_in_the_catalogue_already_give, code);
        let boxes = BTreeMap::from([("code".to_owned(), known)]);
        return Ok(Err(Problems { boxes, ..Problems::default() }));
    }
    let fluid = catalogue.now().revision.fluid(filled.text("fluid_code")).cloned();
    let name = file_name(&files, filled.text("name"), code);
    files.push((name.clone(), toml(filled, fluid.as_ref(), person_code).into_bytes()));
    if files.iter().map(|(_, content)| content.len() as u64).sum::<u64>() > CATALOGUE_BYTES_MAX {
        let most = (CATALOGUE_BYTES_MAX / 1024).to_string();
        let most = say!(page_the_catalogue_would_have_more_than, most);
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
pub(super) async fn current_files(workshop: &Workshop, catalogue: &Catalogue) -> Result<Files, Trouble> {
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

/// What is wrong, beside the boxes where it is about one of the new file.
fn problems(file: &str, error: &CatalogueError) -> Problems {
    let mut problems = Problems::default();
    for problem in &error.problems {
        let key = form::box_of(&problem.key);
        let what = say!(page_wrong_box, problem.what.trim_end_matches('.'));
        if problem.file != file {
            problems.others.push(problem.to_string());
        } else if form::label(&key).is_none() && !file::CAUTIONS.contains(&key.as_str()) {
            problems.others.push(format!("{key}: {what}"));
        } else {
            problems.boxes.entry(key).or_insert(what);
        }
    }
    problems
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
            ("density_at_15_celsius_kilograms_per_cubic_metre", "846"),
            ("total_fill_litres", "9"),
            ("level_method", "standpipe_overflow"),
            ("level_from_celsius", "40"),
            ("level_to_celsius", "50"),
            ("maker_interval_kilometres", "60000"),
            ("maker_interval_months", "48"),
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
}
