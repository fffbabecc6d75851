//! What a station asks of the site as a whole: tallies, and what a code belongs to. Nothing is computed here, and no old
//! answer is repeated.

use crate::LocalJob;
use crate::error::ClientError;
use crate::station::Station;
use standpipe_proto::check::{CheckError, violations};
use standpipe_proto::v1;
use standpipe_proto::visit::Visit;

/// Which tally is asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Asked {
    /// Its name, for example `store`.
    pub tally: String,
    /// Code of the lot or tool that it is about; empty for the others.
    pub about: String,
    /// Year or month; empty for the current month.
    pub period: String,
}

impl Station {
    /// A tally of the site, after what waits was sent.
    ///
    /// # Errors
    /// When the server is away, or knows no such tally, or refuses the question.
    pub async fn tally(&mut self, asked: Asked) -> Result<v1::Sheet, ClientError> {
        let Asked { tally, about, period } = asked;
        let request = inside(v1::GetTallyRequest { tally, about, period })?;
        self.send().await?;
        self.remote()?.tally(request).await
    }

    /// The same as the bytes of a PDF file.
    ///
    /// # Errors
    /// As [`Station::tally`].
    pub async fn printed_tally(&mut self, asked: Asked) -> Result<Vec<u8>, ClientError> {
        let Asked { tally, about, period } = asked;
        let request = inside(v1::PrintTallyRequest { tally, about, period })?;
        self.send().await?;
        self.remote()?.printed_tally(request).await.map_err(|error| match error {
            ClientError::NotPermitted(why) => ClientError::NotPermitted(format!(
                "a PDF of a tally is printed in the office, on the page of the tally; {why}"
            )),
            other => other,
        })
    }

    /// A page of jobs of all workshops, from an owner's server.
    ///
    /// # Errors
    /// As [`Station::tally`].
    pub async fn tally_jobs(
        &mut self,
        period: &str,
        page_token: String,
    ) -> Result<v1::ListTallyJobsResponse, ClientError> {
        let (period, site) = (period.to_owned(), String::new());
        let request = inside(v1::ListTallyJobsRequest { period, site, page_size: 0, page_token })?;
        self.remote()?.tally_jobs(request).await
    }

    /// Everything that a code belongs to, after what waits was sent; for a job by its catalogue.
    ///
    /// # Errors
    /// When the server is away, or the code is outside its bounds.
    pub async fn find_code(
        &mut self,
        code: &str,
        job: Option<&LocalJob>,
    ) -> Result<Vec<v1::FoundCode>, ClientError> {
        let code = code.trim().to_owned();
        let mut request = inside(v1::FindCodeRequest { code, job: String::new() })?;
        self.send().await?;
        // A job that the server does not have yet has no catalogue there either.
        request.job =
            job.filter(|job| !job.number.is_empty()).map(|job| job.job_id.clone()).unwrap_or_default();
        self.remote()?.find_code(request).await
    }
}

fn inside<M: Visit>(request: M) -> Result<M, ClientError> {
    let found = violations(&request);
    if found.is_empty() { Ok(request) } else { Err(CheckError::Outside(found).into()) }
}
