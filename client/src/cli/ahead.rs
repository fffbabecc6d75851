//! What is ahead of a job: the plan before the work, and the watch of a job while it goes on.
//!
//! A watch waits for the shop server as long as it takes and says so once. Never here: what the lines say, which is the
//! server's.

use super::act::asked_job;
use super::answer::{Answer, printable};
use super::{Console, Context, shown};
use crate::config::Output;
use crate::error::ClientError;
use crate::folder::state::LocalJob;
use crate::next::present::Screen;
use crate::station::Station;
use crate::words::descriptor::Words;
use clap::ArgMatches;
use serde_json::Value;
use standpipe_proto::typed::{self, Quantity};
use standpipe_proto::v1::{
    ExchangeLook, ExchangePoint, ExchangeProgress, PlanChoice, PlanResponse, WatchResponse,
};
use std::fmt::Write as _;
use std::io::ErrorKind;
use std::path::Path;
use std::time::Duration;
use tokio::time::{Instant, timeout_at};

/// Columns of what is written here.
const COLUMNS: usize = 80;
/// Points of a curve that a watch shows.
const CURVE_POINTS: usize = 7;
/// Shortest and longest time between two attempts to reach the shop server.
const PAUSES: (Duration, Duration) = (Duration::from_secs(1), Duration::from_secs(10));
/// How often an open watch asks whether the token is to be renewed.
const LOOK_AT_TOKEN_EVERY: Duration = Duration::from_secs(3_600);

pub(super) async fn plan(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let kit = matches.get_one::<String>("kit").map(|text| {
        typed::read(text, Quantity::Volume)
            .map_err(|why| ClientError::Typed { flag: "--kit".to_owned(), why })
    });
    let kit_litres = kit.transpose()?.map(|kit| kit.value);
    let job = asked_job(&mut station, matches).await?;
    let answer = station.plan(&job, kit_litres).await?;
    let job = station.job_named(&job.job_id);
    let json = Words::get()?.json("PlanResponse", &answer)?;
    Ok(Answer::new(planned(&job, &answer, kit_litres.is_some()), json).noting(station.take_notices()))
}

/// A plan for people: what comes first, the procedures in a table, the advice.
fn planned(job: &LocalJob, plan: &PlanResponse, is_kit_stated: bool) -> String {
    let screen = Screen::of(Some(COLUMNS));
    let mut text = format!("{}\n", shown::job_words(job));
    for line in plan.first.iter().chain(&plan.missing).chain(&plan.basis) {
        text.push_str(&screen.wrapped("", line));
    }
    if !plan.basis.is_empty() && !is_kit_stated {
        text.push_str(&screen.wrapped("", "--kit states other litres."));
    }
    if !plan.choices.is_empty() {
        let _ =
            writeln!(text, "\n{:<26}{:>8}  {:>24}  {:>7}", "", "litres", "new of 100, from-to", "minutes");
    }
    // What several rows say alike stands once, below the last of them.
    for alike in plan.choices.chunk_by(|one, next| one.text == next.text) {
        text.extend(alike.iter().map(row));
        text.extend(alike.first().map(|choice| screen.wrapped("  ", &choice.text)));
    }
    if !plan.advice.is_empty() {
        text.push('\n');
        text.push_str(&screen.wrapped("> ", &plan.advice));
    }
    text
}

fn row(choice: &PlanChoice) -> String {
    let parts = |share: f64| format!("{:.0}", share * 100.0);
    let (least, greatest) = (parts(choice.new_share_least), parts(choice.new_share_greatest));
    let share = format!("{}, {least}-{greatest}", parts(choice.new_share));
    let (litres, minutes) = (choice.volume_litres, choice.duration_minutes);
    format!("{:<26}{litres:>8.1}  {share:>24}  {minutes:>7.0}\n", choice.name)
}

pub(super) async fn watch(
    context: &Context<'_>,
    matches: &ArgMatches,
    output: Output,
    console: &mut Console<'_>,
) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    let job = asked_job(&mut station, matches).await?;
    let watching = Watching { context, station: &mut station, job, output, console, last: None };
    let ended = tokio::select! {
        ended = watching.run() => ended,
        interrupted = tokio::signal::ctrl_c() => {
            interrupted.map_err(|cause| ClientError::disk("waiting for", Path::new("Ctrl-C"), cause))
        }
    };
    ended?;
    let mut answer = Answer::new(String::new(), Value::Null).noting(station.take_notices());
    answer.raw = Some(Vec::new());
    Ok(answer)
}

/// A job while it is watched.
struct Watching<'a, 'b> {
    context: &'a Context<'a>,
    station: &'a mut Station,
    job: LocalJob,
    output: Output,
    console: &'a mut Console<'b>,
    /// What was shown last, without its time: a connection made again begins with the same.
    last: Option<WatchResponse>,
}

impl Watching<'_, '_> {
    /// Shows states until nobody reads them any more, or the server will never show this job here.
    async fn run(mut self) -> Result<(), ClientError> {
        let mut states = self.station.watch(&self.job).await?;
        let mut pause = Duration::ZERO;
        let mut away = false;
        let mut look_at_token = Instant::now() + LOOK_AT_TOKEN_EVERY;
        loop {
            let next = match timeout_at(look_at_token, states.message()).await {
                Ok(next) => next,
                Err(_) => {
                    look_at_token = Instant::now() + LOOK_AT_TOKEN_EVERY;
                    if self.station.is_renewal_due().await?
                        && let Ok(again) = self.station.watch(&self.job).await
                    {
                        states = again;
                    }
                    continue;
                }
            };
            let why = match next {
                Ok(Some(state)) => {
                    if std::mem::take(&mut away) {
                        self.note("the shop server answers again");
                    }
                    pause = pause.min(PAUSES.0);
                    if self.shown(state)? {
                        continue;
                    }
                    return Ok(());
                }
                Ok(None) => "the shop server ended the watch".to_owned(),
                Err(status) => match self.station.watch_ended(&status)? {
                    ClientError::Away(why) => why,
                    error => return Err(error),
                },
            };
            if !std::mem::replace(&mut away, true) {
                self.note(&format!("{why}; the watch goes on when it answers again"));
            }
            states = loop {
                tokio::time::sleep(self.station.spread(pause)?).await;
                pause = (pause * 2).clamp(PAUSES.0, PAUSES.1);
                match self.station.watch(&self.job).await {
                    Ok(states) => break states,
                    Err(error) if is_passing(&error) => {}
                    Err(error) => return Err(error),
                }
            };
        }
    }

    /// Shows a state unless it is the one before; false when nobody reads any more.
    fn shown(&mut self, state: WatchResponse) -> Result<bool, ClientError> {
        let untimed = WatchResponse { time: None, ..state.clone() };
        if self.last.as_ref() == Some(&untimed) {
            return Ok(true);
        }
        self.last = Some(untimed);
        let text = match self.output {
            Output::Json => format!("{}\n", Words::get()?.json("WatchResponse", &state)?),
            _ => {
                let zone = &self.context.machine.zone;
                printable(&block(&state, &shown::Times::new(self.context.now_microseconds(), zone)))
            }
        };
        let wrote = self.console.out.write_all(text.as_bytes()).and_then(|()| self.console.out.flush());
        match wrote {
            Ok(()) => Ok(true),
            Err(cause) if cause.kind() == ErrorKind::BrokenPipe => Ok(false),
            Err(cause) => Err(ClientError::disk("writing the watch to", Path::new("stdout"), cause)),
        }
    }

    fn note(&mut self, text: &str) {
        // If stderr is gone, nobody can be told; the watch goes on all the same.
        let _ = writeln!(self.console.err, "{}", printable(text).trim_end());
    }
}

/// Whether a watch goes on after this: the server comes back, and another command's turn on the folder ends.
fn is_passing(error: &ClientError) -> bool {
    matches!(error, ClientError::Away(_) | ClientError::Locked { .. })
}

/// One state as a short block: time, job and plate, what changes what is done next.
fn block(state: &WatchResponse, times: &shown::Times) -> String {
    let screen = Screen::of(Some(COLUMNS));
    let summary = state.summary.clone().unwrap_or_default();
    let time = format!("{}  ", times.shown(state.time.as_ref()));
    let mut text = screen.wrapped(&time, &format!("{} {}", summary.number, summary.plate));
    text.extend(state.exchange.as_ref().and_then(curve).map(|curve| screen.wrapped("  ", &curve)));
    text.extend(state.now.iter().map(|line| screen.wrapped("  > ", line)));
    if state.now.is_empty() {
        let next = match (summary.closed, summary.next_open_point.as_str()) {
            (true, "") => "closed".to_owned(),
            (true, next) => format!("closed; next: {next}"),
            (false, next) => format!("next: {next}"),
        };
        text.push_str(&screen.wrapped("  ", &next));
    }
    text
}

/// The curve over the litres in a few of its points: the new fluid inside, or in the glass where what is inside cannot be
/// told.
fn curve(exchange: &ExchangeProgress) -> Option<String> {
    let parts = |share: f64| format!("{:.0}", share * 100.0);
    let of_inside = |point: &ExchangePoint| {
        let (least, greatest) = (parts(point.least), parts(point.greatest));
        (point.pushed_litres, format!("{} ({least}-{greatest})", parts(point.share)))
    };
    let of_glass = |look: &ExchangeLook| (look.pushed_litres, parts(look.glass_new_share));
    let (what, points): (_, Vec<_>) = if exchange.curve.is_empty() {
        ("in the glass", exchange.looks.iter().map(of_glass).collect())
    } else {
        ("inside", exchange.curve.iter().map(of_inside).collect())
    };
    let last = points.len().checked_sub(1)?;
    // The points are spread evenly, with the first and the last among them.
    let mut places: Vec<usize> = (0..CURVE_POINTS).map(|at| at * last / (CURVE_POINTS - 1)).collect();
    places.dedup();
    let shown = places.into_iter().filter_map(|at| points.get(at));
    let shown: Vec<String> = shown.map(|(litres, share)| format!("{share} at {litres:.1} L")).collect();
    Some(format!("new {what}, of 100: {}", shown.join(", ")))
}

#[cfg(test)]
#[path = "../tests/ahead.rs"]
mod tests;
