//! What the shop server last said comes next in a job, so that the questions go on without it; and a request to issue
//! a record that has no answer yet, so that asking again cannot make a second edition.
//!
//! A file of steps is the SHA-256 of the rest (32 bytes) and the answer as it came. One that is not whole
//! says nothing and is moved aside: the server has it all.

use super::{Folder, Lock};
use crate::error::ClientError;
use prost::Message as _;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use standpipe_proto::limits::RECORD_BYTES_MAX;
use standpipe_proto::v1::NextResponse;

const STEPS: &str = "steps";
const ISSUING: &str = "issuing";
const DIGEST_BYTES: usize = 32;
/// Jobs whose steps are remembered.
const JOBS_REMEMBERED: usize = 50;

/// A request to issue a record whose answer has not come.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Issuing {
    pub(crate) job_id: String,
    pub(crate) request_id: String,
}

impl Folder {
    /// Remembers the steps of a job.
    pub(crate) fn write_steps(
        &self,
        lock: &Lock,
        job_id: &str,
        answer: &NextResponse,
    ) -> Result<(), ClientError> {
        if uuid::Uuid::try_parse(job_id).is_err() || job_id.len() != 36 {
            return Ok(());
        }
        let folder = self.root().join(STEPS);
        self.make_folder(&folder)?;
        let bytes = answer.encode_to_vec();
        let mut file = Sha256::digest(&bytes).to_vec();
        file.extend_from_slice(&bytes);
        self.replace(lock, &folder.join(job_id), &file)?;
        // Identities begin with their time, so that the first names are the oldest jobs.
        let names = self.list(&folder)?;
        let too_many = names.len().saturating_sub(JOBS_REMEMBERED);
        for old in names.iter().filter(|name| *name != job_id).take(too_many) {
            self.remove(&folder.join(old))?;
        }
        Ok(())
    }

    /// The steps of a job as the server last gave them.
    pub(crate) fn steps(&self, lock: &Lock, job_id: &str) -> Result<Option<NextResponse>, ClientError> {
        let folder = self.root().join(STEPS);
        if !self.list(&folder)?.iter().any(|name| name == job_id) {
            return Ok(None);
        }
        let path = folder.join(job_id);
        let file = self
            .disk
            .read(&path, RECORD_BYTES_MAX)
            .map_err(|cause| ClientError::disk("reading", &path, cause))?;
        let whole = file
            .split_at_checked(DIGEST_BYTES)
            .filter(|(digest, bytes)| Sha256::digest(bytes).as_slice() == *digest);
        match whole.and_then(|(_, bytes)| NextResponse::decode(bytes).ok()) {
            Some(answer) => Ok(Some(answer)),
            None => {
                self.move_aside(lock, &path, &format!("{job_id}.steps"))?;
                Ok(None)
            }
        }
    }

    /// The request to issue a record that has no answer.
    pub(crate) fn issuing(&self) -> Result<Option<Issuing>, ClientError> {
        let text = self.read_text(ISSUING)?.unwrap_or_default();
        Ok(toml::from_str(&text).ok())
    }

    pub(crate) fn write_issuing(&self, lock: &Lock, issuing: &Issuing) -> Result<(), ClientError> {
        self.write_toml(lock, ISSUING, issuing)
    }

    pub(crate) fn end_issuing(&self, _lock: &Lock) -> Result<(), ClientError> {
        self.remove(&self.root().join(ISSUING))?;
        self.sync(self.root())
    }
}
