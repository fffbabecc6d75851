//! Stations and persons.

use super::{Check, Patient};
use crate::error::ServerError;
use standpipe_store::{Beside as _, SqliteStore};

pub(super) async fn checks(patient: &Patient<'_>, store: &SqliteStore) -> Result<Vec<Check>, ServerError> {
    Ok(vec![stations(patient, store).await?, persons(patient, store).await?])
}

async fn stations(patient: &Patient<'_>, store: &SqliteStore) -> Result<Check, ServerError> {
    let all = store.stations().await?;
    let standing: Vec<_> = all.iter().filter(|station| station.revoked_us.is_none()).collect();
    let revoked = all.len() - standing.len();
    if !standing.iter().any(|station| station.role == "bay") {
        let sentence = "no bay is enrolled, so nobody can state what is done";
        return Ok(Check::to_do("stations", sentence, patient.command("station add bay-1 --role bay")));
    }
    Ok(Check::well("stations", format!("{} are enrolled, {revoked} are revoked", standing.len())))
}

async fn persons(patient: &Patient<'_>, store: &SqliteStore) -> Result<Check, ServerError> {
    let persons = store.persons().await?;
    let listed: Vec<_> = persons.iter().filter(|person| person.erased_us.is_none()).collect();
    if listed.is_empty() {
        let sentence = "nobody is listed, so entries carry codes that nobody knows";
        return Ok(Check::to_do("persons", sentence, patient.command("person add A --name 'technician A'")));
    }
    let mut without = Vec::new();
    for person in &listed {
        if store.person_pin(&person.code).await?.is_none() {
            without.push(person.code.as_str());
        }
    }
    if without.len() == listed.len() {
        let sentence = "nobody has a PIN, so nobody can sign in to the office pages or sign a decision";
        let first = listed.first().map_or("A", |person| person.code.as_str());
        return Ok(Check::to_do("persons", sentence, patient.command(&format!("person pin {first}"))));
    }
    let pins = match without.as_slice() {
        [] => "all have a PIN".to_owned(),
        some => format!("without a PIN, who can sign nothing: {}", some.join(", ")),
    };
    Ok(Check::well("persons", format!("{} are listed; {pins}", listed.len())))
}
