//! Catalogue revisions on the disk, and which of them a job is judged by.
//!
//! The files of a revision lie in the site's folder under its identity and never change. The journal says which
//! revision was adopted when; a job keeps the one that was current when it was opened. Never here: what stands in
//! the files, which is the engine's. Used by [`crate::Desk`] and by the running server.

mod look;
mod pages;

pub(crate) use look::found as found_by_digits;
pub use look::{CheckedCatalogue, ComparedCatalogues, check_catalogue, compare_catalogues, export_catalogue};
pub(crate) use pages::files_of_page;

use crate::error::ServerError;
pub(crate) use crate::folder::CATALOGUE as FOLDER;
use crate::folder::{Folder, replace, sync};
use crate::number::{self, JobName};
use jiff::Timestamp;
use prost::Message as _;
use standpipe_engine::catalogue::{FILES_MAX, Revision, RevisionId, WORKSHOP_FILE};
use standpipe_proto::check::Violation;
pub use standpipe_proto::limits::CATALOGUE_BYTES_MAX;
use standpipe_proto::v1::{Entry, fact::Kind};
use standpipe_store::{JobNumber, JobRow, Journal, PAGE_ROWS_MAX};
use std::collections::BTreeMap;
use std::fs::{self, DirBuilder};
use std::os::unix::fs::DirBuilderExt;
use std::path::Path;
use std::sync::Arc;

/// Longest name of a file of a revision; what the file systems of this trade's machines take, common practice, no source.
const FILE_NAME_BYTES_MAX: usize = 255;

/// A catalogue revision became the current one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Adoption {
    /// Place of the entry in the journal.
    pub seq: u64,
    /// Microseconds since 1970, UTC.
    pub adopted_us: i64,
    /// The revision, 64 hexadecimal digits.
    pub revision_id: String,
}

/// Files of a revision, by name.
pub(crate) type Files = Vec<(String, Vec<u8>)>;

/// All adopted revisions of a site, read and checked.
#[derive(Debug)]
pub(crate) struct Catalogue {
    adopted: Vec<(u64, Adopted)>,
    none: Adopted,
}

/// What a job is judged by.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Adopted {
    /// The revision; one with the site's name alone where none was adopted.
    pub revision: Arc<Revision>,
    /// Its identity, 64 hexadecimal digits; empty where none was adopted.
    pub id: String,
    /// What the numbers of its jobs begin with.
    pub prefix: String,
}

impl Adopted {
    fn new(revision: Revision) -> Self {
        let (id, prefix) = (revision.id().to_string(), revision.workshop().job_prefix.clone());
        Self { revision: Arc::new(revision), id, prefix }
    }

    /// What stands for a revision where none was adopted: the name of the site and nothing else.
    pub(crate) fn none(site_id: &str, site_name: &str) -> Result<Self, ServerError> {
        // A JSON string without control characters is a TOML string as well.
        let name = serde_json::Value::from(site_name).to_string();
        let workshop = format!("name = {name}\n").into_bytes();
        let revision = Revision::parse(vec![(WORKSHOP_FILE.to_owned(), workshop)])?;
        let prefix = number::prefix_of_site(site_id);
        Ok(Self { revision: Arc::new(revision), id: String::new(), prefix })
    }
}

impl Catalogue {
    /// Reads every adopted revision from the folder.
    pub(crate) async fn load(
        folder: &Folder,
        journal: &dyn Journal,
        site_name: &str,
    ) -> Result<Self, ServerError> {
        let none = Adopted::none(&journal.head().await?.site, site_name)?;
        let mut read: BTreeMap<String, Adopted> = BTreeMap::new();
        let mut adopted = Vec::new();
        for Adoption { seq, revision_id, .. } in adoptions(journal).await? {
            let revision = match read.get(&revision_id) {
                Some(known) => known.clone(),
                None => Adopted::new(kept(folder, &revision_id)?.1),
            };
            read.insert(revision_id, revision.clone());
            adopted.push((seq, revision));
        }
        Ok(Self { adopted, none })
    }

    /// The same for a copy of another server's journal, where files may come later than the adoption: such a revision is
    /// named, and what it would judge is judged by none.
    pub(crate) async fn load_copied(
        folder: &Folder,
        journal: &dyn Journal,
        site_name: &str,
    ) -> Result<(Self, Vec<String>), ServerError> {
        let none = Adopted::none(&journal.head().await?.site, site_name)?;
        let mut read: BTreeMap<String, Option<Adopted>> = BTreeMap::new();
        let mut adopted = Vec::new();
        for Adoption { seq, revision_id, .. } in adoptions(journal).await? {
            let known = read.entry(revision_id.clone()).or_insert_with(|| {
                kept(folder, &revision_id).ok().map(|(_, revision)| Adopted::new(revision))
            });
            adopted.push((seq, known.clone().unwrap_or_else(|| none.clone())));
        }
        let missing = read.into_iter().filter(|(_, known)| known.is_none()).map(|(id, _)| id).collect();
        Ok((Self { adopted, none }, missing))
    }

    /// The revision in use; nothing if none was adopted.
    pub(crate) fn current(&self) -> Option<&Adopted> {
        self.adopted.last().map(|(_, revision)| revision)
    }

    /// Whether any adopted revision asks for signatures.
    pub(crate) fn ever_signed(&self) -> bool {
        self.adopted.iter().any(|(_, adopted)| adopted.revision.workshop().decisions_signed)
    }

    /// What a job opened now is judged by.
    pub(crate) fn now(&self) -> &Adopted {
        self.current().unwrap_or(&self.none)
    }

    /// The revision that was in use at a place in the journal: at that of a job's first entry it gives number,
    /// language and year of the job, at that of its last variant settled it is what the job is judged by.
    pub(crate) fn of_job(&self, first_seq: u64) -> &Adopted {
        let before = self.adopted.iter().rev().find(|(seq, _)| *seq < first_seq);
        before.map_or(&self.none, |(_, revision)| revision)
    }

    /// Whether the revision in use at a place in the journal asks for signatures.
    pub(crate) fn signing_at(&self, seq: u64) -> bool {
        self.of_job(seq).revision.workshop().decisions_signed
    }

    /// Place at which the revision in use at a place in the journal was adopted; 0 where none was.
    pub(crate) fn adopted_before(&self, first_seq: u64) -> u64 {
        let before = self.adopted.iter().rev().find(|(seq, _)| *seq < first_seq);
        before.map_or(0, |(seq, _)| *seq)
    }

    /// The revision in use up to a place in the journal, with the place at which it was adopted; nothing if that is
    /// the one in use at an earlier place.
    pub(crate) fn newer_than(&self, judged_from: u64, up_to_seq: u64) -> Option<(u64, &Adopted)> {
        let (adopted_at, newer) = self.adopted.iter().rev().find(|(seq, _)| *seq <= up_to_seq)?;
        let is_newer = *adopted_at > judged_from && newer.id != self.of_job(judged_from).id;
        is_newer.then_some((*adopted_at, newer))
    }

    /// The local year at the site at a time.
    pub(crate) fn year(&self, now_us: i64) -> i16 {
        let zone = self.now().revision.workshop().time_zone.clone();
        let now = Timestamp::from_microsecond(now_us).unwrap_or(Timestamp::UNIX_EPOCH);
        now.to_zoned_datetime(zone).year()
    }

    /// Finds a job by its identity, its printed number or its place in the year of a time.
    pub(crate) async fn find_job(
        &self,
        journal: &dyn Journal,
        job: &str,
        now_us: i64,
    ) -> Result<JobRow, ServerError> {
        let year = self.year(now_us);
        let unknown = || ServerError::JobUnknown {
            job: job.to_owned(),
            example: number::printed(&self.now().prefix, JobNumber { year, ordinal: 42 }),
        };
        let row = match number::read(job, year).ok_or_else(unknown)? {
            JobName::Id(id) => journal.job(id).await?,
            JobName::Number { prefix, number } => {
                let row = journal.job_by_number(number).await?;
                row.filter(|row| prefix.is_none_or(|prefix| prefix == self.of_job(row.first_seq).prefix))
            }
        };
        row.ok_or_else(unknown)
    }

    /// True for a revision that was adopted at some time.
    pub(crate) fn has(&self, revision_id: &str) -> bool {
        self.adopted.iter().any(|(_, revision)| revision.id == revision_id)
    }
}

/// Every adoption in the order of the journal.
pub(crate) async fn adoptions(journal: &dyn Journal) -> Result<Vec<Adoption>, ServerError> {
    let mut found = Vec::new();
    let mut from_seq = 1;
    loop {
        let page = journal.read_site(from_seq, PAGE_ROWS_MAX).await?;
        let Some(last) = page.last() else { break };
        from_seq = last.seq + 1;
        for stored in &page {
            // An entry that cannot be decoded is named by verify; it adopts nothing.
            let kind =
                Entry::decode(&*stored.bytes).ok().and_then(|entry| entry.fact).and_then(|fact| fact.kind);
            if let Some(Kind::CatalogueAdopted(adopted)) = kind {
                found.push(Adoption {
                    seq: stored.seq,
                    adopted_us: stored.received_us,
                    revision_id: adopted.revision_id,
                });
            }
        }
    }
    Ok(found)
}

/// Reads the TOML files of a folder and what they say.
pub(crate) fn read_folder(from: &Path) -> Result<(Files, Revision), ServerError> {
    let wrong = |what: String| ServerError::CatalogueFolder { path: from.to_owned(), what };
    if !from.is_dir() {
        return Err(wrong("is no folder".to_owned()));
    }
    let files = toml_files(from)?;
    if files.is_empty() {
        return Err(wrong("holds no TOML file".to_owned()));
    }
    let revision = Revision::parse(files.clone())?;
    Ok((files, revision))
}

/// Whether a name is one of a file that lies in the folder of a revision itself.
pub(crate) fn is_file_name(name: &str) -> bool {
    name.len() <= FILE_NAME_BYTES_MAX
        && name.strip_suffix(".toml").is_some_and(|stem| !stem.is_empty())
        && !name.contains(['/', '\\', '\0'])
}

/// Whether a text is an identity of a revision: 64 hexadecimal digits.
pub(crate) fn is_identity(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'))
}

/// Keeps the files under the identity of the revision; what is there already is put right.
///
/// # Errors
/// When a name is none of a file of a catalogue: files may come from another server, and a name must be no way out of the
/// folder. Nothing was written then. Otherwise when the disk refuses.
pub(crate) fn keep(folder: &Folder, revision_id: &str, files: &Files) -> Result<(), ServerError> {
    if let Some((name, _)) = files.iter().find(|(name, _)| !is_file_name(name)) {
        let what = format!("{name:?} is no name of a catalogue file: a name without a folder, then .toml");
        return Err(ServerError::OutsideBounds(vec![Violation { field: "files.name".to_owned(), what }]));
    }
    let place = folder.revision(revision_id);
    if place.is_dir() {
        for (name, content) in files {
            replace(&place.join(name), content)?;
        }
    } else {
        let unfinished = folder.catalogue().join(format!("{revision_id}-unfinished"));
        if unfinished.exists() {
            fs::remove_dir_all(&unfinished).map_err(ServerError::file("clearing", &unfinished))?;
        }
        DirBuilder::new()
            .mode(0o700)
            .create(&unfinished)
            .map_err(ServerError::file("creating", &unfinished))?;
        for (name, content) in files {
            replace(&unfinished.join(name), content)?;
        }
        fs::rename(&unfinished, &place).map_err(ServerError::file("naming", &place))?;
        sync(&folder.catalogue())?;
    }
    Ok(())
}

/// The files of an adopted revision and what they say; refused unless they still give its identity.
pub(crate) fn kept(folder: &Folder, revision_id: &str) -> Result<(Files, Revision), ServerError> {
    let files = kept_files(folder, revision_id)?;
    let revision = Revision::parse(files.clone()).map_err(|error| ServerError::RevisionDamaged {
        revision: revision_id.to_owned(),
        path: folder.revision(revision_id),
        what: error.to_string(),
    })?;
    Ok((files, revision))
}

/// The files of an adopted revision; refused unless they still give its identity.
pub(crate) fn kept_files(folder: &Folder, revision_id: &str) -> Result<Files, ServerError> {
    let path = folder.revision(revision_id);
    let damaged = |what: String| ServerError::RevisionDamaged {
        revision: revision_id.to_owned(),
        path: path.clone(),
        what,
    };
    if !path.is_dir() {
        return Err(damaged("the folder is missing".to_owned()));
    }
    let files = toml_files(&path)?;
    let found = RevisionId::of(&files).to_string();
    if found != revision_id {
        return Err(damaged(format!("its files give the identity {found}")));
    }
    Ok(files)
}

fn toml_files(from: &Path) -> Result<Files, ServerError> {
    let failed = || ServerError::file("reading", from);
    let mut files = Vec::new();
    let mut bytes = 0;
    for item in fs::read_dir(from).map_err(failed())? {
        let path = item.map_err(failed())?.path();
        let Some(name) = path.file_name().and_then(|name| name.to_str()) else { continue };
        if !name.ends_with(".toml") || !path.is_file() {
            continue;
        }
        bytes += fs::metadata(&path).map_err(ServerError::file("reading", &path))?.len();
        if bytes > CATALOGUE_BYTES_MAX || files.len() >= FILES_MAX {
            let what = format!(
                "holds more than {FILES_MAX} files or {CATALOGUE_BYTES_MAX} bytes, which is the most"
            );
            return Err(ServerError::CatalogueFolder { path: from.to_owned(), what });
        }
        files.push((name.to_owned(), fs::read(&path).map_err(ServerError::file("reading", &path))?));
    }
    files.sort();
    Ok(files)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forwarding_keeps_no_file_whose_name_leads_out_of_the_folder() {
        let home = tempfile::tempdir().unwrap();
        let site = home.path().join("site");
        let folder = Folder::create(&site).unwrap();
        let id = "a".repeat(64);
        let out = site.join("x.toml").display().to_string();
        for name in
            ["../x.toml", "../../x.toml", &out, "a/b.toml", "a\\b.toml", "x.txt", ".toml", "", "x\0.toml"]
        {
            let files = vec![("workshop.toml".to_owned(), vec![1]), (name.to_owned(), vec![2])];
            let told = keep(&folder, &id, &files).unwrap_err().to_string();
            assert!(told.contains("files.name"), "{name:?}: {told}");
        }
        assert!(!folder.revision(&id).exists() && !site.join("x.toml").exists());
        assert!(!home.path().join("x.toml").exists());
        keep(&folder, &id, &vec![("workshop.toml".to_owned(), vec![1])]).unwrap();
        assert_eq!(fs::read(folder.revision(&id).join("workshop.toml")).unwrap(), [1]);
    }

    #[test]
    fn a_job_keeps_the_revision_that_was_current_when_it_was_opened() {
        let revision = |name: &str| Adopted::none("site", name).unwrap();
        let (first, second) = (revision("first"), revision("second"));
        let none = revision("none");
        let adopted = vec![(5, first.clone()), (9, second.clone())];
        let catalogue = Catalogue { adopted, none: none.clone() };
        assert_eq!(catalogue.of_job(3), &none);
        assert_eq!(catalogue.of_job(6), &first);
        assert_eq!(catalogue.of_job(8), &first);
        assert_eq!(catalogue.of_job(10), &second);
        assert_eq!(catalogue.now(), &second);
    }

    #[test]
    fn a_revision_is_newer_only_if_it_is_another_one_and_was_adopted_by_then() {
        let revision = |name: &str| Adopted { id: name.into(), ..Adopted::none("site", name).unwrap() };
        let (first, second) = (revision("first"), revision("second"));
        let adopted = vec![(5, first.clone()), (9, second.clone()), (20, first.clone())];
        let catalogue = Catalogue { adopted, none: Adopted::none("site", "none").unwrap() };
        assert_eq!(catalogue.newer_than(6, 8), None);
        assert_eq!(catalogue.newer_than(6, 12), Some((9, &second)));
        assert_eq!(catalogue.newer_than(10, 12), None);
        assert_eq!(catalogue.newer_than(6, u64::MAX), None, "the one before is in use again");
        assert_eq!(catalogue.newer_than(10, u64::MAX), Some((20, &first)));
        assert_eq!(catalogue.newer_than(3, 5), Some((5, &first)));
    }

    #[test]
    fn any_printable_name_of_a_site_gives_a_revision() {
        for name in ["Harbour Lane", "A \"quoted\" \\ name", "Ölwechsel № 1 / 'x' = [1] # no"] {
            assert_eq!(Adopted::none("site", name).unwrap().revision.workshop().name, name);
        }
    }

    #[test]
    fn only_toml_files_of_a_folder_are_read() {
        let home = tempfile::tempdir().unwrap();
        fs::write(home.path().join("README.md"), "not read").unwrap();
        assert!(matches!(read_folder(home.path()), Err(ServerError::CatalogueFolder { .. })));
        fs::write(home.path().join("workshop.toml"), "name = \"Harbour Lane Transmissions\"\n").unwrap();
        assert_eq!(read_folder(home.path()).unwrap().0.len(), 1);
        assert!(matches!(
            read_folder(&home.path().join("nowhere")),
            Err(ServerError::CatalogueFolder { .. })
        ));
    }
}
