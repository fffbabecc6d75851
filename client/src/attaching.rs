//! Photos and words of a job: the file is kept first and its entry right after, both before anything is promised, and
//! both are sent until they are acknowledged. The file that nobody names is harmless; the entry without its file would
//! not be, so the file comes first.

use crate::LocalJob;
use crate::error::ClientError;
use crate::sending::{SendEnd, SendReport};
use crate::station::{Kept, Station};
use crate::words;
use standpipe_proto::check::{CheckError, violations};
use standpipe_proto::limits::{PHOTO_BYTES_MAX, REMARK_CHARACTERS_MAX};
use standpipe_proto::photo;
use std::path::Path;
use tonic::Code;

/// Bytes of randomness before the words of a remark, so that their digest does not give them away.
const SALT_BYTES: usize = 16;

/// Subject of a photo on the reference sheet.
const COMPARISON: &str = "comparison";

/// What was kept with its file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attached {
    /// The entry.
    pub kept: Kept,
    /// SHA-256 of the file as 64 hexadecimal digits.
    pub digest: String,
    /// Its size in bytes.
    pub size_bytes: usize,
    /// What was understood, flag by flag.
    pub understood: Vec<words::Understood>,
}

impl Station {
    /// Keeps a photo without its place and camera data. `subject` is a word as the flags of the kind take it.
    ///
    /// # Errors
    /// When the file cannot be read, is no JPEG or PNG or too large, the subject is none, or as [`Station::add`].
    pub fn attach_photo(
        &mut self,
        job: &LocalJob,
        file: &Path,
        subject: &str,
    ) -> Result<Attached, ClientError> {
        let bare = self.bare_photo(file)?;
        self.attach(job, "photo", subject, &bare)
    }

    /// Keeps a photo on the reference sheet and the look that was taken with it: two entries, the photo first.
    ///
    /// # Errors
    /// As [`Station::attach_photo`], or when the subject is no comparison or the litres are none; then nothing is kept.
    pub fn attach_comparison(
        &mut self,
        job: &LocalJob,
        file: &Path,
        subject: &str,
        litres: &str,
    ) -> Result<Attached, ClientError> {
        if subject != COMPARISON {
            return Err(ClientError::Usage(format!(
                "--volume-in: goes with --subject {COMPARISON} only, and this photo is about {subject}; leave it out"
            )));
        }
        let bare = self.bare_photo(file)?;
        let digest = crate::folder::blobs::digest_of(&bare);
        let flags = [format!("--volume-in={litres}"), format!("--photo-digest={digest}")];
        let mut look = words::read_fact("exchange-reading", &flags.each_ref().map(String::as_str))?;
        // Whatever is wrong with the look is told before the photo is kept.
        let outside = violations(&look.fact);
        if !outside.is_empty() {
            return Err(CheckError::Outside(outside).into());
        }
        let attached = self.attach(job, "photo", subject, &bare)?;
        let kept = self.add_for(job, look.fact, look.as_typed, None)?;
        look.understood.retain(|understood| understood.flag == "volume-in");
        let understood = attached.understood.into_iter().chain(look.understood).collect();
        Ok(Attached { kept, understood, ..attached })
    }

    /// A photo as it is kept, without its place and camera data.
    fn bare_photo(&self, file: &Path) -> Result<Vec<u8>, ClientError> {
        let told = |what: String| ClientError::Folder { path: file.to_owned(), what };
        let bytes = self.options.disk.read(file, PHOTO_BYTES_MAX);
        let bytes = bytes.map_err(|cause| told(format!("it cannot be read ({cause}); name another file")))?;
        if bytes.len() > PHOTO_BYTES_MAX {
            let most = PHOTO_BYTES_MAX / 1024 / 1024;
            return Err(told(format!(
                "it is larger than {most} MiB; make the photo smaller and say it again"
            )));
        }
        photo::stripped(&bytes).map_err(|why| told(format!("{why}; give a whole JPEG or PNG file")))
    }

    /// Keeps what somebody said, salted. `subject` is a word as the flags of the kind take it.
    ///
    /// # Errors
    /// When there are no words or more than 4 000 characters, the subject is none, or as [`Station::add`].
    pub fn attach_remark(
        &mut self,
        job: &LocalJob,
        said: &str,
        subject: &str,
    ) -> Result<Attached, ClientError> {
        let said = said.trim();
        let characters = said.chars().count();
        if !(1..=REMARK_CHARACTERS_MAX).contains(&characters) {
            return Err(ClientError::Usage(format!(
                "WORDS: has {characters} characters; 1 to {REMARK_CHARACTERS_MAX} are allowed"
            )));
        }
        let mut salted = vec![0; SALT_BYTES];
        self.options.entropy.fill(&mut salted)?;
        salted.extend_from_slice(said.as_bytes());
        self.attach(job, "remark", subject, &salted)
    }

    fn attach(
        &mut self,
        job: &LocalJob,
        kind: &str,
        subject: &str,
        bytes: &[u8],
    ) -> Result<Attached, ClientError> {
        // Whatever is wrong with the entry is told before a file is kept.
        self.joined()?;
        self.person().ok_or(ClientError::NoPerson)?;
        let digest = crate::folder::blobs::digest_of(bytes);
        let (digest_flag, subject_flag) = (format!("--blob-digest={digest}"), format!("--subject={subject}"));
        let mut read = words::read_fact(kind, &[digest_flag.as_str(), subject_flag.as_str()])?;
        let lock = self.turn()?;
        self.folder.keep_blob(&lock, bytes)?;
        drop(lock);
        let kept = self.add_for(job, read.fact, read.as_typed, None)?;
        read.understood.retain(|understood| understood.flag == "subject");
        Ok(Attached { kept, digest, size_bytes: bytes.len(), understood: read.understood })
    }

    /// Sends the files that wait, until one is not taken for now.
    pub(crate) async fn send_blobs(&mut self, report: &mut SendReport) -> Result<(), ClientError> {
        let waiting = self.folder.blobs()?;
        report.blobs_waiting = waiting.len();
        if waiting.is_empty() {
            return Ok(());
        }
        let remote = self.remote()?;
        for digest in waiting {
            let lock = self.turn()?;
            let bytes = self.folder.blob(&lock, &digest)?;
            drop(lock);
            let Some(bytes) = bytes else {
                self.tell(format!("the file {digest} was not whole and was not sent; take the photo again"));
                continue;
            };
            let sent = remote.put_blob(&digest, &bytes).await;
            let lock = self.turn()?;
            match sent {
                Ok(_) => {
                    self.folder.blob_sent(&lock, &digest)?;
                    report.blobs_sent += 1;
                }
                Err(status) if status.code() == Code::InvalidArgument => {
                    self.folder.blob_refused(&lock, &digest)?;
                    self.tell(format!("the file {digest} was refused and set aside: {}", status.message()));
                }
                Err(status) => {
                    report.end = match remote.failure(&status) {
                        ClientError::NotPermitted(sentence) => SendEnd::NotPermitted(sentence),
                        error => SendEnd::Later {
                            sentence: error.to_string(),
                            again_at: self.options.clock.monotonic_microseconds(),
                        },
                    };
                    break;
                }
            }
        }
        report.blobs_waiting = self.folder.blobs()?.len();
        Ok(())
    }
}

#[cfg(test)]
#[path = "tests/attaching.rs"]
mod tests;
