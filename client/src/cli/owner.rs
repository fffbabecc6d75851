//! What an owner asks of all workshops together: one page on paper, and every job as a row. The rows come a page at a
//! time and are written as they come, so that years of them fit.

use super::act::text;
use super::answer::Answer;
use super::sheet::written;
use super::{Console, Context};
use crate::config::Output;
use crate::error::ClientError;
use crate::overview::Asked;
use clap::ArgMatches;
use serde::Deserialize;
use serde::de::IgnoredAny;
use serde_json::Value;
use standpipe_proto::csv;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// The tally that is meant where none is named.
pub(super) const TALLY: &str = "owner";
/// Name under which the rows are asked for.
const JOBS: &str = "owner-jobs";

/// Whether a command asks for the rows.
pub(super) fn is_about_jobs(command: &str, matches: &ArgMatches) -> bool {
    command == "tally" && text(matches, "name") == JOBS
}

/// The period as the server reads it.
pub(super) fn period(matches: &ArgMatches) -> String {
    match matches.get_one::<u16>("months") {
        Some(1) => "1 month".to_owned(),
        Some(months) => format!("{months} months"),
        None => text(matches, "period").trim().to_owned(),
    }
}

/// Prints the page about all workshops.
pub(super) async fn sheet(context: &Context<'_>, matches: &ArgMatches) -> Result<Answer, ClientError> {
    let asked = Asked { tally: TALLY.to_owned(), about: String::new(), period: period(matches) };
    let mut station = context.station()?;
    let pdf = station.printed_tally(asked).await?;
    let file = matches
        .get_one::<PathBuf>("file")
        .ok_or_else(|| ClientError::Usage("say where the page goes, for example -o owner.pdf".into()))?;
    written(context, file, TALLY, pdf).map(|answer| answer.noting(station.take_notices()))
}

/// Writes every job of the period, a row each.
pub(super) async fn jobs(
    context: &Context<'_>,
    matches: &ArgMatches,
    output: Output,
    console: &mut Console<'_>,
) -> Result<Answer, ClientError> {
    if output == Output::Text {
        return Err(ClientError::Usage(format!(
            "{JOBS} has more columns than people read: standpipe tally {JOBS} --output csv, or jsonl; for people: \
             standpipe tally --months 12"
        )));
    }
    if matches.get_one::<PathBuf>("file").is_some() {
        return Err(ClientError::Usage(format!(
            "{JOBS} is no page to print: standpipe tally {JOBS} --output csv > jobs.csv"
        )));
    }
    let mut station = context.station()?;
    let (period, mut page_token, mut is_first) = (period(matches), String::new(), true);
    let mut lacking = Lacking::default();
    loop {
        let page = station.tally_jobs(&period, page_token).await?;
        let mut lines = String::new();
        if output == Output::Csv && is_first {
            lines.push_str(&csv::row(&page.columns));
        }
        for job in &page.jobs {
            lacking.look_at(job)?;
            match output {
                Output::Csv => lines.push_str(&csv::row(&cells(&page.columns, job)?)),
                _ => {
                    lines.push_str(job);
                    lines.push('\n');
                }
            }
        }
        let wrote = console.out.write_all(lines.as_bytes()).and_then(|()| console.out.flush());
        let is_read = match wrote {
            Ok(()) => true,
            // Whoever reads has enough of it; what was not looked at is not counted as whole.
            Err(cause) if cause.kind() == ErrorKind::BrokenPipe => false,
            Err(cause) => return Err(ClientError::disk("writing", Path::new("the output"), cause)),
        };
        (page_token, is_first) = (page.next_page_token, false);
        if page_token.is_empty() || !is_read {
            let mut answer = Answer::new(String::new(), Value::Null);
            answer.raw = Some(Vec::new());
            return Ok(answer.noting(lacking.notes()).noting(station.take_notices()));
        }
    }
}

/// Jobs that are in the rows and not, or not whole, in any sum over them.
#[derive(Debug, Default)]
struct Lacking {
    left_out: u64,
    unread: u64,
}

impl Lacking {
    fn look_at(&mut self, job: &str) -> Result<(), ClientError> {
        #[derive(Default, Deserialize)]
        #[serde(default)]
        struct Said {
            left_out: bool,
            /// Nothing for a job that is left out.
            unread: Option<Vec<IgnoredAny>>,
        }
        let said: Said = serde_json::from_str(job).map_err(|_| no_object())?;
        self.left_out += u64::from(said.left_out);
        self.unread += u64::from(said.unread.is_some_and(|unread| !unread.is_empty()));
        Ok(())
    }

    /// What whoever sums the rows has to know.
    fn notes(&self) -> Vec<String> {
        let jobs = |count| if count == 1 { "1 job".to_owned() } else { format!("{count} jobs") };
        let left_out = (self.left_out > 0).then(|| {
            let jobs = jobs(self.left_out);
            format!(
                "{jobs} could not be computed: left_out is true there, nothing is measured, and no sum has it"
            )
        });
        let unread = (self.unread > 0).then(|| {
            let jobs = jobs(self.unread);
            format!(
                "{jobs} with entries that the server cannot read: unread names them, and no number has them"
            )
        });
        left_out.into_iter().chain(unread).collect()
    }
}

fn no_object() -> ClientError {
    ClientError::Descriptor("the server sent a job that is no JSON object".into())
}

/// A job's cells in the order of the columns.
fn cells(columns: &[String], job: &str) -> Result<Vec<String>, ClientError> {
    let job: Value = serde_json::from_str(job).map_err(|_| no_object())?;
    Ok(columns.iter().map(|column| job.get(column).map(csv::cell).unwrap_or_default()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_job_is_a_row_in_the_order_of_the_columns_and_what_was_not_measured_is_empty() {
        let columns = ["site", "lots", "share", "done", "tools_past_check"].map(str::to_owned);
        let job = r#"{"done":true,"site":"mill-street","share":null,"lots":[{"code":"LN-847","lot":"L-1","litres":9.4},
            {"code":"LN-847","lot":"","litres":1.0}],"tools_past_check":["T-07","T-02"]}"#;
        let row = cells(&columns, job).unwrap();
        assert_eq!(row, ["mill-street", "LN-847 9.4 L-1; LN-847 1.0", "", "true", "T-07; T-02"]);
        assert!(cells(&columns, "[").is_err());
    }

    #[test]
    fn jobs_that_no_sum_has_are_counted_and_said() {
        let mut lacking = Lacking::default();
        for whole in [r#"{"site":"a","unread":[],"left_out":false}"#, r#"{"site":"a"}"#] {
            lacking.look_at(whole).unwrap();
        }
        assert_eq!(lacking.notes(), [""; 0], "also with a server that says nothing of it");
        lacking.look_at(r#"{"site":"a","unread":null,"left_out":true}"#).unwrap();
        for _ in 0..2 {
            lacking.look_at(r#"{"site":"a","unread":[7,9],"left_out":false}"#).unwrap();
        }
        let notes = lacking.notes();
        assert_eq!(notes.len(), 2, "{notes:?}");
        assert!(
            notes[0].starts_with("1 job could not be computed") && notes[0].contains("left_out"),
            "{notes:?}"
        );
        assert!(notes[1].starts_with("2 jobs with entries"), "{notes:?}");
        assert!(lacking.look_at("[").is_err());
    }
}
