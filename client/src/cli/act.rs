//! Commands that keep or send something.

use super::answer::{Answer, Exit};
use super::sign::ToSign;
use super::{Context, shown, tree};
use crate::correcting::put_right;
use crate::error::ClientError;
use crate::folder::archive::RefusedEntry;
use crate::folder::state::LocalJob;
use crate::joining::Shown;
use crate::sending::{SendEnd, SendReport};
use crate::station::{Change, Kept, Station};
use crate::words::descriptor::{KindWords, Words};
use crate::words::flags::{self, CORRECT, FLAGS, Naming, OPEN};
use crate::words::{ReadFact, Understood, done};
use clap::ArgMatches;
use clap_complete::Shell;
use serde_json::{Value, json};
use standpipe_proto::check::CheckError;
use standpipe_proto::v1::fact::Kind;
use std::io::Read as _;
use std::path::PathBuf;
use tonic::Code;

/// Longest token that is read from the input, in bytes.
const TOKEN_BYTES_MAX: u64 = 4096;
/// Gate that is asked before litres are pushed in.
const EXCHANGE: &str = "exchange";
/// Most reasons against that are told with a reading.
const REASONS_SHOWN: usize = 3;
/// Most lines of what stops the work that stand before what a reading changes.
const STOPS_BEFORE: usize = 2;

pub(super) async fn join(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut shown =
        matches.get_many::<String>("code").unwrap_or_default().cloned().collect::<Vec<_>>().join(" ");
    if shown == "-" {
        shown.clear();
        let read = std::io::stdin().take(TOKEN_BYTES_MAX).read_to_string(&mut shown);
        read.map_err(|cause| ClientError::Usage(format!("the code cannot be read from the input: {cause}")))?;
    }
    let address = text(matches, "address");
    // Before the folder is made: a wrong address or code leaves nothing behind.
    let shown = Shown::read(address, &shown)?;
    let mut station = context.any_station()?;
    let joined = match shown {
        Shown::Code(code) => station.join_by_code(address, &code).await?,
        Shown::Token(token) => station.join(address, &token).await?,
    };
    let text = format!("this is station {} of {} at {}\n", joined.station_id, joined.site_id, joined.address);
    let json = json!({ "station_id": joined.station_id, "site_id": joined.site_id, "site_name": joined.site_name,
        "address": joined.address, "encrypted": joined.authority.is_some(),
        "clock_ahead_seconds": joined.clock_ahead_seconds });
    Ok(Answer::new(text, json).noting(station.take_notices()))
}

pub(super) fn person(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    station.set_person(text(matches, "code"))?;
    let code = station.person().unwrap_or_default().to_owned();
    let job = station.current_job().ok();
    let at = job.as_ref().map(|job| format!(", at job {job}")).unwrap_or_default();
    let json = json!({ "person_code": code, "job": job.as_ref().map(shown::job_json) });
    Ok(Answer::new(format!("{code} states the facts from now on{at}\n"), json).noting(station.take_notices()))
}

pub(super) async fn open(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let kind = known_kind("arrival")?;
    let read = read_fact(kind, matches, &OPEN)?;
    let Some(Kind::Arrival(arrival)) = read.fact.kind else {
        return Err(ClientError::Descriptor("an arrival is none".into()));
    };
    let done = done_time(context, matches)?;
    let kept = station.open_job(arrival, read.as_typed, done).map_err(|error| by_flags(error, &OPEN))?;
    sent(&mut station, kept, "arrival", &read.understood).await
}

pub(super) async fn take(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let job = station.use_job(text(matches, "name")).await?;
    let json = json!({ "job": shown::job_json(&job) });
    Ok(Answer::new(format!("{job}: what is added next belongs to it\n"), json).noting(station.take_notices()))
}

pub(super) async fn add(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let (name, own) = matches.subcommand().unwrap_or(("", matches));
    let kind = known_kind(name)?;
    // What was typed is read before anything is asked or opened.
    let read = read_fact(kind, own, &FLAGS)?;
    let done = done_time(context, own)?;
    let mut station = context.station()?;
    let kept = if kind.is_of_site() {
        station.add_of_site(read.fact, read.as_typed, done)
    } else {
        let job = station.job(optional(own, "job")).await?;
        station.add_for(&job, read.fact, read.as_typed, done)
    };
    let kept = kept.map_err(|error| by_flags(error, &FLAGS))?;
    sent(&mut station, kept, &kind.flag_name(), &read.understood).await
}

pub(super) async fn correct(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let withdraw = matches.get_flag("withdraw");
    // What was typed is read before anything is asked.
    let (named, own) = match (matches.subcommand(), withdraw) {
        (Some((name, own)), false) => {
            let kind = known_kind(name)?;
            (Some((kind, flags::read(&kind.message, own, &CORRECT)?)), own)
        }
        (None, true) => (None, matches),
        (Some(_), true) => {
            return Err(ClientError::Usage(
                "--withdraw puts nothing in the entry's place; leave out the kind, or leave out --withdraw"
                    .into(),
            ));
        }
        (None, false) => {
            return Err(ClientError::Usage(
                "say what counts instead, for example: standpipe correct 17 drain --place pan --mass 3.05kg --reason \
                 '…', or --withdraw"
                    .into(),
            ));
        }
    };
    let reason = optional(own, "reason").or_else(|| optional(matches, "reason")).ok_or_else(|| {
        ClientError::Usage("--reason is missing; a correction says why, in 3 to 400 characters".into())
    })?;
    let mut station = context.station()?;
    let job = optional(own, "job").or_else(|| optional(matches, "job"));
    let entry = text(matches, "entry");
    let of_site = matches.get_flag("site") || named.as_ref().is_some_and(|(kind, _)| kind.is_of_site());
    let original = match (of_site, job) {
        (true, Some(_)) => {
            return Err(ClientError::Usage(
                "a fact of the site belongs to no job; leave out --job, or --site and the kind".into(),
            ));
        }
        (true, None) => station.find_fact_of_site(entry).await?,
        (false, job) => station.find_entry(entry, job).await?,
    };
    let (change, as_typed, mut understood) = match named {
        Some((kind, read)) => {
            original.is_of(kind.name())?;
            let read = put_right(kind, &station.stated(&original).await?, read)?;
            (Change::Replace(Box::new(read.fact)), read.as_typed, read.understood)
        }
        None => (Change::Withdraw, Vec::new(), Vec::new()),
    };
    let kept =
        station.correct(&original, change, reason, as_typed).map_err(|error| by_flags(error, &CORRECT))?;
    let what = if withdraw { "withdrawn" } else { "put right" };
    understood.insert(0, Understood { flag: what.to_owned(), text: original.kind.replace('_', " ") });
    sent(&mut station, kept, "correction", &understood).await
}

pub(super) async fn photo(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let job = station.job(optional(matches, "job")).await?;
    let file = matches.get_one::<PathBuf>("file").cloned().unwrap_or_default();
    let subject = text(matches, "field subject");
    let attached = match optional(matches, "volume-in") {
        Some(litres) => station.attach_comparison(&job, &file, subject, litres)?,
        None => station.attach_photo(&job, &file, subject)?,
    };
    sent(&mut station, attached.kept, "photo", &attached.understood).await
}

pub(super) async fn remark(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let job = station.job(optional(matches, "job")).await?;
    let attached = station.attach_remark(&job, text(matches, "words"), text(matches, "field subject"))?;
    sent(&mut station, attached.kept, "remark", &attached.understood).await
}

pub(super) async fn send(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let report = if matches.get_flag("again") { station.send_again().await? } else { station.send().await? };
    let mut text = String::new();
    for acknowledgement in &report.sent {
        text.push_str(&shown::acknowledgement(acknowledgement));
    }
    if report.blobs_sent > 0 {
        let files = if report.blobs_sent == 1 { "file" } else { "files" };
        text.push_str(&format!("{} {files} of photos or words are at the shop server\n", report.blobs_sent));
    }
    if report.sent.is_empty()
        && report.waiting == 0
        && report.refused.is_empty()
        && report.blobs_sent == 0
        && report.blobs_waiting == 0
    {
        text.push_str("nothing waits\n");
    }
    let refused: Vec<Value> = report.refused.iter().map(shown::refused_json).collect();
    let (end, sentence) = ending(&report.end);
    let sent: Vec<Value> = report.sent.iter().map(shown::acknowledgement_json).collect();
    let json = json!({ "sent": sent, "refused": refused, "waiting": report.waiting,
        "blobs_sent": report.blobs_sent, "blobs_waiting": report.blobs_waiting, "end": end, "sentence": sentence });
    let exit = match (report.end.clone(), worst(&report.refused)) {
        (SendEnd::NotPermitted(_), _) => Exit::NotPermitted,
        (_, Some(exit)) => exit,
        (SendEnd::Done, None) => Exit::Done,
        (_, None) => Exit::Kept,
    };
    let notes = refusal_notes(&station, &report.refused).into_iter().chain(waiting_note(&report));
    Ok(Answer::new(text, json).noting(notes.collect::<Vec<_>>()).noting(station.take_notices()).ending(exit))
}

pub(super) fn completions(matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut command = tree::whole()?;
    let shell = matches.get_one::<Shell>("shell").copied().unwrap_or(Shell::Bash);
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut command, "standpipe", &mut script);
    let mut answer = Answer::new(String::new(), Value::Null);
    answer.raw = Some(script);
    Ok(answer)
}

pub(super) fn man(matches: &ArgMatches) -> Result<Answer, ClientError> {
    let folder = matches.get_one::<PathBuf>("folder").cloned().unwrap_or_default();
    let command = tree::whole()?;
    std::fs::create_dir_all(&folder)
        .and_then(|()| clap_mangen::generate_to(command, &folder))
        .map_err(|cause| ClientError::disk("writing manual pages into", &folder, cause))?;
    Ok(Answer::new(format!("manual pages are in {}\n", folder.display()), Value::Null))
}

/// What became of an entry that was just kept.
pub(super) struct Fate {
    pub(super) job: LocalJob,
    pub(super) state: &'static str,
    pub(super) exit: Exit,
    /// Its place in the journal.
    pub(super) seq: Option<i64>,
    /// What became of it, in a few words.
    pub(super) end: String,
    /// Why it was refused or waits.
    pub(super) sentence: Option<String>,
    pub(super) report: SendReport,
}

/// Sends what was just kept, and finds out what became of it.
pub(super) async fn fate(station: &mut Station, kept: &Kept) -> Fate {
    let report = match station.send().await {
        Ok(report) => report,
        // It is kept: a failure to send does not undo that.
        Err(error) => {
            let later = SendEnd::Later { sentence: error.to_string(), again_at: 0 };
            SendReport { waiting: kept.waiting, end: later, ..SendReport::default() }
        }
    };
    let taken = report.sent.iter().find(|acknowledgement| acknowledgement.entry_id == kept.entry_id);
    let of_this = |refused: &&RefusedEntry| {
        refused.entry.header.as_ref().is_some_and(|header| header.entry_id == kept.entry_id)
    };
    let refused = report.refused.iter().find(of_this);
    // A fact of the site has no job.
    let job = station.job_named(&kept.job.job_id);
    let job = if job.shown().is_empty() { kept.job.clone() } else { job };
    let (state, seq, exit, end) = match (taken, refused) {
        (Some(taken), _) => {
            ("sent", Some(taken.seq), Exit::Done, format!("place {} in the journal", taken.seq))
        }
        (None, Some(refused)) => {
            let exit = worst(std::slice::from_ref(refused)).unwrap_or(Exit::Refused);
            ("refused", None, exit, "refused and set aside".to_owned())
        }
        // Another command of this station was sending and took it along.
        (None, None)
            if matches!(report.end, SendEnd::Busy(_)) && !station.waits(&kept.entry_id).unwrap_or(true) =>
        {
            ("sent", None, Exit::Done, "sent by another command of this station".to_owned())
        }
        (None, None) => {
            let exit =
                if matches!(report.end, SendEnd::NotPermitted(_)) { Exit::NotPermitted } else { Exit::Kept };
            ("unsent", None, exit, format!("kept unsent ({} waiting)", report.waiting))
        }
    };
    let sentence = refused.map(|refused| refused.refusal.message.clone()).or_else(|| ending(&report.end).1);
    Fate { job, state, exit, seq, end, sentence, report }
}

/// A kind and what was understood of it, in one line.
pub(super) fn told(kind: &str, understood: &[Understood]) -> String {
    let told: Vec<_> =
        std::iter::once(kind.to_owned()).chain(understood.iter().map(ToString::to_string)).collect();
    told.join(", ")
}

/// Sends what was just kept, and says what became of it.
pub(super) async fn sent(
    station: &mut Station,
    kept: Kept,
    kind: &str,
    understood: &[Understood],
) -> Result<Answer, ClientError> {
    let mut fate = fate(station, &kept).await;
    if ["photo", "remark"].contains(&kind) && fate.exit == Exit::Done && fate.report.blobs_waiting > 0 {
        fate.exit = Exit::Kept;
    }
    let lines = match kind {
        "exchange-reading" => 1,
        // What the server read from a photo stands among the others.
        "photo" if understood.iter().any(|understood| understood.flag == "volume-in") => usize::MAX,
        _ => 0,
    };
    let now = changes_now(station, &fate, lines).await;
    let against = if lines > 0 { against_pushing(station, &fate).await } else { Vec::new() };
    let mut text = format!("{}: {}; {}\n", shown::job_words(&fate.job), told(kind, understood), fate.end);
    text.extend(now.iter().map(|line| format!("> {line}\n")));
    text.push_str(&no_go_ahead(&against, &now));
    let taken = fate.report.sent.iter().find(|taken| taken.entry_id == kept.entry_id);
    let signature_needed = taken.is_some_and(|taken| taken.signature_needed);
    if ["decision", "correction"].contains(&kind) && fate.state == "unsent" {
        let code = station.person().unwrap_or_default();
        text.push_str(&format!(
            "> where the workshop wants it signed, it is to be signed later: standpipe as {code} --pin\n"
        ));
    }
    let json = json!({
        "signature_needed": signature_needed, "now": now.first(), "against": against, "job": shown::job_json(&fate.job), "kind": kind.replace('-', "_"), "entry_id": kept.entry_id,
        "station_number": kept.station_number, "understood": understood, "state": fate.state, "seq": fate.seq,
        "sentence": fate.sentence, "waiting": fate.report.waiting, "blobs_waiting": fate.report.blobs_waiting,
    });
    let notes: Vec<_> =
        refusal_notes(station, &fate.report.refused).into_iter().chain(waiting_note(&fate.report)).collect();
    let mut answer = Answer::new(text, json).noting(notes).noting(station.take_notices()).ending(fate.exit);
    let to_sign = ToSign { job: fate.job, entry_id: kept.entry_id };
    answer.to_sign = Some(to_sign).filter(|_| signature_needed);
    Ok(answer)
}

/// The first lines of what changes what is done next, with a reading of the exchange that the server took: who types it
/// stands beside a running engine. Without an answer nothing is claimed; the entry is kept all the same.
async fn changes_now(station: &mut Station, fate: &Fate, lines: usize) -> Vec<String> {
    if lines == 0 || fate.state != "sent" {
        return Vec::new();
    }
    let remaining = station.remaining(&fate.job).await;
    remaining.map_or_else(
        |_| Vec::new(),
        |remaining| {
            // What stops the work stands first and hides nothing of the reading just made.
            let lines = lines.saturating_add(remaining.stops.len().min(STOPS_BEFORE));
            remaining.now.into_iter().take(lines).collect()
        },
    )
}

/// Why there is no go-ahead for the exchange that was just read; nothing with a yes. The reading is kept all the same.
async fn against_pushing(station: &mut Station, fate: &Fate) -> Vec<String> {
    if fate.state != "sent" {
        return Vec::new();
    }
    let answer = station.may(&fate.job, EXCHANGE).await;
    answer.map_or_else(|_| Vec::new(), |answer| answer.missing.into_iter().map(|it| it.text).collect())
}

/// The reasons against in a few lines; what stands above already is not said twice.
fn no_go_ahead(against: &[String], said: &[String]) -> String {
    let left: Vec<&String> = against.iter().filter(|reason| !said.contains(reason)).collect();
    let shown = left.iter().take(REASONS_SHOWN);
    let mut text: String = shown.map(|reason| format!("> no go-ahead for {EXCHANGE}: {reason}\n")).collect();
    let more = left.len().saturating_sub(REASONS_SHOWN);
    if more > 0 {
        text.push_str(&format!("> and {more} more: standpipe may {EXCHANGE}\n"));
    }
    text
}

pub(super) fn refusal_notes(station: &Station, refused: &[RefusedEntry]) -> Vec<String> {
    let note = |refused: &RefusedEntry| {
        let job = shown::job_words(&station.job_of_entry(&refused.entry));
        format!("refused: {job}: {}: {}", shown::kind_words(&refused.entry), refused.refusal.message)
    };
    refused.iter().map(note).collect()
}

pub(super) fn waiting_note(report: &SendReport) -> Option<String> {
    let sentence = ending(&report.end).1.filter(|_| report.waiting + report.blobs_waiting > 0)?;
    let then = match report.end {
        SendEnd::NotPermitted(_) => "",
        _ => "; then: standpipe send",
    };
    let files = match report.blobs_waiting {
        0 => String::new(),
        1 => " and 1 file".to_owned(),
        count => format!(" and {count} files"),
    };
    Some(format!("kept unsent ({} waiting{files}): {sentence}{then}", report.waiting))
}

fn ending(end: &SendEnd) -> (&'static str, Option<String>) {
    match end {
        SendEnd::Done => ("done", None),
        SendEnd::Later { sentence, .. } => ("later", Some(sentence.clone())),
        SendEnd::NotPermitted(sentence) => ("not_permitted", Some(sentence.clone())),
        SendEnd::Busy(holder) => ("busy", Some(format!("another command is sending ({holder})"))),
    }
}

pub(super) fn worst(refused: &[RefusedEntry]) -> Option<Exit> {
    let forbidden = refused.iter().any(|refused| refused.refusal.code == i32::from(Code::PermissionDenied));
    let exit = if forbidden { Exit::NotPermitted } else { Exit::Refused };
    (!refused.is_empty()).then_some(exit)
}

fn known_kind(name: &str) -> Result<&'static KindWords, ClientError> {
    Words::get()?.kind(name).ok_or_else(|| ClientError::Usage(format!("'{name}' is no kind of fact")))
}

fn read_fact(kind: &KindWords, matches: &ArgMatches, naming: &Naming) -> Result<ReadFact, ClientError> {
    Ok(Words::get()?.fact(kind, flags::read(&kind.message, matches, naming)?)?)
}

fn done_time(
    context: &Context<'_>,
    matches: &ArgMatches,
) -> Result<Option<prost_types::Timestamp>, ClientError> {
    let Some(text) = optional(matches, "done") else { return Ok(None) };
    let now = jiff::Timestamp::from_microsecond(context.now_microseconds()).unwrap_or_default();
    done::read(text, now, &context.machine.zone).map(Some)
}

/// Names what is outside its bounds by the flags that were typed instead of the fields of the messages.
fn by_flags(error: ClientError, naming: &Naming) -> ClientError {
    let ClientError::Outside(CheckError::Outside(mut violations)) = error else { return error };
    for violation in &mut violations {
        let mut steps = violation.field.rsplit('.');
        let mut field = steps.next().unwrap_or_default();
        // The flag is that of the kind's own field, which may hold rows with fields of theirs.
        for above in steps {
            let name = field.split('[').next().unwrap_or_default();
            let kind = Words::get().ok().and_then(|words| words.kind(above));
            if let Some(kind) = kind {
                if above == "correction" {
                    violation.field = format!("--{name}");
                } else if let Some(flag) = flags::flag_of(&kind.message, name, naming) {
                    violation.field = flag;
                }
                break;
            }
            field = above;
        }
    }
    ClientError::Outside(CheckError::Outside(violations))
}

pub(super) fn text<'a>(matches: &'a ArgMatches, name: &str) -> &'a str {
    optional(matches, name).unwrap_or_default()
}

pub(super) fn optional<'a>(matches: &'a ArgMatches, name: &str) -> Option<&'a str> {
    matches.get_one::<String>(name).map(String::as_str)
}

/// The job that a question is about: named in either way, else the one in use.
pub(super) async fn asked_job(station: &mut Station, matches: &ArgMatches) -> Result<LocalJob, ClientError> {
    let by_place = matches.try_get_one::<String>("name").ok().flatten().map(String::as_str);
    station.job(by_place.or_else(|| optional(matches, "job"))).await
}
