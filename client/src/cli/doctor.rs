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
    let (Examined { checks, reached }, notices) = match context.station() {
        Ok(mut station) => (station.doctor().await?, station.take_notices()),
        // Nobody was to be reached, so that nobody is away.
        Err(ClientError::NotJoined { home }) => {
            let checks = doctor::not_joined(&home);
            return Ok(told(settings, Examined { checks, reached: false }, Exit::No));
        }
        Err(error) => return Err(error),
    };
    let exit = if reached { Exit::No } else { Exit::Kept };
    Ok(told(settings, Examined { checks, reached }, exit).noting(notices))
}

/// All checks, a line each; `exit` is for something to be done.
fn told(settings: Check, Examined { checks, reached }: Examined, exit: Exit) -> Answer {
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
    let exit = if reached && to_do == 0 { Exit::Done } else { exit };
    Answer::new(text, json!({ "checks": rows, "to_do": to_do, "reached": reached })).ending(exit)
}
