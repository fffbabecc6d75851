//! `RecordService`: prints the record of a job as it stands, issues editions, prints work sheets. A bay gets no page that
//! names the customer.

use super::inside_bounds;
use crate::access::who;
use crate::record::{self, PHOTO_SHEET_NAME, Reader, Wanted};
use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_proto::check::Violation;
use standpipe_proto::v1::record_service_server::RecordService;
use standpipe_proto::v1::{
    BaySheetRequest, BaySheetResponse, IssueRequest, IssueResponse, PhotoSheetRequest, PhotoSheetResponse,
    RenderRequest, RenderResponse,
};
use standpipe_store::EntryId;
use std::sync::Arc;
use tonic::{Request, Response, Status};

pub(crate) struct Record(pub(crate) Arc<Workshop>);

#[tonic::async_trait]
impl RecordService for Record {
    async fn render(&self, request: Request<RenderRequest>) -> Result<Response<RenderResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        if request.edition != 0 && request.annex {
            return Err(outside(
                "annex",
                "an issued edition is reprinted as it is; ask for the annex with edition 0",
            ));
        }
        let row = self.0.find_for(&who, &request.job).await?;
        let reader = Reader::of(who.role);
        let printed = if request.edition == 0 {
            let wanted = Wanted { customer: reader != Reader::Bay, annex: request.annex };
            record::draft(&self.0, &row, wanted).await?
        } else {
            record::edition(&self.0, &row, request.edition, reader).await?
        };
        Ok(Response::new(RenderResponse {
            pdf: printed.pdf,
            file_name: printed.file_name,
            check_value: printed.check_value,
            warnings: printed.warnings,
        }))
    }

    async fn issue(&self, request: Request<IssueRequest>) -> Result<Response<IssueResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        let request_id = uuid::Uuid::try_parse(&request.request_id)
            .map_err(|_| outside("request_id", "is no UUID in its text form"))?;
        let row = self.0.find_for(&who, &request.job).await?;
        let request_id = EntryId(request_id.into_bytes());
        let reader = Reader::of(who.role);
        let issued = record::issue(&self.0, &row, request_id, &request.person_code, reader).await?;
        Ok(Response::new(IssueResponse {
            edition: issued.edition,
            pdf: issued.printed.pdf,
            file_name: issued.printed.file_name,
            check_value: issued.printed.check_value,
        }))
    }

    async fn bay_sheet(
        &self,
        request: Request<BaySheetRequest>,
    ) -> Result<Response<BaySheetResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        let row = self.0.find_for(&who, &request.job).await?;
        let printed = record::bay_sheet(&self.0, &row).await?;
        Ok(Response::new(BaySheetResponse { pdf: printed.pdf, file_name: printed.file_name }))
    }

    async fn photo_sheet(
        &self,
        _request: Request<PhotoSheetRequest>,
    ) -> Result<Response<PhotoSheetResponse>, Status> {
        let pdf = record::photo_sheet(&self.0).await?;
        Ok(Response::new(PhotoSheetResponse { pdf, file_name: PHOTO_SHEET_NAME.to_owned() }))
    }
}

fn outside(field: &str, what: &str) -> Status {
    Cause::OutsideBounds(vec![Violation { field: field.to_owned(), what: what.to_owned() }]).into()
}
