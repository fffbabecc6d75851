//! `TallyService`: sums over jobs and facts of the site, and what a code belongs to.

use super::inside_bounds;
use crate::access::{Role, Who, who};
use crate::convert;
use crate::status::Cause;
use crate::tally::{self, Made};
use crate::workshop::Workshop;
use standpipe_engine::site::FoundWhat;
use standpipe_engine::site::tally::Asked;
use standpipe_proto::v1::tally_service_server::TallyService;
use standpipe_proto::v1::{
    FindCodeRequest, FindCodeResponse, GetTallyRequest, GetTallyResponse, ListTallyJobsRequest,
    ListTallyJobsResponse, PrintTallyRequest, PrintTallyResponse,
};
use std::sync::Arc;
use tonic::{Request, Response, Status};

pub(crate) struct Tally(pub(crate) Arc<Workshop>);

#[tonic::async_trait]
impl TallyService for Tally {
    async fn get_tally(
        &self,
        request: Request<GetTallyRequest>,
    ) -> Result<Response<GetTallyResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        if who.role == Role::Bay && self.0.tallies.is_some() && tally::owner::is_of_all(&request.tally) {
            let method = format!("GetTally for the tally {}", request.tally);
            return Err(Cause::NotPermitted { role: who.role.name(), method }.into());
        }
        let made = made(&self.0, &request.tally, request.about, request.period).await?;
        let made = tally::seen_by(&self.0, &who, made).await?;
        let sheet = tally::message(&self.0, &made)?;
        Ok(Response::new(GetTallyResponse { sheet: Some(sheet) }))
    }

    async fn print_tally(
        &self,
        request: Request<PrintTallyRequest>,
    ) -> Result<Response<PrintTallyResponse>, Status> {
        let request = request.into_inner();
        inside_bounds(&request)?;
        let made = made(&self.0, &request.tally, request.about, request.period).await?;
        let pdf = tally::print::pdf(&self.0, made).await?;
        Ok(Response::new(PrintTallyResponse { pdf }))
    }

    async fn list_tally_jobs(
        &self,
        request: Request<ListTallyJobsRequest>,
    ) -> Result<Response<ListTallyJobsResponse>, Status> {
        let request = request.into_inner();
        inside_bounds(&request)?;
        Ok(Response::new(tally::owner::jobs(&self.0, &request).await?))
    }

    async fn find_code(
        &self,
        request: Request<FindCodeRequest>,
    ) -> Result<Response<FindCodeResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        Ok(Response::new(find_code(&self.0, &who, &request).await?))
    }
}

async fn made(workshop: &Workshop, name: &str, about: String, period: String) -> Result<Made, Cause> {
    tally::made(workshop, name, Asked { about, period }).await
}

async fn find_code(
    workshop: &Workshop,
    who: &Who,
    request: &FindCodeRequest,
) -> Result<FindCodeResponse, Cause> {
    let job = match request.job.as_str() {
        "" => None,
        job => Some(workshop.find_for(who, job).await?),
    };
    let language = tally::language(workshop);
    let number_of = |job: &str| workshop.site.number_of(job);
    let mut found = Vec::new();
    for one in tally::found(workshop, &request.code, job.as_ref()).await? {
        // What a station may not see is not known to it.
        if one.what == FoundWhat::Job {
            match workshop.find_for(who, &one.job).await {
                Ok(_) => {}
                Err(Cause::ClosedLongAgo { .. }) => continue,
                Err(cause) => return Err(cause),
            }
        }
        found.push(convert::found(language, &one, &number_of)?);
    }
    Ok(FindCodeResponse { found })
}
