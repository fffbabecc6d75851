//! The verbs that do their work and end: one function each, a library call and its answer in words.

use super::shown::{Output, answer, complain, say};
use super::told;
use serde_json::json;
use standpipe_server::config::Mode;
use standpipe_server::{
    Destination, Entropy, FIRST_STATION, InitOptions, Order, RecoverOptions, ServerError, SystemClock,
    SystemEntropy, init_as as found, move_site as moved_to, order as give_order, recover as recovered,
    restore as restored, time_in_words, verify as read_through,
};
use std::path::Path;
use std::sync::Arc;

pub(super) async fn init(
    dir: &Path,
    site: Option<String>,
    name: Option<String>,
    mode: Mode,
    output: Output,
) -> Result<(), ServerError> {
    let entropy: Arc<dyn Entropy> = Arc::new(SystemEntropy);
    let site = match site {
        Some(site) => site,
        None => drawn_site(mode, &*entropy)?,
    };
    let site_name = name.unwrap_or_else(|| site.clone());
    let options = InitOptions { site_name, site_id: site.clone(), clock: Arc::new(SystemClock), entropy };
    let enrolled = found(dir, options, mode).await?;
    complain(&format!(
        "created the site '{site}' in {}; the line on the standard output is the token of its station \
         '{FIRST_STATION}', good until {}, and is shown only now",
        dir.display(),
        time_in_words(enrolled.ends_us)
    ));
    told::token(output, &enrolled.station_id, &enrolled.token.to_string(), enrolled.ends_us);
    let dir = dir.display();
    complain(&match mode {
        Mode::Workshop => format!(
            "next: standpipe-server person add A --name 'technician A' --dir {dir}; what else is to be done says: \
             standpipe-server doctor --dir {dir}"
        ),
        Mode::Owner => format!(
            "next: a desk for the command line, standpipe-server station add desk --role owner --dir {dir}; a person for the \
             pages, standpipe-server person add O --name 'owner O' --dir {dir} and standpipe-server person pin O --dir {dir}; \
             each workshop, standpipe-server station add NAME --role forwarder --site SITE --dir {dir}; what else is to be \
             done says: standpipe-server doctor --dir {dir}"
        ),
    });
    Ok(())
}

/// An identity for a site of which nobody said one: two workshops that were founded so are two at their owner's server too.
fn drawn_site(mode: Mode, entropy: &dyn Entropy) -> Result<String, ServerError> {
    let mut random = [0; 4];
    entropy.fill(&mut random)?;
    Ok(format!("{}-{:08x}", mode.name(), u32::from_be_bytes(random)))
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

pub(super) async fn restore(from: &Path, dir: &Path, output: Output) -> Result<(), ServerError> {
    let copied = restored(from, dir, &SystemEntropy).await?;
    told::copied(output, "restored the site", &copied);
    complain(
        "what came after the backup comes back from the stations: standpipe send --again at each of them",
    );
    complain(
        "stations, tokens, persons and PINs stand as they were at the backup, and no code to join is open: see with standpipe-server \
         station list and person list what was changed since, and take back again with station revoke NAME what was revoked",
    );
    Ok(())
}

pub(super) async fn recover(
    dir: &Path,
    (code, founded_anew): (Option<(String, String)>, bool),
    output: Output,
) -> Result<(), ServerError> {
    let options =
        RecoverOptions { code, founded_anew, clock: Arc::new(SystemClock), entropy: Arc::new(SystemEntropy) };
    let made = recovered(dir, options, &complain).await?;
    let place = made.path.display();
    let own = match made.own {
        0 => String::new(),
        1 => ", and 1 of its own after them".to_owned(),
        many => format!(", and {many} of its own after them"),
    };
    let sentence = format!(
        "made the site '{}' in {place} with {} entries from the owner's server{own}; everything was read through and is sound",
        made.site, made.from_owner
    );
    let renumbered: Vec<_> =
        made.renumbered.iter().map(|(before, now)| json!({"before": before, "now": now})).collect();
    let parts = [
        ("path", json!(made.path)),
        ("site", json!(made.site)),
        ("from_owner", json!(made.from_owner)),
        ("own", json!(made.own)),
        ("renumbered", json!(renumbered)),
        ("records_lost", json!(made.records_lost)),
        ("epoch", json!(made.epoch)),
        ("root", json!(made.root)),
    ];
    answer(output, &sentence, &parts);
    for (before, now) in &made.renumbered {
        complain(&format!(
            "job {before} of the folder that was here is {now} now, since the owner's copy has another job {before}; how numbers begin \
             is the catalogue's to say"
        ));
    }
    if made.records_lost > 0 {
        complain(&format!(
            "the files of {} issued records are not here; their facts are, and a backup of the folder blobs brings them back",
            made.records_lost
        ));
    }
    if made.beside {
        complain(&format!(
            "customers, names, stations, photos and settings are those of {}; nothing in it was changed. Put it aside, give the \
             new folder its name, and serve it; then at each station: standpipe send --again",
            dir.display()
        ));
    } else {
        complain(&format!(
            "the owner's server never had customers, names of persons, remarks, photos and tokens, so they are not here: list \
             persons with standpipe-server person add. Every station joins anew, once the site is served: here, \
             standpipe-server station add NAME --dir {place}; there, move station.toml out of its folder first (what waits \
             unsent stays), then standpipe join HOST CODE, then standpipe send --again"
        ));
    }
    Ok(())
}

pub(super) async fn move_site(
    dir: &Path,
    to: Option<Destination>,
    output: Output,
) -> Result<(), ServerError> {
    let moved = moved_to(dir, to, &complain).await?;
    let entries = match moved.resumed_at {
        0 => format!("{} entries", moved.entries),
        before => format!("{} entries, {before} of them copied before", moved.entries),
    };
    let sentence = format!(
        "moved the site '{}' to {}: {entries}, {} jobs, {} rows beside the journal; roots and digests are equal. A copy \
         that nothing uses any more is left in {}",
        moved.site, moved.now_in, moved.jobs, moved.rows, moved.left_behind
    );
    let parts = [
        ("site", json!(moved.site)),
        ("now_in", json!(moved.now_in)),
        ("left_behind", json!(moved.left_behind)),
        ("entries", json!(moved.entries)),
        ("resumed_at", json!(moved.resumed_at)),
        ("jobs", json!(moved.jobs)),
        ("rows", json!(moved.rows)),
        ("root", json!(digits(&moved.root))),
        ("epoch", json!(digits(&moved.epoch))),
    ];
    answer(output, &sentence, &parts);
    if moved.setting_remains {
        complain(
            "the settings still say store_url, which holds for no journal any more: take it out before the next start",
        );
    }
    Ok(())
}

/// Gives an order and says what came of it.
pub(super) async fn give(dir: &Path, order: Order, output: Output) -> Result<(), ServerError> {
    told::done(output, give_order(dir, order).await?);
    Ok(())
}

fn digits(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
