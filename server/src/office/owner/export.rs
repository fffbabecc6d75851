//! Every job of the period as a file, a page of rows at a time, so that years of them fit.

use super::super::Office;
use super::super::guard::SignedIn;
use super::super::trouble::Trouble;
use crate::status::Cause;
use crate::tallies::{Period, Tallies, Written};
use crate::tally::owner;
use axum::body::{Body, Bytes};
use axum::extract::{Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse as _, Response};
use serde_json::Value;
use standpipe_proto::csv as table_csv;
use std::collections::HashMap;
use std::sync::Arc;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;

/// Rows that are read at once.
const ROWS_AT_ONCE: usize = 500;
/// Pages that wait for a reader.
const PAGES_WAITING: usize = 2;

/// In which form a row is written.
#[derive(Clone, Copy)]
enum Form {
    Csv,
    JsonLines,
}

/// As comma-separated values (RFC 4180).
pub(in crate::office) async fn csv(
    State(office): State<Arc<Office>>,
    _person: SignedIn,
    Query(asked): Query<HashMap<String, String>>,
) -> Result<Response, Trouble> {
    export(&office, &asked, Form::Csv)
}

/// A JSON object a line.
pub(in crate::office) async fn json_lines(
    State(office): State<Arc<Office>>,
    _person: SignedIn,
    Query(asked): Query<HashMap<String, String>>,
) -> Result<Response, Trouble> {
    export(&office, &asked, Form::JsonLines)
}

fn export(office: &Office, asked: &HashMap<String, String>, form: Form) -> Result<Response, Trouble> {
    let tallies = Arc::clone(office.tallies()?);
    let period = owner::period(&office.workshop, asked.get("period").map_or("", |text| text.trim()))?;
    let (ending, kind) = match form {
        Form::Csv => ("csv", "text/csv; charset=utf-8"),
        Form::JsonLines => ("jsonl", "application/jsonl"),
    };
    let name = format!("jobs-{}-{}.{ending}", period.first, period.last);
    let (sender, receiver) = mpsc::channel(PAGES_WAITING);
    tokio::spawn(async move {
        if let Err(cause) = write(&tallies, &period, form, &sender).await {
            tracing::warn!(%cause, "the export of jobs ended early");
            // The file is cut short, so that nobody takes it for a whole one; nobody left to tell is no trouble.
            let _ = sender.send(Err(std::io::Error::other(cause.to_string()))).await;
        }
    });
    let head =
        [(CONTENT_TYPE, kind.to_owned()), (CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\""))];
    Ok((head, Body::from_stream(ReceiverStream::new(receiver))).into_response())
}

type Page = Result<Bytes, std::io::Error>;

/// Writes page after page until all are there or nobody reads any more.
async fn write(
    tallies: &Tallies,
    period: &Period,
    form: Form,
    sender: &mpsc::Sender<Page>,
) -> Result<(), Cause> {
    let columns = owner::columns()?;
    let mut text = match form {
        Form::Csv => table_csv::row(&columns),
        Form::JsonLines => String::new(),
    };
    let mut after = None;
    loop {
        let (rows, next) = tallies.page_of_rows(period, None, after, ROWS_AT_ONCE).await?;
        for row in &rows {
            text.push_str(&line(row, &columns, form)?);
        }
        if sender.send(Ok(Bytes::from(std::mem::take(&mut text)))).await.is_err() || next.is_none() {
            return Ok(());
        }
        after = next;
    }
}

fn line(row: &Written, columns: &[String], form: Form) -> Result<String, Cause> {
    let json = owner::line(row, columns)?;
    match form {
        Form::JsonLines => Ok(format!("{json}\n")),
        Form::Csv => {
            let row: Value = serde_json::from_str(&json)
                .map_err(|error| Cause::internal("reading the row of a job", &error))?;
            let cells: Vec<String> = columns
                .iter()
                .map(|column| row.get(column).map(table_csv::cell).unwrap_or_default())
                .collect();
            Ok(table_csv::row(&cells))
        }
    }
}
