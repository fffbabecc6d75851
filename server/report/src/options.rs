//! What stands beside a job's journal and comes in with the call: edition, customer, words, photos, times.
//!
//! Nothing of it is part of the view, since it can be erased or arrive later; what is missing is said on
//! paper. Called by `render`, the bay sheet and the sections.

use standpipe_engine::text::Language;
use standpipe_engine::view::JobView;

use crate::jpeg::Jpeg;

/// What the record says beside the view.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Options {
    /// Language of the record.
    pub language: Language,
    /// Number of the edition, from 1; absent while the record is not issued, and then it says so.
    pub edition: Option<u32>,
    /// Name of the customer; absent when it is not known or was erased.
    pub customer: Option<String>,
    /// Words of persons that the view names by digest. Those that are not here have not arrived yet.
    pub remarks: Vec<Remark>,
    /// Photos that the view names by digest. Those that are not here have not arrived yet.
    pub photos: Vec<Photo>,
    /// True for all entries in words after the signatures.
    pub annex: bool,
    /// Both times of the entries for the annex, in the site's time; for an entry that is not here the annex
    /// has the view's time, in UTC.
    pub times: Vec<EntryTimes>,
}

/// Words of a person.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Remark {
    /// SHA-256 of the salted words, 64 hexadecimal digits, as in the view.
    pub digest: String,
    /// The words; absent when they were erased.
    pub words: Option<String>,
}

/// Most photos on the record; the annex names all.
pub const PHOTOS_SHOWN: usize = 4;

/// A photo, embedded as it is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Photo {
    /// SHA-256 of the file, 64 hexadecimal digits, as in the view. It is not checked here.
    pub digest: String,
    /// The JPEG file: baseline or progressive, 8 bits, grey or three colours, upright without a turn in its
    /// notes. Any other file leaves an empty frame and a warning. Absent when it was erased.
    pub jpeg: Option<Vec<u8>>,
}

/// When an entry's work was done and when it was entered, as they are printed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct EntryTimes {
    /// Place of the entry in the journal.
    pub seq: u64,
    /// When it was done; empty if not stated.
    pub done: String,
    /// When it was entered.
    pub entered: String,
}

/// Everything that a section may draw on.
pub(crate) struct Given<'a> {
    /// The job.
    pub(crate) view: &'a JobView,
    /// What stands beside it.
    pub(crate) options: &'a Options,
    /// The photos that can be embedded.
    pub(crate) photos: Vec<Jpeg<'a>>,
}

impl<'a> Given<'a> {
    /// Reads what has to be known of the photos.
    pub(crate) fn new(view: &'a JobView, options: &'a Options) -> Given<'a> {
        let kept = options.photos.iter().filter_map(|photo| Some((&photo.digest, photo.jpeg.as_ref()?)));
        let photos = kept.filter_map(|(digest, jpeg)| Jpeg::read(digest, jpeg));
        Given { view, options, photos: photos.collect() }
    }

    /// A sentence for each photo that cannot be embedded.
    pub(crate) fn photo_warnings(&self) -> Vec<String> {
        let drawn = |digest: &str| self.photos.iter().any(|photo| photo.digest == digest);
        let kept = self.options.photos.iter().filter(|photo| photo.jpeg.is_some());
        let refused = kept.filter(|photo| !drawn(&photo.digest));
        let warning = |digest: &str| {
            let start: String = digest.chars().take(8).collect();
            format!("the photo {start} cannot be shown; its frame is empty")
        };
        refused.map(|photo| warning(&photo.digest)).collect()
    }
}
