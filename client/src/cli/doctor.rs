//! `doctor`: what the station found, a line each, with the next step under it.

use super::Context;
use super::answer::{Answer, Exit};
use crate::doctor::{self, Check, Examined};
use crate::error::ClientError;
use serde_json::{Value, json};

/// Column of the sentences.
const INDENT: usize = 11;

pub(super) async fn doctor(context: &Context<'_>) -> Result<Answer, ClientError> {
    let settings = doctor::settings(&context.home, &context.machine.environment)?;
    let mut station = context.station()?;
    let Examined { checks, reached } = station.doctor().await?;
    let checks: Vec<Check> = std::iter::once(settings).chain(checks).collect();
    let to_do = checks.iter().filter(|check| check.next.is_some()).count();
    let mut text = String::new();
    for check in &checks {
        text.push_str(&format!("{:<INDENT$}{}\n", check.about, check.sentence));
        if let Some(next) = &check.next {
            text.push_str(&format!("{:<INDENT$}next: {next}\n", ""));
        }
    }
    text.push_str(&match to_do {
        0 => "nothing is to be done\n".to_owned(),
        1 => "1 thing is to be done\n".to_owned(),
        many => format!("{many} things are to be done\n"),
    });
    let rows: Vec<Value> = checks
        .iter()
        .map(|check| json!({ "about": check.about, "sentence": check.sentence, "next": check.next }))
        .collect();
    let exit = match (reached, to_do) {
        (false, _) => Exit::Kept,
        (true, 0) => Exit::Done,
        (true, _) => Exit::No,
    };
    let answer = Answer::new(text, json!({ "checks": rows, "to_do": to_do, "reached": reached }));
    Ok(answer.noting(station.take_notices()).ending(exit))
}
