//! The verbs that do their work and end: one function each, a library call and its answer in words.

use super::shown::{Output, answer, complain, list, say};
use super::{CatalogueVerb, PersonVerb, StationVerb};
use serde_json::{Value, json};
use standpipe_server::{
    Desk, FIRST_STATION, InitOptions, ServerError, SystemClock, SystemEntropy, init as found,
    verify as read_through,
};
use std::path::Path;
use std::sync::Arc;

pub(super) async fn init(
    dir: &Path,
    site: String,
    name: Option<String>,
    output: Output,
) -> Result<(), ServerError> {
    let options = InitOptions {
        site_name: name.unwrap_or_else(|| site.clone()),
        site_id: site.clone(),
        clock: Arc::new(SystemClock),
        entropy: Arc::new(SystemEntropy),
    };
    let enrolled = found(dir, options).await?;
    complain(&format!(
        "created the site '{site}' in {}; the line on the standard output is the token of its station \
         '{FIRST_STATION}' and is shown only now",
        dir.display()
    ));
    token(output, &enrolled.station_id, &enrolled.token.to_string());
    Ok(())
}

/// Gives whether everything is sound.
pub(super) async fn verify(dir: &Path, output: Output) -> Result<bool, ServerError> {
    let verified = read_through(dir).await?;
    let report = &verified.report;
    let (root, epoch) = (digits(&report.root), digits(&report.epoch));
    let damage: Vec<String> =
        report.damage.iter().map(ToString::to_string).chain(verified.beside.iter().cloned()).collect();
    if output == Output::Json {
        say(&json!({
            "site": report.site, "entries": report.entries, "jobs": report.jobs, "root": root, "epoch": epoch,
            "sound": verified.is_sound(), "damage": damage,
            "damage_count": report.damage_count + verified.beside.len() as u64,
        })
        .to_string());
    } else {
        say(&format!("site     {}", report.site));
        say(&format!("entries  {}", report.entries));
        say(&format!("jobs     {}", report.jobs));
        say(&format!("root     {root}"));
        say(&format!("epoch    {epoch}"));
    }
    if verified.is_sound() {
        if output != Output::Json {
            say(
                "every entry of the journal is as it was written; names and rights of stations and persons stand beside it and are not covered",
            );
        }
        return Ok(true);
    }
    for line in &damage {
        complain(line);
    }
    let unlisted = report.damage_count.saturating_sub(report.damage.len() as u64);
    if unlisted > 0 {
        complain(&format!("{unlisted} more are damaged and not listed"));
    }
    complain(&format!("{} is damaged; restore it from a backup", dir.display()));
    Ok(false)
}

pub(super) async fn station(verb: StationVerb, output: Output) -> Result<(), ServerError> {
    match verb {
        StationVerb::Add { name, role, folder } => {
            let mut desk = Desk::open(&folder.dir).await?;
            let enrolled = desk.add_station(&name, role.into()).await;
            desk.close().await?;
            let enrolled = enrolled?;
            complain(&format!(
                "enrolled station '{name}'; the line on the standard output is its token and is shown only now"
            ));
            token(output, &enrolled.station_id, &enrolled.token.to_string());
        }
        StationVerb::Token { name, folder } => {
            let mut desk = Desk::open(&folder.dir).await?;
            let renewed = desk.renew_token(&name).await;
            desk.close().await?;
            let renewed = renewed?;
            complain(&format!(
                "station '{name}' has a new token, the one before is no longer good; the line on the standard output is the token and is shown only now"
            ));
            token(output, &renewed.station_id, &renewed.token.to_string());
        }
        StationVerb::Revoke { name, folder } => {
            let mut desk = Desk::open(&folder.dir).await?;
            let revoked = desk.revoke_station(&name).await;
            desk.close().await?;
            revoked?;
            let sentence = format!("station {name} is revoked; its token is no longer good");
            answer(output, &sentence, &[("station_id", json!(name)), ("revoked", json!(true))]);
        }
        StationVerb::List { folder } => {
            let desk = Desk::open(&folder.dir).await?;
            let stations = desk.stations().await;
            desk.close().await?;
            let rows: Vec<Vec<Value>> = stations?
                .into_iter()
                .map(|station| {
                    vec![json!(station.id), json!(station.role), json!(station.revoked_us.is_some())]
                })
                .collect();
            list(output, &["station_id", "role", "revoked"], &rows);
        }
    }
    Ok(())
}

pub(super) async fn person(verb: PersonVerb, output: Output) -> Result<(), ServerError> {
    match verb {
        PersonVerb::Add { code, name, folder } => {
            let mut desk = Desk::open(&folder.dir).await?;
            let added = desk.add_person(&code, name.as_deref()).await;
            desk.close().await?;
            added?;
            let parts = [("person_code", json!(code)), ("name", json!(name.unwrap_or_default()))];
            answer(output, &format!("person {code} is listed"), &parts);
        }
        PersonVerb::Remove { code, folder } => {
            let mut desk = Desk::open(&folder.dir).await?;
            let removed = desk.remove_person(&code).await;
            desk.close().await?;
            removed?;
            let sentence =
                format!("person {code} is off the list and the name is erased; old entries keep the code");
            answer(output, &sentence, &[("person_code", json!(code)), ("removed", json!(true))]);
        }
        PersonVerb::List { folder } => {
            let desk = Desk::open(&folder.dir).await?;
            let persons = desk.persons().await;
            desk.close().await?;
            let rows: Vec<Vec<Value>> = persons?
                .into_iter()
                .map(|person| vec![json!(person.code), json!(person.name.unwrap_or_default())])
                .collect();
            list(output, &["person_code", "name"], &rows);
        }
    }
    Ok(())
}

pub(super) async fn catalogue(verb: CatalogueVerb, output: Output) -> Result<(), ServerError> {
    match verb {
        CatalogueVerb::Import { from, folder } => {
            let mut desk = Desk::open(&folder.dir).await?;
            let imported = desk.import_catalogue(&from).await;
            desk.close().await?;
            let imported = imported?;
            for remark in &imported.remarks {
                complain(remark);
            }
            let what = if imported.already_current { "was current already" } else { "is current now" };
            let sentence = format!("catalogue revision {} {what}", imported.revision_id);
            let parts = [
                ("revision_id", json!(imported.revision_id)),
                ("already_current", json!(imported.already_current)),
                ("remarks", json!(imported.remarks)),
            ];
            answer(output, &sentence, &parts);
        }
        CatalogueVerb::List { folder } => {
            let desk = Desk::open(&folder.dir).await?;
            let adoptions = desk.adoptions().await;
            desk.close().await?;
            let adoptions = adoptions?;
            let current = adoptions.last().map(|last| last.seq);
            let rows: Vec<Vec<Value>> = adoptions
                .into_iter()
                .map(|it| {
                    let time = standpipe_server::time_in_words(it.adopted_us);
                    vec![json!(it.revision_id), json!(time), json!(Some(it.seq) == current)]
                })
                .collect();
            list(output, &["revision_id", "adopted", "current"], &rows);
        }
    }
    Ok(())
}

fn token(output: Output, station_id: &str, token: &str) {
    answer(output, token, &[("station_id", json!(station_id)), ("token", json!(token))]);
}

fn digits(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
