//! What came of an order, in words or as JSON.

use super::invited;
use super::shown::{Output, answer, complain, list};
use serde_json::{Value, json};
use standpipe_server::{AuditRow, Copied, Done, StationLine, time_in_words};
use std::net::SocketAddr;

/// Says what came of an order.
pub(super) fn done(output: Output, done: Done) {
    match done {
        Done::Invited { station_id, hosts, code, ends_us, site, .. } => {
            let host = hosts.first().cloned().unwrap_or_default();
            invited::say_code(output, (&station_id, &site), &host, &code, ends_us);
        }
        Done::TokenRenewed { station_id, token: text, ends_us } => {
            complain(&format!(
                "station '{station_id}' has a new token, good until {}; the one before is no longer good; the line on \
                 the standard output is the token and is shown only now",
                time_in_words(ends_us)
            ));
            token(output, &station_id, &text, ends_us);
        }
        Done::Revoked { station_id } => {
            let sentence =
                format!("station {station_id} is revoked; neither its token nor its code is any longer good");
            answer(output, &sentence, &[("station_id", json!(station_id)), ("revoked", json!(true))]);
        }
        Done::Stations(stations) => station_list(output, stations),
        Done::Listed { person_code, name } => {
            let sentence = format!("person {person_code} is listed");
            answer(output, &sentence, &[("person_code", json!(person_code)), ("name", json!(name))]);
        }
        Done::Removed { person_code } => {
            let sentence = format!(
                "person {person_code} is off the list and the name is erased; old entries keep the code"
            );
            answer(output, &sentence, &[("person_code", json!(person_code)), ("removed", json!(true))]);
        }
        Done::PinSet { person_code } => {
            let sentence =
                format!("person {person_code} has a new PIN, for the office pages and for signing");
            answer(output, &sentence, &[("person_code", json!(person_code)), ("pin_set", json!(true))]);
        }
        Done::Persons(persons) => {
            let rows = persons.into_iter().map(|(code, name)| vec![json!(code), json!(name)]);
            list(output, &["person_code", "name"], &rows.collect::<Vec<_>>());
        }
        Done::Imported { revision_id, already_current, remarks } => {
            imported(output, &revision_id, already_current, &remarks);
        }
        Done::Catalogues(adoptions) => {
            let rows = adoptions.into_iter().map(|it| {
                vec![json!(it.revision_id), json!(time_in_words(it.adopted_us)), json!(it.current)]
            });
            list(output, &["revision_id", "adopted", "current"], &rows.collect::<Vec<Vec<Value>>>());
        }
        Done::CatalogueOffered { revision_id, offered, already } => {
            catalogue_offered(output, &revision_id, offered, already);
        }
        Done::CustomerErased { job, other_jobs } => customer_erased(output, &job, other_jobs),
        Done::RemarkErased { blob_digest } => {
            let what = format!("the file {blob_digest} is erased and is not taken again");
            erased(output, &what, &[("blob_digest", json!(blob_digest))]);
        }
        Done::Audit(rows) => audit(output, rows),
        Done::Running { version, address } => running(output, &version, address),
        Done::OwnerJoined { address, station, owner_name, kept, trouble } => {
            owner_joined(output, [&address, &station, &owner_name], kept, &trouble);
        }
        Done::OwnerLeft { address } => owner_left(output, &address),
        Done::AtOwner(at_owner) => {
            answer(output, "asked the running server", &[("at_owner", json!(at_owner))]);
        }
        Done::BackedUp(backup) => copied(output, "made a backup of the site", &backup),
    }
}

/// Says which revision is current after an import.
fn imported(output: Output, revision_id: &str, already_current: bool, remarks: &[String]) {
    for remark in remarks {
        complain(remark);
    }
    let what = if already_current { "was current already" } else { "is current now" };
    let parts = [
        ("revision_id", json!(revision_id)),
        ("already_current", json!(already_current)),
        ("remarks", json!(remarks)),
    ];
    answer(output, &format!("catalogue revision {revision_id} {what}"), &parts);
}

/// Says whether a revision is offered to workshops.
fn catalogue_offered(output: Output, revision_id: &str, offered: bool, already: bool) {
    let what = match (offered, already) {
        (true, false) => "is offered to the workshops from now on; each adopts it or not",
        (true, true) => "was offered already",
        (false, false) => "is no longer offered; workshops that adopted it keep it",
        (false, true) => "was not offered",
    };
    let parts = [("revision_id", json!(revision_id)), ("offered", json!(offered))];
    answer(output, &format!("catalogue revision {revision_id} {what}"), &parts);
}

/// Says that nothing is brought to an owner's server any more.
fn owner_left(output: Output, address: &str) {
    let sentence = "this site brings its journal to the owner's server no longer; what that has it keeps. There, \
                    standpipe-server station revoke NAME takes the right back";
    answer(output, sentence, &[("address", json!(address)), ("left", json!(true))]);
}

/// Says which owner's server was joined, and how far it knows the journal.
fn owner_joined(output: Output, [address, station, owner_name]: [&str; 3], kept: u64, trouble: &str) {
    let sentence = format!(
        "joined the owner's server '{owner_name}' at {address} as station {station}; it has {kept} entries of this site, and \
         the others go there while the server runs"
    );
    let parts = [
        ("address", json!(address)),
        ("station_id", json!(station)),
        ("owner_name", json!(owner_name)),
        ("kept", json!(kept)),
        ("trouble", json!(trouble)),
    ];
    answer(output, &sentence, &parts);
    if !trouble.is_empty() {
        complain(trouble);
    }
}

/// Says which server runs and where.
fn running(output: Output, version: &str, address: Option<SocketAddr>) {
    let sentence = match address {
        Some(address) => format!("version {version} listens on {address}"),
        None => "no server runs".to_owned(),
    };
    answer(output, &sentence, &[("version", json!(version)), ("address", json!(address))]);
}

/// Lists stations with what lets each of them in.
fn station_list(output: Output, stations: Vec<StationLine>) {
    let time = |us: Option<i64>| us.map_or(Value::Null, |us| json!(time_in_words(us)));
    // Only an owner's server has stations that bring a journal.
    let brings = stations.iter().any(|it| !it.site.is_empty());
    let rows = stations.into_iter().map(|it| {
        let times = [Some(it.enrolled_us), it.token_ends_us, it.code_until_us].map(time);
        let [enrolled, token_ends, code_until] = times;
        let (station_id, role) = (json!(it.station_id), json!(it.role));
        let only = match output {
            Output::Json => json!(it.kinds),
            Output::Text | Output::Csv => json!(it.kinds.join(" ")),
        };
        let mut row = vec![station_id, role, enrolled, token_ends, code_until, json!(it.revoked), only];
        row.extend(brings.then(|| json!(it.site)));
        row
    });
    let mut head = vec!["station_id", "role", "enrolled", "token_ends", "code_until", "revoked", "only"];
    head.extend(brings.then_some("site"));
    list(output, &head, &rows.collect::<Vec<_>>());
}

/// Says that a customer was erased, and that the same one may stand elsewhere.
fn customer_erased(output: Output, job: &str, other_jobs: u64) {
    let others = match other_jobs {
        0 => "no other job carries the name".to_owned(),
        1 => "1 other job still carries the same name and is erased by its own number".to_owned(),
        many => format!("{many} other jobs still carry the same name and are erased each by its own number"),
    };
    let what = format!("the customer of job {job} is erased; {others}");
    erased(output, &what, &[("job", json!(job)), ("other_jobs", json!(other_jobs))]);
}

/// Says what was erased, and where it is not.
fn erased(output: Output, what: &str, parts: &[(&str, Value)]) {
    let sentence =
        format!("{what}; issued records keep what was printed, and backups keep it until they are deleted");
    let parts: Vec<_> = parts.iter().cloned().chain([("erased", json!(true))]).collect();
    answer(output, &sentence, &parts);
}

/// Writes who was let in and who was turned away.
fn audit(output: Output, rows: Vec<AuditRow>) {
    let head = ["first", "last", "times", "what", "allowed", "station_id", "person_code", "address", "about"];
    let rows = rows.into_iter().map(|it| {
        let allowed = match output {
            Output::Json => json!(it.allowed),
            Output::Text | Output::Csv => json!(if it.allowed { "allowed" } else { "refused" }),
        };
        vec![
            json!(time_in_words(it.at_us)),
            json!(time_in_words(it.until_us)),
            json!(it.times),
            json!(it.what),
            allowed,
            json!(it.station_id),
            json!(it.person_code),
            json!(it.address),
            json!(it.about),
        ]
    });
    list(output, &head, &rows.collect::<Vec<_>>());
}

/// Says what was copied.
pub(super) fn copied(output: Output, what: &str, copied: &Copied) {
    let Copied { path, site, entries, files, epoch, root } = copied;
    let sentence = format!(
        "{what} '{site}' in {}: {entries} entries, {files} files, everything read through and sound",
        path.display()
    );
    let parts = [
        ("path", json!(path)),
        ("site", json!(site)),
        ("entries", json!(entries)),
        ("files", json!(files)),
        ("epoch", json!(epoch)),
        ("root", json!(root)),
    ];
    answer(output, &sentence, &parts);
}

/// Writes a token.
pub(super) fn token(output: Output, station_id: &str, token: &str, ends_us: i64) {
    let ends = json!(time_in_words(ends_us));
    answer(output, token, &[("station_id", json!(station_id)), ("token", json!(token)), ("ends", ends)]);
}
