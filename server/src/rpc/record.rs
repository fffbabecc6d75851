//! `RecordService`: prints the record of a job as it stands.

use super::inside_bounds;
use crate::access::who;
use crate::convert;
use crate::status::Cause;
use crate::workshop::{Workshop, off_the_network};
use standpipe_proto::limits::RECORD_BYTES_MAX;
use standpipe_proto::v1::record_service_server::RecordService;
use standpipe_proto::v1::{RenderRequest, RenderResponse};
use standpipe_report::{Options, render};
use std::sync::Arc;
use tonic::{Request, Response, Status};

pub(crate) struct Record(pub(crate) Arc<Workshop>);

#[tonic::async_trait]
impl RecordService for Record {
    async fn render(&self, request: Request<RenderRequest>) -> Result<Response<RenderResponse>, Status> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        let row = self.0.find_for(&who, &request.job).await?;
        let computed = self.0.computed(&row).await?;
        let options = Options { language: self.0.language(&row), edition: None };
        let (file_name, check_value) =
            (format!("{}.pdf", computed.view.head.number), convert::check_value(&computed.view));
        let rendered = off_the_network(move || render(&computed.view, &options)).await?;
        let rendered = rendered.map_err(|error| Cause::internal("printing a record", &error))?;
        if rendered.pdf.len() > RECORD_BYTES_MAX {
            let size = format!("it has {} bytes, more than {RECORD_BYTES_MAX}", rendered.pdf.len());
            return Err(Cause::internal("printing a record", &size).into());
        }
        Ok(Response::new(RenderResponse {
            pdf: rendered.pdf,
            file_name,
            check_value,
            warnings: rendered.warnings,
        }))
    }
}
