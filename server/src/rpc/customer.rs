//! `CustomerService`: who a job is for. The access table keeps bays away.

use super::inside_bounds;
use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_proto::v1::customer_service_server::CustomerService;
use standpipe_proto::v1::{
    self, EraseCustomerRequest, EraseCustomerResponse, GetCustomerRequest, GetCustomerResponse,
    PutCustomerRequest, PutCustomerResponse,
};
use std::sync::Arc;
use tonic::{Request, Response, Status};

pub(crate) struct Customer(pub(crate) Arc<Workshop>);

#[tonic::async_trait]
impl CustomerService for Customer {
    async fn put_customer(
        &self,
        request: Request<PutCustomerRequest>,
    ) -> Result<Response<PutCustomerResponse>, Status> {
        let request = request.into_inner();
        inside_bounds(&request)?;
        let row = self.0.find(&request.job).await?;
        let customer = request.customer.unwrap_or_default();
        let customer = standpipe_store::Customer { name: customer.name, telephone: customer.telephone };
        let put = self.0.beside.put_customer(row.job_id, &customer, self.0.clock.now_us()).await;
        put.map_err(Cause::from)?;
        self.0.change_beside();
        Ok(Response::new(PutCustomerResponse {}))
    }

    async fn get_customer(
        &self,
        request: Request<GetCustomerRequest>,
    ) -> Result<Response<GetCustomerResponse>, Status> {
        let request = request.into_inner();
        inside_bounds(&request)?;
        let row = self.0.find(&request.job).await?;
        let customer = self.0.beside.customer(row.job_id).await.map_err(Cause::from)?;
        let customer = customer.map(|known| v1::Customer { name: known.name, telephone: known.telephone });
        Ok(Response::new(GetCustomerResponse { customer }))
    }

    async fn erase_customer(
        &self,
        request: Request<EraseCustomerRequest>,
    ) -> Result<Response<EraseCustomerResponse>, Status> {
        let request = request.into_inner();
        inside_bounds(&request)?;
        let row = self.0.find(&request.job).await?;
        let erased = self.0.beside.erase_customer(row.job_id, self.0.clock.now_us()).await;
        erased.map_err(Cause::from)?;
        self.0.change_beside();
        Ok(Response::new(EraseCustomerResponse {}))
    }
}
