//! Tallies of an owner's server, over the jobs of all workshops. Called by the handlers of the network and the owner's
//! pages; rows and sums are [`crate::tallies`]', what they mean is the engine's.

use super::Made;
use crate::page;
use crate::status::Cause;
use crate::tallies::{Gathered, Period, Tallies, Written};
use crate::workshop::{Workshop, off_the_network};
use serde::de::{Deserialize, Deserializer, IgnoredAny, MapAccess, Visitor};
use serde_json::{Value, json};
use standpipe_engine::owner::sheets;
use standpipe_engine::site::tally::Asked;
use standpipe_proto::v1::{ListTallyJobsRequest, ListTallyJobsResponse};
use std::fmt;
use std::sync::Arc;

/// Jobs of one answer.
const JOBS_AT_ONCE: usize = 500;
/// Name under which the rows themselves are asked for.
const JOBS: &str = "owner-jobs";

/// Names of what is asked over all workshops, which only an owner's server has.
pub(crate) fn of_all() -> impl Iterator<Item = &'static str> {
    sheets::names().chain([JOBS])
}

/// Whether a tally is a sheet over all workshops.
pub(crate) fn is_of_all(name: &str) -> bool {
    sheets::names().any(|known| known == name)
}

/// The months that are meant at the owner's clock.
pub(crate) fn period(workshop: &Workshop, text: &str) -> Result<Period, Cause> {
    let catalogue = workshop.catalogue();
    let zone = &catalogue.now().revision.workshop().time_zone;
    Period::read(text, workshop.clock.now_us(), zone).map_err(Cause::Tally)
}

/// Sums and rows of a period.
pub(crate) async fn gathered(
    workshop: &Workshop,
    tallies: &Tallies,
    text: &str,
) -> Result<Arc<Gathered>, Cause> {
    let period = period(workshop, text)?;
    let zone = workshop.catalogue().now().revision.workshop().time_zone.clone();
    Ok(Arc::new(tallies.gathered(period, workshop.clock.now_us(), &zone).await?))
}

/// Makes a tally over all workshops.
pub(crate) async fn made(
    workshop: &Workshop,
    tallies: &Tallies,
    name: &str,
    asked: &Asked,
) -> Result<Made, Cause> {
    let gathered = gathered(workshop, tallies, &asked.period).await?;
    let (of, name, about) = (Arc::clone(&gathered), name.to_owned(), asked.about.clone());
    let sheet = off_the_network(move || of.sheet(&name, &about)).await??;
    Ok(Made { sheet, as_of_us: gathered.as_of_us, last_seq: 0, gathered: Some(gathered) })
}

/// A page of rows, each as a JSON object.
pub(crate) async fn jobs(
    workshop: &Workshop,
    request: &ListTallyJobsRequest,
) -> Result<ListTallyJobsResponse, Cause> {
    let elsewhere = || Cause::TallyOfOwner { name: JOBS.to_owned() };
    let tallies = workshop.tallies.as_ref().ok_or_else(elsewhere)?;
    let period = period(workshop, &request.period)?;
    let question = ["ListTallyJobs", &period.first, &period.last, &request.site];
    let after = page::place(&question, &request.page_token)?.map(place_of).transpose()?;
    let site = Some(request.site.clone()).filter(|site| !site.is_empty());
    let limit = page::size(request.page_size, JOBS_AT_ONCE).min(JOBS_AT_ONCE);
    let (rows, next) = tallies.page_of_rows(&period, site, after, limit).await?;
    let next_page_token = next.map(|place| page::token(&question, &of_place(&place))).unwrap_or_default();
    let columns = columns()?;
    let jobs = rows.iter().map(|row| line(row, &columns)).collect::<Result<_, _>>()?;
    Ok(ListTallyJobsResponse { columns, jobs, next_page_token })
}

/// A row as a JSON object with these columns. Of a job that could not be computed nothing was measured, so that no sum
/// over the rows takes what is missing for nothing.
pub(crate) fn line(row: &Written, columns: &[String]) -> Result<String, Cause> {
    if !row.left_out {
        return written(row);
    }
    let job = &row.job;
    let known = json!({ "site": job.site, "job": job.job, "number": job.number, "month": job.month, "left_out": true });
    let part = |column: &String| {
        let value = known.get(column).unwrap_or(&Value::Null);
        format!("{}:{value}", Value::from(column.as_str()))
    };
    Ok(format!("{{{}}}", columns.iter().map(part).collect::<Vec<_>>().join(",")))
}

/// Names of what a row has, in their order: all of the job, the entries of it that this edition cannot read, and whether
/// the job could not be computed.
pub(crate) fn columns() -> Result<Vec<String>, Cause> {
    let Keys(keys) = serde_json::from_str(&written(&Written::default())?)
        .map_err(|error| Cause::internal("reading the columns of a row", &error))?;
    Ok(keys)
}

fn written(row: &Written) -> Result<String, Cause> {
    serde_json::to_string(row).map_err(|error| Cause::internal("writing the row of a job", &error))
}

type Place = (String, String, [u8; 16]);

fn of_place((site, month, job): &Place) -> String {
    format!("{site}/{month}/{}", crate::clock::hex(job))
}

fn place_of(text: &str) -> Result<Place, Cause> {
    let mut parts = text.rsplitn(3, '/');
    let job = parts.next().and_then(crate::clock::unhex).ok_or(Cause::PageToken)?;
    let (month, site) = parts.next().zip(parts.next()).ok_or(Cause::PageToken)?;
    Ok((site.to_owned(), month.to_owned(), job))
}

/// Keys of a JSON object in the order in which they stand.
struct Keys(Vec<String>);

impl<'de> Deserialize<'de> for Keys {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Read;

        impl<'de> Visitor<'de> for Read {
            type Value = Keys;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Keys, A::Error> {
                let mut keys = Vec::new();
                while let Some((key, IgnoredAny)) = map.next_entry()? {
                    keys.push(key);
                }
                Ok(Keys(keys))
            }
        }

        deserializer.deserialize_map(Read)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_stand_in_the_order_of_the_row_and_no_customer_is_among_them() {
        let columns = columns().unwrap();
        assert_eq!(columns.iter().map(String::as_str).take(3).collect::<Vec<_>>(), ["site", "job", "number"]);
        assert!(columns.iter().any(|column| column == "minutes_exchange"));
        for unknown in ["customer", "plate", "vin", "remark"] {
            assert!(columns.iter().all(|column| !column.contains(unknown)), "{unknown}");
        }
        // What is said of the row itself comes last, so that places of columns stay.
        assert_eq!(columns[columns.len() - 2..], ["unread", "left_out"]);
    }

    #[test]
    fn a_job_that_could_not_be_computed_is_a_row_that_says_so_and_measures_nothing() {
        let columns = columns().unwrap();
        let number = "MS-26-0002".to_owned();
        let left = Written::left_out("mill-street", "a job".into(), number, "2026-02".into());
        let text = line(&left, &columns).unwrap();
        let Keys(keys) = serde_json::from_str(&text).unwrap();
        assert_eq!(keys, columns, "in the same order as every other row");
        let row: Value = serde_json::from_str(&text).unwrap();
        let mut said: Vec<_> = columns.iter().filter(|column| !row[column.as_str()].is_null()).collect();
        said.sort();
        assert_eq!(said, ["job", "left_out", "month", "number", "site"]);
        assert_eq!((&row["site"], &row["month"]), (&json!("mill-street"), &json!("2026-02")));
        assert_eq!((&row["number"], &row["left_out"]), (&json!("MS-26-0002"), &json!(true)));
        let partly = Written { unread: vec![7, 9], ..Written::default() };
        let row: Value = serde_json::from_str(&line(&partly, &columns).unwrap()).unwrap();
        assert_eq!((&row["unread"], &row["left_out"]), (&json!([7, 9]), &json!(false)));
        assert_eq!(row["litres_by_display"], json!(0.0), "what was computed is said as it is");
    }

    #[test]
    fn a_place_is_read_back_and_no_other_text_is_one() {
        let place = ("mill-street".to_owned(), "2026-11".to_owned(), [7; 16]);
        assert_eq!(place_of(&of_place(&place)).unwrap(), place);
        for wrong in ["", "mill-street", "2026-11/00", "a/b/c"] {
            assert!(place_of(wrong).is_err(), "{wrong}");
        }
    }
}
