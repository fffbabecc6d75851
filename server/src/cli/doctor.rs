//! `doctor`: what the library found, a line each, with the next step under it.

use super::shown::{Output, list, say};
use serde_json::{Value, json};
use standpipe_proto::check::Violation;
use standpipe_server::{Check, ServerError, SystemClock, doctor as look, site_folder};
use std::path::PathBuf;
use std::process::ExitCode;

/// Column of the sentences.
const INDENT: usize = 13;
/// Exit code when something is to be done, as at a station; nothing need be damaged or refused.
const TO_DO: u8 = 1;

pub(super) async fn doctor(
    dir: Option<PathBuf>,
    only: &[String],
    output: Output,
) -> Result<ExitCode, ServerError> {
    let mut checks = look(&site_folder(dir)?, &SystemClock).await?;
    if let Some(unknown) = only.iter().find(|name| !checks.iter().any(|check| check.about == **name)) {
        let known: Vec<_> = checks.iter().map(|check| check.about).collect();
        let what = format!("'{unknown}' is not looked at; write one of {}", known.join(", "));
        return Err(ServerError::OutsideBounds(vec![Violation { field: "--only".to_owned(), what }]));
    }
    checks.retain(|check| only.is_empty() || only.iter().any(|name| name == check.about));
    let to_do = checks.iter().filter(|check| check.next.is_some()).count();
    match output {
        Output::Json => {
            let rows: Vec<Value> = checks.iter().map(object).collect();
            say(&json!({ "checks": rows, "to_do": to_do }).to_string());
        }
        Output::Csv => {
            let rows = checks.iter().map(|it| vec![json!(it.about), json!(it.sentence), json!(it.next)]);
            list(output, &["about", "sentence", "next"], &rows.collect::<Vec<_>>());
        }
        Output::Text => {
            for check in &checks {
                say(&format!("{:<INDENT$}{}", check.about, check.sentence));
                if let Some(next) = &check.next {
                    say(&format!("{:<INDENT$}next: {next}", ""));
                }
            }
            say(&match to_do {
                0 => "nothing is to be done".to_owned(),
                1 => "1 thing is to be done".to_owned(),
                many => format!("{many} things are to be done"),
            });
        }
    }
    Ok(if to_do == 0 { ExitCode::SUCCESS } else { ExitCode::from(TO_DO) })
}

fn object(check: &Check) -> Value {
    json!({ "about": check.about, "sentence": check.sentence, "next": check.next })
}
