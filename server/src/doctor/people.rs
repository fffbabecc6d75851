//! Stations and persons.

use super::{Check, Patient};
use crate::access::Role;
use crate::catalogue::Catalogue;
use crate::desk::{is_open, latest};
use crate::error::ServerError;
use crate::office::OFFICE_STATION;
use crate::time_in_words;
use standpipe_store::Store;

/// A token that ends within so long is told: 14 days.
const ENDS_SOON_US: i64 = 14 * 86_400_000_000;

pub(super) async fn checks(patient: &Patient<'_>, store: &dyn Store) -> Result<Vec<Check>, ServerError> {
    Ok(vec![stations(patient, store).await?, persons(patient, store).await?])
}

async fn stations(patient: &Patient<'_>, store: &dyn Store) -> Result<Check, ServerError> {
    let all = store.stations().await?;
    let standing: Vec<_> = all.iter().filter(|station| station.revoked_us.is_none()).collect();
    let revoked = all.len() - standing.len();
    if !patient.is_owners() && !standing.iter().any(|station| station.role == Role::Bay.name()) {
        let sentence = "no bay is enrolled, so nobody can state what is done";
        return Ok(Check::to_do("stations", sentence, patient.command("station add bay-1")));
    }
    let (tokens, codes) = (store.tokens().await?, store.codes().await?);
    let ends = |id: &str| latest(&tokens, id).and_then(|token| token.ends_us);
    let ended = standing.iter().find(|station| ends(&station.id).is_some_and(|us| us <= patient.now_us));
    if let Some(ended) = ended {
        let at = time_in_words(ends(&ended.id).unwrap_or_default());
        let sentence = format!("the token of {} ended at {at}; it cannot come in any more", ended.id);
        let next = format!("{}, or station revoke if it is gone", code_for(patient, &ended.id));
        return Ok(Check::to_do("stations", sentence, next));
    }
    let soon = |us: i64| us <= patient.now_us.saturating_add(ENDS_SOON_US);
    if let Some(ending) = standing.iter().find(|station| ends(&station.id).is_some_and(soon)) {
        let at = time_in_words(ends(&ending.id).unwrap_or_default());
        let sentence =
            format!("the token of {} ends at {at}, unless it comes in before and renews it", ending.id);
        return Ok(Check::to_do("stations", sentence, "use that station, or revoke it if it is gone"));
    }
    let open = |id: &str| codes.iter().any(|code| code.station_id == id && is_open(code, patient.now_us));
    let waiting = |id: &str| latest(&tokens, id).is_none() && id != OFFICE_STATION;
    let lost = standing.iter().find(|station| waiting(&station.id) && !open(&station.id));
    if let Some(lost) = lost {
        let sentence = format!("{} never joined, and its code is no longer good", lost.id);
        return Ok(Check::to_do("stations", sentence, code_for(patient, &lost.id)));
    }
    let codes = standing.iter().filter(|station| open(&station.id)).count();
    let sentence =
        format!("{} are enrolled, {revoked} are revoked, codes to join open: {codes}", standing.len());
    Ok(Check::well("stations", sentence))
}

fn code_for(patient: &Patient<'_>, station: &str) -> String {
    patient.command(&format!("station code {station}"))
}

async fn persons(patient: &Patient<'_>, store: &dyn Store) -> Result<Check, ServerError> {
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
    let site = store.head().await?.site;
    let catalogue = Catalogue::load(&patient.folder, store, &site).await;
    // A catalogue that cannot be read is told by its own check.
    let signed = catalogue.is_ok_and(|catalogue| catalogue.now().revision.workshop().decisions_signed);
    if signed && without.len() == listed.len() {
        let sentence =
            "nobody has a PIN, so no decision can be signed and nobody can sign in to the office pages";
        let first = listed.first().map_or("A", |person| person.code.as_str());
        return Ok(Check::to_do("persons", sentence, patient.command(&format!("person pin {first}"))));
    }
    let pins = match without.as_slice() {
        [] => "all have a PIN".to_owned(),
        some => format!("without a PIN, who can sign nothing: {}", some.join(", ")),
    };
    Ok(Check::well("persons", format!("{} are listed; {pins}", listed.len())))
}
