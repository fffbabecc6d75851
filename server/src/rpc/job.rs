//! `JobService`: what the entries of a job mean.

use super::inside_bounds;
use super::watch::{self, States};
use crate::access::{Role, Who, who};
use crate::convert;
use crate::door::Peer;
use crate::lines;
use crate::page;
use crate::record;
use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_engine::gates::{self, Gate};
use standpipe_engine::plan::{self, Asked};
use standpipe_engine::steps;
use standpipe_proto::limits::{PAGE_SIZE_DEFAULT, PAGE_SIZE_MAX};
use standpipe_proto::v1::job_service_server::JobService;
use standpipe_proto::v1::{
    GetRequest, GetResponse, JobSummary, ListRequest, ListResponse, MayRequest, MayResponse, NextRequest,
    NextResponse, PlanRequest, PlanResponse, WatchRequest,
};
use standpipe_store::{JobNumber, SummaryFilter, SummaryOrder};
use std::sync::Arc;
use tonic::{Request, Response, Status};

pub(crate) struct Job(pub(crate) Arc<Workshop>);

#[tonic::async_trait]
impl JobService for Job {
    type WatchStream = States;

    async fn list(&self, request: Request<ListRequest>) -> Result<Response<ListResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        Ok(Response::new(list(&self.0, &who, &request).await?))
    }

    async fn get(&self, request: Request<GetRequest>) -> Result<Response<GetResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        let row = self.0.find_for(&who, &request.job).await?;
        let now = self.0.as_of_now(&row).await?;
        let spoken = record::spoken(&self.0, &row, &now.job.view).await?;
        let job = convert::job(self.0.language(&row), &now, spoken)?;
        Ok(Response::new(GetResponse { job: Some(job) }))
    }

    async fn next(&self, request: Request<NextRequest>) -> Result<Response<NextResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        Ok(Response::new(next(&self.0, &who, &request).await?))
    }

    async fn may(&self, request: Request<MayRequest>) -> Result<Response<MayResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        Ok(Response::new(may(&self.0, &who, &request).await?))
    }

    async fn plan(&self, request: Request<PlanRequest>) -> Result<Response<PlanResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        Ok(Response::new(plan(&self.0, &who, &request).await?))
    }

    async fn watch(&self, request: Request<WatchRequest>) -> Result<Response<States>, Status> {
        let who = who(request.extensions())?;
        let peer = request.extensions().get::<Peer>().cloned();
        let request = request.into_inner();
        inside_bounds(&request)?;
        Ok(Response::new(watch::begin(&self.0, who, peer, &request).await?))
    }
}

/// The procedures compared.
pub(crate) async fn plan(
    workshop: &Workshop,
    who: &Who,
    request: &PlanRequest,
) -> Result<PlanResponse, Cause> {
    let row = workshop.find_for(who, &request.job).await?;
    workshop.require_whole_site().await?;
    let reading = workshop.read(&row).await?;
    let (job, asked) = (Arc::clone(&reading.job), Asked { kit_litres: request.kit_litres });
    let planned = reading.ask(move |context, entries| plan::plan(context, entries, asked)).await?;
    convert::plan(workshop.language(&row), &planned, &job)
}

/// Whether the bay may go on behind a gate.
pub(crate) async fn may(workshop: &Workshop, who: &Who, request: &MayRequest) -> Result<MayResponse, Cause> {
    let gate = Gate::from_name(&request.gate).ok_or_else(|| Cause::GateUnknown {
        gate: request.gate.clone(),
        known: Gate::ALL.iter().map(|gate| gate.name()).collect::<Vec<_>>().join(", "),
    })?;
    let row = workshop.find_for(who, &request.job).await?;
    // The answer ends with the next entry, so it must name the last one that it saw itself.
    workshop.require_whole_site().await?;
    let reading = workshop.read(&row).await?;
    let (job, now_us) = (Arc::clone(&reading.job), reading.now_us);
    let answer = reading.ask(move |context, entries| gates::may(context, entries, gate)).await?;
    convert::go_ahead(workshop.language(&row), &answer, now_us, &job)
}

/// The steps that remain.
pub(crate) async fn next(
    workshop: &Workshop,
    who: &Who,
    request: &NextRequest,
) -> Result<NextResponse, Cause> {
    let row = workshop.find_for(who, &request.job).await?;
    workshop.require_whole_site().await?;
    let reading = workshop.read(&row).await?;
    let job = Arc::clone(&reading.job);
    let (steps, view) = reading.ask(steps::remaining_with_view).await?;
    let language = workshop.language(&row);
    let stops = view.findings.iter().filter(|finding| finding.stands);
    Ok(NextResponse {
        summary: Some(convert::summary(language, &job)?),
        steps: steps.iter().map(|step| convert::step(language, step)).collect::<Result<_, _>>()?,
        last_seq: convert::signed(job.row.last_seq),
        stops: stops.map(|finding| convert::finding(language, finding)).collect::<Result<_, _>>()?,
        now: convert::all_words(language, &view.now)?,
    })
}

/// A page of the jobs that the station sees.
pub(crate) async fn list(
    workshop: &Workshop,
    who: &Who,
    request: &ListRequest,
) -> Result<ListResponse, Cause> {
    lines::refresh(workshop).await?;
    // Names of customers are no business of a bay, not even by what a search finds.
    let customers = who.role.sees_customers();
    let question = ["List", request.search.as_str(), if request.open_only { "open" } else { "all" }];
    let mut before = page::place(&question, &request.page_token)?.map(number_of_place).transpose()?;
    let limit = page::size(request.page_size, PAGE_SIZE_DEFAULT);
    let mut jobs: Vec<(JobNumber, JobSummary)> = Vec::new();
    // One more than asked shows whether there is a next page. What a bay does not see is skipped, which may be nearly
    // everything, so it looks at many lines at a time and settles by the line alone what it can.
    loop {
        let wanted = match who.role {
            Role::Bay => PAGE_SIZE_MAX,
            _ => (limit + 1).saturating_sub(jobs.len()).min(PAGE_SIZE_MAX),
        };
        let order = SummaryOrder::Newest { before };
        let filter =
            SummaryFilter { text: request.search.clone(), open_only: request.open_only, order, customers };
        let lines = workshop.beside.summaries(&filter, wanted).await?;
        let ended = lines.len() < wanted;
        for line in lines {
            before = Some(line.number);
            if who.role == Role::Bay && line.closed && !bay_sees(workshop, &line).await? {
                continue;
            }
            let Some(row) = workshop.journal.job(line.job_id).await? else { continue };
            jobs.push((line.number, convert::listed(line, workshop.printed(&row))));
            if jobs.len() > limit {
                break;
            }
        }
        if ended || jobs.len() > limit {
            break;
        }
    }
    let more = jobs.len() > limit;
    jobs.truncate(limit);
    let last = jobs.last().filter(|_| more).map(|(number, _)| *number);
    let next_page_token = last.map(|last| page::token(&question, &place_of_number(last))).unwrap_or_default();
    Ok(ListResponse { jobs: jobs.into_iter().map(|(_, line)| line).collect(), next_page_token })
}

/// Whether a bay sees a closed job of the list.
async fn bay_sees(workshop: &Workshop, line: &standpipe_store::JobSummary) -> Result<bool, Cause> {
    // The last entry is never before the closing, so most old jobs are settled without looking at them.
    if line.updated_us < workshop.bay_sees_from_us() {
        return Ok(false);
    }
    let Some(row) = workshop.journal.job(line.job_id).await? else { return Ok(false) };
    Ok(workshop.bay_sees(&*workshop.computed(&row).await?))
}

fn place_of_number(number: JobNumber) -> String {
    format!("{}-{}", number.year, number.ordinal)
}

fn number_of_place(place: &str) -> Result<JobNumber, Cause> {
    let (year, ordinal) = place.rsplit_once('-').ok_or(Cause::PageToken)?;
    let read = || Some(JobNumber { year: year.parse().ok()?, ordinal: ordinal.parse().ok()? });
    read().ok_or(Cause::PageToken)
}
