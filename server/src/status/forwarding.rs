//! What goes wrong between a workshop's server and its owner's: journals that went on differently, entries that are
//! missing, sites and revisions that are not there.
//!
//! Nothing was kept when one of these is told, except that a fork is written down.

use super::Row;
use standpipe_proto::v1::Reason;
use tonic::Code;

/// Why nothing was taken or given.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Forwarding {
    /// This server keeps the journal of its own workshop only.
    #[error(
        "this server keeps no journals of other workshops; join the owner's server instead, or set mode = \"owner\" in \
         this one's standpipe-server.toml if it is meant to be that"
    )]
    NoOwner,
    /// The station brings the journal of another site.
    #[error(
        "site_id is '{named}', but station '{station}' brings the journal of site '{site}'; enrol a station for each site \
         at the owner's server: standpipe-server station add NAME --role forwarder --site SITE"
    )]
    SiteNotOfStation {
        /// As asked.
        named: String,
        /// Name of the station.
        station: String,
        /// The site that it was enrolled for; empty if for none.
        site: String,
    },
    /// The code is for a site's server, and a station showed it.
    #[error(
        "the code is for station '{station}', which brings the journal of a site, and is still good: say at that site's shop \
         server: standpipe-server station join-owner HOST CODE --dir DIR"
    )]
    CodeOfForwarder {
        /// Name of the station.
        station: String,
    },
    /// The code is for a station, and a site's server showed it.
    #[error(
        "the code is for station '{station}', which brings no journal, and is still good there; enrol one that does at the \
         owner's server: standpipe-server station add NAME --role forwarder --site SITE"
    )]
    CodeOfStation {
        /// Name of the station.
        station: String,
    },
    /// No journal of this site is kept here.
    #[error(
        "no journal of a site '{site}' is kept here; it appears when that site's server calls for the first time"
    )]
    SiteUnknown {
        /// As asked.
        site: String,
    },
    /// No workshop of this name or identity is known at the owner's server.
    #[error("no workshop '{site}' is known here; name one of those that are: {known}")]
    WorkshopUnknown {
        /// As asked.
        site: String,
        /// Those there are, by name.
        known: String,
    },
    /// The workshop has no closed job in the months that were asked for.
    #[error(
        "workshop '{site}' has no closed job from {first} to {last}, so there is nothing to compare; ask for other months, or \
         again when its first job is closed"
    )]
    NoClosedJob {
        /// Its name.
        site: String,
        /// First month, as YYYY-MM.
        first: String,
        /// Last month.
        last: String,
    },
    /// The journals went on differently.
    #[error(
        "the journal of site '{site}' went on differently from what the owner's server has: {what}; nothing was taken. \
         Bring back the newer copy, or rebuild the site with: standpipe-server recover --dir DIR --from-owner"
    )]
    Forked {
        /// The site.
        site: String,
        /// Where they differ, as far as it can be told.
        what: String,
    },
    /// Another workshop was founded under the same identity, or this one a second time.
    #[error(
        "what is kept at the owner's server as site '{site}', called '{name}', {kept} of its entries, is another workshop's: \
         not even the first entry is the same, so nothing is taken. If this is the same workshop, founded a second time after \
         its disk was lost: standpipe-server recover --dir DIR --from-owner HOST CODE --founded-anew. If it is another one, \
         found it with an identity of its own, standpipe-server init --dir DIR --site SITE, and enrol a forwarder for that; \
         the jobs of its folder so far are not carried over"
    )]
    OfAnother {
        /// The site.
        site: String,
        /// How the one that is kept is called.
        name: String,
        /// Entries of it.
        kept: u64,
    },
    /// Entries between are missing.
    #[error("the entries begin at {first_seq}, but {here} are kept here; send from {} on", .here.saturating_add(1))]
    EntriesMissing {
        /// Place of the first that was brought.
        first_seq: u64,
        /// Entries here.
        here: u64,
    },
    /// There is no such revision here.
    #[error("catalogue revision '{revision}' is not kept here; ListSharedRevisions names those that are")]
    RevisionUnknown {
        /// As asked.
        revision: String,
    },
    /// The files do not make the revision that was named.
    #[error("revision_id is {named}, but the files give {found}; send all files of the revision as they are")]
    RevisionDiffers {
        /// As named.
        named: String,
        /// As found.
        found: String,
    },
    /// The files are too large together.
    #[error("the files of the revision have more than {greatest} bytes together, which is the greatest size")]
    RevisionTooLarge {
        /// The greatest size.
        greatest: u64,
    },
    /// The database of the owner's server holds a journal of that name already.
    #[error(
        "the journal of site '{site}' cannot be kept here: the owner's database holds one of that name that is no copy; give \
         the owner's server another database"
    )]
    SiteTaken {
        /// The site.
        site: String,
    },
    /// More revisions of a site than may be.
    #[error(
        "{most} catalogue revisions of this site are kept here already, which is the most; no further one is taken"
    )]
    TooManyRevisions {
        /// The most.
        most: usize,
    },
    /// The revisions of a site are too large together.
    #[error(
        "the catalogue revisions of this site that are kept here would have more than {greatest} bytes together, which is \
         the most; no further one is taken"
    )]
    RevisionsTooLarge {
        /// The most.
        greatest: u64,
    },
    /// More sites than may be.
    #[error("the journals of {most} sites are kept here already, which is the most; no further one is taken")]
    TooManySites {
        /// The most.
        most: usize,
    },
}

impl Forwarding {
    pub(super) fn row(&self) -> Row {
        match self {
            Self::NoOwner => (Code::FailedPrecondition, Reason::NoOwner),
            Self::SiteNotOfStation { .. } => (Code::PermissionDenied, Reason::SiteNotOfStation),
            Self::CodeOfForwarder { .. } | Self::CodeOfStation { .. } => {
                (Code::PermissionDenied, Reason::JoinsOtherwise)
            }
            Self::SiteUnknown { .. } => (Code::NotFound, Reason::SiteUnknown),
            Self::WorkshopUnknown { .. } => (Code::NotFound, Reason::SiteUnknown),
            Self::NoClosedJob { .. } => (Code::FailedPrecondition, Reason::TallyAboutNothing),
            Self::Forked { .. } => (Code::FailedPrecondition, Reason::JournalForked),
            Self::OfAnother { .. } => (Code::FailedPrecondition, Reason::SiteOfAnother),
            Self::EntriesMissing { .. } => (Code::FailedPrecondition, Reason::EntriesMissing),
            Self::RevisionUnknown { .. } => (Code::NotFound, Reason::RevisionUnknown),
            Self::RevisionDiffers { .. } => (Code::InvalidArgument, Reason::RevisionDiffers),
            Self::RevisionTooLarge { .. } => (Code::InvalidArgument, Reason::RevisionTooLarge),
            Self::SiteTaken { .. } => (Code::FailedPrecondition, Reason::SiteTaken),
            Self::TooManyRevisions { .. } => (Code::FailedPrecondition, Reason::TooManyRevisions),
            Self::RevisionsTooLarge { .. } => (Code::FailedPrecondition, Reason::TooManyRevisions),
            Self::TooManySites { .. } => (Code::FailedPrecondition, Reason::TooManySites),
        }
    }

    pub(super) fn metadata(&self) -> Vec<(&'static str, String)> {
        match self {
            Self::NoOwner => Vec::new(),
            Self::SiteNotOfStation { named, station, site } => {
                vec![("named", named.clone()), ("station", station.clone()), ("site", site.clone())]
            }
            Self::CodeOfForwarder { station } | Self::CodeOfStation { station } => {
                vec![("station", station.clone())]
            }
            Self::SiteUnknown { site } | Self::SiteTaken { site } => vec![("site", site.clone())],
            Self::WorkshopUnknown { site, known } => vec![("site", site.clone()), ("known", known.clone())],
            Self::NoClosedJob { site, first, last } => {
                vec![("site", site.clone()), ("first", first.clone()), ("last", last.clone())]
            }
            Self::Forked { site, what } => vec![("site", site.clone()), ("what", what.clone())],
            Self::OfAnother { site, name, kept } => {
                vec![("site", site.clone()), ("name", name.clone()), ("kept", kept.to_string())]
            }
            Self::EntriesMissing { first_seq, here } => {
                vec![("first_seq", first_seq.to_string()), ("here", here.to_string())]
            }
            Self::RevisionUnknown { revision } => vec![("revision", revision.clone())],
            Self::RevisionDiffers { named, found } => {
                vec![("named", named.clone()), ("found", found.clone())]
            }
            Self::RevisionTooLarge { greatest } | Self::RevisionsTooLarge { greatest } => {
                vec![("greatest", greatest.to_string())]
            }
            Self::TooManyRevisions { most } | Self::TooManySites { most } => vec![("most", most.to_string())],
        }
    }
}
